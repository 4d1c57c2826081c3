"""Ordinary tests of lethality, the cooking table and growth."""

import math

import numpy as np
import pytest

from fairsmoke.physics import PhysicsRangeError, cook_table, growth, lethality
from fairsmoke.physics.cook_table import CookRow, holds_reached, row_seconds, table_share
from fairsmoke.physics.heat_resistance import RESISTANCES

PATTY = RESISTANCES["salmonella patty"]


def test_straight_is_exact_for_a_straight_climb() -> None:
    # ∫ 10^((T − T_ref)/z) over a climb of rate r: (L_2 − L_1)·z/(r·ln 10).
    found = lethality.equivalent_times_s([0.0, 600.0], [55.0, 65.0], 60.0, 5.0, between="straight")
    exact = (10.0 - 0.1) * 5.0 / (10.0 / 600.0 * math.log(10.0))
    assert found[-1] == pytest.approx(exact)
    trapezoid = lethality.equivalent_times_s([0.0, 600.0], [55.0, 65.0], 60.0, 5.0)
    assert trapezoid[-1] == pytest.approx(600.0 * 10.1 / 2)
    level = lethality.equivalent_times_s([0.0, 60.0], [60.0, 60.0], 60.0, 5.0, between="straight")
    assert level[-1] == pytest.approx(60.0)


def test_no_credit_below_the_floor_or_across_a_gap() -> None:
    times = np.array([0.0, 60.0, 120.0])
    assert lethality.log_reduction(times, [54.3, 54.3, 54.3], PATTY) == 0.0
    assert lethality.log_reduction(times, [54.3, 60.0, 54.3], PATTY) == 0.0
    assert lethality.log_reduction(times, [54.3] * 3, PATTY, lowest_c=None) > 0.0
    assert lethality.log_reduction([0.0, 601.0], [60.0, 60.0], PATTY) == 0.0
    assert lethality.log_reduction([0.0, 600.0], [60.0, 60.0], PATTY) > 0.0


def test_no_credit_for_being_hotter_than_measured() -> None:
    hot = lethality.log_reduction([0.0, 60.0], [95.0, 95.0], PATTY)
    assert hot == lethality.log_reduction([0.0, 60.0], [70.0, 70.0], PATTY)
    with pytest.raises(PhysicsRangeError):
        lethality.log_reduction([0.0, 60.0], [95.0, 950.0], PATTY)


def test_z_must_be_above_zero() -> None:
    with pytest.raises(PhysicsRangeError, match="z of 0"):
        lethality.lethal_rate(60.0, 60.0, 0.0)


@pytest.mark.parametrize("row", cook_table.COOK_ROWS, ids=lambda row: f"{row.temp_f}F")
def test_each_row_meets_its_own_table(row: CookRow) -> None:
    for logs in ("5", "6.5", "7"):
        needed = row_seconds(row, logs)
        held = [row.temp_c, row.temp_c]
        assert holds_reached([0.0, needed], held, logs) == pytest.approx(1.0)
        assert table_share([0.0, needed], held, logs) == pytest.approx(1.0)
        assert holds_reached([0.0, needed * 0.9], held, logs) < 1.0


def test_a_margin_for_the_probe_asks_for_more() -> None:
    record = [0.0, 720.0], [60.0, 60.0]
    assert holds_reached(*record) == pytest.approx(1.0)
    assert holds_reached(*record, margin_c=0.5) < 0.9
    assert table_share(*record, margin_c=0.5) < 0.9


def test_reaching_70_c_is_enough_at_once() -> None:
    record = [0.0, 60.0, 120.0], [50.0, 70.0, 50.0]
    assert math.isinf(holds_reached(*record))
    assert math.isinf(table_share(*record))
    assert not math.isinf(holds_reached(*record, margin_c=0.5))


def test_the_summed_dwell_credits_what_single_rows_do_not() -> None:
    # 6 min at 60 °C (12 asked), then 4.5 min at 60.6 °C (9 asked): half and half.
    record = [0.0, 360.0, 360.01, 630.01], [60.0, 60.0, 60.6, 60.6]
    assert table_share(*record) == pytest.approx(1.0, abs=0.002)
    assert holds_reached(*record) < 0.9
    assert table_share([0.0, 9000.0], [54.3, 54.3]) == 0.0


def test_unknown_column() -> None:
    with pytest.raises(ValueError, match=r"5, 6\.5 or 7"):
        row_seconds(cook_table.COOK_ROWS[0], "6")  # type: ignore[arg-type]


def test_growth_without_lag_is_rate_times_time() -> None:
    beef = growth.GROWTH_MODELS["perfringens beef"]
    times, temps = [0.0, 1800.0, 3600.0], [46.0, 46.0, 46.0]
    rate = float(growth.growth_rate_log10_h(46.0, beef))
    assert growth.growth_log10(times, temps, beef, lag=False) == pytest.approx(rate)
    assert 0.0 < growth.growth_log10(times, temps, beef) < rate


def test_no_growth_hot_or_cold() -> None:
    for model in growth.GROWTH_MODELS.values():
        if model.unit:
            ends = growth.growth_rate_log10_h([0.0, model.min_c, model.max_c, 60.0, 95.0], model)
            assert (ends == 0.0).all()
            assert growth.growth_log10([0.0, 86_400.0], [66.0, 66.0], model, lag=False) == 0.0


def test_salt_and_acid_slow_growth() -> None:
    plain = growth.meat_salt_ph_rate_ln_h(43.0, 0.5, 6.2)
    assert growth.meat_salt_ph_rate_ln_h(43.0, 2.0, 6.2) < plain
    assert growth.meat_salt_ph_rate_ln_h(43.0, 0.5, 5.5) < plain
    with pytest.raises(PhysicsRangeError, match="salt"):
        growth.meat_salt_ph_rate_ln_h(43.0, 8.0, 6.2)
