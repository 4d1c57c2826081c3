"""Pareto fronts: brute force, a textbook example, closed forms."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.methods.pareto import dominates, on_front, pareto_front, shortlist


def _slow_dominates(one: Sequence[int], other: Sequence[int]) -> bool:
    """The definition word for word, in plain Python."""
    return all(a >= b for a, b in zip(one, other, strict=True)) and any(
        a > b for a, b in zip(one, other, strict=True)
    )


@given(
    st.integers(1, 4).flatmap(
        lambda goals: st.lists(
            # Few levels, so that ties and equal methods are common.
            st.lists(st.integers(0, 4), min_size=goals, max_size=goals),
            min_size=1,
            max_size=25,
        )
    )
)
def test_front_is_that_of_brute_force(table: list[list[int]]) -> None:
    slow = [[_slow_dominates(a, b) for b in table] for a in table]
    assert dominates(table).tolist() == slow
    assert on_front(table).tolist() == [not any(row[j] for row in slow) for j in range(len(table))]


def test_ranks_of_the_textbook_example() -> None:
    # Deb (2001), the hand-worked sorting of twelve points, both goals smaller is better; fronts
    # {5, a, e}, {1, 3, b, d}, {2, 6, c, f}, {4}: from memory, and the same ranks read in a public
    # test suite that repeats the example from a lecture.
    points = {
        "1": (0.31, 6.10),
        "2": (0.43, 6.79),
        "3": (0.22, 7.09),
        "4": (0.59, 7.85),
        "5": (0.66, 3.65),
        "6": (0.83, 4.23),
        "a": (0.21, 5.90),
        "b": (0.79, 3.97),
        "c": (0.51, 6.51),
        "d": (0.27, 6.93),
        "e": (0.58, 4.52),
        "f": (0.24, 8.54),
    }
    fronts = []
    while points:
        first = on_front(-np.array(list(points.values())))
        fronts.append({name for name, best in zip(points, first, strict=True) if best})
        points = {name: point for name, point in points.items() if name not in fronts[-1]}
    assert fronts == [set("5ae"), set("13bd"), set("26cf"), {"4"}]


@pytest.mark.parametrize("goals", [2, 3])
def test_mean_number_on_a_random_front(goals: int) -> None:
    # Independent goals: H_n methods of n on the front with two goals, sum of H_k/k with three
    # (Bentley, Kung, Schkolnick and Thompson, J. ACM 25 (1978) 536, from memory).
    n, times = 40, 600
    harmonic = np.cumsum(1.0 / np.arange(1, n + 1))
    expected = harmonic[-1] if goals == 2 else float(np.sum(harmonic / np.arange(1, n + 1)))
    rng = np.random.default_rng(5)
    counts = [int(on_front(rng.random((n, goals))).sum()) for _ in range(times)]
    assert np.mean(counts) == pytest.approx(
        expected, abs=4 * float(np.std(counts)) / math.sqrt(times)
    )


def test_chance_that_one_beats_another_is_that_of_normal_goals() -> None:
    # Independent normal differences d_k ~ N(m_k, s_k): all of them above 0 with prod Φ(m_k/s_k).
    rng = np.random.default_rng(7)
    means, sds, size = np.array([0.6, 0.1, 1.2]), np.array([1.0, 0.5, 0.8]), 20_000
    common = rng.normal(size=(size, 3)) * 50.0  # shared by both, and cancels draw by draw
    draws = np.stack([common + rng.normal(means, sds, (size, 3)), common])
    found = pareto_front(draws, [True, True])
    chance = float(np.prod(ndtr(means / sds)))
    assert found.chance_beaten[1] == pytest.approx(
        chance, abs=4 * math.sqrt(chance * (1 - chance) / size)
    )
    assert found.beaten_by[1] == 0
    # Of two methods one is off the front exactly when it is beaten.
    assert found.chance_on_front[1] == pytest.approx(1 - found.chance_beaten[1])


def test_what_is_not_allowed_takes_no_part() -> None:
    draws = np.array([[[2.0, 2.0]], [[1.0, 1.0]], [[0.0, 3.0]]])
    found = pareto_front(draws, [False, True, True])
    assert found.front.tolist() == [False, True, True]
    assert np.isnan(found.chance_on_front[0])
    assert not found.ruled_out.any()
    everyone = pareto_front(draws, [True, True, True])
    assert everyone.front.tolist() == [True, False, True]
    assert everyone.ruled_out.tolist() == [False, True, False]
    assert everyone.beaten_by.tolist() == [-1, 0, -1]


def test_nan_is_neither_on_the_front_nor_beats() -> None:
    assert on_front([[np.nan, 9.0], [1.0, 1.0]]).tolist() == [False, True]
    assert on_front([[np.nan, 9.0], [1.0, 1.0]]).tolist() == [False, True]


def test_nobody_allowed_gives_an_empty_front() -> None:
    found = pareto_front(np.zeros((3, 2, 2)), [False] * 3)
    assert not found.front.any()
    assert shortlist(found.middle, found.front, 5) == []


def test_shortlist_has_the_ends_and_the_all_rounder() -> None:
    angle = np.linspace(0.0, math.pi / 2, 21)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    listed = shortlist(circle, np.ones(21, dtype=bool), 5)
    assert listed[:3] == [0, 20, 10]
    assert set(listed[3:]) == {5, 15}
    assert len(shortlist(circle, np.ones(21, dtype=bool), 50)) == 21


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: on_front([1.0, 2.0]), "table of methods by goals"),
        (lambda: pareto_front(np.zeros((2, 3, 1)), [True]), "methods × draws × goals"),
        (lambda: pareto_front(np.zeros((1, 3, 1)), [True], sure=0.4), "above 0.5"),
        (lambda: shortlist([[1.0]], [True], 0), "at least 1"),
    ],
)
def test_bad_input_is_told(call: Callable[[], object], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        call()
