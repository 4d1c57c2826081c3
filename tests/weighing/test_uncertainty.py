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


def test_an_observation_needs_an_uncertainty() -> None:
    with pytest.raises(ValueError, match="above 0"):
        adjust(np.eye(1), np.ones(1), np.zeros(1))
