"""The plan of a day as one result: what was asked, the times, and all that is said about them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from fairsmoke.cooking.side_by_side import SideBySide
from fairsmoke.planning.day.adjustments import Lever
from fairsmoke.planning.day.advice import ArmGap, Buffer, HoldGap, TurningPoint
from fairsmoke.planning.day.safety import SafetyNote
from fairsmoke.planning.day.schedule import Span, WhenPlan
from fairsmoke.planning.day.time_errors import Scatter


@dataclass(frozen=True)
class OnTheDay:
    """A piece of the day: which arm it gets, and where it stands."""

    piece: str
    arm: str
    cooker: str = "the cooker"
    place: str = ""


@dataclass(frozen=True)
class Day:
    """What is to be planned: the pieces and arms to simulate, who gets what, when it is served.

    `guessed`: the note on each piece whose length and width nobody gave, by its handle.
    """

    sides: SideBySide
    who: tuple[OnTheDay, ...]
    serve: datetime
    zone: ZoneInfo
    invented: bool = False
    guessed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class LeverEffect:
    """What a lever does to the time on the cooker (s, negative is sooner) and to the yield."""

    arm: str
    lever: Lever
    longer: Span
    kept: float


@dataclass(frozen=True, eq=False)
class DayPlan:
    """The plan of a day with all that is said about it."""

    day: Day
    plan: WhenPlan
    scatter: Scatter
    arms: tuple[ArmGap, ...]
    holds: tuple[HoldGap, ...]
    buffer: Buffer
    turning: tuple[TurningPoint, ...]
    levers: tuple[LeverEffect, ...]
    safety: tuple[SafetyNote, ...]
    remarks: tuple[str, ...]
    assumed: tuple[str, ...] = field(default=())

    def at(self, seconds: float) -> datetime:
        """Return the instant so many seconds from serving, to the whole minute."""
        return self.day.serve + timedelta(seconds=60.0 * round(seconds / 60.0))


__all__ = ["Day", "DayPlan", "LeverEffect", "OnTheDay"]
