"""Classical power of paired differences, which stands beside the chances of a verdict.

It answers another question: how often a test at level alpha would reject "no difference at all" if
the true difference and the spread were known to be these. Exact for normal differences, by the
non-central t distribution. Source: Cohen, Statistical Power Analysis (1988) chapter 2, from
memory; Owen, Biometrika 52 (1965) 437, from memory.
"""

import math

import scipy

from fairsmoke.planning.errors import PlanError

MOST_PAIRS = 1_000_000


def paired_power(
    difference: float, sd: float, pairs: int, *, alpha: float = 0.05, two_sided: bool = True
) -> float | None:
    """Return the power of the paired t test, None with one pair, where there is no test.

    Args:
        difference: true mean difference, any unit. One-sided tests look for one above 0.
        sd: standard deviation of the differences of pairs, same unit, above 0.
        pairs: how many there are, 1 or more.
        alpha: level of the test.
        two_sided: whether a difference either way would be claimed.

    Raises:
        PlanError: a number out of range.

    >>> round(paired_power(0.5, 1.0, 34), 4)
    0.8078
    """
    _check(difference, sd, alpha)
    if pairs < 1:
        raise PlanError(f"there must be one pair or more, not {pairs}")
    if pairs == 1:
        return None
    freedom, shift = pairs - 1, difference / sd * math.sqrt(pairs)
    if two_sided:
        shift = abs(shift)
    edge = float(scipy.special.stdtrit(freedom, 1.0 - alpha / (2 if two_sided else 1)))
    # So far out that the distribution's code gives up, nothing is left of a tail.
    power = _or_else(float(scipy.stats.nct.sf(edge, freedom, shift)), 1.0 if shift > edge else 0.0)
    if two_sided:
        power += _or_else(float(scipy.stats.nct.cdf(-edge, freedom, shift)), 0.0)
    return min(1.0, power)


def _or_else(found: float, limit: float) -> float:
    return limit if math.isnan(found) else found


def pairs_needed(
    difference: float,
    sd: float,
    power: float = 0.8,
    *,
    alpha: float = 0.05,
    two_sided: bool = True,
) -> int:
    """Return the fewest pairs with which the paired t test has at least that power.

    Raises:
        PlanError: a number out of range, no difference, or more than a million pairs.

    >>> pairs_needed(0.5, 1.0)
    34
    """
    _check(difference, sd, alpha)
    if not alpha < power < 1.0:
        raise PlanError(f"power lies above alpha ({alpha}) and below 1, not at {power}")
    if difference == 0.0 or (difference < 0.0 and not two_sided):
        raise PlanError(f"no number of pairs finds a difference of {difference}; give one above 0")

    def reaches(pairs: int) -> bool:
        found = paired_power(difference, sd, pairs, alpha=alpha, two_sided=two_sided)
        return found is not None and found >= power

    high = 2
    while not reaches(high):
        high *= 2
        if high > MOST_PAIRS:
            raise PlanError(
                f"more than {MOST_PAIRS:,} pairs would be needed: the difference {difference} is "
                f"too small beside the spread {sd}"
            )
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reaches(middle) else (middle, high)
    return high


def smallest_found(
    sd: float, pairs: int, power: float = 0.8, *, alpha: float = 0.05, two_sided: bool = True
) -> float | None:
    """Return the smallest true difference found with that power; None with one pair.

    Raises:
        PlanError: a number out of range.

    """
    _check(1.0, sd, alpha)
    if pairs < 1:
        raise PlanError(f"there must be one pair or more, not {pairs}")
    if not alpha < power < 1.0:
        raise PlanError(f"power lies above alpha ({alpha}) and below 1, not at {power}")
    if pairs == 1:
        return None
    low, high = 0.0, 1.0

    def reached(times: float) -> float:
        found = paired_power(times, 1.0, pairs, alpha=alpha, two_sided=two_sided)
        assert found is not None
        return found

    while reached(high) < power:
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if reached(middle) >= power else (middle, high)
    return sd * high


def _check(difference: float, sd: float, alpha: float) -> None:
    if not math.isfinite(difference):
        raise PlanError(f"the true difference must be a number, not {difference}")
    if not (math.isfinite(sd) and sd > 0.0):
        raise PlanError(f"the spread of the differences must be above 0, not {sd}")
    if not 0.0 < alpha < 1.0:
        raise PlanError(f"alpha lies between 0 and 1, such as 0.05, not at {alpha}")
