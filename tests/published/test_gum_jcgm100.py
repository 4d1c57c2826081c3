"""Worked examples of the GUM, JCGM 100:2008 annexes F, G and H.

Inputs and results as carried by open metrology packages (keys PROP, GTC, SUN of our references),
retyped; what was not seen there is marked "from memory".
"""

import numpy as np
import pytest

from fairsmoke.trial.weighing import Scale, Weighing
from fairsmoke.weighing.adjust import adjust
from fairsmoke.weighing.system import build_system
from fairsmoke.weighing.uncertainty import (
    FloatArray,
    coverage_factor,
    effective_dof,
    propagate,
    second_order_variance,
    sensitivities,
)

# H.1: length of the standard, nm; mean difference, nm; difference of expansion coefficients, 1/°C;
# temperature deviation, °C; expansion coefficient, 1/°C; temperature difference, °C.
END_GAUGE = np.array([50_000_623, 215, 0, -0.1, 11.5e-6, 0])
END_GAUGE_U = np.array([25, 9.7, 0.58e-6, 0.41, 1.2e-6, 0.029])
END_GAUGE_DOF = np.array([18, 25.6, 50, np.inf, np.inf, 2])


def end_gauge(x: FloatArray) -> FloatArray:
    length, difference, d_alpha, theta, alpha, d_theta = x
    return np.asarray(length + difference - length * (d_alpha * theta + alpha * d_theta))


def test_h1_end_gauge_first_order() -> None:
    slope = sensitivities(end_gauge, END_GAUGE, END_GAUGE_U)
    contributions = slope * END_GAUGE_U
    u = float(np.sqrt(propagate(slope, np.diag(END_GAUGE_U**2))[0, 0]))
    assert end_gauge(END_GAUGE[:, None])[0] == pytest.approx(50_000_838, abs=0.5)
    assert u == pytest.approx(32, abs=0.5)
    assert np.abs(contributions) == pytest.approx([25, 9.7, 2.9, 0, 0, 16.7], abs=0.05)
    dof = effective_dof(contributions, END_GAUGE_DOF)
    assert int(dof) == 16
    # The guide multiplies the rounded 32 nm; the unrounded product is 92.6.
    assert coverage_factor(0.99, dof) == pytest.approx(2.92, abs=0.005)
    assert coverage_factor(0.99, dof) * round(u) == pytest.approx(93, abs=0.5)


def test_h1_end_gauge_second_order() -> None:
    slope = sensitivities(end_gauge, END_GAUGE, END_GAUGE_U)
    first = float(propagate(slope, np.diag(END_GAUGE_U**2))[0, 0])
    more = second_order_variance(end_gauge, END_GAUGE, END_GAUGE_U)
    assert np.sqrt(first + more) == pytest.approx(34, abs=0.5)
    # Only the two products of H.1.7 are left, worked out by hand from the same inputs.
    by_hand = 50_000_623 * np.hypot(0.58e-6 * 0.41, 1.2e-6 * 0.029)
    assert np.sqrt(more) == pytest.approx(by_hand, rel=1e-6)


def test_h1_unrounded_inputs() -> None:
    # GTC: d from 5.8 (24 dof), 3.9 (5) and 6.7 (8).
    parts, dof = np.array([5.8, 3.9, 6.7]), np.array([24.0, 5.0, 8.0])
    assert np.sqrt(np.sum(parts**2)) == pytest.approx(9.68194195397, abs=5e-12)
    assert effective_dof(parts, dof) == pytest.approx(25.4472507774, abs=5e-11)


# H.2: voltage V, current A, phase rad; the single rows are from memory and give the summary seen.
VOLTAGE = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
CURRENT = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) / 1000
PHASE = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def test_h2_resistance_and_reactance_with_correlated_inputs() -> None:
    seen = np.stack([VOLTAGE, CURRENT, PHASE])
    mean, covariance = seen.mean(axis=1), np.cov(seen) / seen.shape[1]
    u = np.sqrt(np.diag(covariance))
    assert mean == pytest.approx([4.999, 19.661e-3, 1.04446], rel=1e-6)
    assert u == pytest.approx([3.2e-3, 9.5e-6, 7.5e-4], rel=0.01)

    def resistance(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] / x[1] * np.cos(x[2]))

    def reactance(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] / x[1] * np.sin(x[2]))

    def impedance(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] / x[1])

    models = (resistance, reactance, impedance)
    values = [model(mean[:, None])[0] for model in models]
    assert values == pytest.approx([127.732, 219.847, 254.260], abs=5e-4)
    result = propagate(np.stack([sensitivities(m, mean, u) for m in models]), covariance)
    spread = np.sqrt(np.diag(result))
    assert spread == pytest.approx([0.071, 0.295, 0.236], abs=6e-4)
    correlation = result / np.outer(spread, spread)
    assert correlation[0, 1:] == pytest.approx([-0.588, -0.485], abs=5e-4)
    assert correlation[1, 2] == pytest.approx(0.993, abs=6e-4)


THERMOMETER_C = np.array(
    [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
)
CORRECTION_C = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)


def test_h3_calibration_line_through_the_solver_of_the_ledger() -> None:
    design = np.column_stack([np.ones(11), THERMOMETER_C - 20])
    line = adjust(design, CORRECTION_C, np.ones(11))
    spread = float(np.sum(line.residual**2)) / 9
    covariance = spread * line.gain @ line.gain.T
    u = np.sqrt(np.diag(covariance))
    assert line.best == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert u == pytest.approx([0.0029, 0.00067], abs=5e-5)
    assert covariance[0, 1] / np.prod(u) == pytest.approx(-0.930, abs=5e-4)
    assert np.sqrt(spread) == pytest.approx(0.0035, abs=5e-5)
    at_30 = np.array([1.0, 10.0])
    assert at_30 @ line.best == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(propagate(at_30, covariance)[0, 0]) == pytest.approx(0.0041, abs=5e-5)


@pytest.mark.parametrize(("step_g", "u_g"), [(1, 0.29), (5, 1.44)])
def test_f22_a_step_of_the_display_gives_0_29_of_itself(step_g: float, u_g: float) -> None:
    scale = Scale(id="s", name="s", resolution_kg=step_g / 1000)
    weighing = Weighing(id="w", scale="s", reading_kg=1.0, sum=["tray"])
    seen = build_system([weighing], [scale]).observations[0]
    assert 1000 * seen.standard_uncertainty_kg == pytest.approx(u_g, abs=0.005)


def test_effective_degrees_of_freedom_with_one_exact_part() -> None:
    # Teaching example carried by key SUN: 0.57 on 9 degrees of freedom and 0.25 taken as exact.
    assert effective_dof(np.array([0.57, 0.25]), np.array([9, np.inf])) == pytest.approx(
        12.8, abs=0.05
    )


def test_x_ray_ratio_with_degrees_of_freedom() -> None:
    # Teaching example carried by key SUN: y = x1 / x2 · 0.6978; its slides round on the way.
    x, u = np.array([0.1820, 0.1823, 0.6978]), np.array([0.00093, 0.00058, 0.0026])

    def model(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] / x[1] * x[2])

    parts = sensitivities(model, x, u) * u
    combined = float(np.sqrt(np.sum(parts**2)))
    dof = effective_dof(parts, np.array([9.0, 19.0, 19.0]))
    assert combined == pytest.approx(0.00494, abs=1e-5)
    assert dof == pytest.approx(27.7, abs=0.5)
    assert coverage_factor(0.95, dof) * combined == pytest.approx(0.0101, abs=5e-5)


def test_thermal_expansion_of_nist_tn_1900_e13() -> None:
    # NIST Technical Note 1900, example E13, values as carried by key SUN.
    x = np.array([1.4999, 288.15, 1.5021, 373.10])
    u = np.array([0.0001, 0.02, 0.0002, 0.05])

    def model(x: FloatArray) -> FloatArray:
        return np.asarray((x[2] - x[0]) / (x[0] * (x[3] - x[1])))

    slope = sensitivities(model, x, u)
    assert model(x[:, None])[0] == pytest.approx(1.7266e-5, abs=5e-10)
    assert np.sqrt(propagate(slope, np.diag(u**2))[0, 0]) == pytest.approx(1.76e-6, abs=1e-8)
