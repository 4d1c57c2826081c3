"""One pair of hands: hands-on steps moved as little as can be, so that no two overlap.

A mixed-integer linear problem, min Σ weight·|start − wanted|, solved exactly (HiGHS by scipy).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import scipy

from fairsmoke.messages.message import N_
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.errors import PlanError
from fairsmoke.quantity.values import Duration

LONGEST_SEARCH_S = 20.0
_ROUND_S = 1e-3


@dataclass(frozen=True)
class Task:
    """A hands-on step: when it is wanted (s), how long it takes (s), and how far it may move.

    `weight` says how much a second's shift counts against that of other steps. `earliest_s` and
    `latest_s` bound its start.
    """

    id: str
    wanted_s: float
    lasts_s: float
    earliest_s: float = -np.inf
    latest_s: float = np.inf
    weight: float = 1.0


def schedule(tasks: Sequence[Task]) -> dict[str, float]:
    """Return when each task starts (s), no two at once, moved as little as possible in all.

    Steps far from each other are solved apart and joined only where the solutions touch, which
    loses nothing: what is best without a constraint and meets it is best with it.
    Raises PlanError when the steps do not fit between their bounds, and for two of one name.
    """
    names = [task.id for task in tasks]
    for name in names:
        if names.count(name) > 1:
            raise PlanError(
                N_("Two hands-on steps are called “%(name)s”; give each its own name.", name=name)
            )
    groups = [[task] for task in sorted(tasks, key=lambda one: one.wanted_s)]
    solved = [_solve(group) for group in groups]
    at = 0
    while at < len(groups) - 1:
        if not _touch(groups[at], solved[at], groups[at + 1], solved[at + 1]):
            at += 1
            continue
        groups[at] += groups.pop(at + 1)
        solved.pop(at + 1)
        solved[at] = _solve(groups[at])
        at = max(0, at - 1)
    return {name: start for starts in solved for name, start in starts.items()}


def _touch(
    first: list[Task], starts: dict[str, float], second: list[Task], later: dict[str, float]
) -> bool:
    ends = max(starts[task.id] + task.lasts_s for task in first)
    return ends > min(later[task.id] for task in second) + _ROUND_S


def _solve(tasks: list[Task]) -> dict[str, float]:
    """Solve one group: variables are starts, distances from what is wanted, and who goes first."""
    count = len(tasks)
    wanted = np.array([task.wanted_s for task in tasks])
    lasts = np.array([task.lasts_s for task in tasks])
    low = np.array([task.earliest_s for task in tasks])
    high = np.array([task.latest_s for task in tasks])
    zero = float(np.min(wanted))
    if count == 1:
        if low[0] > high[0]:
            raise _does_not_fit(tasks)
        return {tasks[0].id: float(np.clip(wanted[0], low[0], high[0]))}
    reach = float(np.ptp(wanted) + np.sum(lasts)) + _slack(wanted, low, high)
    couples = list(combinations(range(count), 2))
    size = 2 * count + len(couples)
    cost = np.concatenate(
        [np.zeros(count), [task.weight for task in tasks], np.zeros(len(couples))]
    )
    rows, least = _distances(count, size, wanted - zero)
    for number, (i, j) in enumerate(couples):
        # first = 1: i before j. reach + lasts is large enough to switch the other row off.
        first, big = 2 * count + number, 2.0 * reach + lasts[i] + lasts[j]
        row, other = np.zeros(size), np.zeros(size)
        row[[j, i, first]], other[[i, j, first]] = [1.0, -1.0, -big], [1.0, -1.0, big]
        rows += [row, other]
        least += [lasts[i] - big, lasts[j]]
    bounds = scipy.optimize.Bounds(
        np.concatenate([np.maximum(low - zero, -reach), np.zeros(count + len(couples))]),
        np.concatenate(
            [np.minimum(high - zero, reach), np.full(count, np.inf), np.ones(len(couples))]
        ),
    )
    if np.any(bounds.lb[:count] > bounds.ub[:count]):
        raise _does_not_fit(tasks)
    whole = np.concatenate([np.zeros(2 * count), np.ones(len(couples))])
    found = scipy.optimize.milp(
        cost,
        constraints=scipy.optimize.LinearConstraint(np.array(rows), np.array(least), np.inf),
        bounds=bounds,
        integrality=whole,
        options={"time_limit": LONGEST_SEARCH_S},
    )
    if found.x is None:
        raise _does_not_fit(tasks)
    return {task.id: float(zero + found.x[k]) for k, task in enumerate(tasks)}


def _slack(wanted: FloatArray, low: FloatArray, high: FloatArray) -> float:
    """Return how far bounds alone push steps away from what is wanted."""
    pushed = np.maximum(np.maximum(low - wanted, wanted - high), 0.0)
    return float(np.max(pushed))


def _distances(count: int, size: int, wanted: FloatArray) -> tuple[list[FloatArray], list[float]]:
    rows, least = [], []
    for k in range(count):
        for sign in (1.0, -1.0):
            row = np.zeros(size)
            row[count + k], row[k] = 1.0, -sign
            rows.append(row)
            least.append(-sign * float(wanted[k]))
    return rows, least


def _does_not_fit(tasks: Sequence[Task]) -> PlanError:
    return PlanError(
        N_(
            "One pair of hands cannot do all of this in the time there is (%(work)s of work): "
            "%(names)s. Get a second person for some of it, or give more time at the end.",
            work=Duration(sum(task.lasts_s for task in tasks)),
            names=", ".join(task.id for task in tasks),
        )
    )
