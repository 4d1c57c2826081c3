"""What no change of a record or a question may do to a verdict."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.judging.records import MADE, SHEAR, YIELD, record_of

from fairsmoke.judging.judge import judge
from fairsmoke.trial.figure import Figure
from fairsmoke.trial.question import Draw
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import Amendment, PlanChange, frozen

SHARES = st.lists(st.tuples(st.floats(0.5, 0.7), st.floats(0.5, 0.7)), min_size=1, max_size=4)


def believed(record: TrialRecord) -> tuple[float, float, float]:
    (found,) = judge(record, made=MADE).main.differences
    return found.believed.value, found.believed.low, found.believed.high


@settings(max_examples=8, deadline=None)
@given(SHARES, st.floats(0.001, 0.2))
def test_no_worthwhile_difference_moves_the_believed_yield(
    shares: list[tuple[float, float]], worthwhile: float
) -> None:
    record = record_of(shares)
    other = YIELD.model_copy(update={"worthwhile": worthwhile})
    changed = replace(record, trial=record.trial.model_copy(update={"measures": (other,)}))
    assert believed(changed) == believed(record)


@settings(max_examples=8, deadline=None)
@given(st.lists(st.floats(2.0, 8.0), min_size=4, max_size=4), st.floats(0.01, 5.0))
def test_no_worthwhile_difference_moves_a_believed_measured_figure(
    values: list[float], worthwhile: float
) -> None:
    figures = [
        Figure(id=f"f{at}", piece=f"c{at // 2}-{arm}", measure="shear", value=value)
        for at, (arm, value) in enumerate(zip(("bare", "paper") * 2, values, strict=True))
    ]
    record = record_of([(0.58, 0.6)] * 2, (SHEAR,), figures=figures)
    other = SHEAR.model_copy(update={"worthwhile": worthwhile})
    changed = replace(record, trial=record.trial.model_copy(update={"measures": (other,)}))
    assert believed(changed) == believed(record)


@settings(max_examples=8, deadline=None)
@given(SHARES, st.integers(0, 7), st.sampled_from(["swapped", "own side"]))
def test_leaving_out_where_a_piece_stood_never_makes_the_interval_narrower(
    shares: list[tuple[float, float]], which: int, sides: str
) -> None:
    record = record_of(shares)
    if sides == "own side":
        spots = {piece.arm: piece.spot for piece in record.pieces[:2]}
        pieces = tuple(p.model_copy(update={"spot": spots[p.arm]}) for p in record.pieces)
        record = replace(record, pieces=pieces)
    at = which % len(record.pieces)
    lost = tuple(
        piece.model_copy(update={"spot": None}) if i == at else piece
        for i, piece in enumerate(record.pieces)
    )
    _, low, high = believed(record)
    _, less_low, less_high = believed(replace(record, pieces=lost))
    assert less_high - less_low >= 0.995 * (high - low)


def test_animals_unknown_under_a_layout_by_hand_widen_the_interval() -> None:
    by_hand = record_of([(0.58, 0.61)] * 4, draw=Draw(how="by hand", within="pair"))
    own = tuple(p.model_copy(update={"animal": f"a{i}"}) for i, p in enumerate(by_hand.pieces))
    _, low, high = believed(replace(by_hand, pieces=own))
    _, less_low, less_high = believed(by_hand)
    assert less_high - less_low > high - low


def test_a_line_moved_after_the_first_result_does_not_bind() -> None:
    rng = np.random.default_rng(1)
    rows = [(0.55 + e, 0.62 + f) for e, f in rng.normal(0, 0.008, (8, 2))]
    record = record_of(rows)
    strict = YIELD.model_copy(update={"worthwhile": 0.075})
    before = record.trial.model_copy(update={"measures": (strict,)})
    registration = frozen(before, None, record.cooks[0].starts - timedelta(days=1))
    # Each in its own cook: a weighing on another day than its cook is doubted and waits.
    starts = {cook.id: cook.starts for cook in record.cooks}
    began = {piece.id: starts[piece.cook or ""] for piece in record.pieces}
    weighings = tuple(
        w.model_copy(update={"at": began[w.piece or ""] + timedelta(hours=9)})
        for w in record.weighings
    )
    late = Amendment(
        at=record.cooks[-1].starts + timedelta(days=3),
        what="worthwhile difference",
        why="seen",
        changes=(
            PlanChange(place="measures yield, worthwhile", was='"7.5 points"', now='"2 points"'),
        ),
    )
    registered = replace(record, registration=registration, weighings=weighings)
    amended = replace(
        registered, registration=registration.model_copy(update={"amendments": (late,)})
    )
    for one in (registered, amended):
        (found,) = judge(one, made=MADE).main.differences
        assert found.verdict.better_by_enough < 0.95
        assert found.as_amended is not None
        assert found.as_amended.better_by_enough > found.verdict.better_by_enough
    early = late.model_copy(update={"at": registration.at + timedelta(hours=1)})
    told = replace(
        registered, registration=registration.model_copy(update={"amendments": (early,)})
    )
    (found,) = judge(told, made=MADE).main.differences
    assert found.as_amended is None
    assert found.verdict.better_by_enough == pytest.approx(
        judge(record, made=MADE).main.differences[0].verdict.better_by_enough
    )
