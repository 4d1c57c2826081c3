"""Quantities for every text and every float: one kind of error, and nothing lost on the way."""

import math
import re
from collections.abc import Callable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

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
    parse_duration,
    parse_length,
    parse_mass,
    parse_temperature,
    parse_temperature_difference,
    sensible,
    show_duration,
    show_interval,
    show_length,
    show_mass,
    show_mass_small,
    show_temperature,
    show_temperature_difference,
)

PARSERS = [
    parse_temperature,
    parse_temperature_difference,
    parse_mass,
    parse_duration,
    parse_length,
]
POUND_KG = 0.45359237
SLACK = 1e-9


@pytest.fixture(autouse=True, scope="module")
def units_are_loaded() -> None:
    """Loading the definitions once takes longer than Hypothesis allows one example."""
    parse_mass("1 kg")


LETTERS = [" ", "\u00a0", "\u2009", "\n", *"0129.,:/-+−½¼'\"′″°#&±e"]
WORDS = [
    "570",
    "1e5",
    "°F",
    "°C",
    "K",
    "kg",
    "g",
    "lb",
    "oz",
    "h",
    "min",
    "s",
    "d",
    "m",
    "cm",
    "mm",
]
MORE_WORDS = ["in", "ft", "and", "deg", "nan", "inf"]
near_quantities = st.lists(st.sampled_from(LETTERS + WORDS + MORE_WORDS), max_size=8).map("".join)
units = st.sampled_from([METRIC, US])
digits = st.integers(0, 4)
finite = st.floats(allow_nan=False, allow_infinity=False)
# Rounding may take the very largest floats over the edge.
roundable = st.floats(-1e300, 1e300)
sizes = st.floats(0, 1e6)


@given(st.one_of(st.text(max_size=120), near_quantities), st.sampled_from(PARSERS))
@example("1e99999 kg", parse_mass)
@example("1" * 99, parse_mass)
@example("٣ kg", parse_mass)
@example("⅟ lb", parse_mass)
@example("\ud800 kg", parse_mass)
def test_any_text_gives_a_finite_number_or_a_quantity_error(
    text: str, parse: Callable[[str], float]
) -> None:
    try:
        value = parse(text)
    except QuantityError as error:
        value = 0.0 if str(error).isprintable() else math.nan
    assert math.isfinite(value)


@given(st.floats(-90, 1500))
def test_file_temperature_is_lossless(value_c: float) -> None:
    assert parse_temperature(file_temperature(value_c)) == value_c


@given(finite)
def test_file_temperature_difference_is_lossless(value_k: float) -> None:
    assert parse_temperature_difference(file_temperature_difference(value_k)) == value_k


@given(st.floats(0, allow_nan=False, allow_infinity=False))
@example(1e-05)
@example(5e-324)
@example(1.234)
@example(123.456)
def test_file_sizes_are_lossless(value: float) -> None:
    assert parse_mass(file_mass(value)) == value
    assert parse_duration(file_duration(value)) == value
    assert parse_length(file_length(value)) == value


def half_step(display_unit: float, decimals: int) -> float:
    return display_unit * 10.0**-decimals / 2 * (1 + SLACK) + 1e-12


@given(st.floats(-89, 1499), units, digits)
def test_shown_temperature_reads_back(value_c: float, units: Units, digits: int) -> None:
    degree = 1.0 if units is METRIC else 1 / 1.8
    shown = show_temperature(value_c, units, digits)
    assert abs(parse_temperature(shown) - value_c) <= half_step(degree, digits)


@given(st.floats(-1e3, 1e3), units, digits, st.booleans())
def test_shown_difference_reads_back(value_k: float, units: Units, digits: int, sign: bool) -> None:
    degree = 1.0 if units is METRIC else 1 / 1.8
    shown = show_temperature_difference(value_k, units, digits, sign=sign)
    assert abs(parse_temperature_difference(shown) - value_k) <= half_step(degree, digits)


@given(st.floats(0, 1e4), units, digits)
@example(15.99 * POUND_KG / 16, US, 1)
def test_shown_mass_reads_back(value_kg: float, units: Units, digits: int) -> None:
    step_kg = 1.0 if units is METRIC else POUND_KG / 16
    shown = show_mass(value_kg, units, digits)
    assert abs(parse_mass(shown) - value_kg) <= half_step(step_kg, digits)


@given(st.floats(0, 10), units, st.integers(0, 2))
def test_shown_small_mass_reads_back(value_kg: float, units: Units, digits: int) -> None:
    step_kg = 0.001 if units is METRIC else POUND_KG / 16
    shown = show_mass_small(value_kg, units, digits)
    assert abs(parse_mass(shown) - value_kg) <= half_step(step_kg, digits)


@given(st.floats(0, 100), units, digits)
def test_shown_length_reads_back(value_m: float, units: Units, digits: int) -> None:
    step_m = 0.01 if units is METRIC else 0.0254
    shown = show_length(value_m, units, digits)
    assert abs(parse_length(shown) - value_m) <= half_step(step_m, digits)


@given(sizes)
@example(599.5)
@example(172799.0)
def test_shown_duration_reads_back(value_s: float) -> None:
    step_s = 1 if value_s < 600 else 60 if value_s < 172800 else 3600
    assert abs(parse_duration(show_duration(value_s)) - value_s) <= half_step(step_s, 0)


def number(text: str) -> float:
    return float(text.replace("−", "-"))


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6))
def test_sensible_keeps_two_digits_of_the_uncertainty(value: float, uncertainty: float) -> None:
    value_text, uncertainty_text = sensible(value, uncertainty)
    assert len(value_text.partition(".")[2]) == len(uncertainty_text.partition(".")[2])
    significant = uncertainty_text.replace(".", "").lstrip("0")
    assert len(significant.rstrip("0")) <= 2 <= len(significant)
    ratio = number(uncertainty_text) / uncertainty
    assert 0.97 - SLACK <= ratio <= 1.1
    # Half a unit in the second digit is at most 5 % of what is shown.
    assert abs(number(value_text) - value) <= 0.05 * number(uncertainty_text) * (1 + 1e-6)


@given(roundable, st.floats(min_value=0, allow_nan=False))
def test_sensible_never_fails_on_a_proper_uncertainty(value: float, uncertainty: float) -> None:
    value_text, uncertainty_text = sensible(value, uncertainty)
    assert math.isclose(number(value_text), value, rel_tol=1e-2, abs_tol=uncertainty)
    assert uncertainty_text


@given(roundable, roundable)
def test_interval_is_close_to_its_ends_and_keeps_their_order(one: float, other: float) -> None:
    low, high = sorted((one, other))
    shown = show_interval(low, high, "g")
    found = re.fullmatch(r"(\S+) to (\S+) g", shown)
    if found is None:
        assert low == high
        assert number(shown.removesuffix(" g")) == low
        return
    shown_low, shown_high = number(found[1]), number(found[2])
    assert shown_low <= shown_high
    width = high / 2 - low / 2
    assert abs(shown_low / 2 - low / 2) <= 0.051 * width
    assert abs(shown_high / 2 - high / 2) <= 0.051 * width
