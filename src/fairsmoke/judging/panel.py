"""Scores of several tasters as one number a piece, fair to pieces that a harsh taster missed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.messages.message import N_

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PanelScores:
    """Scores with each taster's own level taken off.

    ``value`` (n,) is what the whole panel would give each piece, NaN where nobody scored it;
    ``uncertainty`` (n,) its standard uncertainty from the tasters' disagreement, NaN where that
    cannot be told (one taster, or no scores to spare); ``residual_sd`` how far one taster's score
    of one piece scatters once levels are taken off, None where it cannot be told.
    """

    value: FloatArray
    uncertainty: FloatArray
    residual_sd: float | None
    n_scores: int
    n_tasters: int


def panel_scores(
    piece: NDArray[np.intp], taster: NDArray[np.intp], score: FloatArray, *, n_pieces: int
) -> PanelScores:
    """Fit score = piece + taster + noise by least squares and return the pieces' part.

    ``piece``, ``taster`` (m,) labels from 0, ``score`` (m,). The tasters' levels sum to zero, so
    with every taster scoring every piece the result is the plain mean of each piece.
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
    if score.size == 0:
        return PanelScores(value, uncertainty, None, 0, 0)
    pieces, p = np.unique(piece, return_inverse=True)
    tasters, t = np.unique(taster, return_inverse=True)
    design = np.zeros((score.size + 1, pieces.size + tasters.size))
    rows = np.arange(score.size)
    design[rows, p] = 1.0
    design[rows, pieces.size + t] = 1.0
    # The added row says that the tasters' levels sum to zero; it can always be met exactly.
    design[-1, pieces.size :] = 1.0
    solve = np.linalg.pinv(design)
    if np.linalg.matrix_rank(design) < pieces.size + tasters.size:
        raise ComparisonError(
            N_(
                "some tasters share no piece with the others, so their levels cannot be compared; "
                "leave their ballots out or let a taster score both groups"
            )
        )
    solution = solve @ np.append(score, 0.0)
    value[pieces] = solution[: pieces.size]
    spare = score.size - (pieces.size + tasters.size - 1)
    residual_sd = None
    if spare > 0 and tasters.size > 1:
        residual = score - (design @ solution)[:-1]
        residual_sd = float(np.sqrt(np.sum(residual**2) / spare))
        # The added row carries no noise, so only the columns of the scores spread any.
        spread = np.sqrt(np.sum(solve[: pieces.size, :-1] ** 2, axis=1))
        uncertainty[pieces] = residual_sd * spread
    return PanelScores(value, uncertainty, residual_sd, int(score.size), int(tasters.size))
