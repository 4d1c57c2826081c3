"""A piece kept wet, without radiation, ends at the wet bulb that psychrolib gives.

psychrolib (the handbook's psychrometric relations) is the outside reference.
"""

import numpy as np
import psychrolib
import pytest

from fairsmoke.cooking.body import MeasuredPiece, one_column
from fairsmoke.cooking.constants import DEFAULT
from fairsmoke.cooking.cooker import CookerModel, Site
from fairsmoke.cooking.run import Conditions, run_body, stage_rows
from fairsmoke.cooking.stages import ROW
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage

SLAB = MeasuredPiece("slab", 2.0, 0.30, 0.20, 0.033)


def wet_slab_c(air_c: float, ratio: float, altitude_m: float = 0.0) -> float:
    protocol = Protocol(
        stages=(
            Stage(id="wet", name="wet", surround_c=air_c, ends=(EndCondition(elapsed_s=36_000),)),
        )
    )
    conditions = Conditions(
        cooker=CookerModel(ratio_kg_kg=ratio, ramp_s=0.0, convection_w_m2k=20.0),
        site=Site(altitude_m=altitude_m),
    )
    body = one_column(SLAB, DEFAULT)
    rows = stage_rows(protocol, conditions, 2.0 * float(np.sum(body.shape.plan_m2)))
    # Bare, but under a film of liquid that does not end; no radiation.
    rows[0, [ROW.wet_above, ROW.wet_below]] = 1.0
    rows[0, ROW.keeps_kg_m2], rows[0, ROW.adds_liquid_kg] = 1e6, 1e5
    rows[0, [ROW.emissivity_above, ROW.emissivity_below]] = 0.0
    outcome = run_body(body, SLAB, protocol, rows, conditions, DEFAULT, np.array([35_000.0]))
    ends = [outcome.trace.top_c[0], outcome.trace.underside_c[0], outcome.core_c]
    assert np.ptp(ends) < 0.02
    return float(np.mean(ends))


def within_a_tenth(found_c: float, air_c: float, ratio: float, pressure_pa: float) -> bool:
    """Whether psychrolib's wet bulb lies within 0.1 K.

    Asked the other way round, humidity from wet bulb: its own search for the wet bulb runs off to
    the dry bulb at 150 °C and 0.1 kg/kg.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    low, high = (
        psychrolib.GetHumRatioFromTWetBulb(air_c, found_c + off, pressure_pa) for off in (-0.1, 0.1)
    )
    return bool(low < ratio < high)


@pytest.mark.parametrize("air_c", [60.0, 80.0, 107.0, 121.0, 150.0])
@pytest.mark.parametrize("ratio", [0.005, 0.03, 0.10])
def test_wet_surface_ends_at_wet_bulb(air_c: float, ratio: float) -> None:
    assert within_a_tenth(wet_slab_c(air_c, ratio), air_c, ratio, 101_325.0)


def test_wet_surface_high_up() -> None:
    pressure = psychrolib.GetStandardAtmPressure(2000.0)
    found = wet_slab_c(121.0, 0.02, altitude_m=2000.0)
    assert within_a_tenth(found, 121.0, 0.02, pressure)
