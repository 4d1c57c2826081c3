"""A draw gives every allowed layout equally often, and never ties arm to place needlessly.

The allowed layouts are listed here by brute force, by another road than the drawing itself.
"""

from collections import Counter
from itertools import permutations, product

import numpy as np
import pytest
from scipy.stats import chi2

from fairsmoke.design.draw import Wish, draw_again, draw_layout, even_rows
from fairsmoke.design.even_layouts import EvenBlock, EvenLayouts, tied
from fairsmoke.design.latin import random_square
from fairsmoke.design.random_words import Chance
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, PlannedPiece

DRAWS = 10_000


def at_hand(n: int, cooks: int, spots: int, wholes: int = 0) -> AtHand:
    places = tuple(Spot(cooker="pit", position=f"place-{i}") for i in range(spots))
    pieces = tuple(
        PlannedPiece(id=f"p-{i}", half_of=f"whole-{i % wholes}" if wholes else None)
        for i in range(n)
    )
    return AtHand(cut="chuck", species="beef", pieces=pieces, spots=places, cooks=cooks)


def arms(n: int) -> list[str]:
    return [f"arm-{i}" for i in range(n)]


def brute_even(places: list[tuple[int, ...]], n_arms: int, n_places: int) -> set[tuple[int, ...]]:
    """All layouts of complete blocks with the least sum of squared distances from fair shares."""
    share = np.zeros((n_arms, n_places))
    for where in places:
        share[:, list(where)] += 1 / n_arms
    found: dict[tuple[int, ...], tuple[float, float]] = {}
    for rows in product(permutations(range(n_arms)), repeat=len(places)):
        counts = np.zeros((n_arms, n_places))
        for row, where in zip(rows, places, strict=True):
            counts[list(row), list(where)] += 1
        over = float(np.max(counts - np.ceil(share - 1e-9)))
        flat = tuple(arm for row in rows for arm in row)
        found[flat] = (max(over, 0.0), round(float(np.sum((counts - share) ** 2)), 9))
    least = min(found.values())
    return {flat for flat, cost in found.items() if cost == least}


CASES = [
    ([(0, 1)] * 2, 2, 2),
    ([(0, 1)] * 3, 2, 2),
    ([(0, 1)] * 4, 2, 2),
    ([(0, 1), (2, 3), (0, 1)], 2, 4),
    ([(0, 1, 2)] * 2, 3, 3),
    ([(0, 1, 2)] * 3, 3, 3),
    ([(0, 1, 2), (3, 4, 5), (0, 1, 2)], 3, 6),
]


@pytest.mark.parametrize(("places", "n_arms", "n_places"), CASES)
def test_the_even_layouts_are_those_found_by_brute_force(
    places: list[tuple[int, ...]], n_arms: int, n_places: int
) -> None:
    blocks = [EvenBlock(where, tuple(range(n_arms))) for where in places]
    layouts = EvenLayouts(blocks, n_arms, n_places)
    listed = [tuple(arm for row in rows for arm in row) for rows in layouts.every()]
    assert len(listed) == layouts.count
    assert set(listed) == brute_even(places, n_arms, n_places)


def is_uniform(counts: Counter[object], n_allowed: int, n_draws: int = DRAWS) -> bool:
    """Chi-square test at 1 in 10,000: the seed is fixed, so it passes always or never."""
    expected = n_draws / n_allowed
    seen = np.array(list(counts.values()), dtype=float)
    value = float(np.sum((seen - expected) ** 2) / expected)
    value += (n_allowed - len(seen)) * expected
    return len(seen) <= n_allowed and value < chi2.ppf(0.9999, n_allowed - 1)


@pytest.mark.parametrize(
    ("places", "n_arms", "n_places"),
    [CASES[1], CASES[3], CASES[5]],
)
def test_ten_thousand_draws_are_uniform_over_the_even_layouts(
    places: list[tuple[int, ...]], n_arms: int, n_places: int
) -> None:
    blocks = [EvenBlock(where, tuple(range(n_arms))) for where in places]
    allowed = brute_even(places, n_arms, n_places)
    free = ~tied(np.array(sorted(allowed), dtype=np.intp), blocks, n_arms)
    n_allowed = int(free.sum()) or len(allowed)
    chance = Chance(11)
    counts: Counter[object] = Counter(
        even_rows(blocks, n_arms, n_places, chance) for _ in range(DRAWS)
    )
    assert is_uniform(counts, n_allowed)


def test_whole_draws_are_uniform_from_seed_to_seed() -> None:
    """Three pairs of halves in two places: 3! orders, 6 even layouts of 8, 2³ ways in pairs."""
    own = at_hand(6, 3, 2, wholes=3)
    counts: Counter[object] = Counter(
        tuple((s.piece, s.arm, s.cook, s.spot and s.spot.position) for s in layout.slots)
        for layout in (draw_layout(own, arms(2), seed) for seed in range(3000))
    )
    assert is_uniform(counts, 6 * 6 * 8, 3000)


def test_latin_squares_are_drawn_uniformly() -> None:
    chance = Chance(5)
    counts: Counter[object] = Counter(random_square(4, chance) for _ in range(DRAWS))
    assert len(counts) == 576
    assert is_uniform(counts, 576)


def test_small_searches_are_uniform_over_all_best_layouts() -> None:
    """Five loose pieces, two arms, cooks of three and two: counted by brute force over 2⁵."""
    own = at_hand(5, 2, 3)
    wish = Wish(LayoutKind.SEARCH)
    counts: Counter[object] = Counter(
        tuple(s.arm for s in sorted(layout.slots, key=_seat))
        for layout in (draw_layout(own, arms(2), seed, wish) for seed in range(2000))
    )
    assert is_uniform(counts, len(_best_of_five()), 2000)


def _seat(slot: object) -> tuple[int, str]:
    spot = getattr(slot, "spot", None)
    assert spot is not None
    return int(getattr(slot, "cook", 0)), spot.text


def _best_of_five() -> list[tuple[int, ...]]:
    cook, place = np.array([0, 0, 0, 1, 1]), np.array([0, 1, 2, 0, 1])
    found = {}
    for layout in product(range(2), repeat=5):
        columns = [np.ones(5), cook == 1, place == 1, place == 2, np.array(layout)]
        design = np.column_stack(columns).astype(float)
        if np.linalg.matrix_rank(design) == 5:
            found[layout] = float(np.linalg.inv(design.T @ design)[4, 4])
    least = min(found.values())
    return [layout for layout, variance in found.items() if variance < least + 1e-9]


# All that are few enough to be listed by brute force.
@pytest.mark.parametrize("n_arms", [2, 3])
@pytest.mark.parametrize(("n_cooks", "groups"), [(1, 1), (2, 1), (3, 1), (4, 1), (1, 2), (2, 2)])
def test_arms_are_never_tied_to_places_where_a_layout_exists_that_frees_them(
    n_arms: int, n_cooks: int, groups: int
) -> None:
    n_places = n_arms * groups
    places = [
        tuple(range(g * n_arms, (g + 1) * n_arms)) for _ in range(n_cooks) for g in range(groups)
    ]
    blocks = [EvenBlock(where, tuple(range(n_arms))) for where in places]
    every = np.array(
        [
            [arm for row in rows for arm in row]
            for rows in product(permutations(range(n_arms)), repeat=len(places))
        ],
        dtype=np.intp,
    )
    possible = bool(np.any(~tied(every, blocks, n_arms)))
    chance = Chance(3)
    for _ in range(30):
        rows = even_rows(blocks, n_arms, n_places, chance)
        flat = np.array([[arm for row in rows for arm in row]], dtype=np.intp)
        assert bool(tied(flat, blocks, n_arms)[0]) is not possible


def without_order(layout: Layout) -> set[object]:
    return {(s.piece, s.arm, s.cook, s.block, s.spot, s.then) for s in layout.slots}


@pytest.mark.parametrize(
    ("own", "n_arms", "wish"),
    [
        (at_hand(6, 3, 2), 2, Wish()),
        (at_hand(6, 3, 2, wholes=3), 2, Wish()),
        (at_hand(9, 3, 3), 3, Wish()),
        (at_hand(8, 4, 2), 3, Wish()),
        (at_hand(7, 2, 4), 3, Wish(LayoutKind.SEARCH)),
        (at_hand(8, 2, 4), 2, Wish(LayoutKind.BLOCKS)),
        (at_hand(2, 1, 2), 2, Wish(swap=True)),
        (at_hand(8, 2, 0), 2, Wish()),
    ],
)
def test_the_same_seed_draws_the_same_again(own: AtHand, n_arms: int, wish: Wish) -> None:
    layout = draw_layout(own, arms(n_arms), 12, wish)
    assert draw_again(own, arms(n_arms), layout) == layout
    others = [without_order(draw_layout(own, arms(n_arms), seed, wish)) for seed in range(13, 20)]
    assert any(other != without_order(layout) for other in others)


def test_words_are_those_that_numpy_publishes() -> None:
    """The first words for seed 0xdeadbeaf: numpy/random/tests/data/pcg64-testset-1.csv (seen)."""
    chance = Chance(0xDEADBEAF)
    words = [chance.below(2**64) for _ in range(3)]
    assert words == [0x60D24054E17A0698, 0xD5E79D89856E4F12, 0xD254972FE64BD782]


def test_numbers_beyond_one_word_are_uniform_too() -> None:
    chance = Chance(1)
    n = 3 * 2**64
    thirds = Counter(chance.below(n) >> 64 for _ in range(3000))
    assert is_uniform(Counter(thirds), 3, 3000)
