"""D values at several temperatures (abstracts, read; safety.md 4a) against the z kept for each."""

import numpy as np
import pytest

from fairsmoke.physics.heat_resistance import MEASURED_D, RESISTANCES
from fairsmoke.physics.lethality import decimal_time_s


@pytest.mark.parametrize("key", MEASURED_D)
def test_z_is_the_slope_of_the_measured_values(key: str) -> None:
    temp_c, d_min = np.array(MEASURED_D[key]).T
    slope = np.polyfit(temp_c, np.log10(d_min), 1)[0]
    assert -1 / slope == pytest.approx(RESISTANCES[key].z_c, rel=0.015)


@pytest.mark.parametrize("key", MEASURED_D)
def test_measured_values_within_two_thirds(key: str) -> None:
    temp_c, d_min = np.array(MEASURED_D[key]).T
    found = decimal_time_s(temp_c, RESISTANCES[key]) / 60
    # One D and one z through scattered values; never shorter than measured by more than 5 %.
    assert (found / d_min < 1.7).all()
    assert (found / d_min > 0.95).all()


D_AT_60_C = {
    # minutes at 60 °C, converted in safety.md 4a
    "salmonella patty": 1.72,
    "salmonella fat beef": 4.72,
    "e. coli lean beef": 1.20,
    "e. coli fat beef 25": 3.39,
    "e. coli beef 90": 3.17,
    "listeria lean beef": 2.07,
    "listeria fat beef": 4.1,
    "listeria cured sausage": 7.7,
    "perfringens cells": 5.3,
}


@pytest.mark.parametrize("key", D_AT_60_C)
def test_d_at_60_c(key: str) -> None:
    assert decimal_time_s(60.0, RESISTANCES[key]) / 60 == pytest.approx(D_AT_60_C[key], rel=0.015)
