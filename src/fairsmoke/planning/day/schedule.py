"""A day as it is planned: every piece's steps, the reminders, and what chance it has.

All times are seconds from the serving time, negative before it.
"""

from dataclasses import dataclass, field

import numpy as np

from fairsmoke.messages.message import Message
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import HandsOnStep, StepKind
from fairsmoke.planning.errors import PlanError

LEVEL = 0.9
"""Intervals shown: 5 to 95 of 100 draws."""


@dataclass(frozen=True)
class TimeInterval:
    """A time (s from serving) or length (s): the middle, and where 90 of 100 draws lie."""

    low_s: float
    middle_s: float
    high_s: float


@dataclass(frozen=True)
class PlannedStep:
    """A step of a piece: when it will be due, and `planned_s`, free of other hands-on steps."""

    step: HandsOnStep
    due: TimeInterval
    planned_s: float


@dataclass(frozen=True)
class PiecePlan:
    """One piece's day. `hold`: how long it will be held; `too_long`: chance that it is longer
    than the longest hold; `ready`: chance that it has its shortest hold behind it when opened.
    """

    piece: DayPiece
    on_s: float
    steps: tuple[PlannedStep, ...]
    hold_shortest_s: float
    hold_longest_s: float
    hold: TimeInterval
    open_s: float
    slice_s: float
    ready: float
    too_long: float

    @property
    def pull(self) -> TimeInterval:
        """When it comes off."""
        return self.steps[-1].due


@dataclass(frozen=True)
class Reminder:
    """A step that is no piece's own: lighting, fuel, water."""

    kind: StepKind
    cooker: str
    at_s: float


@dataclass(frozen=True, eq=False)
class WhenPlan:
    """The day. `ready`: chance that all pieces are; `holds_within`: that all holds keep within
    their longest too. `begun` are the draws behind it, by piece: members × steps.
    """

    asked: DayConstraints
    pieces: tuple[PiecePlan, ...]
    reminders: tuple[Reminder, ...]
    ready: float
    holds_within: float
    begun: tuple[FloatArray, ...] = field(repr=False)

    @property
    def first_s(self) -> float:
        """When the first fire is lit."""
        return min(one.at_s for one in self.reminders if one.kind is StepKind.LIGHT)

    @property
    def held_s(self) -> FloatArray:
        """How long each piece is held (s), pieces × members; below 0 where it comes too late."""
        return np.array(
            [
                held_of(one.open_s, begun, self.asked)
                for one, begun in zip(self.pieces, self.begun, strict=True)
            ]
        )


def held_of(open_s: float, begun: FloatArray, asked: DayConstraints) -> FloatArray:
    """Return how long a piece is held by draw (s): from when it is off and weighed to opening."""
    return np.asarray(open_s - begun[:, -1] - asked.minutes.pull_s)


class TooSoonError(PlanError):
    """The serving time cannot be met; `later_s` is how much later the earliest possible one is.

    The message says what takes so long.
    """

    def __init__(self, why: Message, later_s: float) -> None:
        super().__init__(why, field="serve")
        self.why, self.later_s = why, later_s


def time_interval(draws: FloatArray, level: float = LEVEL) -> TimeInterval:
    """Return the middle of draws and where `level` of them lie; infinite ends stay infinite."""
    edge = 0.5 * (1.0 - level)
    low, middle, high = np.quantile(draws, [edge, 0.5, 1.0 - edge], method="nearest")
    return TimeInterval(float(low), float(middle), float(high))
