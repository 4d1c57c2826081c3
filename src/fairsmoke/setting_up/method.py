"""A method said in a few options: a pit, perhaps a wrap and a hold; and a rival of it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from fairsmoke.messages.errors import JobError
from fairsmoke.quantity import QuantityError, parse_duration, parse_temperature
from fairsmoke.trial.protocol import Cover

BOAT = "boat"
WRAPS = (*(str(cover) for cover in Cover), BOAT)


@dataclass(frozen=True)
class Method:
    """How a piece is cooked, as a person writes it; "" for what is left to its usual value.

    `wrap` goes on when the core is at `wrap_at` and the pit then stands at `finish`; the piece
    comes off at `until`, or after `longest`, and is held at `hold` for `hold_for` in `hold_wrap`.
    """

    pit: str = "121 °C"
    humidity: str = "none"
    wrap: str = ""
    wrap_at: str = "71 °C"
    finish: str = ""
    until: str = "94 °C"
    longest: str = ""
    hold: str = ""
    hold_for: str = "2 h"
    hold_wrap: str = ""

    def changed(self, said: str) -> "Method":
        """Return this method with "wrap=foil, pit=135 °C" said otherwise.

        Raises JobError for what is not written so or not an option here.
        """
        known = {_written(field.name): field.name for field in fields(self)}
        changes: dict[str, str] = {}
        for part in said.split(","):
            key, equals, value = part.partition("=")
            name = known.get(key.strip().replace("_", "-"))
            if not equals or name is None:
                raise JobError(
                    f"--against '{part.strip()}': write OPTION=VALUE with one of "
                    f"{', '.join(known)}; several with commas between"
                )
            changes[name] = value.strip()
        return replace(self, **changes)

    def check(self) -> None:
        """Raise JobError that names the option whose value cannot be read."""
        for option in ("pit", "wrap_at", "finish", "until", "hold"):
            check_readable(option, getattr(self, option), parse_temperature)
        for option in ("longest", "hold_for"):
            check_readable(option, getattr(self, option), parse_duration)
        for option in ("wrap", "hold_wrap"):
            word = getattr(self, option)
            if word and word not in WRAPS:
                raise JobError(
                    f"--{_written(option)} '{word}': there is no such wrap; one of "
                    f"{', '.join(WRAPS)}"
                )

    def named(self, base: "Method | None" = None) -> str:
        """Return pit and wrap as a name, and what else differs from the base."""
        words = [self.pit, self.wrap or "bare"]
        for field in fields(self) if base is not None else ():
            value = getattr(self, field.name)
            if field.name not in ("pit", "wrap") and value != getattr(base, field.name):
                words.append(f"{_written(field.name)} {value or 'none'}")
        return ", ".join(words)

    def stages(self) -> list[dict[str, Any]]:
        """Return the stages of the protocol in the form of a file."""
        longest = [{"elapsed": self.longest}] if self.longest else []
        if self.wrap:
            smoke_ends = [{"core": self.wrap_at}, *longest]
        else:
            smoke_ends = [{"core": self.until}, *longest]
        found: list[dict[str, Any]] = [
            _stage("smoke", "cooker", self.pit, self.humidity, "", smoke_ends)
        ]
        if self.wrap:
            ends = [{"core": self.until}, *longest]
            pit = self.finish or self.pit
            found.append(_stage("finish", "cooker", pit, self.humidity, self.wrap, ends))
        if self.hold:
            wrap = self.hold_wrap or self.wrap
            ends = [{"elapsed": self.hold_for}]
            found.append(_stage("hold", "holding cabinet", self.hold, "none", wrap, ends))
        return found


def _stage(
    handle: str,
    place: str,
    surround: str,
    humidity: str,
    wrap: str,
    ends: Sequence[Mapping[str, str]],
) -> dict[str, Any]:
    return {
        "id": handle,
        "name": handle,
        "place": place,
        "surround": surround,
        "humidity": humidity,
        "wrap": _wrap(wrap),
        "ends": list(ends),
    }


def _wrap(word: str) -> Any:
    if word == BOAT:
        return {"above": "bare", "below": "foil"}
    return word or "bare"


def _written(option: str) -> str:
    return option.replace("_", "-")


def check_readable(option: str, text: str, parse: Callable[[str], float]) -> None:
    """Raise JobError that names the option when its text cannot be read as that quantity."""
    try:
        if text:
            parse(text)
    except QuantityError as error:
        raise JobError(f"--{_written(option)}: {error}") from error
