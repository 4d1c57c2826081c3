"""One pair of hands: against every order tried by a linear program, and by hand."""

from collections.abc import Sequence
from itertools import combinations, pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from fairsmoke.planning.day.one_pair_of_hands import Task, schedule
from fairsmoke.planning.errors import PlanError


def overlaps(starts: dict[str, float], tasks: Sequence[Task]) -> list[tuple[str, str]]:
    """Return the pairs of steps that would need two pairs of hands."""
    spans = sorted((starts[task.id], starts[task.id] + task.lasts_s, task.id) for task in tasks)
    return [
        (one[2], other[2])
        for one, other in combinations(spans, 2)
        if other[0] < one[1] - 1.0 and one[0] < other[1] - 1.0
    ]


def best_by_every_order(tasks: list[Task]) -> float:
    """The least weighted shift, each order solved as a linear program (scipy, not ours)."""
    count, best = len(tasks), np.inf
    for order in permutations(range(count)):
        rows, most = [], []
        for one, then in pairwise(order):
            row = np.zeros(2 * count)
            row[one], row[then] = 1.0, -1.0
            rows.append(row)
            most.append(-tasks[one].lasts_s)
        for k, task in enumerate(tasks):
            for sign in (1.0, -1.0):
                row = np.zeros(2 * count)
                row[k], row[count + k] = sign, -1.0
                rows.append(row)
                most.append(sign * task.wanted_s)
        cost = [0.0] * count + [task.weight for task in tasks]
        bounds = [(t.earliest_s, t.latest_s) for t in tasks] + [(0, None)] * count
        found = linprog(cost, np.array(rows), most, bounds=bounds)
        if found.success and found.fun is not None:
            best = min(best, found.fun)
    return best


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.integers(1, 20), st.sampled_from([0.1, 1.0, 2.0])),
        min_size=2,
        max_size=5,
    )
)
def test_as_little_moved_as_any_order_could(rows: list[tuple[int, int, float]]) -> None:
    tasks = [
        Task(f"step {k}", 60.0 * at, 60.0 * lasts, weight=weight)
        for k, (at, lasts, weight) in enumerate(rows)
    ]
    starts = schedule(tasks)
    assert overlaps(starts, tasks) == []
    moved = sum(task.weight * abs(starts[task.id] - task.wanted_s) for task in tasks)
    assert moved == pytest.approx(best_by_every_order(tasks), abs=1.0)


def test_two_at_once_move_apart_and_a_far_one_stays() -> None:
    tasks = [Task("a", 0.0, 600.0), Task("b", 0.0, 600.0), Task("c", 9000.0, 600.0)]
    starts = schedule(tasks)
    assert abs(starts["a"] - starts["b"]) == pytest.approx(600.0, abs=1.0)
    assert starts["c"] == 9000.0


def test_a_fixed_step_stays_and_the_other_gives_way() -> None:
    starts = schedule([Task("fixed", 100.0, 300.0, 100.0, 100.0), Task("free", 200.0, 60.0)])
    assert starts["fixed"] == pytest.approx(100.0)
    # Wanted at 200 s while the fixed step lasts from 100 to 400 s: before it is 160 s away, behind
    # it 200 s.
    assert starts["free"] == pytest.approx(40.0, abs=1.0)


def test_too_much_for_one_pair_of_hands_is_said() -> None:
    tasks = [Task("slice one", -600.0, 600.0, -600.0, -600.0)]
    tasks.append(Task("slice two", -600.0, 600.0, -700.0, -600.0))
    with pytest.raises(PlanError, match=r"One pair of hands.*slice one, slice two"):
        schedule(tasks)
