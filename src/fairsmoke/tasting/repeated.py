"""Tasters who answer several sets: the beta-binomial, which lets tasters be unlike each other.

Counted as if each answer came from somebody else, repeats look surer than they are. Here every
taster has a probability of their own, drawn from a beta distribution. Plain (BB): the probability
of a correct answer lies anywhere from 0 to 1. Corrected for guessing (CCBB): what is drawn is the
share of sets that the taster tells apart; all other answers are guesses.
Source: Brockhoff, Food Quality and Preference 14 (2003) 405; Ennis and Bi, Journal of Sensory
Studies 13 (1998) 389 (both from memory; checked against published fits).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.tasting.errors import TastingError
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.tasting.psychometric import d_prime_of, slope

FloatArray = NDArray[np.float64]
_EDGE = 1e-6


@dataclass(frozen=True, slots=True)
class RepeatedTest:
    """What repeated answers show, with tasters unlike each other.

    Attributes:
        mean, mean_se: mean of the beta distribution: probability of a correct answer (plain), or
            share told apart (corrected). Errors are None where the fit lies on an edge.
        unlikeness, unlikeness_se: γ from 0 (all tasters are the same) to 1 (each is always or
            never right).
        correct: the mean probability of a correct answer.
        d_prime, d_prime_se: Thurstone's distance at that probability.
        log_likelihood: greatest log-likelihood, with the binomial coefficients.
        p_unlike: likelihood-ratio test that tasters are all the same (χ², 1 degree of freedom).
        p_difference: likelihood-ratio test that everybody guesses (χ², 2 degrees of freedom).

    """

    mean: float
    mean_se: float | None
    unlikeness: float
    unlikeness_se: float | None
    correct: float
    d_prime: float
    d_prime_se: float | None
    log_likelihood: float
    unlike_statistic: float
    p_unlike: float
    difference_statistic: float
    p_difference: float


def fit_repeated(
    test: TasteTest, correct: Sequence[int], answers: Sequence[int], *, corrected: bool = True
) -> RepeatedTest:
    """Fit tasters' correct answers, one count a taster, to so many answers of each.

    Raises:
        TastingError: sequences that do not match, fewer than two tasters, or nobody with repeats.

    """
    x, n = np.asarray(correct, dtype=np.intp), np.asarray(answers, dtype=np.intp)
    if x.shape != n.shape or x.size < 2:
        raise TastingError("give every taster's correct answers and answers; at least two tasters")
    if np.any(x < 0) or np.any(x > n) or np.all(n < 2):
        raise TastingError("no more correct answers than answers, and somebody answered twice")
    guess = test.guess if corrected else 0.0

    def cost(values: FloatArray) -> float:
        return -_log_likelihood(x, n, float(values[0]), float(values[1]), guess)

    bounds = [(_EDGE, 1.0 - _EDGE)] * 2
    starts = [(mean, unlike) for mean in (0.1, 0.4, 0.7) for unlike in (0.05, 0.4)]
    fits = [
        scipy.optimize.minimize(cost, start, bounds=bounds, method="L-BFGS-B") for start in starts
    ]
    best = min(fits, key=lambda fit: float(fit.fun))
    mean, unlike = (float(value) for value in best.x)
    top = -float(best.fun)
    share = guess + (1.0 - guess) * mean
    errors = _standard_errors(x, n, mean, unlike, guess)
    d_prime = d_prime_of(test, share)
    at_rate = slope(test, d_prime) if 0.0 < d_prime < np.inf else None
    pooled = float(x.sum() / n.sum())
    alike = float(np.sum(scipy.stats.binom.logpmf(x, n, max(pooled, guess))))
    guessing = float(np.sum(scipy.stats.binom.logpmf(x, n, test.guess)))
    g_unlike, g_difference = 2.0 * max(0.0, top - alike), 2.0 * max(0.0, top - guessing)
    return RepeatedTest(
        mean,
        None if errors is None else errors[0],
        unlike,
        None if errors is None else errors[1],
        share,
        d_prime,
        None if errors is None or at_rate is None else (1.0 - guess) * errors[0] / at_rate,
        top,
        g_unlike,
        float(scipy.stats.chi2.sf(g_unlike, 1)),
        g_difference,
        float(scipy.stats.chi2.sf(g_difference, 2)),
    )


def _log_likelihood(
    x: NDArray[np.intp], n: NDArray[np.intp], mean: float, unlike: float, guess: float
) -> float:
    """Return the log-likelihood, binomial coefficients and all.

    A count of correct answers is made of i told apart and x − i guessed right.
    """
    a, b = mean * (1.0 - unlike) / unlike, (1.0 - mean) * (1.0 - unlike) / unlike
    told = np.arange(int(x.max()) + 1) if guess > 0.0 else x[:, None]
    right, of = x[:, None], n[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        skill = (
            scipy.special.betaln(told + a, of - told + b)
            - scipy.special.betaln(a, b)
            - np.log(of + 1.0)
            - scipy.special.betaln(of - told + 1.0, told + 1.0)
        )
        luck = scipy.stats.binom.logpmf(right - told, of - told, guess)
    return float(
        np.sum(scipy.special.logsumexp(np.where(told <= right, skill + luck, -np.inf), axis=1))
    )


def _standard_errors(
    x: NDArray[np.intp], n: NDArray[np.intp], mean: float, unlike: float, guess: float
) -> tuple[float, float] | None:
    room = min(mean, 1.0 - mean, unlike, 1.0 - unlike)
    if room < 100 * _EDGE:
        return None

    def cost(values: FloatArray) -> FloatArray:
        flat = values.reshape(2, -1)
        found = [-_log_likelihood(x, n, float(m), float(u), guess) for m, u in flat.T]
        return np.asarray(found).reshape(values.shape[1:])

    curvature = scipy.differentiate.hessian(
        cost, np.array([mean, unlike]), initial_step=min(0.05, 0.4 * room)
    ).ddf
    covariance = np.linalg.inv(curvature)
    if not (covariance[0, 0] > 0.0 and covariance[1, 1] > 0.0):
        return None
    return float(np.sqrt(covariance[0, 0])), float(np.sqrt(covariance[1, 1]))
