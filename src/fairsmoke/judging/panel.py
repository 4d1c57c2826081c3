"""Scores of several tasters as one number a piece, fair to pieces that a harsh taster missed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.messages.message import N_

FloatArray = NDArray[np.float64]

# Shares of a scale's span. What a sample gains by being served first (one sd), and how one answer
# of one taster scatters: guesses, common practice, no source.
FIRST_SHARE = 0.08
ANSWER_SHARE = 0.15


@dataclass(frozen=True, eq=False)
class PanelScores:
    """Scores with each taster's own level taken off.

    ``value`` (n,) is what the whole panel would give each piece, NaN where nobody scored it;
    ``uncertainty`` (n,) its standard uncertainty from the tasters' disagreement, NaN where that
    cannot be told (one taster, or no scores to spare); ``residual_sd`` how far one taster's score
    of one piece scatters once levels are taken off, None where it cannot be told. ``weights``
    (n, m) make the values from the scores; ``first_left`` (n,) is how much of a gain by being
    served first is still in each piece's value.
    """

    value: FloatArray
    uncertainty: FloatArray
    residual_sd: float | None
    n_scores: int
    n_tasters: int
    weights: FloatArray
    first_left: FloatArray

    def first_covariance(self, span: float) -> FloatArray:
        """Return the covariance (n, n) left by not knowing what being served first gains."""
        return (FIRST_SHARE * span) ** 2 * np.outer(self.first_left, self.first_left)


def panel_scores(
    piece: NDArray[np.intp],
    taster: NDArray[np.intp],
    score: FloatArray,
    *,
    n_pieces: int,
    first: NDArray[np.bool_] | None = None,
) -> PanelScores:
    """Fit score = piece + taster + noise by least squares and return the pieces' part.

    ``piece``, ``taster`` (m,) labels from 0, ``score`` (m,). The tasters' levels sum to zero, so
    with every taster scoring every piece the result is the plain mean of each piece. ``first``
    (m,) tells which samples were served first on their ballot: what that gains is estimated too,
    drawn towards none by its prior (a random effect), and the rest of it left open.
    Raises ComparisonError when lengths differ or two groups of tasters share no piece: their
    levels could then not be told from their pieces'.
    Source: two-way additive analysis of variance for unbalanced data, any textbook of linear
    models (from memory).

    >>> both = panel_scores(np.array([0, 1, 0, 1]), np.array([0, 0, 1, 1]),
    ...                     np.array([4.0, 6.0, 6.0, 8.0]), n_pieces=2)
    >>> both.value.round(6).tolist()
    [5.0, 7.0]
    """
    if not piece.shape == taster.shape == score.shape:
        raise ComparisonError("pieces, tasters and scores must have the same length")
    value = np.full(n_pieces, np.nan)
    uncertainty = np.full(n_pieces, np.nan)
    weights = np.zeros((n_pieces, score.size))
    if score.size == 0:
        return PanelScores(value, uncertainty, None, 0, 0, weights, np.zeros(n_pieces))
    pieces, p = np.unique(piece, return_inverse=True)
    tasters, t = np.unique(taster, return_inverse=True)
    design = np.zeros((score.size + 1, pieces.size + tasters.size))
    rows = np.arange(score.size)
    design[rows, p] = 1.0
    design[rows, pieces.size + t] = 1.0
    # The added row says that the tasters' levels sum to zero; it can always be met exactly.
    design[-1, pieces.size :] = 1.0
    if np.linalg.matrix_rank(design) < pieces.size + tasters.size:
        raise ComparisonError(
            N_(
                "some tasters share no piece with the others, so their levels cannot be compared; "
                "leave their ballots out or let a taster score both groups"
            )
        )
    served = np.zeros(score.size) if first is None else first.astype(np.float64)
    lead = np.append(served, 0.0)[:, None]
    drawn_in = np.append(np.zeros(design.shape[1]), ANSWER_SHARE / FIRST_SHARE)[None]
    solve = np.linalg.pinv(np.vstack([np.hstack([design, lead]), drawn_in]))
    fitted = solve[:, : score.size] @ score
    solution = fitted[:-1]
    weights[pieces] = solve[: pieces.size, : score.size]
    value[pieces] = solution[: pieces.size]
    spare = score.size - (pieces.size + tasters.size - 1)
    residual_sd = None
    if spare > 0 and tasters.size > 1:
        residual = score - (design @ solution)[:-1] - served * fitted[-1]
        residual_sd = float(np.sqrt(np.sum(residual**2) / spare))
        # The added rows carry no noise, so only the columns of the scores spread any.
        uncertainty[pieces] = residual_sd * np.sqrt(np.sum(weights[pieces] ** 2, axis=1))
    return PanelScores(
        value,
        uncertainty,
        residual_sd,
        int(score.size),
        int(tasters.size),
        weights,
        weights @ served,
    )
