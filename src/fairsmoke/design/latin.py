"""Latin squares: every arm once in each row (cook) and once in each column (position)."""

from collections.abc import Iterator
from functools import cache
from itertools import pairwise

from fairsmoke.design.errors import DesignError
from fairsmoke.design.random_words import Chance
from fairsmoke.messages.message import N_

Square = tuple[tuple[int, ...], ...]

LISTED_UP_TO = 5
"""Orders whose reduced squares are listed: 1, 1, 1, 4, 56 of them."""

LARGEST = 12

_MOVES_PER_CELL = 20


def is_latin(square: Square) -> bool:
    """Tell whether every row and every column has each of 0 … n - 1 once."""
    whole = set(range(len(square)))
    return all(set(row) == whole for row in (*square, *zip(*square, strict=True)))


@cache
def reduced_squares(n: int) -> tuple[Square, ...]:
    """Return all squares of order n whose first row and first column are 0 … n - 1 in order."""
    found: list[Square] = []
    rows: list[list[int]] = [list(range(n))]

    def fill(row: list[int]) -> None:
        if len(row) == n:
            rows.append(row)
            if len(rows) == n:
                found.append(tuple(map(tuple, rows)))
            else:
                fill([len(rows)])
            rows.pop()
            return
        column = len(row)
        taken = {*row, *(above[column] for above in rows)}
        for symbol in range(n):
            if symbol not in taken:
                fill([*row, symbol])

    if n == 1:
        return (((0,),),)
    fill([1])
    return tuple(found)


def random_square(n: int, chance: Chance) -> Square:
    """Return a Latin square of order n.

    Up to order 5 each of all squares is exactly equally likely: a reduced square by chance, then
    all columns and all rows but the first in random order (every square comes from just one
    reduced square and one such pair of orders). From order 6 on the square is that after
    ``20 n³`` moves of Jacobson and Matthews' walk from the cyclic square, which is uniform in the
    limit (Journal of Combinatorial Designs 4:405, 1996, from memory).

    Raises DesignError for orders beyond ``LARGEST``.
    """
    if not 1 <= n <= LARGEST:
        raise DesignError(
            N_(
                "Latin squares are drawn up to %(largest)s arms, not %(arms)s: compare fewer",
                largest=LARGEST,
                arms=n,
            )
        )
    if n > LISTED_UP_TO:
        return _walked(n, chance)
    start = chance.one_of(reduced_squares(n))
    columns = chance.order(n)
    rows = [0, *(1 + place for place in chance.order(n - 1))]
    return tuple(tuple(start[row][column] for column in columns) for row in rows)


def _walked(n: int, chance: Chance) -> Square:
    """Walk over Latin squares and the improper cubes between them.

    A square is a cube of 0 and 1 whose lines each add to 1; a move adds 1 to a cell and takes 1
    from others so that all lines still do, which may leave one cell at -1; from there the next
    move sets out. Only proper squares count as steps.
    """
    cube = [[[1 if (r + c) % n == s else 0 for s in range(n)] for c in range(n)] for r in range(n)]
    improper: tuple[int, int, int] | None = None
    left = _MOVES_PER_CELL * n**3
    while left > 0:
        if improper is None:
            r, c, s = _an_empty_cell(cube, n, chance)
        else:
            r, c, s = improper
        # From a proper cube these are the only ones on the three lines; from an improper one two.
        r1 = chance.one_of([x for x in range(n) if cube[x][c][s] == 1])
        c1 = chance.one_of([x for x in range(n) if cube[r][x][s] == 1])
        s1 = chance.one_of([x for x in range(n) if cube[r][c][x] == 1])
        for a, b, d in ((r, c, s), (r, c1, s1), (r1, c, s1), (r1, c1, s)):
            cube[a][b][d] += 1
        for a, b, d in ((r1, c, s), (r, c1, s), (r, c, s1), (r1, c1, s1)):
            cube[a][b][d] -= 1
        improper = (r1, c1, s1) if cube[r1][c1][s1] < 0 else None
        left -= improper is None
    return tuple(tuple(cube[r][c].index(1) for c in range(n)) for r in range(n))


def _an_empty_cell(cube: list[list[list[int]]], n: int, chance: Chance) -> tuple[int, int, int]:
    while True:
        place = chance.below(n**3)
        r, c, s = place // n**2, place // n % n, place % n
        if cube[r][c][s] == 0:
            return r, c, s


def williams_orders(n: int) -> Square:
    """Return orders in which every arm directly follows every other equally often.

    n orders for an even number of arms, 2n for an odd one (each order and its reverse); each arm
    stands equally often in each place. Row i is the first row with i added, modulo n; the first
    row is 0, 1, n-1, 2, n-2 …
    Source: E. J. Williams, Australian Journal of Scientific Research A 2:149, 1949 (from memory).

    >>> williams_orders(4)
    ((0, 1, 3, 2), (1, 2, 0, 3), (2, 3, 1, 0), (3, 0, 2, 1))
    """
    steps = range(1, n)
    first = [0, *((step + 1) // 2 if step % 2 else n - step // 2 for step in steps)]
    rows = [tuple((place + i) % n for place in first) for i in range(n)]
    if n % 2 and n > 1:
        rows += [tuple(reversed(row)) for row in rows]
    return tuple(rows)


def followed_by(orders: Square) -> Iterator[tuple[int, int]]:
    """Yield each (arm, arm directly after it) of some orders."""
    for row in orders:
        yield from pairwise(row)
