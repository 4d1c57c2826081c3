"""How many tasters a test of difference or likeness takes, by the exact binomial distribution.

A share pd of answers is given by somebody who tells the samples apart, all others are guesses, so
that correct answers have the chance guess + (1 - guess) pd. These are the numbers in the tables of
the sensory standards: ISO 4120 and ASTM E1885 (triangle), ISO 10399 (duo–trio), ISO 5495 (paired
comparison), ASTM E3009 (tetrad).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.judging.design import IntArray
from fairsmoke.judging.priors import FloatArray
from fairsmoke.planning.errors import PlanError
from fairsmoke.tasting.protocols import TasteTest

MOST_TASTERS = 20_000
_AHEAD = 60


@dataclass(frozen=True, slots=True)
class PanelSize:
    """How many answers a test takes and what is then claimed from how many correct ones.

    Attributes:
        answers: the fewest for which the test keeps both risks, as the standards print it.
        always: from this number on every larger one keeps them too; the power of counts goes up
            and down with the number of answers.
        bound: with `answers`, claim a difference from so many correct ones on (test of
            difference), or likeness up to so many (test of likeness).
        false_claim: chance of claiming it wrongly, at most what was asked.
        power: chance of claiming it rightly.

    """

    answers: int
    always: int
    bound: int
    false_claim: float
    power: float


def fewest_correct(
    answers: int, guess: float, alpha: float, *, two_sided: bool = False
) -> int | None:
    """Return from how many correct answers on a difference is shown, None if even all do not.

    The smallest k with P(X >= k) <= alpha when everybody guesses; half of alpha for the larger of
    two counts, if two-sided.

    Raises:
        PlanError: a number out of range, or two-sided where guesses are not even.

    >>> fewest_correct(20, 1 / 3, 0.05)
    11
    """
    _check_answers(answers)
    _check_share("alpha", alpha)
    _check_share("the chance of guessing right", guess)
    if two_sided and guess != 0.5:
        raise PlanError("only a paired comparison, with guesses of 1/2, can be two-sided")
    level = alpha / 2.0 if two_sided else alpha
    bound = int(_critical(np.array([answers]), guess, level)[0])
    return bound if bound <= answers else None


def most_correct(answers: int, guess: float, share: float, beta: float) -> int | None:
    """Return up to how many correct answers likeness is shown, None if even none do not.

    The largest x with P(X <= x) <= beta when a share ``share`` tell the samples apart.

    Raises:
        PlanError: a number out of range.

    >>> most_correct(30, 1 / 3, 0.5, 0.001)
    11
    """
    _check_answers(answers)
    _check_share("beta", beta)
    _check_share("the share who tell the samples apart", share)
    chance = guess + (1.0 - guess) * share
    bound = int(_likeness_bound(np.array([answers]), chance, beta)[0])
    return bound if bound >= 0 else None


def difference_power(
    test: TasteTest, answers: int, share: float, *, alpha: float = 0.05, two_sided: bool = False
) -> float:
    """Return the chance that a difference is shown when ``share`` tell the samples apart.

    Raises:
        PlanError: a number out of range.

    """
    _check_share("the share who tell the samples apart", share, ends=True)
    bound = fewest_correct(answers, test.guess, alpha, two_sided=two_sided)
    if bound is None:
        return 0.0
    chance = test.chance(share)
    return float(_power(np.array([answers]), np.array([bound]), chance, two_sided)[0])


def _power(answers: IntArray, bound: IntArray, chance: float, two_sided: bool) -> FloatArray:
    power = scipy.stats.binom.sf(bound - 1, answers, chance)
    if two_sided:
        power = power + scipy.stats.binom.cdf(answers - bound, answers, chance)
    return np.asarray(power, dtype=np.float64)


def size_for_difference(
    test: TasteTest,
    share: float,
    *,
    alpha: float = 0.05,
    beta: float = 0.2,
    two_sided: bool = False,
) -> PanelSize:
    """Return how many answers show a difference.

    Args:
        test: what tasters are asked.
        share: the share who tell the samples apart that must not be missed, above 0 to 1.
        alpha: risk of claiming a difference that is not there.
        beta: risk of missing one.
        two_sided: for a paired comparison where either sample may have more.

    Raises:
        PlanError: a number out of range, or more than 20,000 answers.

    >>> size_for_difference(TasteTest.TRIANGLE, 0.3, beta=0.05).answers
    66
    """
    _check_size(share, alpha, beta)
    if two_sided and test is not TasteTest.PAIRED:
        raise PlanError(f"a {test} test has one side; only a paired comparison can have two")
    level = alpha / 2.0 if two_sided else alpha
    chance = test.chance(share)

    def tried(answers: IntArray) -> Tried:
        bound = _critical(answers, test.guess, level)
        false = np.asarray(scipy.stats.binom.sf(bound - 1, answers, test.guess))
        power = _power(answers, bound, chance, two_sided)
        return Tried(bound, false * (2 if two_sided else 1), power)

    return _smallest(tried, 1.0 - beta, _guess_at_size(test.guess, chance, level, beta))


def size_for_likeness(
    test: TasteTest, share: float, *, alpha: float = 0.2, beta: float = 0.05, true: float = 0.0
) -> PanelSize:
    """Return how many answers show that fewer than ``share`` tell the samples apart.

    Args:
        test: what tasters are asked.
        share: the share that would matter.
        alpha: risk of missing likeness that is there.
        beta: risk of claiming likeness when as many as ``share`` tell the samples apart.
        true: the share who tell them apart in truth, for which likeness shall be shown.

    Raises:
        PlanError: a number out of range, or more than 20,000 answers.

    """
    _check_size(share, alpha, beta)
    if not 0.0 <= true < share:
        raise PlanError(
            f"the true share must be 0 or more and below the share that matters ({share}), not "
            f"{true}"
        )
    matters, real = test.chance(share), test.chance(true)

    def tried(answers: IntArray) -> Tried:
        bound = _likeness_bound(answers, matters, beta)
        false = np.asarray(scipy.stats.binom.cdf(bound, answers, matters))
        return Tried(bound, false, np.asarray(scipy.stats.binom.cdf(bound, answers, real)))

    return _smallest(tried, 1.0 - alpha, _guess_at_size(real, matters, alpha, beta))


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """For several numbers of answers: the bound, the risk it keeps, and the power, (k,) each."""

    bound: IntArray
    false: FloatArray
    power: FloatArray


def _critical(answers: IntArray, guess: float, level: float) -> IntArray:
    """Return the smallest k with P(X >= k) <= level, answers + 1 where there is none."""
    k = np.asarray(scipy.stats.binom.isf(level, answers, guess), dtype=np.intp) + 1
    # Beside a tie of level and chance rounding may be a count off: settle it by the chance itself.
    k = np.where(scipy.stats.binom.sf(k - 2, answers, guess) <= level, k - 1, k)
    return np.where(scipy.stats.binom.sf(k - 1, answers, guess) > level, k + 1, k)


def _likeness_bound(answers: IntArray, chance: float, beta: float) -> IntArray:
    """Return the largest x with P(X <= x) <= beta, -1 where there is none."""
    x = np.asarray(scipy.stats.binom.ppf(beta, answers, chance), dtype=np.intp)
    x = np.where(scipy.stats.binom.cdf(x, answers, chance) > beta, x - 1, x)
    return np.where(scipy.stats.binom.cdf(x + 1, answers, chance) <= beta, x + 1, x)


def _guess_at_size(low: float, high: float, upper: float, lower: float) -> int:
    """Return about how many answers tell two chances apart, by the normal approximation."""
    one = scipy.special.ndtri(1.0 - upper) * math.sqrt(low * (1.0 - low))
    other = scipy.special.ndtri(1.0 - lower) * math.sqrt(max(0.0, high * (1.0 - high)))
    return math.ceil((float(one + other) / (high - low)) ** 2)


def _smallest(tried: Callable[[IntArray], Tried], power: float, about: int) -> PanelSize:
    """Find the smallest number with that power, and the one from which on all have it.

    The power swings from one number to the next; beyond half as many again as the normal
    approximation it does not come back to the aim.
    """
    if about > MOST_TASTERS:
        raise PlanError(
            f"about {about:,} answers would be needed; ask for less certainty or for a larger share"
        )
    answers = np.arange(1, about + about // 2 + _AHEAD, dtype=np.intp)
    found = tried(answers)
    enough = found.power >= power
    first = int(np.argmax(enough))
    if not enough[-1]:
        raise PlanError("no number of answers keeps both risks; ask for less certainty")
    always = int(answers[~enough][-1]) + 1 if not enough.all() else 1
    return PanelSize(
        int(answers[first]),
        always,
        int(found.bound[first]),
        float(found.false[first]),
        float(found.power[first]),
    )


def correct_counts(repeats: int, guess: float, share: float, alike: float) -> FloatArray:
    """Return the chances of 0 … ``repeats`` correct answers of one taster, (repeats + 1,).

    Tasters differ: each tells the samples apart in a share of the times that is drawn from a beta
    distribution with mean ``share`` and ``alike`` between 0 (all tasters are the same) and 1 (each
    either always or never does); otherwise they guess. Source: the chance-corrected beta-binomial
    of Brockhoff, Food Quality and Preference 14 (2003) 405, from memory.

    Raises:
        PlanError: a number out of range.

    """
    _check_answers(repeats)
    for name, value in (("share", share), ("alike", alike)):
        _check_share(f"the tasters' {name}", value, ends=True)
    told = np.arange(repeats + 1)
    if alike == 0.0 or share in (0.0, 1.0):
        by_skill = scipy.stats.binom.pmf(told, repeats, share)
    elif alike == 1.0:
        by_skill = np.where(told == 0, 1.0 - share, 0.0) + np.where(told == repeats, share, 0.0)
    else:
        size = (1.0 - alike) / alike
        by_skill = scipy.stats.betabinom.pmf(told, repeats, share * size, (1.0 - share) * size)
    guessed = scipy.stats.binom.pmf(told[:, None] - told[None, :], repeats - told[None, :], guess)
    return np.asarray(guessed @ by_skill, dtype=np.float64)


def repeated_power(
    test: TasteTest, tasters: int, repeats: int, share: float, alike: float, *, alpha: float = 0.05
) -> float:
    """Return the chance to show a difference when every taster answers several times.

    With no difference everybody guesses, so the bound is that of independent answers whatever the
    tasters are like; the chance to reach it is not.

    Raises:
        PlanError: a number out of range.

    """
    _check_answers(tasters)
    one = correct_counts(repeats, test.guess, share, alike)
    bound = fewest_correct(tasters * repeats, test.guess, alpha)
    if bound is None:
        return 0.0
    total = np.ones(1)
    for _ in range(tasters):
        total = np.convolve(total, one)
    return float(min(1.0, total[bound:].sum()))


def design_effect(repeats: int, likeness: float) -> float:
    """Return by how much repeats inflate the variance of a share of correct answers.

    1 + (repeats - 1) times the correlation of two answers of one taster (0 to 1).

    Raises:
        PlanError: a number out of range.

    >>> design_effect(4, 0.1)
    1.3
    """
    _check_answers(repeats)
    _check_share("the correlation of a taster's answers", likeness, ends=True)
    return 1.0 + (repeats - 1) * likeness


def _check_size(share: float, alpha: float, beta: float) -> None:
    if not 0.0 < share <= 1.0:
        raise PlanError(
            f"the share who tell the samples apart lies above 0 and at most at 1, such as 0.3, "
            f"not at {share}"
        )
    _check_share("alpha", alpha)
    _check_share("beta", beta)
    if alpha + beta >= 1.0:
        raise PlanError(f"alpha {alpha} and beta {beta} add to 1 or more, so no taster is needed")


def _check_share(name: str, value: float, ends: bool = False) -> None:
    inside = 0.0 <= value <= 1.0 if ends else 0.0 < value < 1.0
    if not inside:
        raise PlanError(f"{name} lies between 0 and 1, not at {value}")


def _check_answers(answers: int) -> None:
    if not 1 <= answers <= MOST_TASTERS:
        raise PlanError(
            f"a number of tasters or answers lies from 1 to {MOST_TASTERS:,}: {answers}"
        )
