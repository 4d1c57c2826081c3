"""The layouts that spread the arms over the positions as evenly as the blocks allow.

A layout puts the arms of each block on the positions of that block. Of all layouts those are
allowed in which no arm stands in a position more often than its fair share, rounded up (as far as
any layout can do that), and of these the ones whose counts lie closest to the fair shares. How
many there are follows by counting the ways to reach each table of counts, block by block; going
back through that table with chance draws every allowed layout equally often.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fairsmoke.design.errors import DesignError
from fairsmoke.design.layouts import arrangement_count, arrangements
from fairsmoke.messages.message import N_

Counts = tuple[int, ...]
"""How often each arm stands in each position, arm by arm."""

MOST_TABLES = 100_000
MOST_ORDERS = 5_040
MOST_STEPS = 4_000_000
"""Beyond these the counting would take more than some seconds."""


_UNTOLD = 1e-9
_AT_ONCE = 4096


@dataclass(frozen=True)
class EvenBlock:
    """The positions of one block and the arms that stand in them, in any order (k numbers each)."""

    positions: tuple[int, ...]
    arms: tuple[int, ...]


class TooManyLayoutsError(DesignError):
    """There are too many layouts to count them."""


class EvenLayouts:
    """All even layouts of some blocks, counted but not listed.

    A layout is one row of arms for each block, in the order of its positions. Raises
    TooManyLayoutsError when the counting would take too long.
    """

    def __init__(self, blocks: Sequence[EvenBlock], n_arms: int, n_positions: int) -> None:
        self.blocks = tuple(blocks)
        self._n_positions = n_positions
        self._size = n_arms * n_positions
        self._shares = self._fair_shares(n_arms)
        self._orders = [self._orders_of(block) for block in self.blocks]
        self._ways = self._counted()
        last = self._ways[-1]
        costs = {table: self._cost(table) for table in last}
        least = min(costs.values())
        # Costs are sums of squares of fractions of n: equal ones differ by round-off only.
        self._ends = [table for table in last if costs[table] <= least + 1e-9]

    @cached_property
    def count(self) -> int:
        """How many even layouts there are."""
        return sum(self._ways[-1][table] for table in self._ends)

    def draw(self, below: Callable[[int], int]) -> tuple[tuple[int, ...], ...]:
        """Return one of them, each as likely as any other; ``below(n)`` gives a chance 0 … n-1."""
        left = below(self.count)
        for table in self._ends:
            ways = self._ways[-1][table]
            if left < ways:
                break
            left -= ways
        rows: list[tuple[int, ...]] = []
        for number in range(len(self.blocks) - 1, -1, -1):
            row, table, left = self._last_of(number, table, left)
            rows.append(row)
        return tuple(reversed(rows))

    def _last_of(
        self, number: int, table: Counts, left: int
    ) -> tuple[tuple[int, ...], Counts, int]:
        """Return the row by which the ``left``-th way reached a table, and where it came from."""
        for row, cells in self._orders[number]:
            before = _less(table, cells)
            ways = self._ways[number].get(before, 0)
            if left < ways:
                return row, before, left
            left -= ways
        raise AssertionError("the ways to reach a table add up to what was counted")

    def every(self) -> Iterator[tuple[tuple[int, ...], ...]]:
        """Yield every even layout once."""
        for table in self._ends:
            yield from self._before(table, len(self.blocks))

    def _before(self, table: Counts, number: int) -> Iterator[tuple[tuple[int, ...], ...]]:
        if number == 0:
            yield ()
            return
        for row, cells in self._orders[number - 1]:
            before = _less(table, cells)
            if before in self._ways[number - 1]:
                for head in self._before(before, number - 1):
                    yield (*head, row)

    def _fair_shares(self, n_arms: int) -> list[float]:
        arms, places = np.zeros(n_arms), np.zeros(self._n_positions)
        for block in self.blocks:
            if len(block.arms) != len(block.positions):
                raise DesignError(
                    N_(
                        "a block has %(positions)s positions for %(pieces)s pieces",
                        positions=len(block.positions),
                        pieces=len(block.arms),
                    )
                )
            np.add.at(arms, list(block.arms), 1)
            np.add.at(places, list(block.positions), 1)
        shares = np.outer(arms, places).ravel() / max(arms.sum(), 1.0)
        return [float(share) for share in shares]

    def _orders_of(self, block: EvenBlock) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        labels = np.array(block.arms, dtype=np.intp)
        if arrangement_count(labels) > MOST_ORDERS:
            raise TooManyLayoutsError(
                N_("a block of %(pieces)s pieces has too many orders", pieces=len(labels))
            )
        rows = [tuple(int(arm) for arm in row) for row in arrangements(labels)]
        return [
            (
                row,
                tuple(a * self._n_positions + p for a, p in zip(row, block.positions, strict=True)),
            )
            for row in rows
        ]

    def _counted(self) -> list[dict[Counts, int]]:
        """Return, after each number of blocks, every table of counts and the ways to reach it."""
        for slack in range(len(self.blocks) + 1):
            limits = tuple(int(np.ceil(share - 1e-9)) + slack for share in self._shares)
            ways = self._within(limits)
            if ways[-1]:
                return ways
        raise AssertionError("with limits as high as the number of blocks every layout fits")

    def _within(self, limits: Counts) -> list[dict[Counts, int]]:
        ways: list[dict[Counts, int]] = [{(0,) * self._size: 1}]
        steps = 0
        for orders in self._orders:
            reached: dict[Counts, int] = {}
            steps += len(orders) * len(ways[-1])
            if steps > MOST_STEPS:
                raise TooManyLayoutsError(N_("there are too many layouts to count"))
            for table, many in ways[-1].items():
                for _, cells in orders:
                    if all(table[cell] < limits[cell] for cell in cells):
                        found = _more(table, cells)
                        reached[found] = reached.get(found, 0) + many
            if len(reached) > MOST_TABLES:
                raise TooManyLayoutsError(N_("there are too many layouts to count"))
            ways.append(reached)
        return ways

    def _cost(self, table: Counts) -> float:
        return float(sum((n - share) ** 2 for n, share in zip(table, self._shares, strict=True)))


def tied(rows: NDArray[np.intp], blocks: Sequence[EvenBlock], n_arms: int) -> NDArray[np.bool_]:
    """Tell of layouts (m, n) whether arms are tied to places: no least squares tells them apart.

    ``rows`` has the arms of all blocks one after another; what is taken out are the blocks and
    the positions.
    """
    n = sum(len(block.positions) for block in blocks)
    block = [number for number, one in enumerate(blocks) for _ in one.positions]
    place = [position for one in blocks for position in one.positions]
    columns = [np.equal.outer(labels, np.unique(labels)) for labels in (block, place)]
    whole = np.column_stack(columns).astype(np.float64)
    rest = np.eye(n) - whole @ np.linalg.pinv(whole, rcond=1e-10)
    found = []
    for at in range(0, len(rows), _AT_ONCE):
        arms = (rows[at : at + _AT_ONCE, :, None] == np.arange(n_arms)).astype(np.float64)
        values = np.linalg.eigvalsh(np.swapaxes(arms, -1, -2) @ rest @ arms)
        found.append(values[:, 1] <= _UNTOLD)
    return np.concatenate(found)


def _more(table: Counts, cells: Sequence[int]) -> Counts:
    found = list(table)
    for cell in cells:
        found[cell] += 1
    return tuple(found)


def _less(table: Counts, cells: Sequence[int]) -> Counts:
    found = list(table)
    for cell in cells:
        found[cell] -= 1
    return tuple(found)
