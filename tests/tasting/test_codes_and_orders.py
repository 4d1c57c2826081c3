"""Codes that cannot be taken for one another, and orders balanced for place and carry-over."""

from collections import Counter
from itertools import combinations

import pytest
from scipy import stats

from fairsmoke.design.latin import followed_by
from fairsmoke.design.random_words import Chance
from fairsmoke.tasting.codes import alike, draw_codes
from fairsmoke.tasting.orders import orders_of_test, serve_in_turn, serving_orders
from fairsmoke.tasting.protocols import TasteTest

orders_of = orders_of_test


def test_codes_of_a_set_are_never_alike_nor_used_twice() -> None:
    used: set[int] = set()
    chance = Chance(11)
    for _ in range(40):
        codes = draw_codes(4, chance, used=used)
        assert not used & set(codes)
        assert not any(alike(a, b) for a, b in combinations(codes, 2))
        used |= set(codes)
    assert all(100 <= code <= 999 for code in used)


def test_first_codes_are_uniform_over_ten_thousand_draws() -> None:
    chance = Chance(3)
    counts = Counter(draw_codes(1, chance)[0] for _ in range(10_000))
    possible = [c for c in range(100, 1000) if c % 100 and len(set(str(c))) > 1]
    assert set(counts) <= set(possible)
    assert stats.chisquare([counts[code] for code in possible]).pvalue > 0.001


def test_too_many_codes_are_refused() -> None:
    with pytest.raises(ValueError, match="told apart"):
        draw_codes(200, Chance(1))


@pytest.mark.parametrize("samples", range(2, 9))
def test_whole_rounds_are_balanced_for_place_and_carry_over(samples: int) -> None:
    """Williams (1949): each sample in each place, after each other, equally often."""
    round_of = samples if samples % 2 == 0 else 2 * samples
    served = serving_orders(samples, 3 * round_of, Chance(5))
    places = Counter((place, name) for row in served for place, name in enumerate(row))
    assert len(places) == samples**2
    assert len(set(places.values())) == 1
    after = Counter(followed_by(tuple(served)))
    assert len(after) == samples * (samples - 1)
    assert len(set(after.values())) == 1


@pytest.mark.parametrize(
    ("test", "count"),
    [
        (TasteTest.TRIANGLE, 6),
        (TasteTest.TETRAD, 6),
        (TasteTest.DUO_TRIO, 4),
        (TasteTest.PAIRED, 2),
    ],
)
def test_every_order_of_a_test_is_served_equally_often(test: TasteTest, count: int) -> None:
    orders = orders_of(test)
    assert len(set(orders)) == count
    assert all(len(order) == test.samples for order in orders)
    served = Counter(serve_in_turn(orders, 7 * count, Chance(2)))
    assert set(served.values()) == {7}


def test_orders_of_a_lone_taster_are_uniform_over_ten_thousand_draws() -> None:
    chance = Chance(8)
    orders = orders_of(TasteTest.TRIANGLE)
    counts = Counter(serve_in_turn(orders, 1, chance)[0] for _ in range(10_000))
    assert stats.chisquare([counts[order] for order in orders]).pvalue > 0.001
