"""Williams' orders against what E. J. Williams, Australian Journal of Scientific Research A 2:149
(1949), requires of them, and against the tables printed since for four treatments.

The two tables (Senn, Cross-over Trials in Clinical Research, chapter 5; Jones and Kenward, Design
and Analysis of Cross-Over Trials) are from memory. A table is the same design as another when
renaming the treatments and reordering the rows turns the one into the other.
"""

from collections import Counter
from itertools import permutations

import pytest

from fairsmoke.design.latin import followed_by, is_latin, williams_orders

SENN = ("ABCD", "BDAC", "CADB", "DCBA")
JONES_KENWARD = ("ADBC", "BACD", "CBDA", "DCAB")


def renamed(rows: tuple[str, ...], letters: tuple[str, ...]) -> set[tuple[int, ...]]:
    return {tuple(letters.index(letter) for letter in row) for row in rows}


@pytest.mark.parametrize("table", [SENN, JONES_KENWARD])
def test_four_treatments_are_the_printed_design(table: tuple[str, ...]) -> None:
    ours = set(williams_orders(4))
    assert any(renamed(table, letters) == ours for letters in permutations("ABCD"))


def test_three_treatments_are_all_six_orders() -> None:
    assert set(williams_orders(3)) == set(permutations(range(3)))


@pytest.mark.parametrize("n", range(2, 13))
def test_each_follows_each_equally_often(n: int) -> None:
    orders = williams_orders(n)
    repeats = 1 if n % 2 == 0 else 2
    assert len(orders) == repeats * n
    assert all(is_latin(orders[part * n : (part + 1) * n]) for part in range(repeats))
    after = Counter(followed_by(orders))
    assert set(after.values()) == {repeats}
    assert len(after) == n * (n - 1)
