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


def test_lethality_at_its_edges() -> None:
    # Credit begins at 54.4 °C itself; a step counts only where both its ends are as hot.
    level = [54.4] * 4
    times = [0.0, 60.0, 120.0, 180.0]
    rate = 10 ** ((54.4 - PATTY.ref_c) / PATTY.z_c)
    expected = 180.0 * rate / (60.0 * PATTY.d_min)
    assert lethality.log_reduction(times, level, PATTY) == pytest.approx(expected)
    for temps in ([54.3, 54.4, 54.4, 54.4], [54.4, 54.4, 54.4, 54.3]):
        found = lethality.log_reduction(times, temps, PATTY)
        assert found == pytest.approx(expected * 2 / 3)
    middle = lethality.log_reduction(times, [54.4, 54.3, 54.4, 54.4], PATTY)
    assert middle == pytest.approx(expected / 3)


def test_temperatures_of_no_killing_step_are_refused() -> None:
    for temp in (-40.0, 150.0):
        assert lethality.lethal_rate(temp, temp, 10.0) == pytest.approx(1.0)
    for temp in (-40.5, 150.5):
        with pytest.raises(PhysicsRangeError):
            lethality.lethal_rate(temp, 60.0, 10.0)
    # z of half a kelvin is odd, but above 0.
    assert lethality.lethal_rate(60.5, 60.0, 0.5) == pytest.approx(10.0)


def test_a_nearly_level_climb_is_summed_like_a_level_one() -> None:
    for rise in (0.0, 1e-9, 1e-5, 1e-3):
        found = lethality.equivalent_times_s(
            [0.0, 60.0], [60.0, 60.0 + rise], 60.0, 5.0, between="straight"
        )
        # ∫ 10^(x/5) over a short climb: 60·(1 + rise·ln 10/10).
        assert found[-1] == pytest.approx(60.0 * (1 + rise * math.log(10.0) / 10), rel=1e-7)
    # Over a kelvin the mean rate is already less than half the sum of the ends.
    found = lethality.equivalent_times_s([0.0, 60.0], [60.0, 61.0], 60.0, 5.0, between="straight")
    exact = 60.0 * (10**0.2 - 1) * 5.0 / math.log(10.0)
    assert found[-1] == pytest.approx(exact, rel=1e-12)


def test_growth_window_ends() -> None:
    # Rates outside 10.15 to 53 °C would be negative or grow again: they are nought.
    beef = growth.GROWTH_MODELS["perfringens beef"]
    below, inside, above = growth.growth_rate_log10_h([10.14, 52.99, 53.01], beef)
    assert (below, above) == (0.0, 0.0)
    assert 0.0 < inside < 0.05
    # An hour at 52.99 °C grows by that rate, an hour at 53.01 °C not at all.
    assert growth.growth_log10([0.0, 3600.0], [53.01] * 2, beef, lag=False) == 0.0
    held = growth.growth_log10([0.0, 3600.0], [52.99] * 2, beef, lag=False)
    assert held == pytest.approx(float(inside))
    for temp in (-40.0, 150.0):
        assert growth.growth_rate_log10_h(temp, beef) == 0.0
    for temp in (-40.5, 150.5):
        with pytest.raises(PhysicsRangeError):
            growth.growth_rate_log10_h(temp, beef)


def test_growth_over_a_straight_climb_is_summed_finely() -> None:
    # The formula's own integral by quadrature, where the straight record has two readings only.
    from scipy.integrate import quad

    beef = growth.GROWTH_MODELS["perfringens beef"]

    def rate(temp: float) -> float:
        b, c = 0.050, 0.238
        return float((b * (temp - 10.15)) ** 2 * (1 - math.exp(c * (temp - 53.0))))

    hours = 6.0
    whole, _ = quad(rate, 10.15, 53.0)
    expected = whole / (60.0 - 5.0) * hours
    found = growth.growth_log10([0.0, hours * 3600], [5.0, 60.0], beef, lag=False)
    assert found == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("temp", "salt", "acid"),
    [(14.9, 1, 6), (52.1, 1, 6), (43, 0.4, 6), (43, 4.1, 6), (43, 1, 4.9), (43, 1, 6.3)],
)
def test_bulk_meat_outside_its_source(temp: float, salt: float, acid: float) -> None:
    with pytest.raises(PhysicsRangeError):
        growth.meat_salt_ph_rate_ln_h(temp, salt, acid)


@pytest.mark.parametrize(
    ("temp", "salt", "acid"),
    [(15.0, 0.5, 5.0), (52.0, 3.0, 6.25), (43.0, 2.0, 5.8), (43.0, 4.0, 6.0)],
)
def test_bulk_meat_by_its_formula(temp: float, salt: float, acid: float) -> None:
    # Le Marc et al. 2008, equation as the references give it (safety.md 4b), worked out here.
    activity = 1 - salt * (5.2471 + 0.12206 * salt) / 1000
    warmth = (temp - 12.20) ** 2 * (1 - math.exp(0.095 * (temp - 54.47)))
    expected = 7.45 * warmth * (activity - 0.9755) * (1.0245 - activity) * (acid - 4.76)
    found = growth.meat_salt_ph_rate_ln_h(temp, salt, acid)
    assert found == pytest.approx(expected, rel=1e-12)
