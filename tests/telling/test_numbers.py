"""How numbers are written for people. Expected texts follow from DESIGN section 9 and issue 2."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fairsmoke.messages.message import Words
from fairsmoke.quantity import US
from fairsmoke.quantity.values import MassSpread
from fairsmoke.telling import numbers
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.question import Better, Measure, MeasureKind

YIELD = Measure(
    id="yield", name="Yield", kind=MeasureKind.YIELD, better=Better.HIGHER, worthwhile=0.02
)
TIME = Measure(
    id="time", name="Time", kind=MeasureKind.COOK_TIME, better=Better.LOWER, worthwhile=2700.0
)
SCORE = Measure(
    id="score",
    name="Score",
    kind=MeasureKind.SCORE,
    better=Better.HIGHER,
    worthwhile=1.0,
    scale_low=0.0,
    scale_high=10.0,
)
SHEAR = Measure(
    id="shear",
    name="Shear force",
    kind=MeasureKind.MEASURED,
    better=Better.LOWER,
    worthwhile=0.5,
    unit="kg",
)


def said(show: Callable[..., Words]) -> Callable[..., str]:
    """Return what writes numbers as an English reader sees them."""
    return lambda *given: ENGLISH.say(show(*given))


def test_values_carry_the_unit_that_people_say() -> None:
    # Common practice, no source: 3306 g left of 5570 g is a yield of 59.4 %.
    assert said(numbers.show_value)(YIELD, 3306 / 5570) == "59.4 %"
    assert said(numbers.show_value)(TIME, 11 * 3600 + 20 * 60 + 12) == "11 h 20 min"
    assert said(numbers.show_value)(SCORE, 6.83) == "6.8"
    assert said(numbers.show_value)(SHEAR, 10 / 3) == "3.333 kg"


@pytest.mark.parametrize("nothing", [None, math.nan, math.inf])
def test_what_is_not_there_is_not_known(nothing: float | None) -> None:
    assert said(numbers.show_value)(YIELD, nothing) == "not known"
    assert said(numbers.show_plus_minus)(TIME, nothing, 60.0) == "not known"


def test_digits_follow_the_uncertainty() -> None:
    assert said(numbers.show_value)(YIELD, 0.594111, 0.0012) == "59.41 %"
    assert said(numbers.show_plus_minus)(YIELD, 0.594111, 0.0012) == "59.41 ± 0.12 %"
    assert said(numbers.show_plus_minus)(YIELD, 0.594111, 0.031) == "59.4 ± 3.1 %"
    assert said(numbers.show_plus_minus)(SCORE, 6.83, 0.3) == "6.83 ± 0.30"
    assert said(numbers.show_plus_minus)(YIELD, 0.594111, None) == "59.4 %"


def test_levels_stand_with_their_interval() -> None:
    assert said(numbers.show_level)(YIELD, 0.5943, 0.579, 0.6091) == "59.4 % (57.9 to 60.9 %)"
    shown = said(numbers.show_level)(TIME, 40_800.0, 39_060.0, 42_000.0)
    assert shown == "11 h 20 min (10 h 51 min to 11 h 40 min)"


def test_differences_spell_their_sign() -> None:
    assert said(numbers.show_difference)(YIELD, 0.029, -0.008, 0.065) == "+2.9 points"
    assert said(numbers.show_difference)(YIELD, -0.029) == "−2.9 points"
    assert said(numbers.show_difference)(TIME, -2700.0) == "−45 min"
    assert said(numbers.show_difference)(SCORE, 1.0) == "+1 point"
    assert said(numbers.show_difference)(YIELD, 0.0) == "0 points"
    assert said(numbers.show_difference_interval)(YIELD, -0.008, 0.065) == "−0.8 to +6.5 points"
    assert said(numbers.show_difference_interval)(TIME, -6600.0, 300.0) == "−1 h 50 min to +5 min"


def test_an_interval_has_one_number_of_decimals_and_keeps_its_side_of_nought() -> None:
    assert said(numbers.show_difference_interval)(YIELD, 0.0003, 0.0919) == (
        "just above 0 to +9.2 points"
    )
    assert said(numbers.show_difference_interval)(YIELD, -0.09, -0.0002) == (
        "−9.0 to just below 0 points"
    )
    # Rows of one measure stand beside each other, so a wide one does not lose the decimal.
    assert said(numbers.show_difference)(YIELD, 0.04, -0.02, 0.11) == "+4.0 points"
    assert said(numbers.show_difference_interval)(YIELD, -0.02, 0.11) == "−2.0 to +11.0 points"
    # One that is narrower than what matters shows that it is.
    assert said(numbers.show_difference_interval)(YIELD, 0.0231, 0.0235) == "+2.31 to +2.35 points"
    assert said(numbers.show_difference_interval)(TIME, 20.0, 9000.0) == (
        "just above 0 to +2 h 30 min"
    )
    assert said(numbers.show_difference_interval)(YIELD, -math.inf, 0.02) == "below 2.00 points"


def test_differences_in_words_name_their_side() -> None:
    assert said(numbers.show_difference_words)(YIELD, 0.029, -0.008, 0.065) == "2.9 points more"
    assert said(numbers.show_difference_words)(TIME, -2700.0) == "45 min shorter"
    assert said(numbers.show_difference_words)(SHEAR, -0.5) == "0.5 kg lower"
    assert said(numbers.show_size)(TIME, 2700.0) == "45 min"
    assert said(numbers.show_size)(SCORE, 1.0) == "1 point"


def test_ratios_are_shown_as_a_change() -> None:
    assert said(numbers.show_ratio)(0.931, 0.879, 0.984) == "−7 % (−12 to −2 %)"
    assert said(numbers.show_ratio)(1.051, 0.987, 1.112) == "+5 % (−1 to +11 %)"


@pytest.mark.parametrize(
    ("chance", "shown"),
    [
        (0.0, "less than 0.1 %"),
        (0.0004, "less than 0.1 %"),
        (0.005, "0.5 %"),
        (0.5, "50 %"),
        (0.97, "97 %"),
        (0.994, "99.4 %"),
        (0.9996, "more than 99.9 %"),
        (1.0, "more than 99.9 %"),
        (math.nan, "not known"),
    ],
)
def test_a_chance_is_never_shown_as_certain(chance: float, shown: str) -> None:
    assert said(numbers.show_chance)(chance) == shown


def test_p_values() -> None:
    # Darwin's maize: exact two-sided p 0.0527 (Fisher, The Design of Experiments, 1935).
    assert said(numbers.show_p)(0.0527) == "p = 0.053"
    assert said(numbers.show_p)(0.0002) == "p < 0.001"
    assert said(numbers.show_p)(0.625) == "p = 0.62"


def test_masses_with_their_uncertainty() -> None:
    assert str(MassSpread(4.112, 0.004, as_scales=True)) == "4.112 ± 0.004 kg"
    assert str(MassSpread(0.086, 0.012, as_scales=True)) == "86 ± 12 g"
    assert str(MassSpread(2.4, 0.12, as_scales=True)) == "2.40 ± 0.12 kg"
    assert str(MassSpread(4.112, 0.0, as_scales=True)) == "4.112 kg"
    # 4.112 kg is 145.046 oz by the exact pound of 0.45359237 kg: 9 lb and 1.046 oz.
    assert MassSpread(4.112, 0.004, as_scales=True).text(US) == "9 lb 1.0 oz ± 0.1 oz"


def test_numbers_are_in_the_readers_language() -> None:
    german = replace(ENGLISH, language="de")
    interval = numbers.show_difference_interval(YIELD, 0.0003, 0.0919)
    assert german.say(interval) == "knapp über 0 bis +9,2 Punkte"
    assert german.say(numbers.show_plus_minus(YIELD, 0.594111, 0.0012)) == "59,41 ± 0,12 %"
    assert german.say(numbers.show_p(0.0527)) == "p = 0,053"


def test_moments_are_local_and_in_english() -> None:
    instant = datetime(2026, 5, 2, 22, 40, tzinfo=UTC)
    assert numbers.show_moment(instant, ZoneInfo("Europe/London")) == "Sat 2 May 2026, 23:40"
    assert numbers.show_moment(instant, ZoneInfo("Asia/Tokyo")) == "Sun 3 May 2026, 07:40"


@pytest.mark.parametrize(
    ("chance", "lines", "shown"),
    [
        (0.9496, (0.95,), "94.96 %"),
        (0.9499999, (0.95,), "94.99999 %"),
        (0.95, (0.95,), "95 %"),
        (0.9504, (0.95,), "95 %"),
        (0.5996, (0.6, 0.8, 0.95), "59.96 %"),
        (0.796, (0.6, 0.8, 0.95), "79.6 %"),
        (0.9746, (0.975,), "97 %"),
        (0.9752, (0.975,), "98 %"),
        (0.9746, (), "97 %"),
    ],
)
def test_a_chance_is_never_rounded_across_a_line_that_decides(
    chance: float, lines: tuple[float, ...], shown: str
) -> None:
    assert str(numbers.show_chance(chance, lines=lines)) == shown


def test_no_probability_ends_on_the_other_side_of_the_line() -> None:
    for chance in np.linspace(0.001, 0.999, 4001):
        for line in (0.6, 0.8, 0.9, 0.95, 0.975):
            number = float(
                str(numbers.show_chance(float(chance), lines=(line,))).removesuffix(" %")
            )
            assert (number >= 100 * line - 1e-9) == (chance >= line)
