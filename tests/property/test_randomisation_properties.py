"""What must hold of the re-randomisation test whatever the pieces do."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fairsmoke.design.layouts import arrangement_count, arrangements
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test

numbers = st.floats(-100, 100, allow_nan=False).map(lambda value: round(value, 3))


def responses(size: int) -> st.SearchStrategy[np.ndarray]:
    return st.lists(numbers, min_size=size, max_size=size).map(np.array)


@settings(max_examples=25, deadline=None)
@given(responses(12))
def test_no_false_alarm_oftener_than_promised(y: np.ndarray) -> None:
    # Over all 64 layouts of a draw that made no difference, p ≤ a in at most a share a of them,
    # and the truth, 0, lies in the 95 % interval in at least 95 %.
    pairs, ps, covered = np.repeat(np.arange(6), 2), [], 0
    for flips in product([0, 1], repeat=6):
        arms = np.column_stack([flips, 1 - np.array(flips)]).ravel()
        result = randomisation_test(y, arms, RandomAllocation(pairs))
        ps.append(result.p_two_sided)
        assert result.interval is not None
        covered += result.interval[0] - 1e-9 <= 0 <= result.interval[1] + 1e-9
    for a in set(ps):
        assert np.mean(np.array(ps) <= a) <= a + 1e-12
    assert covered / 64 >= 0.95


@settings(max_examples=60, deadline=None)
@given(responses(9), st.permutations([0, 1, 2, 0, 1, 2, 0, 1, 2]), numbers, numbers)
def test_blocks_may_shift_and_arms_may_swap(
    y: np.ndarray, arms: list[int], shift: float, scale: float
) -> None:
    blocks = np.zeros(9, int)
    blocks[4:] = 1
    if len({*arms[:4]}) < 2 or not {0, 1} <= ({*arms[:4]} if 2 in arms else {*arms}):
        return
    plain = randomisation_test(y, arms, RandomAllocation(blocks))
    moved = randomisation_test(y + shift * blocks, arms, RandomAllocation(blocks))
    assert moved.estimate == pytest.approx(plain.estimate, abs=1e-6)
    assert moved.p_two_sided == plain.p_two_sided
    swapped = randomisation_test(y, arms, RandomAllocation(blocks), first=1, second=0)
    assert swapped.estimate == pytest.approx(-plain.estimate, abs=1e-9)
    assert (swapped.p_greater, swapped.p_two_sided) == (plain.p_less, plain.p_two_sided)
    assert plain.p_two_sided >= plain.resolution.two_sided - 1e-12
    assert min(plain.p_greater, plain.p_less) >= plain.resolution.one_sided - 1e-12


@settings(max_examples=60, deadline=None)
@given(responses(10), st.sets(st.integers(0, 9), max_size=4))
def test_both_ways_of_computing_agree(y: np.ndarray, lost: set[int]) -> None:
    # The outer sums over blocks, and a least-squares fit in each layout (asked for by a factor
    # that explains nothing, and by listing the layouts).
    y[list(lost)] = np.nan
    arms, blocks = np.tile([0, 1], 5), np.array([0, 0, 1, 1, 1, 1, 2, 2, 2, 2])
    if any(len(np.unique(arms[(blocks == b) & ~np.isnan(y)])) < 2 for b in (1, 2)):
        return
    quick = randomisation_test(y, arms, RandomAllocation(blocks))
    slow = randomisation_test(y, arms, RandomAllocation(blocks), adjust=[np.zeros(10)])
    assert quick.estimate == pytest.approx(slow.estimate, abs=1e-8)
    for name in ("n_tried", "count_two_sided", "count_greater", "count_less", "n_used"):
        assert getattr(quick, name) == getattr(slow, name), name
    assert quick.resolution == slow.resolution
    if quick.interval is None:
        assert slow.interval is None
    else:
        assert quick.interval == pytest.approx(slow.interval, abs=1e-7)


@given(st.lists(st.integers(0, 3), min_size=1, max_size=7))
def test_arrangements_are_all_and_distinct(labels: list[int]) -> None:
    found = arrangements(np.array(labels))
    assert len({tuple(row) for row in found.tolist()}) == len(found)
    assert len(found) == arrangement_count(np.array(labels))
    assert all(sorted(row) == sorted(labels) for row in found.tolist())
