"""The general machinery of uncertainty where no published example reaches."""

import math

import numpy as np
import pytest

from fairsmoke.weighing.adjust import adjust
from fairsmoke.weighing.uncertainty import (
    CurvilinearTrapezoid,
    FloatArray,
    arc_sine,
    coverage_factor,
    effective_dof,
    scaled_t,
    second_order_variance,
    sensitivities,
    summarise,
    triangular,
)

RNG_SEED = 1


def test_an_input_without_uncertainty_gives_nothing() -> None:
    def model(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] * x[1])

    slope = sensitivities(model, np.array([2.0, 3.0]), np.array([0.1, 0.0]))
    assert slope == pytest.approx([3.0, 0.0])


def test_sensitivities_of_a_curved_model() -> None:
    def model(x: FloatArray) -> FloatArray:
        return np.asarray(np.exp(x[0]) / x[1] ** 2)

    slope = sensitivities(model, np.array([0.5, 2.0]), np.array([0.2, 0.1]))
    assert slope == pytest.approx([np.exp(0.5) / 4, -2 * np.exp(0.5) / 8], rel=1e-6)


def test_the_next_order_of_a_cubic_by_hand() -> None:
    # f = x³ + x y² at (2, 1): f_x = 13, f_y = 4, f_xx = 12, f_xy = 2, f_yy = 4, f_xxx = 6,
    # f_xyy = 2 and no other third derivative. With u = (.1, .2):
    # xx: (144 / 2 + 13 · 6) u_x⁴; xy: (2 + 13 · 2) u_x² u_y²; yx: 2 u_x² u_y²; yy: (8 + 0) u_y⁴.
    def model(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] ** 3 + x[0] * x[1] ** 2)

    expected = 150 * 1e-4 + 28 * 4e-4 + 2 * 4e-4 + 8 * 16e-4
    found = second_order_variance(model, np.array([2.0, 1.0]), np.array([0.1, 0.2]))
    assert found == pytest.approx(expected, rel=1e-6)


def test_exact_uncertainties_have_endless_degrees_of_freedom() -> None:
    dof = effective_dof(np.array([1.0, 2.0]), np.array([np.inf, np.inf]))
    assert math.isinf(dof)
    assert coverage_factor(0.95, dof) == pytest.approx(1.959964, abs=1e-6)


def test_degrees_of_freedom_are_cut_not_rounded() -> None:
    # Student's t at 95 % on 4 degrees of freedom is 2.776 in every table.
    assert coverage_factor(0.95, 4.99) == pytest.approx(2.776, abs=5e-4)


@pytest.mark.parametrize(
    ("law", "mean", "variance"),
    [
        # Closed forms: triangle (a² + b² + c² − ab − ac − bc) / 18; arc sine half-width² / 2;
        # t scale² ν / (ν − 2); trapezoid half-width² / 3 + inexactness² / 9 (JCGM 101 6.4.3.3).
        (triangular(0, 1, 4), 5 / 3, (16 + 1 - 4) / 18),
        (arc_sine(-1, 3), 1.0, 2.0),
        (scaled_t(2, 3, 10), 2.0, 9 * 10 / 8),
        (CurvilinearTrapezoid(-1, 3, 0.5), 1.0, 4 / 3 + 0.25 / 9),
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
