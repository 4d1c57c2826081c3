"""The plan of a day in one person's words, units and clock, from the data that is kept of it."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fairsmoke.app.pages.words import COVERS, PLACES_OF_STAGES
from fairsmoke.messages.message import N_, NN_, Message
from fairsmoke.quantity import show_duration
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.protocol import Cover, Place

_QUARTER_S = 900.0
_ROUNDS = {"fuel": N_("fuel"), "water": N_("water")}


@dataclass(frozen=True)
class Row:
    """A line of the day: when, what, what tells that it is due, and the interval ("" for none)."""

    at: datetime
    clock: str
    what: Message
    due: Message | None = None
    between: Message | None = None


@dataclass(frozen=True)
class Told:
    """A kept day and the way in which it is told."""

    page: dict[str, Any]
    way: Reader
    zone: ZoneInfo

    @classmethod
    def of(cls, page: dict[str, Any], way: Reader) -> "Told":
        """Return a kept day as it is told to a person."""
        return cls(page, way, time_zone(page["zone"]))

    @property
    def serve(self) -> datetime:
        """When it is served."""
        return datetime.fromisoformat(self.page["serve"])

    def at(self, seconds: float) -> datetime:
        """Return the instant so many seconds from serving, to the whole minute."""
        return self.serve + timedelta(seconds=60.0 * round(seconds / 60.0))

    def clock(self, seconds: float | None) -> str | Message:
        """Return the weekday and time of day so many seconds from serving."""
        if seconds is None:
            return N_("no end in sight")
        return self.way.day_time(self.at(seconds), self.zone)

    def between(self, span: dict[str, float | None]) -> Message:
        """Return an interval of times."""
        return N_(
            "%(first)s to %(last)s", first=self.clock(span["low"]), last=self.clock(span["high"])
        )

    def length(self, seconds: float | None) -> str | Message:
        """Return a length to the quarter of an hour; to the minute when it is short."""
        if seconds is None:
            return N_("no end in sight")
        step = _QUARTER_S if abs(seconds) >= 4 * _QUARTER_S else 60.0
        return show_duration(step * round(seconds / step)) if abs(seconds) >= 30.0 else "0 min"

    def lengths(self, span: dict[str, float | None]) -> Message:
        """Return an interval of lengths."""
        return N_(
            "%(least)s to %(most)s", least=self.length(span["low"]), most=self.length(span["high"])
        )

    @property
    def ready(self) -> Message:
        """How often all is ready in time."""
        asked = round(100 * self.page["certainty"])
        return NN_(
            "%(count)s piece is ready in time in %(ready)s of 100 simulated days "
            "(asked: %(asked)s).",
            "All %(count)s pieces are ready in time in %(ready)s of 100 simulated days "
            "(asked: %(asked)s).",
            len(self.page["pieces"]),
            ready=round(100 * self.page["ready"]),
            asked=asked,
        )

    @property
    def scatter(self) -> Message:
        """How much more times scatter than the model's draws."""
        said = self.page["scatter"]
        if said is None:
            return N_("Times scatter here as the model's own draws do; real pits scatter more.")
        factor = math.exp(math.hypot(said["shared"], said["own"]))
        return N_(
            "Real pits scatter more than the model: its times are spread by another factor of "
            "%(factor)s up or down.",
            factor=self.way.number(factor, 2),
        )

    def days(self) -> list[tuple[datetime, list[Row]]]:
        """Return the lines of the day in order, those of each date together."""
        rows = [self._row(row) for row in self.page["day"]]
        rows.append(Row(self.serve, self.way.time(self.serve, self.zone), N_("Serve")))
        found: list[tuple[datetime, list[Row]]] = []
        for row in rows:
            date = row.at.astimezone(self.zone).date()
            if not found or found[-1][0].astimezone(self.zone).date() != date:
                found.append((row.at, []))
            found[-1][1].append(row)
        return found

    def _row(self, row: dict[str, Any]) -> Row:
        between = None if row["between"] is None else self.between(row["between"])
        at = self.at(row["at"])
        return Row(at, self.way.time(at, self.zone), self._what(row), self._due(row), between)

    def _due(self, row: dict[str, Any]) -> Message | None:
        core_c, feel = row.get("core_c"), row.get("feel")
        if core_c is not None and feel:
            core = self.way.temperature(core_c)
            return N_("due at core %(core)s, or when it is “%(feel)s”", core=core, feel=feel)
        if core_c is not None:
            return N_("due at core %(core)s", core=self.way.temperature(core_c))
        return N_("due when it is “%(feel)s”", feel=feel) if feel else None

    def _what(self, row: dict[str, Any]) -> Message:
        piece = row.get("piece", "")
        match row["kind"]:
            case "light":
                return N_("%(cooker)s: light the fire", cooker=row["cooker"])
            case "put on":
                where = ", ".join(one for one in (row["cooker"], row["place"]) if one)
                if row["to_c"] is None:
                    return N_("%(piece)s: put on (%(where)s)", piece=piece, where=where)
                pit = self.way.temperature(row["to_c"])
                return N_(
                    "%(piece)s: put on (%(where)s), pit at %(pit)s",
                    piece=piece,
                    where=where,
                    pit=pit,
                )
            case "raise":
                pit = self.way.temperature(row["to_c"])
                return N_("%(piece)s: raise the pit to %(pit)s", piece=piece, pit=pit)
            case "lower":
                pit = self.way.temperature(row["to_c"])
                return N_("%(piece)s: lower the pit to %(pit)s", piece=piece, pit=pit)
            case "move":
                place = PLACES_OF_STAGES[Place(row["to"])]
                return N_("%(piece)s: move it (%(place)s)", piece=piece, place=place)
            case "unwrap":
                return N_("%(piece)s: unwrap", piece=piece)
            case "wrap":
                return self._wrapped(piece, row)
            case "pull" if row["to"] is None:
                return N_("%(piece)s: pull, off to rest", piece=piece)
            case "pull":
                place = PLACES_OF_STAGES[Place(row["to"])]
                return N_("%(piece)s: pull, into the hold (%(place)s)", piece=piece, place=place)
            case "open" if row["held"]:
                return N_("%(piece)s: take it out of the hold, open it, let it rest", piece=piece)
            case "open":
                return N_("%(piece)s: open it, let it rest", piece=piece)
            case _:
                return N_("%(piece)s: slice", piece=piece)

    def _wrapped(self, piece: str, row: dict[str, Any]) -> Message:
        adds = ", ".join(row["adds"])
        above, below = Cover(row["above"]), Cover(row["below"])
        wrap: Message = COVERS[above]
        if above != below:
            wrap = N_("%(above)s above, %(below)s below", above=wrap, below=COVERS[below])
        if not row["wraps"]:
            return N_("%(piece)s: add %(adds)s", piece=piece, adds=adds)
        if adds:
            return N_("%(piece)s: wrap (%(wrap)s), add %(adds)s", piece=piece, wrap=wrap, adds=adds)
        return N_("%(piece)s: wrap (%(wrap)s)", piece=piece, wrap=wrap)

    def rounds(self) -> list[tuple[Message, list[str]]]:
        """Return the rounds of fuel and water, each with its times."""
        return [
            (
                N_(
                    "%(cooker)s: %(what)s, %(times)s times, %(first)s to %(last)s",
                    cooker=one["cooker"],
                    what=_ROUNDS[one["kind"]],
                    times=len(one["at"]),
                    first=self.clock(one["at"][0]),
                    last=self.clock(one["at"][-1]),
                ),
                [self.way.time(self.at(at), self.zone) for at in one["at"]],
            )
            for one in self.page["rounds"]
        ]
