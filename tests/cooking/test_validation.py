"""The model against the published experiments: bars that are met, orders, and the fit itself.

Every source stands in src/fairsmoke/cooking/experiments/sources and docs/experiments.md. What is
missed, by how much and why stands in docs/validation.md, whose medians are held to the code here.
"""

import functools
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fairsmoke.cooking.calibrate import (
    FITTED,
    HELD_TO,
    ErrorTable,
    calibrate,
    error_table,
    predicted,
    refuted_sources,
    starting,
)
from fairsmoke.cooking.constants import DEFAULT, SOURCES
from fairsmoke.cooking.experiments import library
from fairsmoke.cooking.rerun import held_at_core
from fairsmoke.cooking.validate import answers, checks, trends
from fairsmoke.telling.simulator_words import STANDING

DOCS = Path(__file__).parents[2] / "docs" / "validation.md"
LIBRARY = {source.key: source for source in library()}
WRONG_ORDERS = 13


@functools.cache
def table() -> ErrorTable:
    return error_table(draws=0)


def test_medians_in_the_docs_are_those_of_the_code() -> None:
    text = DOCS.read_text("utf-8")
    for use, words in (("fit", "for fitting"), ("test", "held apart")):
        for kind, unit in (("times", "%"), ("loss", "points")):
            told = re.search(rf"\| {words} \| {kind} \| ([\d.]+) {unit}", text)
            assert told, (words, kind)
            assert 100 * table().median(use, kind) == pytest.approx(float(told.group(1)), abs=0.3)
            told = re.search(rf"\| studies {words} \| {kind} \| ([\d.]+) {unit}", text)
            if use == "test":
                assert told, kind
                median = table().median(use, kind, studies=True)
                assert 100 * median == pytest.approx(float(told.group(1)), abs=0.3)


def test_what_stands_before_every_simulated_number_is_what_was_found() -> None:
    losses = 100 * table().median("test", "loss", studies=True)
    assert f"off by about {losses:.0f} points or more" in str(STANDING)
    assert "two fifths" in str(STANDING)
    assert table().median("test", "times") == pytest.approx(0.4, abs=0.05)


def test_losses_used_for_fitting_are_met_within_three_points() -> None:
    assert table().median("fit", "loss") < 0.03


def test_times_of_studies_held_apart_are_met_within_ten_per_cent() -> None:
    assert table().median("test", "times", studies=True) < 0.10


@pytest.mark.xfail(raises=AssertionError, reason="39 %: cooks' logs, docs/validation.md")
def test_times_held_apart_are_met_within_ten_per_cent() -> None:
    assert table().median("test", "times") < 0.10


def test_losses_of_studies_held_apart_are_met_within_three_points() -> None:
    assert table().median("test", "loss", studies=True) < 0.03


@pytest.mark.xfail(raises=AssertionError, reason="3.4 points with cooks' logs, docs/validation.md")
def test_losses_held_apart_are_met_within_three_points() -> None:
    assert table().median("test", "loss") < 0.03


def test_enough_independent_sources_give_numbers() -> None:
    told = {c.source: c.use for c in table().checks if c.source not in table().refuted}
    assert len(told) >= 6
    assert sum(use == "test" for use in told.values()) >= 2


def test_smoked_brisket_held_apart_is_done_when_it_was() -> None:
    # Harris et al. 2017: about 11 h to about 85 °C at 99 °C, never fitted.
    times = [a["time_s"] / 3600 for a in predicted(LIBRARY["harris_2017"].cases[0], draws=16)]
    assert np.quantile(times, 0.05) < 11.0 < np.quantile(times, 0.95)


@pytest.mark.parametrize("key", ["pork_picnic_braised", "pork_spareribs", "eye_of_round_roast"])
def test_national_yields_lie_inside_the_predicted_interval(key: str) -> None:
    case = LIBRARY["usda_yields_2014"].case(key)
    yields = [a["yield_fraction"] for a in predicted(case) if a]
    low, high = np.quantile(yields, [0.05, 0.95])
    found = case.outcomes[0]
    assert found.sd is not None
    assert found.n is not None
    # The mean of a dozen pieces is itself known to two standard errors.
    known = 2.0 * found.sd / found.n**0.5
    assert low - known <= found.value <= high + known


def test_national_yield_of_braised_brisket_lies_inside_the_predicted_interval() -> None:
    case = LIBRARY["usda_yields_2014"].case("brisket_flat_braised")
    yields = [a["yield_fraction"] for a in predicted(case) if a]
    assert np.quantile(yields, 0.05) <= case.outcomes[0].value


def test_collagen_dissolves_in_the_order_that_was_found() -> None:
    told = [t for t in table().trends if t.measure == "collagen_soluble_fraction" and t.told]
    assert len(told) >= 9
    # Slow against fast heating of one source is missed: docs/validation.md.
    wrong = [(t.source, t.more) for t in told if not t.right]
    assert wrong in ([], [("penfield_meyer_1975", "slow_70")])


def test_times_come_in_the_order_that_was_found() -> None:
    told = [t for t in table().trends if t.measure == "time_s" and t.told]
    assert len(told) >= 6
    assert all(t.right for t in told)


def test_shear_turns_where_it_was_found_to_turn() -> None:
    # Machlik & Draudt 1963, Obuz et al. 2004, Christensen et al. 2011, Rinaldi et al. 2014.
    found = {(t.source, t.more, t.less): t.right for t in table().trends if t.measure == "shear_n"}
    for order in [
        ("machlik_draudt_1963", "bath_75_30min", "bath_62_30min"),
        ("obuz_2004", "brisket_45", "brisket_65"),
        ("obuz_2004", "brisket_80", "brisket_65"),
        ("christensen_2011_beef", "bath_53_2h", "bath_55_2h"),
        ("laakkonen_1970", "hour_4", "hour_6"),
        ("rinaldi_2014", "bath_100_2h", "bath_75_36h"),
    ]:
        assert found[order], order


def test_no_more_orders_are_wrong_than_the_docs_say() -> None:
    wrong = [t for t in table().trends if t.told and not t.right]
    assert len(wrong) <= WRONG_ORDERS
    assert f"{len(wrong)} of {sum(t.told for t in table().trends)} orders wrong" in DOCS.read_text(
        "utf-8"
    )


def test_a_refuted_source_is_one_that_evaporation_cannot_explain() -> None:
    refuted = refuted_sources(starting())
    assert refuted == {"lowe_1932", "shoulder_kitchen_2015"}
    assert all(LIBRARY[key].use == "fit" for key in refuted)


def test_no_source_for_testing_is_looked_at_while_fitting(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: set[str] = set()

    class StopError(Exception):
        pass

    def watch(constants: object, sources: list[object], *rest: object, **more: object) -> None:
        seen.update(source.use for source in sources)  # type: ignore[attr-defined]
        raise StopError

    monkeypatch.setattr("fairsmoke.cooking.calibrate.checks", watch)
    with pytest.raises(StopError):
        calibrate()
    assert seen == {"fit"}


def test_constants_are_what_the_fit_gives_from_another_start() -> None:
    moved = replace(
        DEFAULT,
        diffusivity_40c_m2_s=DEFAULT.diffusivity_40c_m2_s * 0.7,
        drain_per_s=DEFAULT.drain_per_s * 1.5,
        juice_falls=0.4,
        lost_by_actin=0.12,
    )
    again = calibrate(moved_from=moved)
    for one in FITTED:
        shipped, fitted = getattr(DEFAULT, one.name), getattr(again.constants, one.name)
        apart = abs(one.inward(fitted) - one.inward(shipped))
        assert apart < 0.5 * HELD_TO[one.name], (one.name, shipped, fitted)
        assert again.spread[one.name] == pytest.approx(HELD_TO[one.name], rel=0.4), one.name
        assert one.low < shipped < one.high
        assert "docs/validation.md" in SOURCES[one.name]


def test_a_hold_is_at_the_core_temperature_reached() -> None:
    held = held_at_core(LIBRARY["kerth_2024"].case("core_85_hold"))
    assert held.heating.stages[-1].medium_c == 85.0
    assert held.end.total_s == 3 * 3600.0
    bath = LIBRARY["christensen_2011_pork"].case("bath_58_17h")
    assert held_at_core(bath) == bath


def test_errors_are_shares_of_times_and_points_of_losses() -> None:
    found = {(c.case, c.measure): c for c in checks(sources=[LIBRARY["fletcher_2021"]])}
    time = found["brisket", "time_s"]
    assert time.error == pytest.approx(time.model / 28800.0 - 1.0)
    assert math.isnan(time.low)
    text = table().text
    assert "held apart, times: median error" in text


def test_a_case_that_cannot_be_cooked_has_no_answers_and_counts_as_such() -> None:
    frozen = LIBRARY["jones_1980"].case("oven_149_frozen")
    assert answers(DEFAULT, frozen) == {}
    assert any(not t.told for t in trends())
