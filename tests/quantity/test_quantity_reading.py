"""What people write, and what it must mean or why it is refused.

The values on the right are arithmetic on the exact definitions, which
tests/published/test_unit_definitions.py checks against their source.
"""

import subprocess
import sys

import pytest

from fairsmoke.quantity import (
    QuantityError,
    parse_duration,
    parse_length,
    parse_mass,
    parse_temperature,
    parse_temperature_difference,
)

POUND_KG = 0.45359237
OUNCE_KG = POUND_KG / 16
INCH_M = 0.0254
CLOSE = 1e-15


@pytest.mark.parametrize(
    ("text", "value_c"),
    [
        ("250F", (250 - 32) / 1.8),
        ("250 °F", (250 - 32) / 1.8),
        ("250 deg F", (250 - 32) / 1.8),
        ("250 degrees Fahrenheit", (250 - 32) / 1.8),
        ("250\u00a0℉", (250 - 32) / 1.8),
        ("225 º f", (225 - 32) / 1.8),
        ("98 1/2 °F", (98.5 - 32) / 1.8),
        ("121 °C", 121.0),
        ("121C", 121.0),
        ("-3.5 °C", -3.5),
        ("−3,5 °C", -3.5),
        ("394 K", 394 - 273.15),
        ("394 kelvin", 394 - 273.15),
        ("1e-05 °C", 1e-05),
    ],
)
def test_temperature_is_read(text: str, value_c: float) -> None:
    assert parse_temperature(text) == pytest.approx(value_c, rel=CLOSE, abs=1e-13)


@pytest.mark.parametrize(
    ("text", "value_k"),
    [
        ("10 °F", 10 / 1.8),
        ("10 F°", 10 / 1.8),
        ("5 K", 5.0),
        ("+3 °C", 3.0),
        ("-2 F", -2 / 1.8),
        ("0,5 °C", 0.5),
    ],
)
def test_difference_of_temperature_has_no_zero_point(text: str, value_k: float) -> None:
    assert parse_temperature_difference(text) == pytest.approx(value_k, rel=CLOSE)


@pytest.mark.parametrize(
    ("text", "value_kg"),
    [
        ("12 lb 4 oz", 12.25 * POUND_KG),
        ("12lb4oz", 12.25 * POUND_KG),
        ("12 lbs., 4 oz.", 12.25 * POUND_KG),
        ("12 pounds and 4 ounces", 12.25 * POUND_KG),
        ("12-1/4 lb", 12.25 * POUND_KG),
        ("12 lb 4½ oz", 12 * POUND_KG + 4.5 * OUNCE_KG),
        ("12½ lb", 12.5 * POUND_KG),
        ("3/4 lb", 0.75 * POUND_KG),
        ("⅛ lb", 0.125 * POUND_KG),
        (".5 lb", 0.5 * POUND_KG),
        ("14 lbs", 14 * POUND_KG),
        ("14#", 14 * POUND_KG),
        ("12-lb", 12 * POUND_KG),
        ("0.4 oz", 0.4 * OUNCE_KG),
        ("5.57 kg", 5.57),
        ("5,57 KG", 5.57),
        ("5.570 kg", 5.57),
        ("5 kg 570 g", 5.57),
        ("0 g", 0.0),
        ("1.5e3 g", 1.5),
    ],
)
def test_mass_is_read(text: str, value_kg: float) -> None:
    assert parse_mass(text) == pytest.approx(value_kg, rel=CLOSE)


@pytest.mark.parametrize(
    ("text", "value_s"),
    [
        ("4h30", 16200),
        ("4h30m", 16200),
        ("4 h 30 min", 16200),
        ("4 hours and 30 minutes", 16200),
        ("4:30 h", 16200),
        ("4:30 min", 270),
        ("1:30:00", 5400),
        ("1:30:00,5", 5400.5),
        ("26:00:00", 93600),
        ("90 min", 5400),
        ("1.5 h", 5400),
        ("1½ hrs", 5400),
        ("30 s", 30),
        ("2 days", 172800),
        ("1 d 4 h", 100800),
        ("2 weeks", 1209600),
    ],
)
def test_duration_is_read(text: str, value_s: float) -> None:
    assert parse_duration(text) == value_s


@pytest.mark.parametrize(
    ("text", "value_m"),
    [
        ("1.75 in", 1.75 * INCH_M),
        ("1 3/4 in", 1.75 * INCH_M),
        ('1-3/4"', 1.75 * INCH_M),
        ("6' 10\"", 82 * INCH_M),
        ("6′ 10″", 82 * INCH_M),
        ("6’ 10”", 82 * INCH_M),
        ("6' 10''", 82 * INCH_M),
        ("6'10", 82 * INCH_M),
        ("6 ft. 10½ in.", 82.5 * INCH_M),
        ('10"', 10 * INCH_M),
        ("2 ft", 24 * INCH_M),
        ("45 mm", 0.045),
        ("18 cm", 0.18),
        ("1 m 75 cm", 1.75),
    ],
)
def test_length_is_read(text: str, value_m: float) -> None:
    assert parse_length(text) == pytest.approx(value_m, rel=CLOSE)


@pytest.mark.parametrize(
    ("text", "value_kg"),
    [
        ("5,570 g", 5.57),
        ("5 570 g", 5.57),
        ("5\u202f570 g", 5.57),
        ("5.570,5 g", 5.5705),
        ("5,570.5 g", 5.5705),
        ("1,234,567 g", 1234.567),
        ("1.234.567 g", 1234.567),
        ("0,570 kg", 0.57),
        ("1234,567 kg", 1234.567),
        ("1 234,567 kg", 1234.567),
        ("5,5700 g", 0.0055700),
        ("5,57 g", 0.00557),
    ],
)
def test_commas_points_and_spaces_in_numbers(text: str, value_kg: float) -> None:
    assert parse_mass(text) == pytest.approx(value_kg, rel=CLOSE)


def test_three_digits_behind_a_comma_are_thousands_only_in_small_units() -> None:
    assert parse_duration("1,440 min") == 86400
    assert parse_duration("5,400 s") == 5400
    assert parse_length("1,250 mm") == 1.25
    # Only one reading is possible at a cooker, so that one is meant.
    assert parse_temperature("107,125 °C") == 107.125


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        (parse_temperature, "250", "no unit: 250 °F is not 250 °C. Write 250 °F or 250 °C"),
        (parse_temperature, "250 degrees", "no unit"),
        (parse_temperature, "-500 °F", "below absolute zero"),
        (parse_temperature, "-1 K", "below absolute zero"),
        (parse_temperature, "1800 C", "Did you mean 1800 °F"),
        (parse_temperature, "3000 °F", "impossible"),
        (parse_temperature, "1,234 °F", "Write 1.234 °F or 1234 °F"),
        (parse_temperature, "250 °F 3 °C", "more than one value"),
        (parse_temperature, "250-275 °F", "more than one value"),
        (parse_temperature, "250 g", "not a unit of temperature"),
        (parse_temperature, "nan °C", "number that can be read is missing"),
        (parse_temperature, "inf", "number that can be read is missing"),
        (parse_temperature_difference, "10", "no unit"),
        (parse_mass, "", "nothing is written"),
        (parse_mass, " \u2009 ", "nothing is written"),
        (parse_mass, "12", "Write 12 kg or 12 lb"),
        (parse_mass, "1,234 kg", "Write 1.234 kg or 1234 kg"),
        (parse_mass, "1,234 lb", "Write 1.234 lb or 1234 lb"),
        (parse_mass, "5.570 g", "Write 5.57 g or 5570 g"),
        (parse_mass, "5.125 g", "Write 5.1250 g or 5125 g"),
        (parse_mass, "-5 kg", "cannot be negative"),
        (parse_mass, "12 lb 20 oz", "oz after lb must be under 16. Write 13 lb 4 oz"),
        (parse_mass, "12 lb 16 oz", "must be under 16"),
        (parse_mass, "1.5 lb 4 oz", "only the last part may have a fraction"),
        (parse_mass, "4 oz 12 lb", "lb cannot follow oz"),
        (parse_mass, "4 oz 4 oz", "oz cannot follow oz"),
        (parse_mass, "12 lb 500 g", "g cannot follow lb"),
        (parse_mass, "12 lb 4", "4 has no unit"),
        (parse_mass, "12 lb,4 oz", "two things"),
        (parse_mass, "5,570", "5,570 has no unit"),
        (parse_mass, "12,34,567 g", "not one number"),
        (parse_mass, "4 30 g", "not one number"),
        (parse_mass, "1,5e3 g", "not one number"),
        (parse_mass, "3/0 lb", "0 below the line"),
        (parse_mass, "1 7/4 lb", "less than one"),
        (parse_mass, "1e399 kg", "too large"),
        (parse_mass, "1e999999999999 kg", "out of range"),
        (parse_mass, "9" * 200 + " kg", "longer than 100 characters"),
        (parse_mass, "5 \x00 kg", "not a unit of mass"),
        (parse_duration, "4:30", "Write 4 h 30 min or 4 min 30 s"),
        (parse_duration, "1:75:00", "under 60"),
        (parse_duration, "1:30:60", "under 60"),
        (parse_duration, "4:30 pm", "cannot be in pm"),
        (parse_duration, "1:30:00 min", "cannot be in min"),
        (parse_duration, "12:5", "cannot be read as a duration"),
        (parse_duration, "4 h 90 min", "Write 5 h 30 min"),
        (parse_duration, "4h 1/2", "1/2 has no unit"),
        (parse_duration, "4h300", "300 has no unit"),
        (parse_duration, "-1:30:00", "cannot be negative"),
        (parse_duration, "1.440 min", "Write 1.44 min or 1440 min"),
        (parse_length, "6' 14\"", "Write 7 ft 2 in"),
        (parse_length, "30 x 20 cm", "more than one value"),
        (parse_length, "1,234 m", "Write 1.234 m or 1234 m"),
    ],
)
def test_what_is_refused_is_named_with_its_mend(read, text: str, said: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(QuantityError) as refused:
        read(text)
    message = str(refused.value)
    assert said in message
    assert message.isprintable()
    assert message.startswith('"')


def test_limits_of_a_temperature_can_be_narrowed() -> None:
    assert parse_temperature("93 °C", high_c=120.0) == 93.0
    with pytest.raises(QuantityError, match="Did you mean 203 °F"):
        parse_temperature("203 °C", high_c=120.0)
    with pytest.raises(QuantityError, match="impossible"):
        parse_temperature("-20 °C", low_c=-10.0)


def test_pint_is_not_imported_before_a_unit_is_needed() -> None:
    code = "import sys, fairsmoke.quantity; sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
