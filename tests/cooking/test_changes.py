"""The record of collagen that the kernel keeps, against the closed form of physics.kinetics."""

import numpy as np
import pytest

from fairsmoke.cooking.cells import FIXED, SCRATCH, SOLIDS, TEMP
from fairsmoke.cooking.changes import NATIVE, OPENED, follow
from fairsmoke.cooking.constants import DEFAULT, parameters
from fairsmoke.cooking.run import fresh_changes
from fairsmoke.cooking.tables import build
from fairsmoke.physics import kinetics


def held(temp_c: float, hours: float, step_s: float) -> tuple[float, float, float]:
    """Return native, dissolved (shares of all collagen) and heat taken (J) of one held cell."""
    changes, fixed = fresh_changes(1, 1), np.zeros((1, FIXED, 1))
    fixed[0, SOLIDS, 0] = 1.0
    work, heat, plan = np.zeros((1, SCRATCH, 1)), np.zeros((1, 1)), np.ones(1)
    work[0, TEMP, 0] = temp_c
    table, par = build(DEFAULT), parameters(DEFAULT)
    taken = 0.0
    for _ in range(round(hours * 3600.0 / step_s)):
        taken += follow(table, par, step_s, plan, fixed, work, work, changes, heat)
    assert taken == pytest.approx(-heat[0, 0])
    native, opened = changes[NATIVE, 0, 0], changes[OPENED, 0, 0]
    raw = 1.0 - kinetics.SOLUBLE_RAW
    return raw * native, kinetics.SOLUBLE_RAW + raw * (1.0 - native - opened), taken


@pytest.mark.parametrize("temp_c", [52.0, 60.0, 66.0, 75.0, 90.0])
@pytest.mark.parametrize("step_s", [60.0, 900.0])
def test_the_kernel_keeps_collagen_as_the_closed_form_has_it(temp_c: float, step_s: float) -> None:
    native, dissolved, _ = held(temp_c, 6.0, step_s)
    exact_native, exact_dissolved = kinetics.collagen_after(6.0 * 3600.0, temp_c)
    assert native == pytest.approx(float(exact_native), abs=1e-5)
    assert dissolved == pytest.approx(float(exact_dissolved), abs=1e-5)


def test_opening_and_denaturing_take_their_whole_heat_once() -> None:
    # 49 kJ/kg of collagen, 13 kJ/kg of protein for myosin and actin (physics.kinetics).
    heats = kinetics.MYOSIN.heat_j_kg + kinetics.ACTIN.heat_j_kg
    whole = heats + kinetics.COLLAGEN_OPENS.heat_j_kg * DEFAULT.collagen_of_protein
    assert held(95.0, 3.0, 300.0)[2] == pytest.approx(whole, rel=1e-6)
