"""Arms given to whole cooks: the test re-draws cooks, not pieces."""

from dataclasses import replace

import numpy as np
import pytest
from tests.judging.records import MADE, record_of

from fairsmoke.judging.counterparts import whole_cook_layouts
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.judge import judge
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test
from fairsmoke.judging.remark import CaveatKind
from fairsmoke.trial.question import Draw
from fairsmoke.trial.record import TrialRecord


@pytest.mark.parametrize(("cooks", "pieces", "trials"), [(3, 3, 400), (4, 6, 300)])
def test_the_test_holds_its_level_where_cooks_differ(cooks: int, pieces: int, trials: int) -> None:
    """No difference between arms, cooks differing as much as pieces; exact by the draw."""
    rng = np.random.default_rng(8)
    cook = np.repeat(np.arange(2 * cooks), pieces)
    false = 0
    for _ in range(trials):
        second = rng.permutation(2 * cooks) < cooks
        arm = second[cook].astype(np.intp)
        y = rng.normal(size=2 * cooks)[cook] + rng.normal(size=len(cook))
        draw = RandomAllocation(np.zeros_like(arm), whole_cook_layouts(arm, cook, 0, 1))
        found = randomisation_test(y, arm, draw)
        false += found.p_two_sided <= 0.05
    # 3.5 standard errors above 5 %.
    assert false / trials <= 0.05 + 3.5 * np.sqrt(0.05 * 0.95 / trials)


def test_over_every_draw_of_eight_cooks_of_six_pieces_the_level_holds() -> None:
    """All 12,870 layouts, for cooks that differ and for a heavy tail, by the plain definition."""
    cook = np.repeat(np.arange(16), 6)
    arm = (cook >= 8).astype(np.intp)
    layouts = whole_cook_layouts(arm, cook, 0, 1)
    assert len(layouts) == 12_870
    rng = np.random.default_rng(3)
    for y in (
        rng.normal(size=16)[cook] + rng.normal(size=96),
        rng.standard_t(2, size=16)[cook] + 0.1 * rng.normal(size=96),
    ):
        contrasts = np.abs((2.0 * layouts - 1.0) @ y / 48)
        ordered = np.sort(contrasts)
        reach = len(ordered) - np.searchsorted(ordered, contrasts - 1e-9)
        p = reach / len(ordered)
        assert np.mean(p <= 0.05) <= 0.05
        found = randomisation_test(y, arm, RandomAllocation(np.zeros_like(arm), layouts))
        own = int(np.flatnonzero((layouts == arm).all(axis=1))[0])
        assert found.p_two_sided == pytest.approx(p[own])


def test_over_every_draw_of_three_cooks_of_three_pieces_the_level_holds() -> None:
    cook = np.repeat(np.arange(6), 3)
    rng = np.random.default_rng(4)
    y = rng.normal(size=6)[cook] + rng.normal(size=18)
    layouts = whole_cook_layouts((cook >= 3).astype(np.intp), cook, 0, 1)
    p = [
        randomisation_test(y, a, RandomAllocation(np.zeros_like(a), layouts)).p_two_sided
        for a in layouts
    ]
    assert np.mean(np.array(p) <= 0.05) <= 0.05
    assert min(p) == pytest.approx(0.1)


def record(said: bool) -> TrialRecord:
    """Three cooks an arm of two pieces each, drawn by cooks, whether that was said or not."""
    found = record_of([(0.60 + 0.01 * (n % 3), 0.62 + 0.01 * (n % 2)) for n in range(6)])
    arms = {cook.id: ("bare", "paper")[at % 2] for at, cook in enumerate(found.cooks)}
    pieces = tuple(p.model_copy(update={"arm": arms[p.cook or ""]}) for p in found.pieces)
    drawn = Draw(how="drawn", within="trial", given_to="cooks" if said else "pieces")
    trial = found.trial.model_copy(update={"draw": drawn})
    return replace(found, pieces=pieces, trial=trial)


def test_a_finding_redraws_cooks_and_makes_no_pairs_of_pieces() -> None:
    said, unsaid = (judge(record(how), made=MADE).main for how in (True, False))
    classical = {one.name: one for one in said.differences[0].classical}
    assert classical == {one.name: one for one in unsaid.differences[0].classical}
    assert "20 layouts" in str(classical["re-randomisation"].sentence)
    assert classical["re-randomisation"].p is not None
    assert classical["re-randomisation"].p >= 0.1
    assert classical["paired t"].p is None
    assert "whole cooks" in str(classical["paired t"].sentence)
    # About the four degrees of freedom of six cooks, not the ten of twelve pieces.
    assert "3.8 degrees of freedom" in str(classical["mixed model (REML)"].sentence)
    assert said.differences[0].believed == unsaid.differences[0].believed
    assert any(one.kind is CaveatKind.WHOLE_COOKS for one in said.remarks)


def test_three_cooks_an_arm_can_give_a_tenth_at_best() -> None:
    """2 of C(6, 3) = 20 layouts."""
    cook = np.repeat(np.arange(6), 3)
    arm = (cook >= 3).astype(np.intp)
    layouts = whole_cook_layouts(arm, cook, 0, 1)
    assert len(layouts) == 20
    y = 10.0 * arm + np.linspace(0, 1, 18)
    found = randomisation_test(y, arm, RandomAllocation(np.zeros_like(arm), layouts))
    assert found.p_two_sided == pytest.approx(0.1)


def test_a_cook_that_held_both_arms_is_refused() -> None:
    with pytest.raises(ComparisonError, match="whole cooks"):
        whole_cook_layouts(np.array([0, 1]), np.array([0, 0]), 0, 1)
