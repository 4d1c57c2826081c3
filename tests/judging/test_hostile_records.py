"""What a hostile reader would try: a spread stated far too small, a cook for every piece."""

from dataclasses import replace

import pytest
from tests.judging.records import SHEAR, found, record_of

from fairsmoke.judging.rule import VerdictKind
from fairsmoke.trial.figure import Figure
from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord

NAN = float("nan")


def of_figures(rows: list[tuple[float, float]], measure: Measure) -> TrialRecord:
    figures = [
        Figure(id=f"{at}-{arm}", piece=f"c{at}-{arm}", measure="shear", value=one, uncertainty=0.1)
        for at, row in enumerate(rows)
        for arm, one in zip(("bare", "paper"), row, strict=True)
    ]
    return record_of([(NAN, NAN)] * len(rows), (measure,), figures=figures)


@pytest.mark.parametrize(
    ("rows", "change"),
    [
        ([(5.0, 2.9)], {"spread": 0.02}),
        ([(5.0, 2.9)], {"spread": 0.1}),
        ([(5.0, -5.0), (6.0, -5.9), (4.0, -4.2)], {"name": "Bark", "spread_share": 0.05}),
    ],
)
def test_a_spread_stated_far_too_small_does_not_believe_a_difference_away(
    rows: list[tuple[float, float]], change: dict[str, object]
) -> None:
    (difference,) = found(of_figures(rows, SHEAR.model_copy(update=change))).main.differences
    assert difference.observed is not None
    assert difference.believed.low <= difference.observed <= difference.believed.high
    assert difference.verdict.word is not VerdictKind.NO_DIFFERENCE


def test_a_cook_for_every_piece_makes_nothing_surer() -> None:
    together = record_of([(0.55, 0.61), (0.56, 0.60), (0.55, 0.62)])
    cooks = {cook.id: cook for cook in together.cooks}
    alone = replace(
        together,
        cooks=tuple(
            cooks[piece.cook or ""].model_copy(update={"id": f"k{at}", "name": f"k{at}"})
            for at, piece in enumerate(together.pieces)
        ),
        pieces=tuple(
            piece.model_copy(update={"cook": f"k{at}"}) for at, piece in enumerate(together.pieces)
        ),
    )
    width = []
    for record in (together, alone):
        believed = found(record).main.differences[0].believed
        width.append(believed.high - believed.low)
    assert width[1] > 1.05 * width[0]
