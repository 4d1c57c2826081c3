"""How SI values are shown to people and written to files."""

import math

import numpy as np
import pytest

from fairsmoke.quantity import (
    METRIC,
    US,
    QuantityError,
    Units,
    file_duration,
    file_length,
    file_mass,
    file_temperature,
    file_temperature_difference,
    sensible,
    show_duration,
    show_interval,
    show_length,
    show_mass,
    show_mass_small,
    show_percent,
    show_plus_minus,
    show_temperature,
    show_temperature_difference,
)

POUND_KG = 0.45359237


def test_units_by_name() -> None:
    assert Units.named("metric") is METRIC
    assert Units.named(" US ") is US
    assert Units("C", "kg", "cm") == METRIC
    assert Units("F", "lb", "in") == US
    with pytest.raises(QuantityError, match="Write metric or us"):
        Units.named("imperial")


def test_temperature() -> None:
    assert show_temperature((250 - 32) / 1.8, US) == "250 °F"
    assert show_temperature((250 - 32) / 1.8, METRIC) == "121 °C"
    assert show_temperature((250 - 32) / 1.8, METRIC, digits=1) == "121.1 °C"
    assert show_temperature(-3.5, METRIC, digits=1) == "−3.5 °C"
    assert show_temperature(-0.2, METRIC) == "0 °C"
    assert show_temperature(math.nan, METRIC) == "not known"


def test_difference_of_temperature() -> None:
    assert show_temperature_difference(10 / 1.8, METRIC) == "5.6 °C"
    assert show_temperature_difference(10 / 1.8, US) == "10 °F"
    assert show_temperature_difference(10 / 1.8, US, sign=True) == "+10 °F"
    assert show_temperature_difference(-10 / 1.8, METRIC, digits=2, sign=True) == "−5.56 °C"
    assert show_temperature_difference(0.0, METRIC, sign=True) == "0.0 °C"


def test_mass() -> None:
    assert show_mass(5.57, METRIC) == "5.570 kg"
    assert show_mass(12 * POUND_KG + 4.5 * POUND_KG / 16, US) == "12 lb 4.5 oz"
    assert show_mass(12 * POUND_KG, US, digits=0) == "12 lb 0 oz"
    assert show_mass(0.25 * POUND_KG, US) == "4.0 oz"
    assert show_mass(-1.25 * POUND_KG, US) == "−1 lb 4.0 oz"
    assert show_mass(math.inf, US) == "∞"


def test_ounces_are_never_sixteen() -> None:
    assert show_mass(12 * POUND_KG + 15.96 * POUND_KG / 16, US) == "13 lb 0.0 oz"
    assert show_mass(15.96 * POUND_KG / 16, US) == "1 lb 0.0 oz"


def test_small_mass() -> None:
    assert show_mass_small(0.0852, METRIC) == "85 g"
    assert show_mass_small(0.0852, METRIC, digits=2) == "85.20 g"
    assert show_mass_small(3 * POUND_KG / 16, US) == "3.0 oz"
    with pytest.raises(ValueError, match="at most 2 decimals"):
        show_mass_small(0.0852, METRIC, digits=3)


@pytest.mark.parametrize(
    ("value_s", "text"),
    [
        (0.4, "0 s"),
        (45, "45 s"),
        (270, "4 min 30 s"),
        (599.7, "10 min"),
        (3599, "1 h"),
        (16200, "4 h 30 min"),
        (14 * 3600, "14 h"),
        (47 * 3600 + 59 * 60 + 40, "2 d"),
        (2 * 86400 + 4 * 3600 + 900, "2 d 4 h"),
        (-1800, "−30 min"),
        (math.nan, "not known"),
    ],
)
def test_duration(value_s: float, text: str) -> None:
    assert show_duration(value_s) == text


def test_length_and_percent() -> None:
    assert show_length(0.045, METRIC) == "4.5 cm"
    assert show_length(1.75 * 0.0254, US) == "1.75 in"
    # Common practice, no source: on at 5570 g, off at 3306 g.
    assert show_percent(3306 / 5570) == "59.4 %"
    assert show_percent(-0.005, digits=2) == "−0.50 %"
    assert show_percent(math.nan) == "not known"


def test_value_and_uncertainty() -> None:
    assert show_plus_minus(59.3537, 1.2345, "%") == "59.4 ± 1.2 %"
    assert show_plus_minus(5570, 144.3, "g") == "5570 ± 140 g"
    assert show_plus_minus(-0.0004, 0.0123) == "0.000 ± 0.012"
    assert show_plus_minus(59.3537, math.inf, "%") == "59.4 % (uncertainty not known)"
    assert show_plus_minus(math.nan, 1.0, "%") == "not known ± 1.0 %"
    assert sensible(0.123456789, 0.0) == ("0.123456789", "0")
    assert sensible(1.0, 0.0996) == ("1.00", "0.10")
    assert sensible(np.float64(2.345), np.float64(0.1)) == ("2.34", "0.10")
    with pytest.raises(ValueError, match="cannot be negative"):
        sensible(1.0, -0.1)


def test_interval() -> None:
    assert show_interval(-0.812, 3.118, "%") == "−0.8 to 3.1 %"
    assert show_interval(5565.2, 5574.9, "g") == "5565.2 to 5574.9 g"
    assert show_interval(2.0, 2.0, "%") == "2 %"
    assert show_interval(1.234, math.inf, "h") == "above 1.23 h"
    assert show_interval(-math.inf, -1.234, "h") == "below −1.23 h"
    assert show_interval(-math.inf, math.inf, "h") == "not known"
    assert show_interval(math.nan, 1.0) == "not known"
    with pytest.raises(ValueError, match="above the high end"):
        show_interval(2.0, 1.0)


def test_interval_keeps_the_sign_of_an_end_near_zero() -> None:
    assert show_interval(-0.04, 9.9, "%") == "−0.04 to 9.90 %"
    assert show_interval(0.004, 9.9, "%") == "0.004 to 9.900 %"
    assert show_interval(0.0, 9.94, "%") == "0.0 to 9.9 %"


def test_files_hold_every_digit() -> None:
    assert file_temperature((250 - 32) / 1.8) == "121.11111111111111 °C"
    assert file_temperature(-0.0) == "0 °C"
    assert file_temperature_difference(5.5) == "5.5 K"
    assert file_mass(5.57) == "5.57 kg"
    assert file_mass(1e-05) == "0.00001 kg"
    assert file_mass(np.float64(1e-12)) == "1e-12 kg"
    assert file_duration(5400.0) == "5400 s"
    assert file_length(0.045) == "0.045 m"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_files_refuse_what_they_cannot_hold(value: float) -> None:
    with pytest.raises(QuantityError, match="not a finite number"):
        file_temperature(value)
    with pytest.raises(QuantityError, match="not a finite number"):
        file_mass(value)


def test_files_refuse_negative_sizes() -> None:
    for write in (file_mass, file_duration, file_length):
        with pytest.raises(QuantityError, match="negative"):
            write(-0.1)
