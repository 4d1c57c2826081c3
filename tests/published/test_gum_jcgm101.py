"""Worked examples of JCGM 101:2008 clause 9, the Monte Carlo supplement to the GUM.

9.2 and 9.3: inputs and results as carried by open metrology packages (keys SUN and PROP of our
references). 9.5: results as quoted by a paper on digital certificates; its inputs from memory.
"""

import numpy as np
import pytest

from fairsmoke.weighing.uncertainty import (
    CurvilinearTrapezoid,
    FloatArray,
    arc_sine,
    monte_carlo,
    normal,
    propagate,
    rectangular,
    scaled_t,
    second_order_variance,
    sensitivities,
    summarise,
    triangular,
)

DRAWS = 1_000_000
ROOT3 = np.sqrt(3.0)


def total(x: FloatArray) -> FloatArray:
    return np.asarray(x.sum(axis=0))


def test_9_2_2_sum_of_four_normal_inputs() -> None:
    drawn = monte_carlo(total, [normal(0, 1)] * 4, DRAWS, np.random.default_rng(1))
    result = summarise(drawn)
    assert result.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert [result.low, result.high] == pytest.approx([-3.92, 3.92], abs=0.02)
    assert [result.shortest_low, result.shortest_high] == pytest.approx([-3.92, 3.92], abs=0.06)


def test_9_2_3_sum_of_four_rectangular_inputs() -> None:
    drawn = monte_carlo(total, [rectangular(-ROOT3, ROOT3)] * 4, DRAWS, np.random.default_rng(2))
    result = summarise(drawn)
    assert result.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert [result.low, result.high] == pytest.approx([-3.88, 3.88], abs=0.02)


def test_9_2_4_one_rectangular_input_ten_times_as_wide() -> None:
    # Published ±17.0 and 10.1: from memory, agreeing with an independent computation.
    inputs = [rectangular(-ROOT3, ROOT3)] * 3 + [rectangular(-10 * ROOT3, 10 * ROOT3)]
    result = summarise(monte_carlo(total, inputs, DRAWS, np.random.default_rng(3)))
    assert result.standard_uncertainty == pytest.approx(10.1, abs=0.06)
    assert [result.low, result.high] == pytest.approx([-17.0, 17.0], abs=0.05)


# 9.3, mg and kg/m³: mass of the reference, of the added small weight, air, weight and reference.
MASS = np.array([100_000, 1.234, 1.20, 8000, 8000])
MASS_U = np.array([0.050, 0.020, 0.10 / ROOT3, 1000 / ROOT3, 50 / ROOT3])
MASS_INPUTS = [
    normal(100_000, 0.050),
    normal(1.234, 0.020),
    rectangular(1.10, 1.30),
    rectangular(7000, 9000),
    rectangular(7950, 8050),
]


def mass_deviation(x: FloatArray) -> FloatArray:
    reference, added, air, weight, standard = x
    buoyancy = 1 + (air - 1.2) * (1 / weight - 1 / standard)
    return np.asarray((reference + added) * buoyancy - 100_000)


def test_9_3_mass_calibration_is_beyond_first_order() -> None:
    slope = sensitivities(mass_deviation, MASS, MASS_U)
    first = float(propagate(slope, np.diag(MASS_U**2))[0, 0])
    assert mass_deviation(MASS[:, None])[0] == pytest.approx(1.2340, abs=5e-5)
    assert np.sqrt(first) == pytest.approx(0.0539, abs=5e-5)
    # Second order .0750: from memory, agreeing with an independent computation.
    second = second_order_variance(mass_deviation, MASS, MASS_U)
    assert np.sqrt(first + second) == pytest.approx(0.0750, abs=5e-5)
    drawn = monte_carlo(mass_deviation, MASS_INPUTS, DRAWS, np.random.default_rng(4))
    result = summarise(drawn)
    # Published .0754, shortest [1.0834, 1.3825]: from memory. An independent computation with
    # 4·10⁶ draws gives .07548, shortest [1.0848, 1.3841], symmetric [1.0844, 1.3837].
    assert result.mean == pytest.approx(1.2340, abs=4e-4)
    assert result.standard_uncertainty == pytest.approx(0.0754, abs=2e-4)
    assert [result.low, result.high] == pytest.approx([1.0844, 1.3837], abs=1e-3)
    assert [result.shortest_low, result.shortest_high] == pytest.approx([1.0834, 1.3825], abs=4e-3)


def test_9_5_gauge_block() -> None:
    def model(x: FloatArray) -> FloatArray:
        length, mean, random, systematic, alpha, theta, swing, d_alpha, d_theta = x
        change = d_alpha * (theta + swing) + alpha * d_theta
        return np.asarray(length + mean + random + systematic - length * change - 50_000_000)

    inputs = [
        scaled_t(50_000_623, 25, 18),
        scaled_t(215, 6, 24),
        scaled_t(0, 4, 5),
        scaled_t(0, 7, 8),
        rectangular(9.5e-6, 13.5e-6),
        normal(-0.1, 0.2),
        arc_sine(-0.5, 0.5),
        CurvilinearTrapezoid(-1.0e-6, 1.0e-6, 0.1e-6),
        CurvilinearTrapezoid(-0.050, 0.050, 0.025),
    ]
    result = summarise(monte_carlo(model, inputs, DRAWS, np.random.default_rng(5)), 0.99)
    assert result.mean == pytest.approx(838, abs=0.5)
    assert result.standard_uncertainty == pytest.approx(36, abs=0.5)
    assert [result.low, result.high] == pytest.approx([745, 932], abs=1.0)


def test_triangular_input_is_the_sum_of_two_rectangular_ones() -> None:
    # JCGM 101 6.4.5 (from memory): two equal rectangular inputs add to a triangle, u = a/√6.
    law = triangular(-1.0, 0.0, 1.0)
    result = summarise(law.rvs(DRAWS, random_state=np.random.default_rng(6)))
    assert result.standard_uncertainty == pytest.approx(1 / np.sqrt(6), rel=0.002)
    assert result.high == pytest.approx(1 - np.sqrt(0.05), abs=0.002)
