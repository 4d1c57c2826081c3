"""Scores of several tasters: closed forms of the two-way table, and a missing ballot."""

import numpy as np
import pytest

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
