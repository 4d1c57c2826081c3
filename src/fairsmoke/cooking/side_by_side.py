"""Arms side by side: every arm's protocol on the same pieces, over the same draws of the unknown.

What differs between two arms in one draw is then the arms and nothing else, which is what makes
the interval of a difference narrower than the intervals of its ends.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from fairsmoke.cooking import cook_kernel
from fairsmoke.cooking.body import BodyError, MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.changes import LOG_A, LOG_B
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.cook_record import GROWTH_S
from fairsmoke.cooking.cooker import CookerError
from fairsmoke.cooking.ensemble import Ensemble, run_ensemble
from fairsmoke.cooking.in_threads import in_threads
from fairsmoke.cooking.run import (
    DEFAULT_CONDITIONS,
    MARKS_C,
    Conditions,
    Control,
    ProtocolError,
    simulate,
)
from fairsmoke.cooking.unknowns import NAMES, draw
from fairsmoke.messages.errors import InputError
from fairsmoke.physics.air import boiling_point_c
from fairsmoke.physics.ranges import BoolArray, FloatArray
from fairsmoke.trial.protocol import Place, Protocol

BATCH = 32
"""Members in one go. The numbers do not depend on it."""

SAMPLES = 145
MIDDLE = 0
"""The member that has the middle of everything."""

OF_THE_PIECE = frozenset(
    {"thickness", "fat", "water", "convection", "skin", "holding", "collagen opening"}
)
"""Unknowns that each piece and its place draw anew; the others are one for all pieces."""

VALUES = (
    "end_s",
    "cook_s",
    "core_end_c",
    "yield",
    "evaporated",
    "dripped",
    "rendered",
    "in_wrap",
    "fat_in_wrap",
    "collagen_dissolved",
    "cap_rendered",
    "log_salmonella",
    "log_listeria",
    "growth_s",
)
"""What is kept of every member: times in s, shares of the raw mass, log reductions of the coldest
lean cell, and the time of the core between 4 and 60 °C."""


class SideBySideError(InputError):
    """A plan with nothing in it, or with two things of one handle; the message says which."""


@dataclass(frozen=True)
class PieceToCook:
    """A piece, its handle and name, and the conditions at its place."""

    id: str
    name: str
    piece: MeasuredPiece
    conditions: Conditions = DEFAULT_CONDITIONS


@dataclass(frozen=True)
class ArmToCook:
    """An arm, its handle and name, and its whole protocol."""

    id: str
    name: str
    protocol: Protocol


@dataclass(frozen=True)
class SideBySide:
    """What is to be simulated: the first arm is the base that the others are compared with.

    `whole_body` False works on one column through the thick part: an order quicker, right for its
    core and wrong for losses, which edges and thin ends add to. `assumed` says in words what the
    model took that nobody gave. Raises SideBySideError for no arm, no piece, or two of one handle.
    """

    title: str
    arms: tuple[ArmToCook, ...]
    pieces: tuple[PieceToCook, ...]
    members: int = 100
    seed: int = 1
    whole_body: bool = True
    constants: Constants = DEFAULT
    control: Control | None = None
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for what, handles in (
            ("arm", [arm.id for arm in self.arms]),
            ("piece", [piece.id for piece in self.pieces]),
        ):
            if not handles:
                raise SideBySideError(f"nothing to simulate: give at least one {what}.")
            for handle in handles:
                if handles.count(handle) > 1:
                    raise SideBySideError(
                        f"two {what}s are called '{handle}'; give each its own id."
                    )
        if not 20 <= self.members <= 20_000:
            raise SideBySideError(f"{self.members} draws: give 20 to 20,000, such as 200.")

    def pairs(self) -> Iterator[tuple[ArmToCook, PieceToCook]]:
        """Yield every arm with every piece."""
        for piece in self.pieces:
            for arm in self.arms:
                yield arm, piece


@dataclass(eq=False)
class Cooked:
    """One arm on one piece: an entry per member, NaN where a member has none.

    `values` by the names in VALUES; `mark_s` (members × MARKS_C); `stage_end_s` (members ×
    stages); `core_c` (members × sample times) in the thick part; `done` 0 until run; `ended`
    whether the member's protocol came to its end; `answer` cook_kernel.OK or why not.
    """

    values: dict[str, FloatArray]
    mark_s: FloatArray
    stage_end_s: FloatArray
    core_c: FloatArray
    done: FloatArray
    ended: FloatArray
    answer: FloatArray

    @staticmethod
    def empty(members: int, stages: int, samples: int) -> "Cooked":
        """Return the record before anything has been run."""

        def unknown(*shape: int) -> FloatArray:
            return np.full(shape, np.nan)

        return Cooked(
            {name: unknown(members) for name in VALUES},
            unknown(members, len(MARKS_C)),
            unknown(members, stages),
            unknown(members, samples),
            np.zeros(members),
            np.zeros(members),
            np.zeros(members),
        )

    def arrays(self) -> dict[str, FloatArray]:
        """Return all arrays by name, the same objects."""
        own = {
            "mark_s": self.mark_s,
            "stage_end_s": self.stage_end_s,
            "core_c": self.core_c,
            "done": self.done,
            "ended": self.ended,
            "answer": self.answer,
        }
        return own | {f"value:{name}": array for name, array in self.values.items()}


@dataclass(eq=False)
class Simulated:
    """What came of a plan, by (arm, piece); `sample_s` are the times (s) of `core_c`."""

    plan: SideBySide
    sample_s: FloatArray
    cooked: dict[tuple[str, str], Cooked] = field(default_factory=dict)

    @property
    def cooks(self) -> int:
        """How many single cooks there are in all."""
        return len(self.cooked) * self.plan.members

    @property
    def done(self) -> int:
        """How many of them have been run."""
        return int(sum(np.sum(one.done) for one in self.cooked.values()))

    @property
    def complete(self) -> bool:
        """Whether all have been run."""
        return self.done == self.cooks

    def value(self, arm: str, name: str, piece: str | None = None) -> FloatArray:
        """Return one outcome of an arm by member: of a piece, or the mean over all pieces.

        NaN for a member that did not come to its end on one of them. Raises KeyError for an
        unknown name.
        """
        return self._mean(arm, piece, lambda one: one.values[name])

    def mark(self, arm: str, core_c: float, piece: str | None = None) -> FloatArray:
        """Return by member when the core first reached a whole degree (s)."""
        at = MARKS_C.index(float(core_c))
        return self._mean(arm, piece, lambda one: one.mark_s[:, at])

    def stage_end(self, arm: str, stage: int, piece: str | None = None) -> FloatArray:
        """Return by member when a stage, counted from 0, ended (s)."""
        return self._mean(arm, piece, lambda one: one.stage_end_s[:, stage])

    def never_ended(self, arm: str) -> int:
        """Return how many cooks of an arm were still waiting for a stage to end after days."""
        return self._answers(arm, lambda answer: answer == cook_kernel.NEVER_ENDS)

    def not_worked_out(self, arm: str) -> int:
        """Return at how many cooks of an arm the solver gave up: a fault of the solver."""
        return self._answers(arm, lambda a: (a != cook_kernel.NEVER_ENDS) & (a != cook_kernel.OK))

    def _answers(self, arm: str, which: Callable[[FloatArray], BoolArray]) -> int:
        mine = [one for (a, _), one in self.cooked.items() if a == arm]
        return int(sum(np.sum((one.done > 0) & which(one.answer)) for one in mine))

    def refuse_endless(self) -> None:
        """Raise ProtocolError when most cooks of an arm never came to their end."""
        for arm in self.plan.arms:
            lost, of = self.never_ended(arm.id), len(self.plan.pieces) * self.plan.members
            if lost > 0.5 * of:
                raise ProtocolError(
                    f"arm '{arm.id}': {lost} of {of} cooks never come to the end of the protocol. "
                    "Give its stages a longest time, lower core temperatures or hotter air."
                )

    def _mean(
        self, arm: str, piece: str | None, what: Callable[[Cooked], FloatArray]
    ) -> FloatArray:
        handles = [one.id for one in self.plan.pieces] if piece is None else [piece]
        found = [self.cooked[arm, handle] for handle in handles]
        each = [np.where(one.ended > 0, what(one), np.nan) for one in found]
        return np.asarray(np.mean(each, axis=0))


def interval(
    values: FloatArray, level: float = 0.8, least_share: float = 0.5
) -> tuple[float, float, float]:
    """Return low, middle and high over the members that have a value.

    NaN for all where fewer than `least_share` of the members have one. Raises ValueError for a
    level not between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"level {level:g}: give a share between 0 and 1, such as 0.8.")
    have = values[np.isfinite(values)]
    if have.size < least_share * values.size or not have.size:
        return float("nan"), float("nan"), float("nan")
    edge = 0.5 * (1.0 - level)
    low, middle, high = np.quantile(have, [edge, 0.5, 1.0 - edge])
    return float(low), float(middle), float(high)


def prepare(plan: SideBySide) -> Simulated:
    """Cook the middle of every arm and piece once, and return the empty record.

    This is where a plan that cannot be is refused, before anybody waits: raises BodyError,
    CookerError or ProtocolError with the arm and the piece in its message.
    """
    longest = 0.0
    for arm, piece in plan.pairs():
        try:
            _refuse_hotter_than_boiling(arm.protocol, piece.conditions)
            one = simulate(
                piece.piece,
                arm.protocol,
                piece.conditions,
                plan.constants,
                whole_body=False,
                control=plan.control,
            )
        except (BodyError, CookerError, ProtocolError) as error:
            raise type(error)(f"arm '{arm.id}', piece '{piece.id}': {error}") from error
        longest = max(longest, one.end_s)
    # Room for the slowest draws; what lies beyond is not drawn, but counts in every number.
    step = 300.0 * max(1.0, np.ceil(1.6 * longest / (SAMPLES - 1) / 300.0))
    empty = Simulated(plan, step * np.arange(SAMPLES))
    for arm, piece in plan.pairs():
        stages = len(arm.protocol.stages)
        empty.cooked[arm.id, piece.id] = Cooked.empty(plan.members, stages, SAMPLES)
    return empty


def _refuse_hotter_than_boiling(protocol: Protocol, conditions: Conditions) -> None:
    """Raise ProtocolError for a stage that only a core hotter than boiling water would end."""
    boils_c = float(boiling_point_c(conditions.site.pressure_pa))
    for stage in protocol.stages:
        cores = [end.core_c for end in stage.ends]
        if all(core_c is not None and core_c > boils_c for core_c in cores):
            raise ProtocolError(
                f"stage '{stage.id}' waits for a core of {min(c for c in cores if c):g} °C, but "
                f"wet meat gets no hotter than water boils there, {boils_c:.0f} °C. Give a lower "
                "core temperature, or a longest time."
            )


Told = Callable[[Simulated], bool]
"""Called as cooks come in; returns False to stop."""


def run_side_by_side(
    found: Simulated, *, workers: int | None = None, told: Told | None = None
) -> bool:
    """Run what has not been run yet, filling the record in place; return whether all is done.

    The numbers depend on the plan and its seed, not on `workers` nor on where an earlier run was
    stopped. Stops cleanly on Ctrl-C and when `told` returns False; batches in hand are kept.
    """
    plan = found.plan
    normals = {piece.id: draws_of(plan, at) for at, piece in enumerate(plan.pieces)}
    batches = [
        (arm, piece, first)
        for arm, piece in plan.pairs()
        for first in range(0, plan.members, BATCH)
        if not np.all(found.cooked[arm.id, piece.id].done[first : first + BATCH])
    ]

    def run(arm: ArmToCook, piece: PieceToCook, first: int) -> None:
        normal = normals[piece.id][first : first + BATCH]
        _keep(found, arm, piece, first, _ensemble(plan, arm, piece, normal, found.sample_s))

    in_threads(
        (partial(run, *batch) for batch in batches),
        workers=workers,
        told=None if told is None else partial(told, found),
    )
    return found.complete


def draws_of(plan: SideBySide, piece: int) -> FloatArray:
    """Return the standard normal numbers of one piece, counted from 0, the same for every arm."""
    normal = draw(plan.members, plan.seed, 0)
    own = draw(plan.members, plan.seed, 1 + piece)
    columns = [at for at, name in enumerate(NAMES) if name in OF_THE_PIECE]
    normal[:, columns] = own[:, columns]
    return normal


def _ensemble(
    plan: SideBySide, arm: ArmToCook, piece: PieceToCook, normal: FloatArray, sample_s: FloatArray
) -> Ensemble:
    return run_ensemble(
        piece.piece,
        arm.protocol,
        piece.conditions,
        plan.constants,
        members=normal.shape[0],
        whole_body=plan.whole_body,
        sample_s=tuple(sample_s),
        workers=1,
        control=plan.control,
        normal=normal,
    )


def _keep(found: Simulated, arm: ArmToCook, piece: PieceToCook, first: int, came: Ensemble) -> None:
    """Write a batch into the record."""
    cooked, here = found.cooked[arm.id, piece.id], slice(first, first + came.members)
    build = two_dimensional if found.plan.whole_body else one_column
    lean = build(piece.piece, found.plan.constants).cap < 0.5
    changes, other = came._work["changes"], came._work["other"]
    last = last_in_cooker(arm.protocol)
    stage_ends = list(came.stage_end_s.values())
    values = {
        "end_s": came.end_s,
        "cook_s": came.end_s if last is None else stage_ends[last],
        "core_end_c": came.core_c,
        "yield": came.shares["kept"],
        "evaporated": came.shares["evaporated"],
        "dripped": came.shares["dripped"],
        "rendered": came.shares["rendered"],
        "in_wrap": came.shares["in wrap"],
        "fat_in_wrap": came.shares["fat in wrap"],
        "collagen_dissolved": came.collagen_dissolved,
        "cap_rendered": came.cap_rendered,
        "log_salmonella": np.min(changes[:, LOG_A][:, lean], axis=1),
        "log_listeria": np.min(changes[:, LOG_B][:, lean], axis=1),
        "growth_s": other[:, GROWTH_S],
    }
    for name, array in values.items():
        cooked.values[name][here] = array
    cooked.mark_s[here] = np.array(list(came.mark_s.values())).T
    cooked.stage_end_s[here] = np.array(stage_ends).T
    cooked.core_c[here] = came.samples[:, :, 0]
    cooked.ended[here] = came.good().astype(float)
    cooked.answer[here] = came.answers
    cooked.done[here] = 1.0


def last_in_cooker(protocol: Protocol) -> int | None:
    """Return the number of the last stage in the cooker, counted from 0; None without any."""
    stages = [k for k, s in enumerate(protocol.stages) if s.place == Place.COOKER]
    return stages[-1] if stages else None
