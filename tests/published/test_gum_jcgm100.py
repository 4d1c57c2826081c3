"""Worked examples of the GUM, JCGM 100:2008 annexes F and H, through the ledger's own solver.

Inputs and results as carried by open metrology packages (keys PROP, GTC, SUN of our references),
retyped; what was not seen there is marked "from memory".
"""

import numpy as np
import pytest

from fairsmoke.trial.weighing import Scale, Weighing
from fairsmoke.weighing.adjust import adjust
from fairsmoke.weighing.system import build_system

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
    assert np.sqrt(at_30 @ covariance @ at_30) == pytest.approx(0.0041, abs=5e-5)


@pytest.mark.parametrize(("step_g", "u_g"), [(1, 0.29), (5, 1.44)])
def test_f22_a_step_of_the_display_gives_0_29_of_itself(step_g: float, u_g: float) -> None:
    scale = Scale(id="s", name="s", resolution_kg=step_g / 1000)
    weighing = Weighing(id="w", scale="s", reading_kg=1.0, sum=["tray"])
    seen = build_system([weighing], [scale]).observations[0]
    assert 1000 * seen.standard_uncertainty_kg == pytest.approx(u_g, abs=0.005)
