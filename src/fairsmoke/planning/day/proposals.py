"""What change would keep the meat from waiting longer than its cut is usually held."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fairsmoke.physics.limits import SAFETY_LIMITS
from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.schedule import WhenPlan
from fairsmoke.planning.day.simulated_days import DayPiece, widened_pieces
from fairsmoke.planning.day.time_errors import TimeLogSd
from fairsmoke.planning.day.usual_holds import HOLD_C, run_with_hold
from fairsmoke.planning.errors import PlanError

EVEN = 0.5
"""Below that chance of a day as it is meant, no sheet is printed to work by."""
COOLS_S = SAFETY_LIMITS["code 57 to 5"].within_s or 0.0
REHEATS_S = SAFETY_LIMITS["reheat 2 h"].within_s or 0.0
"""What a day between cooking and serving must have room for."""
_SHARES = (0.8, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0)

ProposalKind = Literal["hold", "longer hold", "own times", "day before"]


@dataclass(frozen=True)
class DayProposal:
    """A change to the day and what it would do.

    ``in_bounds`` is the chance that no piece waits longer than its longest hold, ``within`` that
    all is ready in time as well; ``first_s`` when the fire would be lit (s from serving).
    ``hold_c`` and ``hold_s`` are the hold's temperature and longest time where a hold belongs to
    it; ``off_by`` is how far cooks may run from plan (one standard deviation, as a share).
    """

    kind: ProposalKind
    in_bounds: float
    within: float
    first_s: float
    hold_c: float | None = None
    hold_s: float | None = None
    off_by: float | None = None


def in_bounds(plan: WhenPlan) -> float:
    """Return the chance that no piece waits longer than its longest hold."""
    longest = np.array([one.hold_longest_s for one in plan.pieces])[:, None]
    return float(np.mean(np.all(plan.held_s <= longest, axis=0)))


def may_be_printed(plan: WhenPlan) -> bool:
    """Tell whether the day goes as it is meant more likely than not."""
    return plan.holds_within >= EVEN


def proposals(
    raw: Sequence[DayPiece], asked: DayConstraints, log_sd: TimeLogSd, seed: int, plan: WhenPlan
) -> tuple[DayProposal, ...]:
    """Return what would keep the meat within its longest hold, the smallest change first.

    ``raw`` are the pieces as the simulator draws them, ``plan`` the day that was made of them with
    the variation ``log_sd``. Nothing is proposed for a day that keeps within with its certainty.
    Only the last one proposed need be enough: the others are told with the chance that they leave.
    """
    if in_bounds(plan) >= asked.certainty:
        return ()
    return tuple(_found(raw, asked, log_sd, seed, plan))


def _found(
    raw: Sequence[DayPiece], asked: DayConstraints, log_sd: TimeLogSd, seed: int, plan: WhenPlan
) -> Iterator[DayProposal]:
    held = [replace(one, run=run_with_hold(one.run, one.cut)) for one in raw]
    free = replace(asked, hold_longest_s=None)
    lacks = any(one.run.hold is None for one in raw)
    kind: ProposalKind = "hold" if lacks else "longer hold"
    usual = plan_when(widened_pieces(held, log_sd, seed), replace(free, not_before_s=None))
    holds = {"hold_c": HOLD_C if lacks else None, "hold_s": _longest(usual)}
    if lacks or _longest(usual) > _longest(plan):
        found = _proposal(kind, usual, **holds)
        yield found
        if found.in_bounds >= asked.certainty:
            return
    surer = _own_times(held, free, log_sd, seed)
    if surer is not None:
        share, best = surer
        off = float(np.expm1(share * np.hypot(log_sd.between_pits, log_sd.within_pit)))
        yield _proposal("own times", best, **holds, off_by=off)
    yield _day_before(plan)


def _longest(plan: WhenPlan) -> float:
    return min(one.hold_longest_s for one in plan.pieces)


def _proposal(kind: ProposalKind, plan: WhenPlan, **more: float | None) -> DayProposal:
    return DayProposal(kind, in_bounds(plan), plan.holds_within, plan.first_s, **more)


def _own_times(
    held: Sequence[DayPiece], asked: DayConstraints, log_sd: TimeLogSd, seed: int
) -> tuple[float, WhenPlan] | None:
    """Return the largest share of the variation that the hold bridges, and the day with it."""
    for share in _SHARES:
        less = TimeLogSd(share * log_sd.between_pits, share * log_sd.within_pit)
        try:
            plan = plan_when(widened_pieces(held, less, seed), replace(asked, not_before_s=None))
        except PlanError:
            continue
        if in_bounds(plan) >= asked.certainty:
            return share, plan
    return None


def _day_before(plan: WhenPlan) -> DayProposal:
    """Return the day on which all is cooked, cooled and heated again; what waits is cold.

    The same starts, so much earlier that what came off with the day's certainty can be cooled and
    heated again before it is opened.
    """
    shortest = min(one.hold_shortest_s for one in plan.pieces)
    earlier = max(0.0, COOLS_S + REHEATS_S - shortest)
    return DayProposal("day before", 1.0, plan.ready, plan.first_s - earlier)
