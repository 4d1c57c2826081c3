"""The decision rule exactly at the probabilities asked for: arithmetic only, nothing is fitted."""

from typing import cast

import numpy as np
import pytest

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.rule import (
    DECIDING,
    NOT_SETTLED,
    ORDER,
    Analysis,
    DifferenceZone,
    Lean,
    VerdictKind,
    check_rule,
    decide,
    decide_many,
    lean_of,
    probabilities,
    sure_under,
)
from fairsmoke.trial.question import VerdictRule

USUAL, SCEPTICAL, DOUBLED = Analysis.USUAL, Analysis.SCEPTICAL, Analysis.DOUBLED
# Powers of two, so that each doubt is exact: 1 of 16, and 1 of 8 for the sceptic.
RULE = VerdictRule(sure=0.9375, hint=0.625, leaning=0.75)


def test_the_fixed_numbers_and_order() -> None:
    assert [int(one) for one in ORDER] == [1, 0, -1]
    assert ORDER == (DifferenceZone.ABOVE, DifferenceZone.WITHIN, DifferenceZone.BELOW)
    assert NOT_SETTLED not in [int(one) for one in DifferenceZone]
    assert NOT_SETTLED == 9
    assert DECIDING == (USUAL, SCEPTICAL)
    assert [str(one) for one in VerdictKind][:2] == ["better", "higher"]


@pytest.mark.parametrize(
    ("analysis", "asked"), [(USUAL, 0.9375), (SCEPTICAL, 0.875), (DOUBLED, 0.9375)]
)
def test_the_sceptic_may_have_twice_the_doubt(analysis: Analysis, asked: float) -> None:
    assert sure_under(analysis, 0.9375) == asked


@pytest.mark.parametrize("place", [0, 1, 2])
@pytest.mark.parametrize(
    ("usual", "sceptical", "holds"),
    [
        (0.9375, 0.875, (USUAL, SCEPTICAL)),
        (0.9374, 0.875, (SCEPTICAL,)),
        (0.9375, 0.8749, (USUAL,)),
        (0.9374, 0.8749, ()),
        (0.99, 0.1, (USUAL,)),
    ],
)
def test_settled_at_just_the_probability_asked_for(
    place: int, usual: float, sceptical: float, holds: tuple[Analysis, ...]
) -> None:
    def three(best: float) -> tuple[float, float, float]:
        # What is left lies at the next outcome, so that the sceptic's own best may be another.
        values = [0.0, 0.0, 0.0]
        values[place], values[(place + 1) % 3] = best, 1.0 - best
        return values[0], values[1], values[2]

    given = {USUAL: three(usual), SCEPTICAL: three(sceptical), DOUBLED: (0.2, 0.3, 0.5)}
    found = decide(given, RULE)
    settled = len(holds) == 2
    assert (found.likeliest, found.probability) == (ORDER[place], usual)
    assert found.outcome == (ORDER[place] if settled else None)
    assert found.lean is (Lean.SETTLED if settled else Lean.LEANING)
    assert found.holds == holds
    assert found.probabilities == given
    many = decide_many(
        np.array([three(usual), three(0.6)]), np.array([three(sceptical)] * 2), sure=0.9375
    )
    assert many.tolist() == [int(ORDER[place]) if settled else NOT_SETTLED, NOT_SETTLED]


@pytest.mark.parametrize("missing", DECIDING)
def test_a_deciding_analysis_left_out_is_refused(missing: Analysis) -> None:
    given = {one: (1.0, 0.0, 0.0) for one in Analysis if one is not missing}
    with pytest.raises(ComparisonError, match="needs all of usual, sceptical"):
        decide(given, RULE)
    decide(dict.fromkeys(DECIDING, (1.0, 0.0, 0.0)), RULE)


@pytest.mark.parametrize(
    ("probability", "lean"),
    [
        (0.6249, Lean.OPEN),
        (0.625, Lean.HINT),
        (0.7499, Lean.HINT),
        (0.75, Lean.LEANING),
        (1.0, Lean.LEANING),
    ],
)
def test_the_words_of_an_unsettled_probability(probability: float, lean: Lean) -> None:
    assert lean_of(probability, RULE) is lean


class _Two:
    """A posterior of two points, at -3 and at 2."""

    def __init__(self, below: float, above: float) -> None:
        self.below, self.above = below, above

    def prob_greater(self, value: float) -> float:
        return self.above if value < 2.0 else 0.0

    def cdf(self, value: float) -> float:
        return self.below if value >= -3.0 else 0.0


@pytest.mark.parametrize(
    ("below", "above", "worthwhile", "found"),
    [
        (0.25, 0.5, 1.0, (0.5, 0.25, 0.25)),
        (0.25, 0.5, 2.5, (0.0, 0.75, 0.25)),
        (0.25, 0.5, 4.0, (0.0, 1.0, 0.0)),
        # Two tails that rounding makes more than the whole leave nothing between.
        (0.5000001, 0.5, 1.0, (0.5, 0.0, 0.5000001)),
    ],
)
def test_three_outcomes_of_a_difference(
    below: float, above: float, worthwhile: float, found: tuple[float, float, float]
) -> None:
    assert probabilities(cast(Posterior, _Two(below, above)), worthwhile) == found


@pytest.mark.parametrize(
    ("worthwhile", "sure", "fits"),
    [
        (1e-9, 0.5001, True),
        (0.5, 0.9999, True),
        (0.0, 0.95, False),
        (-1.0, 0.95, False),
        (np.nan, 0.95, False),
        (np.inf, 0.95, False),
        (1.0, 0.5, False),
        (1.0, 1.0, False),
        (1.0, 0.3, False),
        (1.0, 2.0, False),
    ],
)
def test_what_a_rule_may_ask_for(worthwhile: float, sure: float, fits: bool) -> None:
    if fits:
        check_rule(worthwhile, sure)
    else:
        with pytest.raises(ComparisonError):
            check_rule(worthwhile, sure)
