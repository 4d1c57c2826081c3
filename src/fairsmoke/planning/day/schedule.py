"""A day as it is planned: every piece's steps, the reminders, and what chance it has.

All times are seconds from the serving time, negative before it.
"""

from dataclasses import dataclass, field

import numpy as np

from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.day.constraints import Asked
from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import Step, StepKind
from fairsmoke.planning.errors import PlanError

LEVEL = 0.9
"""Intervals shown: 5 to 95 of 100 draws."""


@dataclass(frozen=True)
class Span:
    """A time (s from serving) or length (s): the middle, and where 90 of 100 draws lie."""

    low_s: float
    middle_s: float
    high_s: float


@dataclass(frozen=True)
class Mark:
    """A step of a piece: when it will be due, and `planned_s`, free of other hands-on steps."""

    step: Step
    due: Span
    planned_s: float


@dataclass(frozen=True)
class PiecePlan:
    """One piece's day. `hold`: how long it will be held; `too_long`: chance that it is longer
    than the longest hold; `ready`: chance that it has its shortest hold behind it when opened.
    """

    piece: DayPiece
    on_s: float
    marks: tuple[Mark, ...]
    hold_shortest_s: float
    hold_longest_s: float
    hold: Span
    open_s: float
    slice_s: float
    ready: float
    too_long: float

    @property
    def pull(self) -> Span:
        """When it comes off."""
        return self.marks[-1].due


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

    asked: Asked
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


def held_of(open_s: float, begun: FloatArray, asked: Asked) -> FloatArray:
    """Return how long a piece is held by draw (s): from when it is off and weighed to opening."""
    return np.asarray(open_s - begun[:, -1] - asked.minutes.pull_s)


class TooSoonError(PlanError):
    """The serving time cannot be met; `later_s` is how much later the earliest possible one is.

    `slow` is the piece that takes longest, of the plan as it would have had to be.
    """

    def __init__(
        self, message: str, later_s: float, why: str, slow: PiecePlan | None = None
    ) -> None:
        super().__init__(message)
        self.later_s, self.why, self.slow = later_s, why, slow


def span(draws: FloatArray, level: float = LEVEL) -> Span:
    """Return the middle of draws and where `level` of them lie; infinite ends stay infinite."""
    edge = 0.5 * (1.0 - level)
    low, middle, high = np.quantile(draws, [edge, 0.5, 1.0 - edge], method="nearest")
    return Span(float(low), float(middle), float(high))


__all__ = [
    "Mark",
    "PiecePlan",
    "Reminder",
    "Span",
    "TooSoonError",
    "WhenPlan",
    "held_of",
    "span",
]
