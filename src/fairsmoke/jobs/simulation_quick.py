"""A simulation said in a few options: one piece, a pit, perhaps a wrap and a hold, and its rivals.

Each rival arm is the base with some of the same options said otherwise.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from pydantic import ValidationError

from fairsmoke.cooking import CUTS, SideBySide
from fairsmoke.jobs.errors import JobError, message_of
from fairsmoke.jobs.simulation_file import SimulationFile, plan_of
from fairsmoke.quantity import (
    QuantityError,
    parse_duration,
    parse_length,
    parse_mass,
    parse_temperature,
)
from fairsmoke.trial.protocol import Cover

_SIZES = {
    "mass": parse_mass,
    "start": parse_temperature,
    **dict.fromkeys(("length", "width", "thick", "thin", "fat_cap"), parse_length),
}
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
            _readable(option, getattr(self, option), parse_temperature)
        for option in ("longest", "hold_for"):
            _readable(option, getattr(self, option), parse_duration)
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


def _readable(option: str, text: str, parse: Callable[[str], float]) -> None:
    try:
        if text:
            parse(text)
    except QuantityError as error:
        raise JobError(f"--{_written(option)}: {error}") from error


def quick_plan(
    piece: Mapping[str, str],
    method: Method,
    against: Sequence[str | Method] = (),
    *,
    kitchen: Mapping[str, Any] | None = None,
    members: int = 100,
    seed: int = 1,
    whole_body: bool = True,
) -> SideBySide:
    """Return the plan for one piece by a method and by each of its rivals.

    A rival is a whole method, or what it does otherwise ("wrap=foil, pit=135 °C").
    `piece` and `kitchen` (altitude, room, starts, tender, cooker) are as in a file, what is ""
    left out. Raises JobError that names the option that is wrong.
    """
    given = {key: value for key, value in piece.items() if value}
    if given.get("cut") not in CUTS:
        raise JobError(f"--cut '{given.get('cut', '')}': one of {', '.join(CUTS)}")
    missing = [key for key in ("mass", "length", "width", "thick") if key not in given]
    if missing:
        wanted = ", ".join(f"--{key}" for key in missing)
        raise JobError(f"measure the piece and say {wanted} as well, such as --thick '7.5 cm'")
    for key, value in given.items():
        if key in _SIZES:
            _readable(key, value, _SIZES[key])
    methods = [("base", method.named(), method)]
    for number, said in enumerate(against, start=2):
        other = said if isinstance(said, Method) else method.changed(said)
        methods.append((f"arm-{number}", other.named(method), other))
    for _, _, one in methods:
        one.check()
    plans = []
    for handle, name, one in methods:
        content = {
            **{key: value for key, value in (kitchen or {}).items() if value},
            "title": given["cut"].capitalize(),
            "pieces": [{"id": "piece", "name": given["cut"], **given}],
            "protocol": {"stages": one.stages()},
            "arms": [{"id": handle, "name": name}],
        }
        plans.append(_plan(content, members, seed, whole_body))
    arms = tuple(plan.arms[0] for plan in plans)
    assumed = tuple(dict.fromkeys(text for plan in plans for text in plan.assumed))
    return replace(plans[0], arms=arms, assumed=assumed)


def _plan(content: dict[str, Any], members: int, seed: int, whole_body: bool) -> SideBySide:
    try:
        file = SimulationFile.from_file(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error
    return plan_of(file, members=members, seed=seed, whole_body=whole_body)
