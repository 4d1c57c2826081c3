"""The paired t interval: the classical answer for pieces cooked side by side."""

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.messages.message import N_, Message


@dataclass(frozen=True)
class PairedResult:
    """The mean difference over pairs, and what the pairs say about its uncertainty.

    `mean`, `sd`, `se` and `interval` are in the response's unit. Everything but the mean is None
    where the pairs cannot tell it; `sentence` then says why in plain words.
    """

    n_pairs: int
    n_incomplete: int
    mean: float
    sd: float | None
    se: float | None
    t: float | None
    df: int | None
    p: float | None
    interval: tuple[float, float] | None
    level: float
    sentence: Message


def paired_comparison(differences: ArrayLike, *, level: float = 0.95) -> PairedResult:
    """Paired t test and interval from one difference (second arm less first) a pair, shape (n,).

    A difference that is NaN (a half was lost) is left out and counted in `n_incomplete`. Holds
    where the differences scatter about their mean roughly as a normal distribution; with few pairs
    the data cannot show whether they do. `p` is two-sided, against no difference.

    One pair has a difference but no spread, so no interval exists. Two or more pairs with exactly
    equal differences have no spread either: that says how coarsely the measure was read, not how
    sure the mean is, and no interval is given.

    Raises ComparisonError when no complete pair is left, a value is infinite, or `level` is not
    between 0 and 1. Source: Student, Biometrika 6:1, 1908 (from memory).

    >>> paired_comparison([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4]).df
    9
    """
    if not 0.0 < level < 1.0:
        raise ComparisonError(f"level is {level}: it must lie between 0 and 1, such as 0.95.")
    given = np.asarray(differences, dtype=np.float64)
    if given.ndim != 1:
        raise ComparisonError(f"differences has shape {given.shape}: give one number a pair.")
    kept = given[~np.isnan(given)]
    if np.any(np.isinf(kept)):
        raise ComparisonError("a difference is infinite: mend or leave out that pair.")
    if kept.size == 0:
        raise ComparisonError("no complete pair is left: a comparison needs at least one.")
    n, n_incomplete = int(kept.size), int(given.size - kept.size)
    mean = math.fsum(kept) / n
    sd = float(np.std(kept, ddof=1)) if n > 1 else 0.0
    # Equal differences of two readings still differ in the last binary digits.
    if sd <= 1e-9 * float(np.max(np.abs(kept))):
        return PairedResult(
            n, n_incomplete, mean, None, None, None, None, None, None, level, _no_spread(n)
        )
    se = sd / math.sqrt(n)
    t, df = mean / se, n - 1
    half = float(scipy.special.stdtrit(df, 0.5 + level / 2)) * se
    p = 2 * float(scipy.special.stdtr(df, -abs(t)))
    sentence = N_(
        "%(pairs)s pairs: the interval allows for the spread seen between them (%(df)s df).",
        pairs=n,
        df=df,
    )
    interval = (mean - half, mean + half)
    return PairedResult(n, n_incomplete, mean, sd, se, t, df, p, interval, level, sentence)


def _no_spread(n: int) -> Message:
    if n == 1:
        return N_(
            "One pair shows a difference but not how much pairs differ among themselves: no "
            "interval exists from this pair alone."
        )
    return N_(
        "All %(pairs)s pairs show exactly the same difference, so they show no spread: no interval "
        "can be given. A finer reading of the measure would show one.",
        pairs=n,
    )
