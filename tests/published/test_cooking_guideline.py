"""USDA FSIS Appendix A (1999): its table for beef, lamb and pork, and the Food Code's roasts.

Rows read (shared references, safety.md 1a and 3b).
"""

import math

import pytest

from fairsmoke.physics import cook_table, lethality
from fairsmoke.physics.cook_table import COOK_ROWS, required_hold_s, row_seconds
from fairsmoke.physics.heat_resistance import RESISTANCES

PATTY = RESISTANCES["salmonella patty"]


@pytest.mark.parametrize("row", COOK_ROWS, ids=lambda row: f"{row.temp_f}F")
def test_lethality_credited_to_each_printed_row(row: cook_table.CookRow) -> None:
    # The D and z of the process-lethality sheet credit the rows with 6.48 to 7.37 log.
    temp_c = (row.temp_f - 32) / 1.8
    half = row.seconds_65 / 2
    earned = lethality.log_reduction(
        [0.0, half, row.seconds_65], [temp_c] * 3, PATTY, lowest_c=None, longest_gap_s=math.inf
    )
    assert 6.4 < earned < 7.5
    assert 6.475 < earned < 7.375


# Food Code 3-401.11(B), whole-meat roasts, read in a state's adoption: °F and seconds.
FOOD_CODE = {
    130: 6720, 131: 5340, 133: 3360, 135: 2160, 136: 1680, 138: 1080, 140: 720, 142: 480,
    144: 300, 145: 240, 147: 134, 149: 85, 151: 54, 153: 34, 155: 22, 157: 14,
}  # fmt: skip


def test_the_food_code_prints_the_same_times() -> None:
    ours = {row.temp_f: row.seconds_65 for row in COOK_ROWS}
    assert {f: ours[f] for f in FOOD_CODE} == FOOD_CODE
    assert required_hold_s(70.0) == 0.0


def test_5_log_times_are_on_the_safe_side_of_the_patty_rule() -> None:
    # 9 CFR 318.23(b)(1), from memory: at most 2 s shorter than the derived column, never longer.
    ours = {row.temp_f: row_seconds(row, "5") for row in COOK_ROWS}
    for fahrenheit, seconds in (*cook_table.PATTY_ROWS, (157, 10.0)):
        assert 0 <= ours[fahrenheit] - seconds <= 2


def test_5_log_column_as_the_references_derived_it() -> None:
    minutes = (87, 69, 55, 44, 35, 28, 22, 18, 14, 12, 10, 7, 7, 5, 4, 4)
    seconds = (130, 104, 83, 66, 52, 42, 34, 27, 21, 17, 14, 11)
    derived = [60.0 * m for m in minutes] + [float(s) for s in seconds]
    assert [row_seconds(row, "5") for row in COOK_ROWS] == derived


def test_straight_line_through_the_logarithms() -> None:
    # Derived in the references from the 6.5-log column: z of 10.0 °F, D at 60 °C of 1.77 min.
    import numpy as np

    fahrenheit = np.array([row.temp_f for row in COOK_ROWS], dtype=float)
    logs = np.log10([row.seconds_65 / 60 for row in COOK_ROWS])
    slope, start = np.polyfit(fahrenheit, logs, 1)
    assert -1 / slope == pytest.approx(10.0, abs=0.05)
    assert 10 ** (start + slope * 140) / 6.5 == pytest.approx(1.77, abs=0.01)


def test_interpolated_times_lie_between_their_rows() -> None:
    assert 3360.0 < required_hold_s(55.85) < 4260.0
    assert required_hold_s(69.7) == pytest.approx(14.0)
    assert math.isinf(required_hold_s(54.3))
