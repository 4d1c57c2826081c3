"""One odd value among eight: the worked example of Grubbs' test in the NIST/SEMATECH e-Handbook.

Section 1.3.5.17.1: uranium isotopes of Tietjen and Moore, G = 2.4687 for the largest (data and
figure from memory). The odds that the model gives a piece of being odd are, at a known spread and
with the level open, a function of that piece's standardised residual alone, so that the published
statistic can be read back from them.
"""

import numpy as np
import pytest

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.model import compare
from fairsmoke.judging.priors import OddPiece, Priors, SpreadPrior

VALUES = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
GRUBBS = 2.4687
ONE_GROUP = ComparisonLayout(np.arange(8) % 2, ("a", "b"))


def test_the_odds_of_being_odd_are_those_of_the_published_statistic() -> None:
    s, n = float(np.std(VALUES, ddof=1)), len(VALUES)
    odd = OddPiece(0.02, 5.0 * s)
    priors = Priors(210.0, 1e5, 1e-4, SpreadPrior.log_normal(s, 1.0), odd=odd)
    found = compare(VALUES, ONE_GROUP, priors)
    log_odds = np.log(found.odd / (1.0 - found.odd.sum())) - np.log(odd.odds(n))
    # By hand: with v = 25 (1 - 1/n), 2 log odds = v / (1 + v) r² - log(1 + v), r² = G² / (1 - 1/n).
    v = 25.0 * (1.0 - 1.0 / n)
    squared = (2.0 * log_odds + np.log1p(v)) * (1.0 + v) / v
    statistic = np.sqrt(squared * (1.0 - 1.0 / n))
    assert int(np.argmax(found.odd)) == 7
    assert statistic[7] == pytest.approx(GRUBBS, abs=5e-4)


def test_the_odd_value_hardly_moves_the_level() -> None:
    """With the spread open the others speak: their mean is 200.84 (by hand), that of all 206.43."""
    priors = Priors(205.0, 50.0, 1e-3, SpreadPrior.log_normal(2.0, 1.8), odd=OddPiece(0.02, 20.0))
    found = compare(VALUES, ONE_GROUP, priors)
    assert found.odd[7] > 0.99
    assert found.arm_level("a").mean == pytest.approx(VALUES[:7].mean(), abs=0.3)
