"""Can tasters tell two arms apart? Exact tests of difference and of likeness, with d′.

One answer a taster and set. Where a taster answers several sets, `tasting.repeated` allows for
tasters being unlike.
"""

from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.tasting.errors import TastingError
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.tasting.psychometric import LARGEST, correct_probability, d_prime_of, slope


@dataclass(frozen=True, slots=True)
class Discrimination:
    """What so many correct answers of so many show.

    Attributes:
        test, correct, answers: what was asked and what came back.
        p_difference: probability of at least as many correct answers when everybody guesses.
        share, share_low, share_high: share of answers from somebody who tells the samples apart,
            with its exact (Clopper–Pearson) interval, not below 0.
        d_prime, d_prime_se: Thurstone's distance and its standard error; the error is None where
            the answers are no better than guesses or all correct.
        d_prime_low, d_prime_high: its profile-likelihood interval.
        level: of both intervals.

    """

    test: TasteTest
    correct: int
    answers: int
    p_difference: float
    share: float
    share_low: float
    share_high: float
    d_prime: float
    d_prime_se: float | None
    d_prime_low: float
    d_prime_high: float
    level: float


def discriminate(
    test: TasteTest, correct: int, answers: int, *, level: float = 0.95
) -> Discrimination:
    """Return what correct answers show.

    Raises:
        TastingError: more correct answers than answers, none at all, or a level outside 0 to 1.

    >>> found = discriminate(TasteTest.TRIANGLE, 11, 20)
    >>> round(found.p_difference, 4)
    0.0376
    """
    _check(correct, answers)
    if not 0.0 < level < 1.0:
        raise TastingError(f"the level of an interval lies between 0 and 1, not at {level}")
    guess = test.guess
    exact = scipy.stats.binomtest(correct, answers).proportion_ci(level, method="exact")
    low, high = (_share(test, float(end)) for end in (exact.low, exact.high))
    d_prime = d_prime_of(test, correct / answers)
    d_low, d_high = _profile_interval(test, correct, answers, level)
    return Discrimination(
        test,
        correct,
        answers,
        float(scipy.stats.binom.sf(correct - 1, answers, guess)),
        _share(test, correct / answers),
        low,
        high,
        d_prime,
        _standard_error(test, correct, answers, d_prime),
        d_low,
        d_high,
        level,
    )


def likeness_p(test: TasteTest, correct: int, answers: int, d_prime: float) -> float:
    """Return the probability of at most as many correct answers if the arms lay d′ apart.

    Small: the arms are nearer than that, so that a difference that matters is not there.

    Raises:
        TastingError: as `discriminate`, or a d′ that is not above 0.

    """
    _check(correct, answers)
    if not d_prime > 0.0:
        raise TastingError("say from which d′, above 0, a difference would matter; 1 is usual")
    return float(scipy.stats.binom.cdf(correct, answers, correct_probability(test, d_prime)))


def _share(test: TasteTest, probability: float) -> float:
    return max(0.0, (probability - test.guess) / (1.0 - test.guess))


def _standard_error(test: TasteTest, correct: int, answers: int, d_prime: float) -> float | None:
    share = correct / answers
    if d_prime == 0.0 or correct == answers:
        return None
    return float(np.sqrt(share * (1.0 - share) / answers) / slope(test, d_prime))


def _profile_interval(
    test: TasteTest, correct: int, answers: int, level: float
) -> tuple[float, float]:
    """Return where the log-likelihood lies within half a χ² quantile of its greatest value."""
    drop = 0.5 * float(scipy.stats.chi2.ppf(level, 1))

    def log_likelihood(d_prime: float) -> float:
        return float(scipy.stats.binom.logpmf(correct, answers, correct_probability(test, d_prime)))

    best = min(d_prime_of(test, correct / answers), LARGEST)
    floor = log_likelihood(best) - drop

    def above(d_prime: float) -> float:
        return log_likelihood(d_prime) - floor

    low = 0.0 if above(0.0) >= 0.0 else float(scipy.optimize.brentq(above, 0.0, best, xtol=1e-12))
    if above(LARGEST) >= 0.0:
        return low, float("inf")
    return low, float(scipy.optimize.brentq(above, best, LARGEST, xtol=1e-12))


def _check(correct: int, answers: int) -> None:
    if answers < 1:
        raise TastingError("nobody has answered yet")
    if not 0 <= correct <= answers:
        raise TastingError(f"{correct} of {answers} answers cannot be correct")
