"""Textbook example of a heated cylinder in cross flow (Incropera & DeWitt, from memory).

12.7 mm across, 128.4 °C in air of 26.2 °C moving at 10 m/s: Churchill–Bernstein gives
96 W/(m²·K).
"""

import pytest

from fairsmoke.physics.convection import forced_convection_w_m2k, natural_convection_w_m2k
from fairsmoke.physics.surface import CONVECTION_BANDS


def test_cylinder_in_cross_flow() -> None:
    found = forced_convection_w_m2k(128.4, 26.2, 0.0127, 10.0, ratio_kg_kg=0.0)
    assert found == pytest.approx(96.0, abs=1.5)


def test_still_and_moving_air_fall_in_their_bands() -> None:
    # Still air 3–8, fan 15–40 W/(m²·K) (standard ranges, from memory).
    still = CONVECTION_BANDS["still"]
    piece = natural_convection_w_m2k([45.0, 60.0, 70.0], [107.0, 121.0, 149.0], 0.08)
    assert ((piece > still.low_w_m2k) & (piece < still.high_w_m2k)).all()
    fan = CONVECTION_BANDS["fan"]
    blown = forced_convection_w_m2k(60.0, 121.0, 0.08, [2.0, 4.0])
    assert ((blown > fan.low_w_m2k) & (blown < fan.high_w_m2k)).all()
