"""A method said in a few options: a pit, perhaps a wrap and a hold; and a rival of it."""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField, Listed, Message, Words
from fairsmoke.quantity import QuantityError, parse_duration, parse_mass, parse_temperature
from fairsmoke.telling.simulator_words import HUMIDITY, SHORT_WRAPS
from fairsmoke.trial.protocol import Cover, Humidity

BOAT = "boat"
WRAPS = (*(str(cover) for cover in Cover), BOAT)
MOISTURES = tuple(str(one) for one in Humidity)

NEEDS = {"wrap_at": "wrap", "finish": "wrap", "hold_for": "hold", "hold_wrap": "hold"}
"""What an option is nothing without."""


@dataclass(frozen=True)
class Method:
    """How a piece is cooked, as a person writes it; "" for what is left to its usual value.

    `wrap` goes on when the core is at `wrap_at` and the pit then stands at `finish`; the piece
    comes off at `until`, or after `longest`, and is held at `hold` for `hold_for` in `hold_wrap`.
    `fat` is what is laid in with the wrap, or on the piece where there is none: "60 g".
    `note` says in words what else is done.
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
    fat: str = ""
    note: str = ""

    def changed(self, said: str, field: str = "against") -> "Method":
        """Return this method with "wrap=foil, pit=135 °C" said otherwise.

        Raises JobError for what is not written so, not an option here, or would change nothing.
        """
        known = {_written(field.name): field.name for field in fields(self)}
        changes: dict[str, str] = {}
        # A comma in what is said of one option does not begin another.
        for part in re.split(r",(?=\s*[\w-]+\s*=)", said):
            key, equals, value = part.partition("=")
            name = known.get(key.strip().replace("_", "-"))
            if not equals or name is None:
                message = N_(
                    "%(field)s “%(part)s”: write OPTION=VALUE with one of %(options)s; several "
                    "with "
                    "commas between",
                    field=InputField(field),
                    part=part.strip(),
                    options=Listed(list(known)),
                )
                raise JobError(message, field=field)
            changes[name] = value.strip()
        found = replace(self, **changes)
        found.check_used(changes)
        return found

    def check_used(self, said: Collection[str]) -> None:
        """Raise JobError for an option that was said and that nothing of the method uses."""
        for option, needs in NEEDS.items():
            if option in said and not getattr(self, needs):
                raise idle(option, needs)

    def check(self) -> None:
        """Raise JobError that names the option whose value cannot be read."""
        for option in ("pit", "wrap_at", "finish", "until", "hold"):
            check_readable(option, getattr(self, option), parse_temperature)
        for option in ("longest", "hold_for"):
            check_readable(option, getattr(self, option), parse_duration)
        check_readable("fat", self.fat, parse_mass)
        for option in ("wrap", "hold_wrap"):
            word = getattr(self, option)
            if word and word not in WRAPS:
                message = N_(
                    "%(option)s “%(word)s”: there is no such wrap; one of %(wraps)s",
                    option=InputField(option),
                    word=word,
                    wraps=Listed(list(WRAPS)),
                )
                raise JobError(message, field=option)
        if self.humidity not in MOISTURES:
            message = N_(
                "%(option)s “%(word)s”: there is no such moisture; one of %(known)s",
                option=InputField("humidity"),
                word=self.humidity,
                known=Listed(list(MOISTURES)),
            )
            raise JobError(message, field="humidity")

    def named(self, base: "Method | None" = None) -> Listed:
        """Return pit and wrap as a name, and what else differs from the base."""
        words: list[Words] = [self.pit, SHORT_WRAPS.get(self.wrap, self.wrap)]
        for name, named in _NAMED.items() if base is not None else ():
            value = getattr(self, name)
            if value != getattr(base, name):
                words.append(named(_KINDS.get(value, value)))
        return Listed(words)

    def stages(self) -> list[dict[str, Any]]:
        """Return the stages of the protocol in the form of a file."""
        longest = [{"elapsed": self.longest}] if self.longest else []
        if self.wrap:
            smoke_ends = [{"core": self.wrap_at}, *longest]
        else:
            smoke_ends = [{"core": self.until}, *longest]
        added = [{"what": "fat", "name": "fat", "mass": self.fat}] if self.fat else []
        found: list[dict[str, Any]] = [
            _stage("smoke", "cooker", self.pit, self.humidity, "", smoke_ends)
        ]
        if self.note:
            found[0]["note"] = self.note
        if self.wrap:
            ends = [{"core": self.until}, *longest]
            pit = self.finish or self.pit
            found.append(_stage("finish", "cooker", pit, self.humidity, self.wrap, ends))
        if added:
            found[-1]["adds"] = added
        if self.hold:
            wrap = self.hold_wrap or self.wrap
            ends = [{"elapsed": self.hold_for}]
            found.append(_stage("hold", "holding cabinet", self.hold, "none", wrap, ends))
        return found


_NAMED: Mapping[str, Callable[[Words], Message]] = {
    "humidity": lambda value: N_("moisture %(value)s", value=value),
    "wrap_at": lambda value: N_("wrap at %(value)s", value=value),
    "finish": lambda value: N_("finish %(value)s", value=value),
    "until": lambda value: N_("until %(value)s", value=value),
    "longest": lambda value: N_("longest %(value)s", value=value),
    "hold": lambda value: N_("hold %(value)s", value=value),
    "hold_for": lambda value: N_("hold for %(value)s", value=value),
    "hold_wrap": lambda value: N_("hold in %(value)s", value=value),
    "fat": lambda value: N_("fat %(value)s", value=value),
}
"""How what differs from the base is called in an arm's name."""
_KINDS = {**SHORT_WRAPS, **HUMIDITY, "": N_("none")}


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


def idle(option: str, needs: str) -> JobError:
    """Return the error for an option that nothing comes of without another."""
    message = N_(
        "%(option)s is said without %(needs)s, so nothing would come of it; leave it out, or say "
        "%(needs)s too",
        option=InputField(option),
        needs=InputField(needs),
    )
    return JobError(message, field=option)


def check_readable(option: str, text: str, parse: Callable[[str], float]) -> None:
    """Raise JobError that names the option when its text cannot be read as that quantity."""
    try:
        if text:
            parse(text)
    except QuantityError as error:
        message = N_("%(option)s: %(why)s", option=InputField(option), why=error.message)
        raise JobError(message, field=option) from error
