"""The layout that tells the arms apart best where no textbook layout fits, found by exchange.

What a layout tells of the arms, once cooks and positions are taken out by least squares, is the
matrix C = A'(I - P)A (A the arms, P the projection on what is taken out). The A-criterion is the
sum of 1/λ over its a - 1 largest eigenvalues, the mean variance of all differences of two arms but
for a factor; the D-criterion is the sum of -log λ. Small numbers are searched through in full;
larger ones by changing the arm of one place, or exchanging two, as long as that helps, from many
starts (V. V. Fedorov, Theory of Optimal Experiments, 1972; from memory).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations, product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fairsmoke.design.errors import DesignError
from fairsmoke.design.random_words import Chance
from fairsmoke.messages.message import N_

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Criterion = Literal["A", "D"]

MOST_LISTED = 70_000
STARTS = 40
_TINY = 1e-9
_ALIKE = 1e-8


@dataclass(frozen=True)
class Searched:
    """The best layouts found, a row of arms each (m, n), and whether all layouts were tried.

    ``value`` is their criterion; ``estimable`` whether they tell every arm from every other.
    """

    layouts: IntArray
    complete: bool
    value: float
    estimable: bool


def taken_out(columns: FloatArray) -> FloatArray:
    """Return the projection I - P that takes columns (n, q) and the general level out."""
    whole = np.column_stack([np.ones(len(columns)), columns])
    return np.eye(len(columns)) - whole @ np.linalg.pinv(whole, rcond=1e-10)


def information(arms: IntArray, rest: FloatArray, n_arms: int) -> FloatArray:
    """Return C (…, a, a) of layouts (…, n) for the projection I - P (n, n)."""
    ones = (arms[..., None] == np.arange(n_arms)).astype(np.float64)
    found: FloatArray = np.swapaxes(ones, -1, -2) @ rest @ ones
    return found


def criterion(found: FloatArray, which: Criterion = "A") -> FloatArray:
    """Return the criterion of C (…, a, a); the less the better, infinite where arms stay untold."""
    values = np.linalg.eigvalsh(found)[..., 1:]
    told = np.all(values > _TINY, axis=-1)
    safe = np.where(values > _TINY, values, 1.0)
    cost = np.sum(1.0 / safe if which == "A" else -np.log(safe), axis=-1)
    return np.where(told, cost, np.inf)


def search(columns: FloatArray, n_arms: int, chance: Chance, *, which: Criterion = "A") -> Searched:
    """Return the layouts (m, n) that tell ``n_arms`` arms apart best.

    ``columns`` (n, q): cook and position of each of n places, as far as they are to be taken out.
    When no layout tells all arms apart from what is taken out, those with the most equal numbers
    of pieces are returned, and ``estimable`` is False.

    Raises DesignError when there are fewer places than arms.
    """
    n = len(columns)
    if n < n_arms:
        raise DesignError(
            N_(
                "%(arms)s arms need at least %(arms)s pieces, and there are %(pieces)s",
                arms=n_arms,
                pieces=n,
            )
        )
    rest = taken_out(columns)
    if n_arms**n <= MOST_LISTED:
        found = _all_best(rest, n_arms, n, which)
    else:
        found = _exchanged(rest, n_arms, n, chance, which)
    if not found.estimable:
        # The arms cannot all be told from what varies; then only the numbers are made equal.
        level = taken_out(np.zeros((n, 0)))
        other = (
            _all_best(level, n_arms, n, which)
            if n_arms**n <= MOST_LISTED
            else _exchanged(level, n_arms, n, chance, which)
        )
        return Searched(other.layouts, other.complete, other.value, False)
    return found


def _all_best(rest: FloatArray, n_arms: int, n: int, which: Criterion) -> Searched:
    every = np.array(list(product(range(n_arms), repeat=n)), dtype=np.intp)
    values = np.concatenate(
        [
            criterion(information(part, rest, n_arms), which)
            for part in np.array_split(every, max(1, len(every) // 4096))
        ]
    )
    least = float(values.min())
    if not np.isfinite(least):
        return Searched(every[:1], True, least, False)
    return Searched(every[values <= least + _ALIKE * max(1.0, abs(least))], True, least, True)


def _exchanged(rest: FloatArray, n_arms: int, n: int, chance: Chance, which: Criterion) -> Searched:
    best, best_value = None, np.inf
    for _ in range(STARTS):
        arms = np.array(chance.shuffled([i % n_arms for i in range(n)]), dtype=np.intp)
        arms, value = _climbed(
            arms, n_arms, lambda x: criterion(information(x, rest, n_arms), which)
        )
        if best is None or value < best_value - _ALIKE:
            best, best_value = arms, value
    assert best is not None
    return Searched(best[None, :], False, best_value, bool(np.isfinite(best_value)))


def _climbed(
    arms: IntArray, n_arms: int, cost: Callable[[IntArray], FloatArray]
) -> tuple[IntArray, float]:
    """Take the best single change or exchange as long as it helps."""
    value = float(cost(arms))
    while True:
        moves = np.array(list(_moves(arms, n_arms)), dtype=np.intp)
        values = cost(moves)
        at = int(np.argmin(values))
        if not values[at] < value - _ALIKE:
            return arms, value
        arms, value = moves[at], float(values[at])


def _moves(arms: IntArray, n_arms: int) -> Iterator[IntArray]:
    for place in range(len(arms)):
        for arm in range(n_arms):
            if arm != arms[place]:
                moved = arms.copy()
                moved[place] = arm
                yield moved
    for i, j in combinations(range(len(arms)), 2):
        if arms[i] != arms[j]:
            moved = arms.copy()
            moved[i], moved[j] = arms[j], arms[i]
            yield moved
