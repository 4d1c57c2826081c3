"""Too little, just about right, too much: and what being off costs in liking (penalty)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.tasting.errors import TastingError

WORTH_A_LOOK = 0.2
"""The share of a panel on one side from which its penalty is worth a look: common practice of
sensory panels, no source seen."""


@dataclass(frozen=True, slots=True)
class Penalty:
    """One side of a just-about-right scale.

    Attributes:
        side: "too little" or "too much".
        share: of the panel on that side.
        drop: mean liking of those who called it just right, less that of this side; None without
            answers of both kinds.
        standard_error: of the drop (Welch), None with fewer than two answers on either side.

    """

    side: str
    share: float
    drop: float | None
    standard_error: float | None


def penalties(ratings: Sequence[int], liking: Sequence[float]) -> tuple[Penalty, Penalty]:
    """Return what "too little" (below 0) and "too much" (above 0) cost.

    ``ratings`` are −2 … 2 with 0 just about right, ``liking`` the same tasters' liking.

    Raises:
        TastingError: lists that do not match, or empty ones.

    """
    rated, liked = np.asarray(ratings, dtype=np.float64), np.asarray(liking, dtype=np.float64)
    if rated.shape != liked.shape or rated.size == 0:
        raise TastingError("give one liking for each just-about-right answer")
    right = liked[rated == 0]
    low = _penalty("too little", rated < 0, liked, right)
    return low, _penalty("too much", rated > 0, liked, right)


def _penalty(
    side: str,
    off: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]",
    liked: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]",
    right: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]",
) -> Penalty:
    there = liked[off]
    share = float(np.mean(off))
    if there.size == 0 or right.size == 0:
        return Penalty(side, share, None, None)
    drop = float(right.mean() - there.mean())
    if min(there.size, right.size) < 2:
        return Penalty(side, share, drop, None)
    error = float(np.hypot(scipy.stats.sem(right), scipy.stats.sem(there)))
    return Penalty(side, share, drop, error)
