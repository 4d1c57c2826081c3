"""Sizes of units against their definitions.

Sources, figures only:
- International yard and pound agreement of 1 July 1959 (Announcement by the National Bureau of
  Standards, Federal Register 24 FR 5348): yard 0.9144 m, pound 0.453 592 37 kg, both exact. Seen as
  quoted by others; foot = yard/3, inch = yard/36, ounce = pound/16.
- NIST Special Publication 811 (2008), appendix B.8: factors in seven digits (pound 4.535 924 E-01,
  ounce 2.834 952 E-02, inch 2.54 E-02, foot 3.048 E-01), T/K = t/°C + 273.15,
  T/K = (t/°F + 459.67)/1.8. Seen as quoted by others. The minute, hour and day:
  table 6, from memory.
- JCGM 100:2008 (GUM) clause 7.2.6, rounding of results. Seen as quoted by others.
"""

from fractions import Fraction

import pytest

from fairsmoke.quantity import (
    parse_duration,
    parse_length,
    parse_mass,
    parse_temperature,
    parse_temperature_difference,
    sensible,
)
from fairsmoke.quantity.units import affine

YARD_M = Fraction("0.9144")
POUND_KG = Fraction("0.45359237")


@pytest.mark.parametrize(
    ("unit", "base", "factor", "offset"),
    [
        ("lb", "kg", POUND_KG, 0),
        ("oz", "kg", POUND_KG / 16, 0),
        ("g", "kg", Fraction(1, 1000), 0),
        ("ft", "m", YARD_M / 3, 0),
        ("in", "m", YARD_M / 36, 0),
        ("cm", "m", Fraction(1, 100), 0),
        ("mm", "m", Fraction(1, 1000), 0),
        ("min", "s", 60, 0),
        ("h", "s", 3600, 0),
        ("d", "s", 86400, 0),
        ("week", "s", 7 * 86400, 0),
        ("K", "°C", 1, Fraction("-273.15")),
        ("°F", "°C", Fraction(5, 9), Fraction(-160, 9)),
        ("°F", "K", Fraction(5, 9), Fraction("459.67") * 5 / 9),
        ("°C", "K", 1, Fraction("273.15")),
    ],
)
def test_definition_is_exact(unit: str, base: str, factor: Fraction, offset: Fraction) -> None:
    assert affine(unit, base) == (factor, offset)


def test_float_is_the_one_nearest_to_the_definition() -> None:
    assert parse_mass("1 lb") == 0.45359237
    assert parse_mass("1 oz") == 0.028349523125
    assert parse_length("1 in") == 0.0254
    assert parse_length("1 ft") == 0.3048
    assert parse_duration("1 h") == 3600.0


@pytest.mark.parametrize(
    ("value", "printed", "half_last_digit"),
    [
        (parse_mass("1 lb"), 4.535924e-01, 0.5e-07),
        (parse_mass("1 oz"), 2.834952e-02, 0.5e-08),
        (parse_length("1 in"), 2.54e-02, 0.0),
        (parse_length("1 ft"), 3.048e-01, 0.0),
    ],
)
def test_sp_811_table_b8(value: float, printed: float, half_last_digit: float) -> None:
    assert abs(value - printed) <= half_last_digit


@pytest.mark.parametrize(
    ("text", "value_k"),
    [
        ("32 °F", Fraction("273.15")),
        ("212 °F", Fraction("373.15")),
        ("-40 °F", Fraction("233.15")),
        ("250 °F", (250 + Fraction("459.67")) / Fraction("1.8")),
    ],
)
def test_sp_811_temperature_equations(text: str, value_k: Fraction) -> None:
    assert parse_temperature(text) == float(value_k - Fraction("273.15"))
    assert parse_temperature(f"{float(value_k)!r} K") == pytest.approx(
        parse_temperature(text), abs=1e-13
    )


def test_difference_of_one_degree_fahrenheit_is_five_ninths_of_a_kelvin() -> None:
    assert parse_temperature_difference("1 °F") == float(1 / Fraction("1.8"))


def test_gum_7_2_6_rounding() -> None:
    # 10.47 mΩ "might be rounded up to 11 mΩ"; 28.05 kHz "should be rounded down to 28 kHz".
    assert sensible(0.0, 10.47)[1] == "11"
    assert sensible(0.0, 28.05)[1] == "28"
    # y = 10.057 62 Ω with 27 mΩ is to be given as 10.058 Ω.
    assert sensible(10.05762, 0.027) == ("10.058", "0.027")
