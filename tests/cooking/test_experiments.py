"""The library of published experiments: what it holds, what it refuses, and who may be fitted.

The conversions are recomputed here from the numbers as printed; two rows of the national table are
checked against other readings of it (a research note and another selection, both public).
"""

import dataclasses
import re
from pathlib import Path

import pytest

from fairsmoke.cooking.experiments import (
    ExperimentError,
    MeasuredOutcome,
    Pooled,
    Publication,
    assigned_use,
    check_use,
    library,
    measured,
)
from fairsmoke.cooking.experiments.library import parse_source
from fairsmoke.cooking.experiments.model import MEASURE_MEANING

POUND_KG = 0.45359237
GRAVITY_N_KG = 9.80665
SOURCES = {source.key: source for source in library()}
DOCS = Path(__file__).parents[2] / "docs" / "experiments.md"

GOOD = """
citation: An invented source for this test
year: 2001
year_seen: read
address: [example]
seen: read
rule_class: oven
use: fit
gives: one time
cases:
  - key: roast
    species: beef
    cut: roast
    piece: {mass_kg: 2.0, start_c: 5}
    heating: {medium: air, stages: [{medium_c: 120}]}
    end: {core_c: 60}
    outcomes: [{measure: time_s, value: 9000, printed: 150 min}]
    assumed: [{field: thick_m, low: 0.08, high: 0.10, why: compact roast}]
"""


def family(source: Publication) -> str:
    return source.family or source.key


def test_at_least_eight_independent_sources_give_a_time_or_a_loss() -> None:
    wanted = {"time_s", "loss_fraction", "yield_fraction", "water_fraction"}
    useful = {family(source) for source in library() if source.measures() & wanted}
    held_apart = {family(s) for s in library() if s.measures() & wanted and s.use == "test"}
    assert len(useful) >= 8
    assert len(held_apart) >= 2
    assert useful - held_apart


@pytest.mark.parametrize("measure", ["time_s", "loss_fraction", "shear_n"])
def test_fitting_and_testing_share_no_source(measure: str) -> None:
    fit = {family(s) for s in library() if measure in s.measures() and s.use == "fit"}
    test = {family(s) for s in library() if measure in s.measures() and s.use == "test"}
    assert fit
    assert test
    assert not fit & test


def test_use_follows_the_rule_and_not_the_numbers() -> None:
    check_use(library())
    swapped = dataclasses.replace(SOURCES["liu_2024"], use="fit")
    others = [source for source in library() if source.key != "liu_2024"]
    with pytest.raises(ExperimentError, match=r"liu_2024\.yaml: use is fit, the rule gives test"):
        check_use([*others, swapped])


def test_a_later_source_never_turns_a_fitted_one_into_a_test() -> None:
    later = dataclasses.replace(SOURCES["hwang_2019"], key="older_2001", year=2001, round=3)
    use = assigned_use([*library(), later])
    assert use["older_2001"] == "test"  # fourth place of the water baths
    assert {key: use[key] for key in SOURCES} == {key: one.use for key, one in SOURCES.items()}


def test_one_family_has_one_use() -> None:
    twin = dataclasses.replace(SOURCES["hwang_2019"], key="twin_2020", year=2020, family="loin")
    first = dataclasses.replace(SOURCES["hwang_2019"], family="loin")
    use = assigned_use([first, twin, SOURCES["liu_2024"]])
    assert use == {"hwang_2019": "fit", "twin_2020": "fit", "liu_2024": "test"}


def test_roast_masses_and_times_recomputed_from_the_printed_pounds_and_minutes() -> None:
    # Lowe 1932: minutes per pound, number of roasts, total pounds and ounces.
    pattern = re.compile(r"([\d.]+) min/lb; (\d+) (?:roasts|hams) (\d+) lb (\d+) oz")
    for case in SOURCES["lowe_1932"].cases:
        time = next(one for one in case.outcomes if one.measure == "time_s")
        found = pattern.search(time.printed)
        assert found, time.printed
        rate, number, pounds, ounces = (float(part) for part in found.groups())
        pounds_each = (pounds + ounces / 16) / number
        assert case.piece.mass_kg == pytest.approx(pounds_each * POUND_KG, abs=6e-4)
        assert time.value == pytest.approx(rate * pounds_each * 60, abs=1)
        assert time.n == number


def test_printed_losses_agree_with_the_printed_masses_to_two_points() -> None:
    # The book's percentages are means over roasts; its total masses give the pooled loss.
    pattern = re.compile(r"(\d+) lb (\d+) oz to (\d+) lb (\d+) oz")
    for _, case, loss in (row for row in measured("loss_fraction") if row[0].key == "lowe_1932"):
        found = pattern.search(loss.printed)
        assert found, case.key
        raw, raw_oz, cooked, cooked_oz = (float(part) for part in found.groups())
        pooled = 1 - (cooked + cooked_oz / 16) / (raw + raw_oz / 16)
        assert loss.value == pytest.approx(pooled, abs=0.02)
        assert loss.printed.startswith(f"{100 * loss.value:.1f} %")


def test_kitchen_log_times_agree_with_its_printed_minutes_per_kilogram() -> None:
    for case in SOURCES["roast_log_2024"].cases:
        time = next(one for one in case.outcomes if one.measure == "time_s")
        minutes, rate = (float(part) for part in re.findall(r"[\d.]+", time.printed)[:2])
        assert case.piece.mass_kg is not None
        assert time.value == minutes * 60
        assert minutes / case.piece.mass_kg == pytest.approx(rate, abs=1.0)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def seconds(clock: str) -> int:
    hours, minutes = clock.split(":")
    return 3600 * int(hours) + 60 * int(minutes)


@pytest.mark.parametrize(("key", "on"), [("rib_log_2014", "09:40"), ("brisket_log_2015", "17:17")])
def test_logged_times_and_cores_recomputed_from_the_clock(key: str, on: str) -> None:
    # The logs' own lines: degrees Fahrenheit and the time of day.
    for case in SOURCES[key].cases:
        printed = case.outcomes[0].printed
        found = re.match(r"([\d.]+) °F at (\d\d:\d\d)( the next day)?", printed)
        assert found, printed
        day = 86400 if found.group(3) else 0
        assert case.end.core_c == pytest.approx(celsius(float(found.group(1))), abs=0.06)
        assert case.outcomes[0].value == seconds(found.group(2)) + day - seconds(on)


def test_chuck_roasts_recomputed_from_pounds_inches_and_hours() -> None:
    for case in SOURCES["chuck_roasts_2018"].cases:
        pounds, inches, hours, end = (
            float(part) for part in re.findall(r"[\d.]+", case.outcomes[0].printed)
        )
        assert case.piece.mass_kg == pytest.approx(pounds * POUND_KG, abs=1.1e-3)
        assert case.piece.thick_m == pytest.approx(inches * 0.0254, abs=6e-5)
        assert case.outcomes[0].value == hours * 3600
        assert case.end.core_c == pytest.approx(celsius(end), abs=0.06)


@pytest.mark.parametrize("key", ["smoker_log_2025", "smoke_posts_2026", "pull_bath_2012"])
def test_smoke_logs_recomputed_from_hours_and_fahrenheit(key: str) -> None:
    for case in SOURCES[key].cases:
        for one in case.outcomes:
            took = re.search(r"after (?:only )?([\d.]+) h(?: (\d+) min)?", one.printed)
            if took and one.measure in ("time_s", "time_to_wrap_s"):
                last = re.findall(r"after ([\d.]+) h(?: (\d+) min)?", one.printed)[-1]
                assert one.value == pytest.approx(
                    3600 * float(last[0]) + 60 * float(last[1] or 0), abs=1
                )
            first = re.match(
                r"(?:only )?(?:point |on at 7:30, )?(\d+) (?:and \d+ )?°F", one.printed
            )
            if first and one.measure == "time_s":
                assert case.end.core_c == pytest.approx(celsius(float(first.group(1))), abs=0.06)
        told = re.match(r"(\d+) °F, ([\d.]+) h", case.notes)
        if told:
            warm = case.heating.stages[-1].medium_c
            assert warm == pytest.approx(celsius(float(told.group(1))), abs=0.06)
            assert case.end.hold_s == float(told.group(2)) * 3600


def test_fahrenheit_and_kilograms_force_recomputed() -> None:
    rib, shoulder = SOURCES["rib_kitchen_2012"], SOURCES["shoulder_kitchen_2015"]
    for case, fahrenheit in [
        (rib.case("oven_121"), 250),
        (rib.case("oven_232"), 450),
        (shoulder.case("oven_121"), 250),
        (shoulder.case("oven_191"), 375),
        (SOURCES["powell_2000"].case("oven_163"), 325),
        (SOURCES["stall_2011"].case("brisket_107"), 225),
        (SOURCES["harris_2017"].case("brisket"), 210),
    ]:
        assert case.heating.stages[-1].medium_c == pytest.approx((fahrenheit - 32) / 1.8, abs=0.06)
    for key, kilograms in [("oven_163", 4.7), ("three_stages", 3.3)]:
        shear = SOURCES["powell_2000"].case(key).outcomes[0]
        assert shear.value == pytest.approx(kilograms * GRAVITY_N_KG, abs=0.05)


@pytest.mark.parametrize("source", library(), ids=lambda source: source.key)
def test_every_per_cent_is_what_stands_printed(source: Publication) -> None:
    numbers: list[MeasuredOutcome | Pooled] = [*source.pooled]
    numbers += [outcome for case in source.cases for outcome in case.outcomes]
    for number in numbers:
        if number.measure.endswith("_fraction"):
            found = re.match(r"-?[\d.]+", number.printed)
            assert found, number.printed
            assert 100 * number.value == pytest.approx(float(found.group()), abs=0.006)


def test_national_table_rows_agree_with_other_readings_of_it() -> None:
    table = SOURCES["usda_yields_2014"]
    # A public research note quotes: 13806, braised, 69 %, n 20, SD 3.0, 65-76, -25.0, -10.2.
    flat, water, fat = table.case("brisket_flat_braised").outcomes
    assert (flat.value, flat.n, flat.low, flat.high) == (0.69, 20, 0.65, 0.76)
    assert flat.sd == pytest.approx(0.030, abs=0.0005)
    assert (water.value, fat.value) == pytest.approx((-0.250, -0.102), abs=0.0005)
    # Another public selection of the table: spareribs 76 % of 12, centre loin roast 77 % of 12.
    for key, value in [("pork_spareribs", 0.76), ("pork_center_loin", 0.77)]:
        first = table.case(key).outcomes[0]
        assert (first.value, first.n) == (value, 12)


def test_water_per_protein_of_brisket_before_and_after_hours_of_braising() -> None:
    # references/physics.md section 2.2, computed there from the same national file: 3.42, 1.83.
    lean = SOURCES["usda_composition_2014"].case("brisket_flat_lean")
    cooked = {outcome.measure: outcome.value for outcome in lean.outcomes}
    assert lean.piece.water_fraction is not None
    assert lean.piece.protein_fraction is not None
    raw = lean.piece.water_fraction / lean.piece.protein_fraction
    assert raw == pytest.approx(3.42, abs=0.005)
    braised = cooked["water_fraction"] / cooked["protein_fraction"]
    assert braised == pytest.approx(1.83, abs=0.005)


def test_drippings_and_bone_of_the_rib_roasts_recomputed_from_pounds_and_ounces() -> None:
    # Lowe 1932, table of waste: drippings 6 lb 1 oz and 3 lb 4 oz; bone 9 lb 12 oz and 4 lb 2 oz.
    for key, raw_oz, drip_oz, bone_oz in [
        ("rib_medium", 60 * 16 + 9, 6 * 16 + 1, 9 * 16 + 12),
        ("rib_well_done", 31 * 16 + 4, 3 * 16 + 4, 4 * 16 + 2),
    ]:
        case = SOURCES["lowe_1932"].case(key)
        drip = next(one for one in case.outcomes if one.measure == "drip_fraction")
        assert drip.value == pytest.approx(drip_oz / raw_oz, abs=1e-4)
        assert case.piece.bone_fraction == pytest.approx(bone_oz / raw_oz, abs=5e-4)


def test_water_over_protein_is_the_quotient_of_the_printed_shares() -> None:
    for case in SOURCES["usda_composition_2014"].cases:
        shares = {one.measure: one for one in case.outcomes}
        assert shares["water_protein_ratio"].value == pytest.approx(
            shares["water_fraction"].value / shares["protein_fraction"].value, abs=6e-4
        )
        assert not shares["water_protein_ratio"].apart
        assert shares["water_fraction"].apart


def test_what_is_kept_apart_is_so_by_the_written_rule() -> None:
    # docs/experiments.md, "Kept, but not set beside the model".
    cases = {(s.key, c.key) for s in library() for c in s.cases if c.apart}
    frozen = {(s.key, c.key) for s in library() for c in s.cases if (c.piece.start_c or 0.0) < -1.0}
    small = {
        (s.key, c.key)
        for s in library()
        for c in s.cases
        if max(c.piece.width_m or 1.0, c.piece.length_m or 1.0) < 0.02
    }
    untold = {
        (s.key, c.key)
        for s in library()
        for c in s.cases
        for gap in c.assumed
        if gap.field == "medium_c" and gap.high - gap.low > 60.0
    }
    assert frozen
    assert small
    assert untold
    assert cases == frozen | small | untold
    text = DOCS.read_text("utf-8")
    assert all(f"`{key}`" in text.split("Kept, but not set beside")[1] for key, _ in cases)


def test_nothing_can_be_changed_after_reading() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        SOURCES["lowe_1932"].use = "test"  # type: ignore[misc]


def test_every_measure_has_its_meaning_and_unit_in_its_name() -> None:
    units = ("_s", "_c", "_k", "_n", "_fraction", "_ratio")
    assert all(name.endswith(units) for name in MEASURE_MEANING)
    used = {name for source in library() for name in source.measures()}
    used |= {order.measure for source in library() for order in source.orderings}
    assert used <= set(MEASURE_MEANING)


def test_gaps_on_which_the_outcome_turns_are_told() -> None:
    assert SOURCES["kerth_2024"].case("core_85_hold").major_gaps == (
        "medium_c",
        "mass_kg",
        "thick_m",
        "humidity_kg_kg",
    )
    assert SOURCES["hwang_2019"].case("bath_60_24h").major_gaps == ()


def test_the_invented_source_is_read_whole() -> None:
    source = parse_source(GOOD, "invented_2001.yaml")
    assert source.key == "invented_2001"
    assert source.case("roast").given() == {"mass_kg", "start_c", "medium_c", "core_c"}
    assert source.measures() == {"time_s"}


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("mass_kg: 2.0", "mass_kg: 0", r"cases → roast → piece → mass_kg: .*greater than 0"),
        ("mass_kg: 2.0", "mass: 2.0", r"cases → roast → piece → mass: Unexpected"),
        ("medium_c: 120", "medium_c: 900", r"stages → 0 → medium_c: .*less than or equal to 320"),
        ("[{medium_c: 120}]", "[{}]", r"medium_c is neither given for every stage nor assumed"),
        ("medium: air", "medium: covered_pan", r"inside a covered pan it is not above 101 °C"),
        ("[{medium_c: 120}]", "[{medium_c: 120}, {}]", r"stage 1 of 2 needs a duration or a core"),
        ("{medium_c: 120}", "{medium_c: 9, duration_s: 5}", r"stage 1 of 1 lasts until the end"),
        ("{core_c: 60}", "{}", r"nothing says when the cook ends"),
        ("value: 9000", "value: -9000", r"time_s is -9000.0; it must be above 0"),
        ("time_s, value: 9000", "loss_fraction, value: 22", r"loss_fraction is 22.0; a fraction"),
        ("printed: 150 min", "printed: 150 min, high: 8000", r"9000.0 lies outside its range"),
        ("printed: 150 min", "printed: ''", r"printed: .*at least 1 character"),
        ("field: thick_m", "field: mass_kg", r"mass_kg is given and assumed"),
        ("field: thick_m", "field: colour", r"colour is not a quantity of a piece"),
        ("high: 0.10", "high: 0.08", r"the range of thick_m is empty"),
        ("start_c: 5", "water_fraction: 0.8, fat_fraction: 0.4", r"add up to more than 1"),
        ("rule_class: oven", "rule_class: grill", r"rule_class: Input should be"),
        ("year: 2001", "year: 2001\nkey: other", r"its key is other\. Name the file"),
        ("use: fit", "use: [fit", r"not readable as YAML"),
    ],
)
def test_a_bad_file_is_refused_with_place_and_reason(old: str, new: str, told: str) -> None:
    assert old in GOOD
    with pytest.raises(ExperimentError, match=told) as caught:
        parse_source(GOOD.replace(old, new), "invented_2001.yaml")
    assert str(caught.value).startswith("invented_2001.yaml: ")


def test_an_empty_file_and_a_comparison_with_an_unknown_case_are_refused() -> None:
    with pytest.raises(ExperimentError, match="holds no keys"):
        parse_source("", "invented_2001.yaml")
    order = "orderings: [{measure: time_s, more: roast, less: stew, printed: longer}]\n"
    with pytest.raises(ExperimentError, match="no case is called stew"):
        parse_source(GOOD + order, "invented_2001.yaml")
    same = "alikes: [{measure: shear_n, cases: [roast, stew], printed: alike}]\n"
    with pytest.raises(ExperimentError, match="no case is called stew"):
        parse_source(GOOD + same, "invented_2001.yaml")


def test_docs_list_every_source_with_its_use() -> None:
    rows = [line for line in DOCS.read_text("utf-8").splitlines() if line.startswith("| `")]
    listed = {line.split("`")[1]: line for line in rows}
    assert set(listed) == set(SOURCES)
    for key, line in listed.items():
        assert f"| {SOURCES[key].use} |" in line, key
