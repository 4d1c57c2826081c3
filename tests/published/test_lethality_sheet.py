"""Process-lethality sheet of the AMI Foundation and other worked sums (safety.md section 5)."""

import numpy as np
import pytest

from fairsmoke.physics import lethality
from fairsmoke.physics.heat_resistance import RESISTANCES

# Read: every half minute from 0 to 7.5 min, °F and the running sum at 150 °F, z 10 °F.
FAHRENHEIT = [40, 64, 82, 97, 113, 128, 138, 142, 145, 148, 145, 140, 137, 136, 135, 134]
RUNNING = [0, 0, 0, 0, 0, 0.002, 0.019, 0.074, 0.193, 0.430, 0.667, 0.771, 0.808, 0.831, 0.849,
           0.863]  # fmt: skip


def test_sheet_row_by_row() -> None:
    time_s = np.arange(16) * 30.0
    temp_c = (np.array(FAHRENHEIT) - 32) / 1.8
    found = lethality.equivalent_times_s(time_s, temp_c, (150 - 32) / 1.8, 10 / 1.8) / 60
    assert found == pytest.approx(RUNNING, abs=0.0006)
    reduction = lethality.log_reduction(
        time_s, temp_c, RESISTANCES["salmonella patty"], lowest_c=None
    )
    assert reduction == pytest.approx(5.02, abs=0.005)


def test_the_sheet_overstates_what_straight_temperatures_give() -> None:
    # Trapezoids lie above an exponential between its ends, so the careful sum is smaller.
    time_s, temp_c = np.arange(16) * 30.0, (np.array(FAHRENHEIT) - 32) / 1.8
    sums = [
        lethality.equivalent_times_s(time_s, temp_c, 65.56, 5.556, between=way)[-1]
        for way in ("trapezoid", "straight")
    ]
    assert 0.9 < sums[1] / sums[0] < 1.0


def test_single_lethal_rate() -> None:
    # dairyscience.info, F value: 110 °C against 121.11 °C, z 10 K: L = 0.077 (read).
    assert lethality.lethal_rate(110.0, 121.11, 10.0) == pytest.approx(0.077, abs=0.0005)


def test_canning_sum() -> None:
    # FAO text on canning fish (read): the rates add up to 2.925, every 5 min, so F0 is 14.6 min.
    # The temperatures are not legible: rates invented to have that sum stand in for them.
    rates = np.array([1e-6, 0.388, 0.825, 0.950, 0.762, 1e-6])
    assert rates.sum() == pytest.approx(2.925, abs=1e-4)
    temp_c = 121.11 + 10.0 * np.log10(rates)
    found = lethality.equivalent_times_s(np.arange(6) * 300.0, temp_c, 121.11, 10.0)[-1] / 60
    assert found == pytest.approx(14.6, abs=0.05)


def test_steady_temperature() -> None:
    # Derived in the references: 12 min at 60 °C are 1.2 min at 150 °F, 6.98 log.
    times, temps = [0.0, 360.0, 720.0], [60.0, 60.0, 60.0]
    equivalent = lethality.equivalent_times_s(times, temps, (150 - 32) / 1.8, 10 / 1.8)[-1]
    assert equivalent / 60 == pytest.approx(1.2, abs=0.0005)
    assert lethality.log_reduction(times, temps, RESISTANCES["salmonella patty"]) == pytest.approx(
        6.98, abs=0.005
    )
