"""Tasters against pieces, against drawn panels scored by judging's own panel code; costs."""

import numpy as np
import pytest

from fairsmoke.judging.panel import panel_scores
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.panels.tasters import ScoreSpreads, trade
from fairsmoke.planning.size.cost import Prices


@pytest.mark.parametrize(("pairs", "tasters", "repeats"), [(1, 6, 1), (3, 4, 2)])
def test_standard_error_is_that_of_drawn_panels(pairs: int, tasters: int, repeats: int) -> None:
    spreads = ScoreSpreads(piece=0.5, answer=1.2, taster_by_method=0.4)
    rng = np.random.default_rng(4)
    piece, taster, _ = np.indices((2 * pairs, tasters, repeats)).reshape(3, -1)
    arm = np.arange(2 * pairs) % 2
    differences = []
    for _ in range(1500):
        own = rng.normal(0, spreads.piece, 2 * pairs)
        level = rng.normal(0, 2.0, tasters)
        by_method = rng.normal(0, spreads.taster_by_method, (tasters, 2))
        noise = rng.normal(0, spreads.answer, piece.size)
        score = own[piece] + level[taster] + by_method[taster, arm[piece]] + noise
        value = panel_scores(piece, taster, score, n_pieces=2 * pairs).value
        differences.append(value[arm == 0].mean() - value[arm == 1].mean())
    drawn = float(np.std(differences))
    # The standard error of a standard deviation is about sd / sqrt(2 n).
    expected = spreads.standard_error(pairs, tasters, repeats)
    assert abs(drawn - expected) < 4 * expected / np.sqrt(2 * 1500)


def test_no_number_of_tasters_stands_in_for_pieces() -> None:
    spreads = ScoreSpreads(piece=0.5, answer=1.2)
    assert spreads.tasters_for(2, 0.5) is None
    needed = spreads.tasters_for(4, 0.5)
    assert needed is not None
    assert spreads.standard_error(4, needed) <= 0.5 < spreads.standard_error(4, needed - 1)
    few, many = trade(spreads, (4,), (2, 200))
    assert many.share_of_pieces > 0.95 > few.share_of_pieces


def test_costs_add_up_and_tell_what_has_no_price() -> None:
    prices = Prices(piece=60.0, cook=25.0, currency="€")
    assert prices.of(8, 4, 36) == 580.0
    assert prices.unpriced == ("sitting",)
    assert Prices().of(8, 4) is None
    assert Prices(cook=0.0).of(8, 4) == 0.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Prices(piece=-1.0), "price of a piece"),
        (lambda: Prices(cook=float("nan")), "price of a cook"),
        (lambda: ScoreSpreads(-1.0, 1.0), "piece"),
        (lambda: ScoreSpreads(0.0, 0.0), "without any spread"),
        (lambda: ScoreSpreads(1.0, 1.0).standard_error(0, 1), "pairs"),
        (lambda: ScoreSpreads(1.0, 1.0).panel_sd(0), "tasters"),
        (lambda: ScoreSpreads(1.0, 1.0).tasters_for(3, 0.0), "standard error"),
    ],
)
def test_bad_input_is_named(call: object, words: str) -> None:
    assert callable(call)
    with pytest.raises(PlanError, match=words):
        call()
