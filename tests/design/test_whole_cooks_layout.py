"""Whole cooks that are given an arm: every order of the cooks equally likely, pieces shared out."""

from collections import Counter
from math import comb

import pytest

from fairsmoke.design.draw import Wish, draw_again, draw_layout
from fairsmoke.design.errors import DesignError
from fairsmoke.planning.size.how_many import Means, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, PlannedPiece
from fairsmoke.trial.question import Measure

WHOLE = Wish(LayoutKind.WHOLE_COOKS)
YIELD = Measure(id="y", name="Yield", kind="yield", better="higher", worthwhile=0.02)


def at_hand(pieces: int, cooks: int, spots: int = 0) -> AtHand:
    places = tuple(Spot(cooker="pit", position=f"place-{n}") for n in range(spots))
    own = tuple(PlannedPiece(id=f"p-{n}") for n in range(pieces))
    return AtHand(cut="shoulder", species="pork", pieces=own, cooks=cooks, spots=places)


def cooks_of(layout: Layout) -> tuple[str, ...]:
    found: dict[int, set[str]] = {}
    for slot in layout.slots:
        found.setdefault(slot.cook, set()).add(slot.arm)
    assert all(len(own) == 1 for own in found.values())
    return tuple(min(found[cook]) for cook in sorted(found))


def test_every_order_of_four_cooks_comes_as_often() -> None:
    """The 6 orders, 1,200 draws: chi-square of 5 degrees of freedom, 20.5 is one in a thousand."""
    seen = Counter(
        cooks_of(draw_layout(at_hand(12, 4), ("bare", "paper"), seed, WHOLE))
        for seed in range(1200)
    )
    assert len(seen) == comb(4, 2)
    assert sum((count - 200) ** 2 / 200 for count in seen.values()) < 20.5


def test_it_is_drawn_again_from_its_seed_and_says_what_is_repeated() -> None:
    layout = draw_layout(at_hand(13, 5, spots=4), ("bare", "paper"), 7, WHOLE)
    assert draw_again(at_hand(13, 5, spots=4), ("bare", "paper"), layout) == layout
    # Two cooks an arm of five that there is time for, three pieces each, one left over.
    assert len(layout.slots) == 12
    assert len(layout.spare) == 1
    assert "cooks are what is repeated" in layout.free


@pytest.mark.parametrize(("pieces", "cooks"), [(12, 3), (3, 4)])
def test_one_cook_an_arm_is_refused(pieces: int, cooks: int) -> None:
    with pytest.raises(DesignError, match="needs two of them"):
        draw_layout(at_hand(pieces, cooks), ("bare", "paper"), 1, WHOLE)


def test_more_pieces_in_a_cook_do_not_stand_in_for_cooks() -> None:
    """The interval shrinks with cooks; with pieces only as far as cooks do not differ."""
    one, six = (how_many(YIELD, Means(Block(each=n, whole=True), most=3)) for n in (1, 6))
    assert [row.cooks for row in six.rows] == [2, 4, 6]
    assert [row.pieces for row in six.rows] == [12, 24, 36]
    # 2 of C(2n, n): no p of 0.05 before four cooks of each arm.
    assert [row.smallest_p for row in six.rows] == pytest.approx([1.0, 1 / 3, 0.1])
    paired = how_many(YIELD, Means(Block(each=6), most=3))
    assert six.rows[2].width < one.rows[2].width
    assert paired.rows[2].width < six.rows[2].width
    assert six.one_pair is None
    assert six.rows[2].given[0].power is None
