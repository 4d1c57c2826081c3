"""The plan of a day as one result: what was asked, the times, and all that is said about them."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from fairsmoke.cooking.side_by_side import SideBySide
from fairsmoke.messages.message import Words
from fairsmoke.planning.day.adjustments import DayAdjustment
from fairsmoke.planning.day.advice import ArmGap, Buffer, HoldGap, PitConflict, TurningPoint
from fairsmoke.planning.day.proposals import DayProposal, may_be_printed
from fairsmoke.planning.day.safety import SafetyNote
from fairsmoke.planning.day.schedule import TimeInterval, WhenPlan
from fairsmoke.planning.day.start_effects import NightFire, StartEffect
from fairsmoke.planning.day.time_errors import TimeLogSd


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

    `guessed`: handles of the pieces whose length, width and temperature nobody gave; `notes`: what
    else was taken as given, in words.
    """

    sides: SideBySide
    who: tuple[OnTheDay, ...]
    serve: datetime
    zone: ZoneInfo
    invented: bool = False
    guessed: frozenset[str] = frozenset()
    notes: tuple[Words, ...] = ()
    hold_c: float | None = None
    """The temperature of a hold that was put in for this day and is in no protocol of it."""


@dataclass(frozen=True)
class AdjustmentEffect:
    """What an adjustment does to the time on the cooker (s, negative: sooner) and to the yield."""

    arm: str
    adjustment: DayAdjustment
    longer: TimeInterval
    kept: float


@dataclass(frozen=True)
class LearnedFrom:
    """What the variation of real times was learned from: how many cooks were said, and how many of
    the notebook's own; ``given`` where a person gave the numbers themselves.
    """

    said: int = 0
    own: int = 0
    given: bool = False

    @property
    def stranger(self) -> bool:
        """Whether nothing is known of this kitchen, so that a stranger's variation is taken."""
        return not (self.said or self.own or self.given)


@dataclass(frozen=True, eq=False)
class DayPlan:
    """The plan of a day with all that is said about it.

    ``conflicts`` are the pieces whose arms want unlike temperatures of one cooker; ``unlike_holds``
    tells that the arms' protocols hold for unlike times. ``proposals`` are changes that keep the
    meat from waiting too long, ``effects`` what each assumption costs at the start, and ``night``
    what a fire in the night buys.
    """

    day: Day
    plan: WhenPlan
    log_sd: TimeLogSd
    arms: tuple[ArmGap, ...]
    holds: tuple[HoldGap, ...]
    buffer: Buffer
    turning: tuple[TurningPoint, ...]
    adjustments: tuple[AdjustmentEffect, ...]
    safety: tuple[SafetyNote, ...]
    conflicts: tuple[PitConflict, ...]
    unlike_holds: bool
    learned: LearnedFrom = LearnedFrom()
    proposals: tuple[DayProposal, ...] = ()
    effects: tuple[StartEffect, ...] = ()
    night: NightFire | None = None

    @property
    def may_be_printed(self) -> bool:
        """Whether it goes as it is meant more likely than not, so that a sheet is printed."""
        return may_be_printed(self.plan)

    def at(self, seconds: float) -> datetime:
        """Return the instant so many seconds from serving, to the whole minute."""
        return self.day.serve + timedelta(seconds=60.0 * round(seconds / 60.0))
