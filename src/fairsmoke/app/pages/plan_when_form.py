"""The form of a day: from its fields to what is asked, and what is wrong with them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fairsmoke.answers.when_kept import WhenAsked
from fairsmoke.app.pages.words import CUT_NAMES
from fairsmoke.messages.message import N_, Message
from fairsmoke.quantity import QuantityError, parse_duration, show_duration
from fairsmoke.trial.clock import ClockError, parse_instant

USUAL = {
    "certainty": "90",
    "shortest": "",
    "longest": "",
    "times": "own",
    "scatter": "logs",
    "shared": "",
    "own": "",
    "heat_up": "1 h",
    "rest": "20 min",
    "fuel_every": "1 h",
    "water_every": "2 h",
    "cut": "",
    "serve": "",
}
"""Every field, as it is unless somebody says otherwise."""

_NEVER = frozenset({"never", "nie", "none", "0"})


@dataclass
class Reading:
    """What a form says, and what is wrong with it: each a field's name and words."""

    given: dict[str, str]
    problems: list[tuple[str, Message | str]] = field(default_factory=list)

    def length(self, name: str, *, most_s: float = 7 * 86_400.0) -> float | None:
        """Return a length in s; None for an empty field."""
        text = self.given[name]
        if not text:
            return None
        try:
            found = parse_duration(text.replace(",", "."))
        except QuantityError:
            self.problems.append((name, N_("Write a length of time, such as 1 h 30 min.")))
            return None
        if found > most_s:
            self.problems.append((name, N_("That is too long: at most %(most)s.", most="7 d")))
        return found

    def every(self, name: str) -> float:
        """Return how often something is done (s), 0 for never."""
        if self.given[name].casefold() in _NEVER:
            return 0.0
        found = self.length(name) or 0.0
        if found and not 900.0 <= found <= 86_400.0:
            self.problems.append((name, N_("Write 15 min to 24 h, or “never”.")))
        return found

    def number(self, name: str, least: float, most: float) -> float:
        """Return a number; ``least`` where there is none, with a problem."""
        try:
            found = float(self.given[name].replace(",", ".").removesuffix("%").strip())
        except ValueError:
            found = -1.0
        if not least <= found <= most:
            message = N_("Write a number from %(least)s to %(most)s.", least=least, most=most)
            self.problems.append((name, message))
            return least
        return found


def read_form(given: Mapping[str, str]) -> Reading:
    """Return what a form says, with what it left out as usual."""
    return Reading({name: given.get(name, usual).strip()[:60] for name, usual in USUAL.items()})


def asked_of(
    reading: Reading, zone: ZoneInfo, now: datetime, *, cut_needed: bool, **known: Any
) -> WhenAsked | None:
    """Return what a form asks; None when something is wrong, which the reading then says.

    ``known`` are the fields of what is asked that no form says.
    """
    serve = _serve(reading, zone, now)
    shortest, longest = reading.length("shortest"), reading.length("longest")
    if shortest is not None and longest is not None and shortest > longest:
        reading.problems.append(
            ("longest", N_("The longest hold must be as long as the shortest, or longer."))
        )
    cut = reading.given["cut"] if cut_needed else ""
    if cut_needed and cut not in CUT_NAMES:
        reading.problems.append(("cut", N_("Choose the cut that the pieces are most like.")))
    certainty = reading.number("certainty", 50, 99) / 100
    asked: Callable[..., WhenAsked] = WhenAsked
    found = asked(
        serve=serve.isoformat(),
        zone=zone.key,
        asked_at=now.isoformat(),
        certainty=certainty,
        shortest_s=shortest,
        longest_s=longest,
        together=reading.given["times"] == "together",
        scatter=_scatter(reading),
        heat_up_s=reading.length("heat_up") or 0.0,
        rest_s=reading.length("rest") or 0.0,
        fuel_every_s=reading.every("fuel_every"),
        water_every_s=reading.every("water_every"),
        cut=cut,
        **known,
    )
    return None if reading.problems else found


def _serve(reading: Reading, zone: ZoneInfo, now: datetime) -> datetime:
    text = reading.given["serve"]
    if not text:
        reading.problems.append(("serve", N_("Say when it is served.")))
        return now
    try:
        found = parse_instant(text, zone)
    except ClockError as error:
        reading.problems.append(("serve", str(error)))
        return now
    if found <= now:
        reading.problems.append(("serve", N_("That is past: say a time that is still to come.")))
    return found


def _scatter(reading: Reading) -> tuple[float, float] | None:
    kind = reading.given["scatter"]
    if kind == "logs":
        return None
    if kind == "none":
        return 0.0, 0.0
    return reading.number("shared", 0, 2), reading.number("own", 0, 2)


def form_of(asked: WhenAsked, zone: ZoneInfo) -> dict[str, str]:
    """Return the fields of a form that asks for the same."""
    serve = datetime.fromisoformat(asked.serve).astimezone(zone)
    scatter = asked.scatter
    kind = "logs" if scatter is None else "none" if scatter == (0.0, 0.0) else "mine"
    mine = scatter if scatter is not None and kind == "mine" else None
    return {
        "serve": serve.strftime("%Y-%m-%dT%H:%M"),
        "certainty": f"{100 * asked.certainty:g}",
        "shortest": "" if asked.shortest_s is None else show_duration(asked.shortest_s),
        "longest": "" if asked.longest_s is None else show_duration(asked.longest_s),
        "times": "together" if asked.together else "own",
        "scatter": kind,
        "shared": "" if mine is None else f"{mine[0]:g}",
        "own": "" if mine is None else f"{mine[1]:g}",
        "heat_up": show_duration(asked.heat_up_s),
        "rest": show_duration(asked.rest_s),
        "fuel_every": show_duration(asked.fuel_every_s) if asked.fuel_every_s else "never",
        "water_every": show_duration(asked.water_every_s) if asked.water_every_s else "never",
        "cut": asked.cut,
    }


def now_utc() -> datetime:
    """Return the present, to the second."""
    return datetime.now(UTC).replace(microsecond=0)
