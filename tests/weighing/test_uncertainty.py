"""The general machinery of uncertainty where no published example reaches."""

import numpy as np
import pytest

from fairsmoke.weighing.adjust import adjust
from fairsmoke.weighing.uncertainty import summarise, triangular

RNG_SEED = 1


@pytest.mark.parametrize(
    ("law", "mean", "variance"),
    [
        # Closed form of the triangle: (a² + b² + c² − ab − ac − bc) / 18.
        (triangular(0, 1, 4), 5 / 3, (16 + 1 - 4) / 18),
    ],
)
def test_inputs_have_their_moments(law: object, mean: float, variance: float) -> None:
    drawn = law.rvs(400_000, random_state=np.random.default_rng(RNG_SEED))  # type: ignore[attr-defined]
    assert np.mean(drawn) == pytest.approx(mean, abs=0.02)
    assert np.var(drawn) == pytest.approx(variance, rel=0.01)


def test_few_draws_are_refused() -> None:
    with pytest.raises(ValueError, match="too few"):
        summarise(np.zeros(99))


def test_draws_that_are_all_alike_have_no_width() -> None:
    result = summarise(np.full(100, 2.0))
    assert (result.mean, result.low, result.high, result.half_width) == (2.0, 2.0, 2.0, 0.0)


@pytest.mark.parametrize(
    ("count", "probability", "held", "low", "ranks"),
    [
        # JCGM 101 7.7.1: q = pM draws are held, (M - q) / 2 of them lie below.
        (1000, 0.95, 950, 25, 5),
        # 95 of 100 held, two of the five others below; sqrt(100 x 0.025 x 0.975) is 1.6.
        (100, 0.95, 95, 2, 2),
        (200, 0.5, 100, 50, 7),
        # At least one draw stays outside, so that both ends are draws.
        (100, 0.99, 99, 0, 1),
        (100, 1.0, 99, 0, 0),
    ],
)
@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_intervals_are_cut_off_by_order(
    count: int, probability: float, held: int, low: int, ranks: int, turned: float
) -> None:
    """Draws n² (or -n²) lie ever further apart: every place in their order has its own value."""
    squares = np.sort(turned * np.arange(count) ** 2.0)
    result = summarise(np.random.default_rng(RNG_SEED).permutation(squares), probability)
    high = low + held
    assert (result.low, result.high) == (squares[low], squares[high])
    assert result.half_width == (squares[high] - squares[low]) / 2
    # The shortest lies where the draws are close together (7.7.2).
    first = 0 if turned > 0 else count - held - 1
    assert (result.shortest_low, result.shortest_high) == (squares[first], squares[first + held])
    # An order statistic's rank has the standard deviation sqrt(M p (1 - p)): binomial.
    errors = [
        (squares[min(at + ranks, count - 1)] - squares[max(at - ranks, 0)]) / 2
        for at in (low, high)
    ]
    assert result.end_error == max(errors)


def test_the_95_per_cent_interval_is_the_usual_one() -> None:
    drawn = np.arange(1000.0)
    assert summarise(drawn) == summarise(drawn, 0.95)


def test_mean_and_standard_uncertainty_of_draws() -> None:
    # 0 ... 999: mean 499.5, variance n (n + 1) / 12 with n - 1 in the divisor (closed form).
    result = summarise(np.arange(1000.0))
    assert result.mean == 499.5
    assert result.standard_uncertainty == pytest.approx(np.sqrt(1000 * 1001 / 12), rel=1e-12)
    assert result.mean_error == pytest.approx(np.sqrt(1001 / 12), rel=1e-12)


def test_an_observation_needs_an_uncertainty() -> None:
    with pytest.raises(ValueError, match="above 0"):
        adjust(np.eye(1), np.ones(1), np.zeros(1))
