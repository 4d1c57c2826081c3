"""What follows from a plan of a day: which arm forces what, the buffer, early and late."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fairsmoke.physics.ranges import BoolArray, FloatArray
from fairsmoke.planning.day.constraints import HOUR_S
from fairsmoke.planning.day.schedule import PiecePlan, TimeInterval, WhenPlan, time_interval
from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import Run
from fairsmoke.trial.protocol import Place

WORTH_TELLING_S = 900.0
_WINDOW = 0.15


StageDifference = tuple[str, str]
"""What differs ("surround_c", "wrap", "humidity", "place", "ends", "adds"; "own" for a stage that
the other has not) and the name of the stage."""


@dataclass(frozen=True)
class ArmGap:
    """How much longer an arm takes to its hold than the base on the same pieces and draws, in
    which stage most of it arises, and what differs before the hold, each with its stage.
    """

    arm: str
    base: str
    longer: TimeInterval
    stage: str
    differs: tuple[StageDifference, ...]


@dataclass(frozen=True)
class HoldGap:
    """How much longer one piece is held than another, draw by draw (s)."""

    piece: str
    other: str
    longer: TimeInterval


@dataclass(frozen=True)
class Buffer:
    """How well the hold can bridge the spread: the longest hold needed for the certainty, and the
    best that the given longest allows: moving the start by `move_s` gives chance `best`.
    """

    needed_s: float
    within: float
    best: float
    move_s: float


@dataclass(frozen=True)
class TurningPoint:
    """If a stage ends later than `latest_s` (s from serving), being ready is less likely than not;
    sooner than `earliest_s`, the longest hold is more likely than not to be passed. None where no
    such time shows in the draws.
    """

    piece: str
    stage: str
    latest_s: float | None
    earliest_s: float | None


@dataclass(frozen=True)
class PitConflict:
    """Two pieces in one cooker whose arms want unlike temperatures of it."""

    piece: str
    other: str
    cooker: str


Runs = Mapping[tuple[str, str], DayPiece]
"""(arm, piece): every arm on every piece of the day, over the same draws."""


def arm_gaps(plan: WhenPlan, runs: Runs) -> tuple[ArmGap, ...]:
    """Return each arm's difference in time before the hold from the first arm of the day."""
    arms = list(dict.fromkeys(arm for arm, _ in runs))
    found = []
    for arm in arms[1:]:
        own, base = [], []
        for one in plan.pieces:
            own.append(runs[arm, one.piece.id])
            base.append(runs[arms[0], one.piece.id])
        gaps = [_gap(a.run_s, b.run_s) for a, b in zip(own, base, strict=True)]
        longer = time_interval(np.mean(gaps, axis=0))
        differs = differences(own[0].run, base[0].run)
        stage = _where(own[0], base[0])
        found.append(ArmGap(own[0].arm_name, base[0].arm_name, longer, stage, differs))
    return tuple(found)


def _gap(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return one − other; an endless draw of both is no difference."""
    both = ~np.isfinite(one) & ~np.isfinite(other)
    with np.errstate(invalid="ignore"):
        return np.where(both, 0.0, one - other)


def differences(one: Run, base: Run) -> tuple[StageDifference, ...]:
    """Return what differs before the hold, such as ("surround_c", "Smoke")."""
    stages = {stage.id: stage for stage in base.before}
    found = []
    for stage in one.before:
        other = stages.get(stage.id)
        if other is None:
            found.append(("own", stage.name))
            continue
        found += [
            (what, stage.name)
            for what in ("surround_c", "wrap", "humidity", "place", "ends", "adds")
            if getattr(stage, what) != getattr(other, what)
        ]
    return tuple(found)


def _where(one: DayPiece, base: DayPiece) -> str:
    """Return the stage in which the medians differ most."""
    stages = {stage.id: k for k, stage in enumerate(base.run.before)}
    largest, where = -1.0, ""
    for k, stage in enumerate(one.run.before):
        if stage.id not in stages:
            continue
        at = stages[stage.id]
        gap = abs(float(np.median(one.lasts_s[:, k]) - np.median(base.lasts_s[:, at])))
        if gap > largest:
            largest, where = gap, stage.name
    return where


def hold_gaps(plan: WhenPlan) -> tuple[HoldGap, ...]:
    """Return how unequal holds will be between pieces of unlike arms, draw by draw."""
    found = []
    held = plan.held_s
    for i, j in combinations(range(len(plan.pieces)), 2):
        one, other = plan.pieces[i].piece, plan.pieces[j].piece
        if one.arm != other.arm:
            found.append(HoldGap(one.name, other.name, time_interval(_gap(held[i], held[j]))))
    return tuple(found)


def buffer_of(plan: WhenPlan) -> Buffer:
    """Return how well the hold bridges the spread of the day."""
    held = plan.held_s
    shortest = np.array([one.hold_shortest_s for one in plan.pieces])[:, None]
    longest = np.array([one.hold_longest_s for one in plan.pieces])[:, None]
    needed = float(np.quantile(np.max(held, axis=0), plan.asked.certainty))
    # Moving every start later by m takes m off every hold.
    moves = np.arange(-6.0, 48.25, 0.25) * HOUR_S
    fits = [
        float(np.mean(np.all((held - m >= shortest) & (held - m <= longest), axis=0)))
        for m in moves
    ]
    at = int(np.argmax(fits))
    return Buffer(needed, plan.holds_within, fits[at], float(moves[at]))


def turning_points(plan: WhenPlan) -> tuple[TurningPoint, ...]:
    """Return for each piece when the end of its first stage tells that the day goes wrong.

    From the draws themselves: of those whose stage ends about then, half miss.
    """
    found = []
    for one, begun, held in zip(plan.pieces, plan.begun, plan.held_s, strict=True):
        if len(one.piece.run.before) < 2:
            continue
        ends = begun[:, 0] + plan.asked.minutes.on_s + one.piece.lasts_s[:, 0]
        late = _crossing(ends, held < one.hold_shortest_s, rising=True)
        early = _crossing(ends, held > one.hold_longest_s, rising=False)
        found.append(TurningPoint(one.piece.name, one.piece.run.before[0].name, late, early))
    return tuple(found)


def _crossing(at_s: FloatArray, happens: BoolArray, *, rising: bool) -> float | None:
    """Return the time from which on (or up to which) it happens in half of the draws nearby."""
    known = np.isfinite(at_s)
    order = np.argsort(at_s[known], kind="stable")
    times, hit = at_s[known][order], np.asarray(happens)[known][order].astype(float)
    width = max(20, int(_WINDOW * times.size))
    if times.size < 2 * width or np.ptp(times) < WORTH_TELLING_S:
        return None
    share = np.convolve(hit, np.ones(width) / width, mode="valid")
    middle = times[width // 2 : width // 2 + share.size]
    past = np.flatnonzero(share >= 0.5) if rising else np.flatnonzero(share < 0.5)
    if past.size == 0 or past[0] == 0:
        return None
    return float(middle[past[0]])


def pit_conflicts(pieces: Sequence[PiecePlan]) -> tuple[PitConflict, ...]:
    """Return the pairs that stand in one cooker and whose arms want unlike temperatures of it."""
    found = []
    for one, other in combinations(pieces, 2):
        a, b = one.piece, other.piece
        if a.cooker != b.cooker or a.arm == b.arm:
            continue
        ours = [s.surround_c for s in a.run.before if s.place is Place.COOKER]
        theirs = [s.surround_c for s in b.run.before if s.place is Place.COOKER]
        if ours != theirs:
            found.append(PitConflict(a.name, b.name, a.cooker))
    return tuple(found)


def unlike_holds(plan: WhenPlan) -> bool:
    """Tell whether the arms' protocols hold for unlike times."""
    return len({(one.hold_shortest_s, one.hold_longest_s) for one in plan.pieces}) > 1
