"""The decision rule, and what one pair can tell by it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.analyses import Analyses, ManyAnalyses
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.one_pair import one_pair_numbers
from fairsmoke.judging.priors import Priors, SpreadPrior, defaults_for
from fairsmoke.judging.rule import (
    DECIDING,
    NOT_SETTLED,
    Analysis,
    DifferenceZone,
    Lean,
    check_rule,
    decide,
    decide_many,
)
from fairsmoke.telling.finding.answer import sure_percent
from fairsmoke.trial.question import VerdictRule

RULE = VerdictRule()
PAIR = ComparisonLayout(np.array([0, 1]), ("a", "b"))


def both(usual: float, sceptical: float) -> dict[Analysis, tuple[float, float, float]]:
    """The probability of being above under each deciding analysis, the rest within."""
    chances = zip(DECIDING, (usual, sceptical), strict=True)
    return {key: (p, 1.0 - p, 0.0) for key, p in chances}


@pytest.mark.parametrize(
    ("chances", "outcome", "lean"),
    [
        ((0.95, 0.901), DifferenceZone.ABOVE, Lean.SETTLED),
        ((0.99, 0.899), None, Lean.LEANING),
        ((0.949, 0.99), None, Lean.LEANING),
        ((0.80, 0.5), None, Lean.LEANING),
        ((0.79, 0.5), None, Lean.HINT),
        ((0.60, 0.5), None, Lean.HINT),
        ((0.59, 0.5), None, Lean.OPEN),
        ((0.02, 0.08), DifferenceZone.WITHIN, Lean.SETTLED),
    ],
)
def test_settled_leaves_the_sceptic_at_most_twice_the_doubt(
    chances: tuple[float, float], outcome: DifferenceZone | None, lean: Lean
) -> None:
    found = decide(both(*chances), RULE)
    assert (found.outcome, found.lean) == (outcome, lean)


def test_the_words_are_those_of_the_registered_rule() -> None:
    rule = VerdictRule(sure=0.9, hint=0.7, leaning=0.85)
    assert decide(both(0.84, 0.8), rule).lean is Lean.HINT
    assert decide(both(0.91, 0.81), rule).outcome is DifferenceZone.ABOVE
    with pytest.raises(ValueError, match="hint"):
        VerdictRule(hint=0.9, leaning=0.8)


def test_many_trials_are_decided_as_one_is() -> None:
    rng = np.random.default_rng(2)
    usual, sceptical = rng.dirichlet((0.3, 0.3, 0.3), (2, 500))
    kinds = decide_many(usual, sceptical, sure=0.9)
    rule = VerdictRule(sure=0.9)
    for at, kind in enumerate(kinds):
        found = {
            key: tuple(one[at].tolist())
            for key, one in zip(DECIDING, (usual, sceptical), strict=True)
        }
        one = decide(found, rule).outcome
        assert (NOT_SETTLED if one is None else int(one)) == kind


def test_an_analysis_left_out_is_refused() -> None:
    with pytest.raises(ComparisonError, match="needs all"):
        decide({Analysis.USUAL: (1.0, 0.0, 0.0)}, RULE)


@pytest.mark.parametrize(
    ("worthwhile", "sure"), [(0.0, 0.95), (-1.0, 0.95), (1.0, 0.5), (1.0, 1.0)]
)
def test_bounds_are_checked(worthwhile: float, sure: float) -> None:
    with pytest.raises(ComparisonError):
        check_rule(worthwhile, sure)


def test_percentages_never_round_across_the_line_that_decides() -> None:
    assert str(sure_percent(0.9496, 0.95)) == "94 %"
    assert str(sure_percent(0.9502, 0.95)) == "95 %"
    assert str(sure_percent(0.9746, 0.975)) == "97 %"
    assert str(sure_percent(0.9999, 0.95)) == "over 99 %"


def test_one_pair_with_known_spread_has_textbook_numbers() -> None:
    """Known sd 1: difference of two alike pieces ~ N(0, 2), quantiles from scipy.

    The posterior is the conjugate normal, k = t2 / (t2 + noise) with mean k d and variance
    k noise. It has to pass 95 % above w under the usual prior, and 90 % under the sceptic's (0.4 of
    its sd, twice the spread): d = (w + z sqrt(k noise)) / k, the larger of the two.
    """
    priors = Priors(60.0, 15.0, 10.0, SpreadPrior.log_normal(1.0, 1.0))
    note = one_pair_numbers(priors, 2.0)
    assert note.half_of_the_time == pytest.approx(stats.norm.ppf(0.75) * np.sqrt(2), rel=1e-4)
    assert note.one_in_twenty == pytest.approx(stats.norm.ppf(0.975) * np.sqrt(2), rel=1e-4)
    needed = []
    for difference_sd, noise, sure in ((10.0, 2.0, 0.95), (4.0, 8.0, 0.90)):
        k = difference_sd**2 / (difference_sd**2 + noise)
        needed.append((2.0 + stats.norm.ppf(sure) * np.sqrt(k * noise)) / k)
    assert note.settles == pytest.approx(max(needed), rel=5e-3)
    assert not note.can_settle_no_difference


def test_one_pair_of_unrelated_pieces_settles_nothing() -> None:
    note = one_pair_numbers(defaults_for("yield"), 0.02, apart=("position",))
    assert note.settles is None
    assert not note.can_settle_no_difference


def test_a_small_known_spread_lets_one_pair_settle_and_a_little_less_does_not() -> None:
    priors = replace(defaults_for("yield"), piece=SpreadPrior.log_normal(0.004, 1.2))
    note = one_pair_numbers(priors, 0.02)
    assert note.settles is not None
    for times, settled in ((1.02, True), (0.97, False)):
        y = 0.6 + np.array([0.5, -0.5]) * note.settles * times
        found = Analyses.of(y, PAIR, priors, np.zeros((2, 2))).decision("a", "b", 0.02, RULE)
        assert (found.outcome is DifferenceZone.ABOVE) is settled


def test_no_difference_can_be_settled_where_pieces_hardly_differ() -> None:
    priors = Priors(60.0, 15.0, 10.0, SpreadPrior.log_normal(0.2, 1.2))
    assert one_pair_numbers(priors, 2.0).can_settle_no_difference


def test_alike_pieces_by_drawing() -> None:
    """Outside check: draws with numpy of two pieces treated alike, spreads from their priors."""
    priors = defaults_for("yield")
    note = one_pair_numbers(priors, 0.02, apart=("position",), measurement_sd=0.003)
    rng = np.random.default_rng(4)
    n = 400_000
    piece = rng.lognormal(np.log(0.030), np.log(1.8), n)
    place = rng.lognormal(np.log(priors.groups["position"].size), np.log(2.0), n)
    drawn = np.abs(np.sqrt(2.0 * (piece**2 + place**2 + 0.003**2)) * rng.normal(size=n))
    half, twentieth = np.quantile(drawn, [0.5, 0.95])
    assert note.half_of_the_time == pytest.approx(half, rel=0.01)
    assert note.one_in_twenty == pytest.approx(twentieth, rel=0.01)


def test_the_spread_that_would_settle_it_does_and_a_larger_one_does_not() -> None:
    priors = defaults_for("yield", factors=())
    layout = ComparisonLayout(np.array([0, 1, 0, 1, 0, 1]), ("a", "b"))
    values = np.array([0.65, 0.60, 0.66, 0.62, 0.64, 0.59])
    found = Analyses.of(values, layout, priors, np.zeros((6, 6)))
    assert found.decision("a", "b", 0.02, RULE).outcome is None
    edge = found.settling_spread("a", "b", 0.02, RULE, DifferenceZone.ABOVE)
    assert edge is not None
    for times, settled in ((0.97, True), (1.03, False)):
        known = replace(priors, piece=SpreadPrior.log_normal(edge * times, 1.0))
        usual, sceptical = (
            Analyses.of(values, layout, own, np.zeros((6, 6)))
            .differences("a", "b")[Analysis.USUAL]
            .prob_greater(0.02)
            for own in (known, known.sceptical())
        )
        assert (usual >= 0.95 and sceptical >= 0.90) is settled


def test_one_odd_piece_pulls_less_than_it_would_alone() -> None:
    """A model without odd pieces follows a piece 15 points off; the model used does not."""
    layout = ComparisonLayout(np.tile([0, 1], 6), ("a", "b"))
    values = np.tile([0.62, 0.60], 6) + np.array([0, 1, -1, 0, 1, 0, 0, -1, 0, 1, 0, 0]) * 0.01
    values[0] += 0.15
    priors = defaults_for("yield", factors=())
    robust = Analyses.of(values, layout, priors, np.zeros((12, 12)))
    plain = Analyses.of(values, layout, replace(priors, odd=None), np.zeros((12, 12)))
    means = [one.usual.difference("a", "b").mean for one in (robust, plain)]
    assert abs(means[0] - 0.02) < 0.5 * abs(means[1] - 0.02)
    assert robust.usual.odd[0] > 0.9
    assert robust.usual.odd[1:].max() < 0.05


def test_many_intervals_are_those_of_one_record() -> None:
    layout = ComparisonLayout(
        np.tile([0, 1], 3), ("a", "b"), {"position": np.array([0, 1, 1, 0, 0, 1])}
    )
    priors = defaults_for("yield", factors=("position",))
    rng = np.random.default_rng(6)
    data = 0.6 + rng.normal(0, 0.04, (5, 6))
    many = ManyAnalyses.of(layout, priors)
    for values, ends in zip(data, many.interval(data, 0.95), strict=True):
        one = Analyses.of(values, layout, priors, np.zeros((6, 6)))
        assert ends == pytest.approx(one.interval("a", "b", 0.95), abs=0.002)
    inside = many.covers(data, np.zeros(5), 0.95)
    expected = [low <= 0 <= high for low, high in many.interval(data, 0.95)]
    assert inside.tolist() == expected
