"""Arms given to whole cooks: the test re-draws cooks, not pieces."""

import numpy as np
import pytest

from fairsmoke.judging.counterparts import whole_cook_layouts
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test


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
