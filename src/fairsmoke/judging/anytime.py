"""A test that may be looked at after every pair: an e-value from the signs that the draw gave.

Where neither arm matters and arms were drawn within each pair, a pair's difference d is as likely
as -d, whatever its size. Then exp(b d) / cosh(b d) has expectation 1 for every b, and so has its
product over pairs, and a mixture of such products over several b: a test martingale. That it ever
reaches 1 / alpha has probability at most alpha (Ville's inequality), however often one looks and
however far pieces differ. Sources: de la Pena, Annals of Probability 27 (1999) 537; Ville 1939;
both from memory.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

BETS = (0.25, 0.5, 1.0, 2.0)
"""Sizes of b in units of one over the believed sd of a pair's difference; fixed beforehand."""


def e_values(differences: ArrayLike, scale: float) -> FloatArray:
    """Return the e-value after each pair, (n,), of differences (n,) in order of cooking.

    Args:
        differences: of the pairs, any unit, without gaps; (S, n) for many trials.
        scale: the believed sd of a pair's difference, same unit, fixed before the data. It only
            decides how soon a difference is found, not how often one is found that is not there.

    >>> e_values([1.0, 1.0, 1.0, 1.0, 1.0, 1.0], 0.01).round(1).tolist()
    [1.0, 2.0, 4.0, 8.0, 16.0, 32.0]
    """
    d = np.asarray(differences, dtype=np.float64) / scale
    bets = np.array([sign * size for size in BETS for sign in (-1.0, 1.0)])
    steps = bets * d[..., None]
    # log cosh without overflow.
    size = np.abs(steps)
    gains = steps - (size + np.log1p(np.exp(-2.0 * size)) - math.log(2.0))
    logs = np.cumsum(gains, axis=-2)
    top = logs.max(axis=-1, keepdims=True)
    mixed = top[..., 0] + np.log(np.mean(np.exp(logs - top), axis=-1))
    return np.asarray(np.exp(mixed), dtype=np.float64)
