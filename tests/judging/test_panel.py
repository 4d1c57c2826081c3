"""Scores of several tasters: closed forms of the two-way table, and a missing ballot."""

import numpy as np
import pytest
from benchmarks import small_panels

from fairsmoke.judging.confounded import PanelNoise
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.panel import panel_scores


def table(scores: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    tasters, pieces = scores.shape
    taster, piece = np.divmod(np.arange(tasters * pieces), pieces)
    kept = ~np.isnan(scores.ravel())
    return piece[kept], taster[kept], scores.ravel()[kept]


def test_complete_table_gives_plain_means_and_the_textbook_residual() -> None:
    # Two-way analysis of variance without replication: residual of a cell is
    # x - row mean - column mean + grand mean, on (r-1)(c-1) degrees of freedom (textbook form).
    scores = np.array([[5.0, 7.0, 6.0], [3.0, 6.0, 4.5], [6.0, 6.5, 8.0], [4.0, 8.0, 6.0]])
    found = panel_scores(*table(scores), n_pieces=3)
    np.testing.assert_allclose(found.value, scores.mean(axis=0))
    cells = scores - scores.mean(1, keepdims=True) - scores.mean(0) + scores.mean()
    sd = np.sqrt((cells**2).sum() / 6)
    assert found.residual_sd == pytest.approx(sd)
    np.testing.assert_allclose(found.uncertainty, sd / np.sqrt(4))


def test_a_harsh_tasters_missing_ballot_does_not_favour_a_piece() -> None:
    scores = np.array([[7.0, 7.0], [7.0, 7.0], [3.0, np.nan]])
    found = panel_scores(*table(scores), n_pieces=2)
    assert found.value[0] == pytest.approx(found.value[1])


def test_one_taster_has_scores_but_no_uncertainty() -> None:
    found = panel_scores(*table(np.array([[4.0, 6.0]])), n_pieces=3)
    np.testing.assert_allclose(found.value[:2], [4.0, 6.0])
    assert np.isnan(found.value[2])
    assert np.isnan(found.uncertainty).all()
    assert found.residual_sd is None


def test_tasters_who_share_nothing_cannot_be_compared() -> None:
    scores = np.array([[4.0, np.nan], [np.nan, 6.0]])
    with pytest.raises(ComparisonError, match="share no piece"):
        panel_scores(*table(scores), n_pieces=2)


def test_what_is_served_first_is_taken_off_as_far_as_the_order_tells_it() -> None:
    """Two tasters, two pieces, opposite orders: the gain cancels, and nothing of it is left."""
    piece, taster = np.array([0, 1, 0, 1]), np.array([0, 0, 1, 1])
    even = panel_scores(
        piece,
        taster,
        np.array([7.0, 6.0, 6.0, 7.0]),
        n_pieces=2,
        first=np.array([True, False, False, True]),
    )
    assert even.value[0] == pytest.approx(even.value[1])
    assert even.first_left[0] == pytest.approx(even.first_left[1])


def test_one_always_first_leaves_the_gain_in_its_value() -> None:
    """By hand: with d the difference, f the gain and k = (0.15/0.08)², f is drawn to 0 and all of
    it stays in the difference, since no order tells it apart.
    """
    piece, taster = np.array([0, 1, 0, 1]), np.array([0, 0, 1, 1])
    always = panel_scores(
        piece,
        taster,
        np.array([7.0, 6.0, 7.0, 6.0]),
        n_pieces=2,
        first=np.array([True, False, True, False]),
    )
    assert always.value[0] - always.value[1] == pytest.approx(1.0)
    left = always.first_left
    assert left[0] - left[1] == pytest.approx(1.0)
    # sd 0.08 of a span of 8 on the difference.
    contrast = np.array([1.0, -1.0])
    assert contrast @ always.first_covariance(8.0) @ contrast == pytest.approx(0.64**2)


def test_three_orders_to_one_by_generalised_least_squares() -> None:
    """Outside check: GLS with numpy, V = I + t² f f', on contrasts free of tasters' levels."""
    first = np.array([[1, 0], [1, 0], [1, 0], [0, 1]])
    scores = np.array([[7.0, 6.0], [8.0, 6.5], [6.0, 6.0], [6.0, 7.5]])
    each = scores[:, 0] - scores[:, 1]
    sign = (first[:, 0] - first[:, 1]).astype(float)
    ratio = (0.08 / 0.15) ** 2
    v = 2 * np.eye(4) + ratio * np.outer(sign, sign)
    weight = np.linalg.solve(v, np.ones(4))
    expected = weight @ each / weight.sum()
    piece, taster = np.tile([0, 1], 4), np.repeat(np.arange(4), 2)
    found = panel_scores(
        piece, taster, scores.ravel(), n_pieces=2, first=first.ravel().astype(np.bool_)
    )
    assert found.value[0] - found.value[1] == pytest.approx(expected)
    left = found.first_left[0] - found.first_left[1]
    assert left == pytest.approx(weight @ sign / weight.sum())


def test_a_taster_who_scores_most_counts_for_most_of_the_liking() -> None:
    alike = PanelNoise.of(np.array(["a", "b"] * 4), 8.0)
    assert alike.liking == pytest.approx(0.8**2 / 2)
    lopsided = PanelNoise.of(np.array(["a"] * 9 + ["b"]), 8.0)
    assert lopsided.liking == pytest.approx(0.8**2 * 0.82)
    assert PanelNoise.of(np.arange(8), 8.0).answer == 0.0
    assert alike.answer == pytest.approx(1.2**2 * (1 / 2 - 1 / 8))


@pytest.mark.parametrize("tasters", [1, 3])
def test_small_panels_without_a_difference_seldom_settle_wrongly(tasters: int) -> None:
    """Short form of `python -m benchmarks small_panels`: own likings of sd 0.8 on 1 to 9.

    At most 5 % wrong and 92 % covered, by 400 panels of six pairs: the limits allow for chance
    (three standard errors of 400 at 5 % and at 92 %).
    """
    (cell, *_) = (
        one
        for one in small_panels.cells(400, pairs=(6,), tasters=(tasters,), likings=(0.8,))
        if one.serving == "one first"
    )
    assert cell.wrong <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 400)
    assert cell.covered >= 0.92 - 3 * np.sqrt(0.92 * 0.08 / 400)
