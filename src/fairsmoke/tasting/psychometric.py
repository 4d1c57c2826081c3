"""Probability of a correct answer by how far two products lie apart (Thurstone's d′), and back.

Each sample is felt with normal noise of standard deviation 1; two products' means lie d′ apart. A
taster of a triangle or tetrad puts together what feels nearest, of a duo–trio names what feels
nearer to the reference, of a paired comparison what feels more.

Source of the functions: Ennis, Journal of Sensory Studies 8 (1993) 353, for all but the tetrad;
Ennis, Ennis, Palen and Lampe, Quantitative Marketing 1998 (from memory) for the tetrad. Values are
checked against those printed with an independent package (tests/published/test_taste_tests.py).
"""

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.tasting.errors import TastingError
from fairsmoke.tasting.protocols import TasteTest

FloatArray = NDArray[np.float64]

LARGEST = 12.0
"""A d′ beyond which every answer is correct to twelve digits."""

# Smooth integrands over a stretch outside of which the normal density is below 1e-17.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(240)
_REACH = 8.6


def _phi(x: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * x * x) / np.sqrt(2.0 * np.pi))


def _grid(low: float, high: float) -> tuple[FloatArray, FloatArray]:
    half = 0.5 * (high - low)
    return half * _NODES + 0.5 * (high + low), half * _WEIGHTS


def correct_probability(test: TasteTest, d_prime: float) -> float:
    """Return the probability of a correct answer at d′ (from 0).

    Raises:
        TastingError: a negative d′.

    >>> round(correct_probability(TasteTest.TETRAD, 1.0), 6)
    0.493808
    """
    d = _checked(d_prime)
    cdf = scipy.special.ndtr
    match test:
        case TasteTest.PAIRED:
            return float(cdf(d / np.sqrt(2.0)))
        case TasteTest.DUO_TRIO:
            near, far = cdf(d / np.sqrt(2.0)), cdf(d / np.sqrt(6.0))
            return float(1.0 - near - far + 2.0 * near * far)
        case TasteTest.TRIANGLE:
            z, weights = _grid(0.0, _REACH)
            away, shift = z * np.sqrt(3.0), d * np.sqrt(2.0 / 3.0)
            both = cdf(-away + shift) + cdf(-away - shift)
            return float(2.0 * np.sum(weights * both * _phi(z)))
        case TasteTest.TETRAD:
            x, weights = _grid(-_REACH, _REACH)
            other = cdf(x - d)
            return float(1.0 - 2.0 * np.sum(weights * _phi(x) * (2.0 * cdf(x) * other - other**2)))


def slope(test: TasteTest, d_prime: float) -> float:
    """Return how fast the probability of a correct answer rises with d′.

    Raises:
        TastingError: a negative d′.

    """
    d = _checked(d_prime)
    cdf, two, six = scipy.special.ndtr, np.sqrt(2.0), np.sqrt(6.0)
    match test:
        case TasteTest.PAIRED:
            return float(_phi(np.asarray(d / two)) / two)
        case TasteTest.DUO_TRIO:
            near, far = _phi(np.asarray(d / two)) / two, _phi(np.asarray(d / six)) / six
            return float(-near - far + 2.0 * (near * cdf(d / six) + cdf(d / two) * far))
        case TasteTest.TRIANGLE:
            z, weights = _grid(0.0, _REACH)
            away, shift = z * np.sqrt(3.0), d * np.sqrt(2.0 / 3.0)
            rise = np.sqrt(2.0 / 3.0) * (_phi(-away + shift) - _phi(-away - shift))
            return float(2.0 * np.sum(weights * rise * _phi(z)))
        case TasteTest.TETRAD:
            x, weights = _grid(-_REACH, _REACH + d)
            rise = _phi(x) * _phi(x - d) * (cdf(x) - cdf(x - d))
            return float(4.0 * np.sum(weights * rise))


def d_prime_of(test: TasteTest, probability: float) -> float:
    """Return the d′ at which answers are correct with a probability.

    At or below the probability of guessing it is 0, at 1 infinite.

    Raises:
        TastingError: a probability outside 0 to 1.

    >>> round(d_prime_of(TasteTest.TRIANGLE, 0.6), 4)
    1.9756
    """
    if not 0.0 <= probability <= 1.0:
        raise TastingError(f"a probability lies from 0 to 1, not at {probability}")
    if probability <= test.guess:
        return 0.0
    if probability >= correct_probability(test, LARGEST):
        return float("inf")
    return float(
        scipy.optimize.brentq(
            lambda d: correct_probability(test, d) - probability, 0.0, LARGEST, xtol=1e-13
        )
    )


def _checked(d_prime: float) -> float:
    if not d_prime >= 0.0:
        raise TastingError(f"d′ is a distance, 0 or more, not {d_prime}")
    return min(d_prime, 2.0 * LARGEST)
