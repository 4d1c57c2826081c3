"""How many foresees the judge: smallest p, priors and uncertainty are those of a later finding."""

from dataclasses import replace

import numpy as np
import pytest
from tests.judging.records import LIKING, MADE, SHEAR, YIELD, record_of

from fairsmoke.design.draw import Wish, draw_layout
from fairsmoke.judging.judge import judge
from fairsmoke.planning.size.how_many import Means, Panel, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import AtHand, LayoutKind, PlannedPiece
from fairsmoke.trial.question import Draw
from fairsmoke.trial.record import TrialRecord


@pytest.mark.parametrize("pairs", [3, 4])
def test_the_smallest_p_is_that_of_the_most_telling_outcome(pairs: int) -> None:
    """Pairs one a cook, drawn even: every piece of one arm above every piece of the other."""
    spots = tuple(Spot(cooker="barrel", position=one) for one in ("left", "right"))
    pieces = tuple(PlannedPiece(id=f"p-{n}") for n in range(2 * pairs))
    at_hand = AtHand(cut="shoulder", species="pork", pieces=pieces, spots=spots, cooks=pairs)
    layout = draw_layout(at_hand, ("bare", "paper"), 1, Wish(LayoutKind.MATCHED))
    record = record_of(
        [(0.50 + 0.001 * n, 0.60 + 0.002 * n) for n in range(pairs)],
        draw=Draw(how="drawn", within="pair", even=True),
    )
    places = {(f"c{slot.cook - 1}", slot.arm): slot.spot for slot in layout.slots}
    record = replace(
        record,
        pieces=tuple(
            piece.model_copy(update={"spot": places[piece.cook or "", piece.arm or ""]})
            for piece in record.pieces
        ),
    )
    row = how_many(YIELD, Means(Block(per_cook=1), most=pairs)).rows[-1]
    assert row.smallest_p == pytest.approx(redrawn(record))


def test_the_smallest_p_of_whole_cooks_is_that_of_the_judge() -> None:
    record = record_of([(0.50, 0.501)] * 4, draw=Draw(how="drawn", within="trial"))
    arms = {cook.id: ("bare", "paper")[at % 2] for at, cook in enumerate(record.cooks)}
    moved = tuple(p.model_copy(update={"arm": arms[p.cook or ""]}) for p in record.pieces)
    shares = {"bare": 0.5, "paper": 0.6}
    weighings = tuple(
        w.model_copy(update={"reading_kg": 4 * shares[arms[(w.piece or "").split("-")[0]]]})
        if w.sum[0].label == "cooked"
        else w
        for w in record.weighings
    )
    row = how_many(YIELD, Means(Block(each=2, whole=True), most=2)).rows[-1]
    found = redrawn(replace(record, pieces=moved, weighings=weighings))
    assert row.smallest_p == pytest.approx(found) == pytest.approx(1 / 3)


def redrawn(record: TrialRecord) -> float | None:
    (found,) = judge(record, made=MADE).main.differences
    return {one.name: one for one in found.classical}["re-randomisation"].p


def test_no_worthwhile_difference_moves_what_is_assumed() -> None:
    """The belief is the question's business only where the person states a spread."""
    for measure in (YIELD, SHEAR):
        tables = [
            how_many(measure.model_copy(update={"worthwhile": size}), Means(most=1))
            for size in (0.004, 0.04, 0.4)
        ]
        assert tables[0].priors == tables[1].priors == tables[2].priors
        widths = [table.rows[0].width for table in tables]
        assert widths[0] == widths[1] == widths[2]


def test_a_figure_without_an_uncertainty_is_foreseen_as_it_is_judged() -> None:
    bare = how_many(SHEAR, Means(most=1))
    exact = how_many(SHEAR, Means(most=1, measuring_sd=1e-9))
    assert bare.rows[0].width > exact.rows[0].width
    said = how_many(SHEAR, Means(most=1, measuring_sd=0.7 * bare.priors.piece.quantile(0.5)))
    assert np.isclose(said.rows[0].width, bare.rows[0].width)


def test_tasters_own_likings_are_foreseen_as_they_are_judged() -> None:
    """With pieces that hardly differ what is left of the interval is the panel's own."""
    near = LIKING.model_copy(update={"spread": 0.01, "worthwhile": 0.3})
    few, many = (
        how_many(near, Means(most=8, panel=Panel(n, answer_sd=0.01))).rows[-1].width
        for n in (2, 40)
    )
    assert few > 2.0 * many
