"""The re-randomisation test: floors, intervals, missing pieces, several arms, bad input."""

from itertools import combinations, permutations, product

import numpy as np
import pytest

from fairsmoke.design.errors import DesignError
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.randomisation import (
    RandomAllocation,
    RandomisationTest,
    draw_resolution,
    randomisation_test,
)


def compare_pairs(differences: np.ndarray, level: float = 0.95) -> RandomisationTest:
    response = np.column_stack([np.zeros(len(differences)), differences]).ravel()
    pairs = np.repeat(np.arange(len(differences)), 2)
    return randomisation_test(
        response, np.tile([0, 1], len(differences)), RandomAllocation(pairs), level=level
    )


@pytest.mark.parametrize(
    ("n_pairs", "floor"),
    [(3, 0.25), (4, 0.125), (5, 0.0625), (6, 0.03125), (7, 0.015625), (8, 0.0078), (9, 0.0039),
     (10, 0.00195)],
)  # fmt: skip
def test_floor_of_pairs(n_pairs: int, floor: float) -> None:
    # Table of section 5.1 of our references, 2/2ⁿ, printed there to the digits given here.
    arms, draw = np.tile([0, 1], n_pairs), RandomAllocation(np.repeat(np.arange(n_pairs), 2))
    resolution = draw_resolution(arms, draw)
    assert resolution.two_sided == pytest.approx(floor, abs=5e-5)
    assert resolution.one_sided == resolution.two_sided / 2
    assert ("no outcome can reach" in str(resolution.sentence)) == (n_pairs <= 5)


def test_floor_is_reached_and_never_undercut() -> None:
    rng = np.random.default_rng(11)
    smallest = min(compare_pairs(rng.normal(1, 0.3, 4)).p_two_sided for _ in range(20))
    assert smallest == 2 / 16


def test_one_pair_says_that_it_can_show_nothing() -> None:
    result = compare_pairs(np.array([3.0]))
    assert result.p_two_sided == 1.0
    assert result.resolution.two_sided == 1.0
    assert result.interval is None
    assert "2 layouts" in result.interval_note


@pytest.mark.parametrize("n_pairs", [6, 8, 9])
def test_interval_of_pairs_is_made_of_subset_means(n_pairs: int) -> None:
    # Theorem: the 2ⁿ − 1 means of all subsets of the differences cut the line into 2ⁿ stretches
    # that hold the true shift equally often (J. A. Hartigan, JASA 64:1303, 1969; from memory).
    differences = np.random.default_rng(n_pairs).gamma(2.0, size=n_pairs) - 1
    means = sorted(
        np.mean(chosen)
        for size in range(1, n_pairs + 1)
        for chosen in combinations(differences, size)
    )
    outside = int(0.05 * 2**n_pairs / 2)
    result = compare_pairs(differences)
    assert result.interval == pytest.approx((means[outside - 1], means[-outside]))


def test_p_at_the_ends_of_the_interval_crosses_the_level() -> None:
    differences = np.random.default_rng(5).normal(1, 2, 10)
    interval = compare_pairs(differences).interval
    assert interval is not None
    for end, outward in ((interval[0], -1e-6), (interval[1], 1e-6)):
        assert compare_pairs(differences - end + outward).p_two_sided > 0.05
        assert compare_pairs(differences - end - outward).p_two_sided <= 0.05


def test_a_lost_half_takes_its_partner_along() -> None:
    response = np.array([1.0, 2.0, np.nan, 5.0, 3.0, 3.5, 2.0, 4.0])
    arms, pairs = np.tile([0, 1], 4), np.repeat(np.arange(4), 2)
    result = randomisation_test(response, arms, RandomAllocation(pairs))
    assert (result.n_used, result.n_missing, result.n_partnerless) == (6, 1, 1)
    whole = np.delete(np.arange(8), [2, 3])
    assert result.p_two_sided == (
        randomisation_test(response[whole], arms[whole], RandomAllocation(pairs[whole])).p_two_sided
    )
    assert result.estimate == pytest.approx((1.0 + 0.5 + 2.0) / 3)


def least_squares(y: np.ndarray, arms: np.ndarray, factors: list[np.ndarray], second: int) -> float:
    """The plain textbook fit with indicator columns, arm 0 as base."""
    others = [a for a in np.unique(arms) if a != 0]
    columns = [(arms == a).astype(float) for a in others]
    columns += [(factor == level).astype(float) for factor in factors for level in set(factor)]
    solution = np.linalg.lstsq(np.column_stack(columns), y, rcond=None)[0]
    return float(solution[others.index(second)])


def test_unbalanced_blocks_by_brute_force() -> None:
    # Blocks of 3 and 4 with three arms; arm 2 keeps its places.
    y = np.random.default_rng(2).normal(size=10)
    blocks = np.array([0, 0, 0, 1, 1, 1, 1, 2, 2, 2])
    arms = np.array([0, 1, 2, 0, 1, 1, 2, 0, 0, 1])
    result = randomisation_test(y, arms, RandomAllocation(blocks))
    slots = [np.flatnonzero((blocks == b) & (arms != 2)) for b in range(3)]
    layouts = set()
    for orders in product(*(permutations(arms[at]) for at in slots)):
        layout = arms.copy()
        for at, order in zip(slots, orders, strict=True):
            layout[at] = order
        layouts.add(tuple(layout))
    estimates = np.array([least_squares(y, np.array(a), [blocks], 1) for a in layouts])
    observed = least_squares(y, arms, [blocks], 1)
    assert result.n_tried == len(layouts) == 2 * 3 * 3
    assert result.estimate == pytest.approx(observed)
    assert result.count_two_sided == np.sum(np.abs(estimates) >= abs(observed) - 1e-9)
    assert result.count_greater == np.sum(estimates >= observed - 1e-9)
    assert result.count_less == np.sum(estimates <= observed + 1e-9)
    # No layout is the mirror image of this one, so a single layout can stand alone.
    assert result.resolution.two_sided == pytest.approx(1 / 18)


def test_other_arms_may_stand_apart() -> None:
    # Arms 2 and 3 share no block with arms 0 and 1.
    y = np.random.default_rng(6).normal(size=12)
    arms, blocks = np.array([0, 1, 1, 0, 0, 1, 2, 3, 3, 2, 2, 3]), np.repeat(np.arange(6), 2)
    whole = randomisation_test(y, arms, RandomAllocation(blocks))
    alone = randomisation_test(y[:6], arms[:6], RandomAllocation(blocks[:6]))
    slow = randomisation_test(y, arms, RandomAllocation(blocks), adjust=[np.zeros(12)])
    assert whole.estimate == pytest.approx(alone.estimate)
    assert whole.p_two_sided == alone.p_two_sided == slow.p_two_sided
    assert whole.resolution == alone.resolution == slow.resolution


def latin_squares() -> np.ndarray:
    """All 12 Latin squares of side 3, cell by cell."""
    rows = list(permutations(range(3)))
    squares = [
        np.concatenate(square)
        for square in product(rows, repeat=3)
        if all(len({r[c] for r in square}) == 3 for c in range(3))
    ]
    return np.array(squares)


def test_latin_square_by_brute_force() -> None:
    layouts = latin_squares()
    y = np.random.default_rng(8).normal(size=9)
    row, column = np.repeat(np.arange(3), 3), np.tile(np.arange(3), 3)
    draw = RandomAllocation(row, layouts)
    result = randomisation_test(
        y, layouts[4], draw, second=2, adjust=[column], hold_other_arms=False
    )
    estimates = np.array([least_squares(y, a, [row, column], 2) for a in layouts])
    assert result.n_tried == len(layouts) == 12
    assert result.estimate == pytest.approx(estimates[4])
    assert result.count_two_sided == np.sum(np.abs(estimates) >= abs(estimates[4]) - 1e-9)
    assert result.interval is None
    # Holding the third arm in place leaves only the exchange of the other two.
    assert randomisation_test(y, layouts[4], draw, second=2, adjust=[column]).n_tried == 2


def test_side_of_the_cooker_is_adjusted_for() -> None:
    # Six pairs, the hotter right side adds 5; without adjusting it drowns the difference of 1.
    rng = np.random.default_rng(4)
    arms = np.array([0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 0])
    pairs, right = np.repeat(np.arange(6), 2), np.tile([0, 1], 6)
    y = 1.0 * arms + 5.0 * right + rng.normal(0, 0.1, 12)
    plain = randomisation_test(y, arms, RandomAllocation(pairs))
    adjusted = randomisation_test(y, arms, RandomAllocation(pairs), adjust=[right])
    assert adjusted.estimate == pytest.approx(least_squares(y, arms, [pairs, right], 1))
    assert adjusted.estimate == pytest.approx(1.0, abs=0.15)
    assert plain.p_two_sided > 0.3
    # Two of the 64 layouts put one arm on the right throughout and could not answer.
    assert adjusted.n_tried == adjusted.resolution.n_layouts == 62
    assert adjusted.p_two_sided <= 0.05


def test_unrestricted_draw_counts_every_choice() -> None:
    # R. A. Fisher's tea: 4 of 8 cups, all right, 1 in 70 (The Design of Experiments, §5; memory).
    arms = np.array([0, 1, 1, 0, 1, 0, 0, 1])
    result = randomisation_test(arms.astype(float), arms, RandomAllocation(np.zeros(8, int)))
    assert result.n_tried == 70
    assert result.p_greater == pytest.approx(1 / 70)


def test_equal_responses_tie_everywhere() -> None:
    arms, blocks = np.tile([0, 1], 5), np.repeat(np.arange(5), 2)
    result = randomisation_test(np.full(10, 0.1), arms, RandomAllocation(blocks))
    assert result.p_two_sided == result.p_greater == result.p_less == 1.0


def test_random_layouts_are_the_same_for_the_same_seed() -> None:
    y = np.random.default_rng(1).normal(size=60)
    arms, pairs = np.tile([0, 1], 30), np.repeat(np.arange(30), 2)
    first, again, other = (
        randomisation_test(y, arms, RandomAllocation(pairs), n_random=5000, seed=seed)
        for seed in (1, 1, 2)
    )
    assert not first.exact
    assert first == again
    assert first.p_two_sided != other.p_two_sided
    assert first.p_two_sided == (first.count_two_sided + 1) / 5001
    assert "about 1.0 × 10^9 layouts" in str(first.resolution.sentence)


PAIRED = RandomAllocation(np.array([0, 0, 1, 1]))


@pytest.mark.parametrize(
    ("response", "arms", "draw", "options", "words"),
    [
        ([1, 2, 3], [0, 1, 0, 1], PAIRED, {}, "one number and one label"),
        ([1, 2, 3, np.inf], [0, 1, 0, 1], PAIRED, {}, "row 3"),
        ([1, 2, 3, 4], [0, 0, 1, 1], PAIRED, {}, "no piece of arm 0"),
        ([1, 2, 3, 4], [0, 1, 0, 1], PAIRED, {"second": 7}, "no piece of arm 7"),
        ([1, 2, 3, 4], [0, 1, 0, 1], PAIRED, {"second": 0}, "compare two arms"),
        ([1, 2, 3, 4], [0, 2, 1, 3], PAIRED, {}, "no block holds both arms"),
        ([1, 2, 3, 4], [0, 1, 0, 1], PAIRED, {"level": 95.0}, "between 0 and 1"),
        ([1, 2, 3, 4], [0, 1, 0, 1], PAIRED, {"adjust": [[0, 1]]}, r"adjust\[0\]"),
        ([1, 2, 3, 4], [0, 1, 0, 1], PAIRED, {"adjust": [[0, 1, 0, 1]]}, "cannot be told apart"),
        (
            [1, 2, 3, 4],
            [0, 1, 0, 1],
            RandomAllocation(PAIRED.blocks, np.eye(4, dtype=int)),
            {},
            "not among",
        ),
        (
            [1, 2, 3, 4],
            [0, 1, 0, 1],
            RandomAllocation(PAIRED.blocks, np.ones((1, 2), int)),
            {},
            "shape",
        ),
    ],
)
def test_bad_input_is_named(
    response: list[float],
    arms: list[int],
    draw: RandomAllocation,
    options: dict[str, object],
    words: str,
) -> None:
    with pytest.raises((ComparisonError, DesignError), match=words):
        randomisation_test(response, arms, draw, **options)  # type: ignore[arg-type]
