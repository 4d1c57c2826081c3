import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Layout, compare
from fairsmoke.judging.priors import Priors, SpreadPrior, defaults_for
from fairsmoke.judging.verdict import Direction, VerdictKind, one_pair_note, verdict


def normal(mean: float, sd: float) -> Posterior:
    return Posterior(np.ones(1), np.array([mean]), np.array([sd]))


@pytest.mark.parametrize(
    ("mean", "sd", "direction", "kind", "arm"),
    [
        (5.0, 1.0, Direction.HIGHER, VerdictKind.BETTER, "paper"),
        (5.0, 1.0, Direction.LOWER, VerdictKind.BETTER, "bare"),
        (5.0, 1.0, Direction.NEITHER, VerdictKind.HIGHER, "paper"),
        (-5.0, 1.0, Direction.HIGHER, VerdictKind.BETTER, "bare"),
        (-5.0, 1.0, Direction.NEITHER, VerdictKind.HIGHER, "bare"),
        (0.2, 0.5, Direction.HIGHER, VerdictKind.NO_DIFFERENCE, None),
        (2.5, 1.5, Direction.HIGHER, VerdictKind.NOT_SETTLED, None),
        # Surely above nought, yet not surely above what matters.
        (2.2, 0.5, Direction.HIGHER, VerdictKind.NOT_SETTLED, None),
    ],
)
def test_fixed_words(
    mean: float, sd: float, direction: Direction, kind: VerdictKind, arm: str | None
) -> None:
    found = verdict(normal(mean, sd), "paper", "bare", direction=direction, worthwhile=2.0)
    assert (found.kind, found.arm) == (kind, arm)
    assert found.kind in found.sentence
    assert sum(found.probabilities.values()) == pytest.approx(1.0)


def test_probabilities_are_those_of_the_posterior() -> None:
    found = verdict(normal(1.0, 2.0), "a", "b", direction=Direction.HIGHER, worthwhile=1.5)
    expected = stats.norm.sf(1.5, 1.0, 2.0), stats.norm.cdf(-1.5, 1.0, 2.0)
    assert found.probabilities[found.first_key] == pytest.approx(expected[0])
    assert found.probabilities[found.second_key] == pytest.approx(expected[1])


@pytest.mark.parametrize(("sure", "kind"), [(0.95, "better"), (0.99, "not settled")])
def test_sureness_is_the_line(sure: float, kind: str) -> None:
    just = normal(2.0 + stats.norm.ppf(0.96), 1.0)
    found = verdict(just, "a", "b", direction=Direction.HIGHER, worthwhile=2.0, sure=sure)
    assert found.kind == kind


def test_nothing_is_called_certain() -> None:
    found = verdict(normal(50.0, 1.0), "a", "b", direction=Direction.HIGHER, worthwhile=2.0)
    assert "over 99 %" in found.sentence
    assert "100" not in found.sentence


@pytest.mark.parametrize(
    ("worthwhile", "sure"), [(0.0, 0.95), (-1.0, 0.95), (1.0, 0.5), (1.0, 1.0)]
)
def test_bounds_are_checked(worthwhile: float, sure: float) -> None:
    with pytest.raises(ComparisonError):
        verdict(
            normal(0, 1), "a", "b", direction=Direction.HIGHER, worthwhile=worthwhile, sure=sure
        )


def test_one_pair_with_known_spread_has_textbook_numbers() -> None:
    """Known sd 2.5: difference of two alike pieces ~ N(0, 2 * 2.5^2), quantiles from scipy.

    And the posterior of the effect is the conjugate normal, so the settling difference d solves
    k d - z * sqrt(k * noise) = w with k = tau^2 / (tau^2 + noise), z = 1.6449.
    """
    priors = Priors(60.0, 15.0, 10.0, SpreadPrior.log_normal(2.5, 1.0))
    note = one_pair_note(1, priors, 2.0)
    noise = 2.0 * 2.5**2
    assert note.half_of_the_time == pytest.approx(stats.norm.ppf(0.75) * np.sqrt(noise), rel=1e-4)
    assert note.one_in_twenty == pytest.approx(stats.norm.ppf(0.975) * np.sqrt(noise), rel=1e-4)
    k = 100.0 / (100.0 + noise)
    expected = (2.0 + stats.norm.ppf(0.95) * np.sqrt(k * noise)) / k
    assert note.settles == pytest.approx(expected, rel=1e-3)
    assert not note.can_settle_no_difference


def test_the_settling_difference_settles_and_a_little_less_does_not() -> None:
    priors = defaults_for("yield")
    note = one_pair_note(1, priors, 0.02, apart=("position",))
    assert note.settles is not None
    two = np.array([0, 1])
    layout = Layout(two, ("a", "b"), {"position": two})
    for times, settled in ((1.01, True), (0.99, False)):
        y = 0.6 + np.array([0.5, -0.5]) * note.settles * times
        d = compare(y, layout, priors).difference("a", "b")
        assert (d.prob_greater(0.02) >= 0.95) is settled


def test_alike_pieces_by_drawing() -> None:
    """Outside check: draws with numpy of two pieces treated alike, spreads from their priors."""
    priors = defaults_for("yield")
    note = one_pair_note(1, priors, 0.02, apart=("position",), measurement_sd=0.003)
    rng = np.random.default_rng(4)
    n = 400_000
    piece = rng.lognormal(np.log(0.025), np.log(1.6), n)
    place = rng.lognormal(np.log(priors.groups["position"].size), np.log(2.0), n)
    drawn = np.abs(np.sqrt(2.0 * (piece**2 + place**2 + 0.003**2)) * rng.normal(size=n))
    half, twentieth = np.quantile(drawn, [0.5, 0.95])
    assert note.half_of_the_time == pytest.approx(half, rel=0.01)
    assert note.one_in_twenty == pytest.approx(twentieth, rel=0.01)


def test_nothing_settles_where_a_large_difference_speaks_for_a_large_spread() -> None:
    priors = Priors(60.0, 15.0, 2.0, SpreadPrior.log_normal(2.5, 2.5))
    note = one_pair_note(1, priors, 2.0)
    assert note.settles is None
    assert any("however large" in sentence for sentence in note.sentences)


def test_no_difference_can_be_settled_where_pieces_hardly_differ() -> None:
    priors = Priors(60.0, 15.0, 10.0, SpreadPrior.log_normal(0.2, 1.2))
    assert one_pair_note(1, priors, 2.0).can_settle_no_difference


def test_note_says_the_numbers_in_words() -> None:
    text = " ".join(one_pair_note(1, defaults_for("yield"), 0.02).sentences)
    assert "one pair only" in text
    assert "2.5 points" in text
    assert "half of the time" in text
    assert "one time in twenty" in text
    assert "One of the 3 pairs" in one_pair_note(3, defaults_for("yield"), 0.02).sentences[0]


def test_no_pair_is_refused() -> None:
    with pytest.raises(ComparisonError, match="at least one pair"):
        one_pair_note(0, defaults_for("yield"), 0.02)
