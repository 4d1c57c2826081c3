"""Back-planning: the days that it promises, the hold, hands, arms, what cannot be."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.planning.when_days import HOUR_S, piece, protocol, shoulders_drawn

from fairsmoke.planning.day.advice import (
    arm_gaps,
    buffer_of,
    hold_gaps,
    pit_conflicts,
    turning_points,
)
from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.schedule import TooSoonError, WhenPlan
from fairsmoke.planning.day.simulated_days import DayPiece, days, widened, widened_pieces
from fairsmoke.planning.day.steps import Minutes, StepKind, run_of
from fairsmoke.planning.day.time_errors import FROM_LOGS, NO_MORE, Miss, TimeLogSd, fitted
from fairsmoke.planning.errors import PlanError
from fairsmoke.trial.protocol import EndCondition, Protocol


def ready_share(plan: WhenPlan, true_pieces: Sequence[DayPiece]) -> float:
    """The share of days, none of which the plan was made from, on which all is ready in time."""
    begun = days(true_pieces, [one.on_s for one in plan.pieces], plan.asked.minutes)
    ready = [
        one.open_s - own[:, -1] - plan.asked.minutes.pull_s >= one.hold_shortest_s
        for one, own in zip(plan.pieces, begun, strict=True)
    ]
    return float(np.mean(np.all(ready, axis=0)))


def moved(plan: WhenPlan, later_s: float) -> WhenPlan:
    """The plan with every piece put on so much later."""
    return replace(plan, pieces=tuple(replace(one, on_s=one.on_s + later_s) for one in plan.pieces))


@pytest.mark.parametrize("together", [False, True])
@pytest.mark.parametrize("log_sd", [FROM_LOGS, NO_MORE])
def test_ready_on_85_to_95_of_100_days(together: bool, log_sd: TimeLogSd) -> None:
    """400 days from the same ensemble, a plan at 90 %: ready on 85 to 95 of 100."""
    pieces = widened_pieces(shoulders_drawn(400, 1), log_sd, 1)
    plan = plan_when(pieces, DayConstraints(together=together))
    true = widened_pieces(shoulders_drawn(400, 2), log_sd, 2)
    # 400 days say 90 % give or take 1.5 points, the plan's own 400 draws 1.5: five points are 2.4
    # standard errors. 200 days are too few: two of twenty such sets fall to 84 and 83 %
    # (docs/planning-when.md).
    assert 0.85 <= ready_share(plan, true) <= 0.95
    # The simulated days have so long a tail that 400 others see only a start many hours late.
    assert ready_share(moved(plan, 8 * HOUR_S), true) < 0.85
    # The days that the plan was made from are sharper: it keeps its promise on them, by a draw or
    # two of 400 at the most that whole minutes give away, and breaks it an hour later.
    assert 0.9 <= ready_share(plan, pieces) <= 0.9 + 2 / 400
    assert ready_share(moved(plan, HOUR_S), pieces) < 0.9


def test_a_known_quantile_by_hand() -> None:
    """One piece, lognormal total known: the 90 % point is exp(1.2816 σ) (normal table)."""
    one = piece("one", 0.0, 10.0, members=20_000, spread=0.2)
    plan = plan_when([one], DayConstraints(certainty=0.9, hold_shortest_s=HOUR_S))
    minutes = plan.asked.minutes
    before = plan.pieces[0].open_s - HOUR_S - plan.pieces[0].on_s
    hands = minutes.on_s + minutes.wrap_s + minutes.pull_s
    assert (before - hands) / HOUR_S == pytest.approx(10.0 * np.exp(1.2816 * 0.2), abs=0.2)


def test_no_two_hands_on_steps_at_once() -> None:
    pieces = [piece(f"p{k}", 5.0, 4.0, cooker=f"c{k % 2}") for k in range(4)]
    plan = plan_when(pieces, DayConstraints())
    minutes = plan.asked.minutes
    spans = [(one.at_s, minutes.of(one.kind)) for one in plan.reminders]
    for one in plan.pieces:
        spans += [(mark.planned_s, minutes.of(mark.step.kind)) for mark in one.steps]
        spans += [(one.open_s, minutes.open_s), (one.slice_s, minutes.slice_s)]
    spans.sort()
    for (start, lasts), (then, _) in pairwise(spans):
        assert then >= start + lasts - 1.0
    assert spans[-1][0] + spans[-1][1] <= 1.0
    lit = {one.cooker: one.at_s for one in plan.reminders if one.kind is StepKind.LIGHT}
    assert set(lit) == {"c0", "c1"}
    for cooker, lit_s in lit.items():
        last = max(one.pull.middle_s for one in plan.pieces if one.piece.cooker == cooker)
        fuel = [
            one.at_s for one in plan.reminders if one.kind is StepKind.FUEL and one.cooker == cooker
        ]
        # Each hour from lighting to the last piece's pull, moved by busy hands a little.
        due = lit_s + HOUR_S * np.arange(1, int((last - lit_s) / HOUR_S) + 1)
        assert len(due) >= 7
        assert fuel == pytest.approx(due, abs=20 * 60)


def test_a_cooker_is_lit_before_another_piece_goes_on() -> None:
    """The quick one's fire is wanted just when the slow one goes on: it is lit sooner."""
    slow = piece("slow", 5.0, 5.0, cooker="offset", arm="bare", spread=0.02)
    quick = piece("quick", 5.0, 4.0, cooker="drum", arm="foil", spread=0.02)
    plan = plan_when([slow, quick], DayConstraints())
    lit = {one.cooker: one.at_s for one in plan.reminders if one.kind is StepKind.LIGHT}
    for one in plan.pieces:
        assert lit[one.piece.cooker] <= one.on_s - HOUR_S + 1.0
        for at in lit.values():
            assert at + 900.0 <= one.on_s + 1.0 or at >= one.on_s + 300.0 - 1.0


def test_hands_delay_what_comes_at_once() -> None:
    pieces = [piece("a", 5.0, 4.0, spread=0.0), piece("b", 5.0, 4.0, spread=0.0)]
    begun = days(pieces, [0.0, 0.0], Minutes())
    # By hand, without scatter: b goes on when a is on (300 s); a is wrapped 5 h after that, b when
    # a is wrapped (480 s), though due 180 s sooner; both come off 4 h after their own wrapping.
    assert begun[0] == pytest.approx(np.tile([0.0, 18_300.0, 33_180.0], (400, 1)))
    assert begun[1] == pytest.approx(np.tile([300.0, 18_780.0, 33_660.0], (400, 1)))


def test_holds_are_equal_in_the_middle_unless_together() -> None:
    pieces = [piece("quick", 4.0, 2.0, arm="foil"), piece("slow", 4.0, 8.0, arm="bare")]
    apart, at_once = (
        plan_when(pieces, DayConstraints()),
        plan_when(pieces, DayConstraints(together=True)),
    )
    assert abs(hold_gaps(apart)[0].longer.middle_s) < 0.35 * HOUR_S
    assert hold_gaps(at_once)[0].longer.middle_s == pytest.approx(6 * HOUR_S, abs=HOUR_S)
    assert at_once.pieces[1].on_s - at_once.pieces[0].on_s in (300.0, -300.0)


def test_the_arm_that_forces_other_times_is_named() -> None:
    pieces = [piece("one", 5.0, 4.0, arm="bare"), piece("two", 5.0, 4.0, arm="foil")]
    plan = plan_when(pieces, DayConstraints())
    runs = {("bare", one.id): one for one in pieces}
    for one in pieces:
        quick = replace(one, arm="foil", arm_name="Foil", lasts_s=one.lasts_s * [1.0, 0.5])
        runs["foil", one.id] = replace(quick, run=run_of(protocol(wrapped=False)))
    (gap,) = arm_gaps(plan, runs)
    assert gap.longer.middle_s == pytest.approx(-2.0 * HOUR_S, rel=0.05)
    assert gap.stage == "Finish"
    assert ("wrap", "Finish") in gap.differs


def test_a_hold_that_cannot_bridge_the_spread_is_seen() -> None:
    wide = piece("wide", 6.0, 6.0, spread=0.5)
    plan = plan_when([wide], DayConstraints(hold_longest_s=3 * HOUR_S))
    buffer = buffer_of(plan)
    assert buffer.within < 0.5
    assert buffer.needed_s > 3 * HOUR_S
    assert buffer.best >= buffer.within
    narrow = plan_when([piece("narrow", 6.0, 6.0, spread=0.02)], DayConstraints())
    assert buffer_of(narrow).within >= 0.9 - 0.01


def test_a_late_first_stage_tells() -> None:
    plan = plan_when([piece("one", 8.0, 2.0, spread=0.3, members=1000)], DayConstraints())
    (point,) = turning_points(plan)
    assert point.latest_s is not None
    begun = plan.begun[0]
    ends = begun[:, 0] + 300.0 + plan.pieces[0].piece.lasts_s[:, 0]
    missed = plan.pieces[0].open_s - begun[:, -1] - 480.0 < plan.pieces[0].hold_shortest_s
    assert np.mean(missed[ends > point.latest_s]) > 0.5 > np.mean(missed[ends < point.latest_s])


def test_an_impossible_time_says_the_earliest_and_why() -> None:
    one = piece("Big one", 5.0, 4.0)
    free = plan_when([one], DayConstraints())
    with pytest.raises(TooSoonError, match=r"Big one .*must be on") as caught:
        plan_when([one], DayConstraints(not_before_s=free.first_s + 1000.0))
    assert caught.value.later_s == 1200.0
    later = free.first_s + 1000.0 - caught.value.later_s
    assert plan_when([one], DayConstraints(not_before_s=later)).first_s >= later


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: DayConstraints(certainty=0.2), "give 0.5 to 0.99"),
        (lambda: DayConstraints(certainty=1.0), "give 0.5 to 0.99"),
        (lambda: DayConstraints(fuel_every_s=5.0), "15 min to 24 h"),
        (lambda: DayConstraints(rest_s=-1.0), "rest of −1 s: give 0 s to 4 h"),
    ],
)
def test_what_cannot_be_asked(ask: Callable[[], DayConstraints], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        ask()


def test_holds_and_pieces_that_cannot_be() -> None:
    one = piece("one", 5.0, 4.0)
    with pytest.raises(PlanError, match="is above hold_longest"):
        plan_when([one], DayConstraints(hold_shortest_s=5 * HOUR_S, hold_longest_s=HOUR_S))
    with pytest.raises(PlanError, match="in the day twice"):
        plan_when([one, one])
    with pytest.raises(PlanError, match="no piece to plan"):
        plan_when([])
    endless = replace(one, lasts_s=np.where(np.arange(400)[:, None] < 80, np.inf, one.lasts_s))
    with pytest.raises(PlanError, match="never get"):
        plan_when([endless])
    stages = protocol().stages
    clock = stages[0].model_copy(update={"ends": (EndCondition(clock="06:00"),)})
    with pytest.raises(PlanError, match="ends by the clock"):
        run_of(Protocol(stages=(clock, *stages[1:])))


def test_one_pit_cannot_have_two_temperatures() -> None:
    hot = protocol().stages
    hot = (hot[0].model_copy(update={"surround_c": 149.0}), *hot[1:])
    one = piece("one", 5.0, 4.0, arm="a")
    other = replace(piece("two", 5.0, 4.0, arm="b"), run=run_of(Protocol(stages=hot)))
    (found,) = pit_conflicts(plan_when([one, other]).pieces)
    assert (found.piece, found.other, found.cooker) == ("one", "two", "barrel")


def test_known_standard_deviations_are_found_again() -> None:
    """Made from known spreads: shared 0.2 and own 0.3 come back."""
    rng = np.random.default_rng(5)
    misses = []
    for source in range(240):
        shared = rng.normal(0.0, 0.2)
        own = rng.normal(0.0, np.hypot(0.3, 0.1), 8)
        misses += [Miss(str(source), shared + one, 0.1) for one in own]
    found = fitted(misses)
    assert found.between_pits == pytest.approx(0.2, abs=0.03)
    assert found.within_pit == pytest.approx(0.3, abs=0.03)


def test_time_errors_are_shared_in_a_cooker_and_keep_the_middle() -> None:
    factors = np.log(TimeLogSd(0.3, 0.2).factors(20_000, ["a", "a", "b"], 1))
    assert np.corrcoef(factors)[0, 1] == pytest.approx(0.09 / 0.13, abs=0.02)
    assert np.corrcoef(factors)[0, 2] == pytest.approx(0.0, abs=0.02)
    assert np.median(factors, axis=1) == pytest.approx(0.0, abs=0.01)


def test_a_time_limit_hands_on_what_it_cut_off() -> None:
    stages = protocol().stages
    limited = stages[0].model_copy(
        update={"ends": (EndCondition(core_c=71.0), EndCondition(elapsed_s=6 * HOUR_S))}
    )
    run = run_of(Protocol(stages=(limited, *stages[1:])))
    made = widened(np.array([[5.0, 4.0]]) * HOUR_S, run, np.array([2.0]))
    assert made[0] / HOUR_S == pytest.approx([6.0, 4.0 * 2.0 + 4.0])
