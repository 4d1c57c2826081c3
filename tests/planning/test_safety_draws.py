"""Direction and quantile of every warning about a plan, with draws that differ from each other.

Cores are straight lines, so that the expected times stand in the tests; limits are those of
tests/published/test_safety_limits.py. Only codes, figures and stages are compared, no words.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.planning.when_days import HOUR_S, protocol

from fairsmoke.physics.growth import GROWTH_MODELS, growth_log10
from fairsmoke.planning.day.safety import SafetyNote, SafetyPiece, safety_notes
from fairsmoke.trial.protocol import EndCondition, Humidity, Place, Protocol, Stage

DRAWS = 20


def piece(time_h: list[float], cores: list[list[float]], **more: object) -> SafetyPiece:
    made = SafetyPiece(
        name="One",
        arm_name="Bare",
        species="pork",
        mass_kg=5.0,
        protocol=protocol(),
        time_s=np.array(time_h) * HOUR_S,
        core_c=np.array(cores),
        stretch=np.ones(len(cores)),
        log_salmonella=np.full(len(cores), 9.0),
        waits_s=3 * HOUR_S,
        cools_s=(1.5 * HOUR_S, 5.0 * HOUR_S),
    )
    return replace(made, **more)  # type: ignore[arg-type]


def usual(**more: object) -> SafetyPiece:
    return piece([0.0, 5.0, 10.0, 12.0], [[4.0, 54.4, 93.0, 70.0]] * DRAWS, **more)


def note(one: SafetyPiece, *codes: str, margin_k: float = 1.0) -> SafetyNote:
    """Return the one note with any of these codes."""
    (found,) = [n for n in safety_notes(one, margin_k) if n.code in codes]
    return found


def figure(found: SafetyNote, name: str) -> float:
    return float(found.figures[name])


def rising(hours: list[float]) -> SafetyPiece:
    """Return a piece with a draw for each time from 10 to 54.4 °C."""
    return piece([0.0, 1.0, 2.0], [[10.0, 54.4, 93.0]] * len(hours), stretch=np.array(hours))


# Coming up: 10 to 54.4 °C within 6 h.


def test_one_slow_draw_in_twenty_is_left_open_and_two_warn() -> None:
    one = note(rising([5.0] * 19 + [6.5]), "come-up")
    two = note(rising([5.0] * 18 + [6.5, 7.0]), "come-up")
    assert (one.warns, two.warns) == (False, True)
    assert (one.stage, two.stage) == ("Smoke", "Smoke")
    assert figure(one, "over") == pytest.approx(0.05)
    assert figure(two, "over") == pytest.approx(0.1)
    assert figure(two, "limit_s") == 6 * HOUR_S


def test_a_few_fast_draws_do_not_quieten_the_slow_ones() -> None:
    # Only when nearly all pass it would a warning be too late: here 85 of 100 are in time.
    assert note(rising([3.0] * 17 + [6.1] * 3), "come-up").warns


def test_exactly_six_hours_are_within_the_limit() -> None:
    found = note(rising([6.0] * DRAWS), "come-up")
    assert (found.warns, figure(found, "over")) == (False, 0.0)
    assert note(rising([6.001] * DRAWS), "come-up").warns


def test_the_time_told_is_the_slow_tail() -> None:
    hours = [3.0 + 0.1 * n for n in range(DRAWS)]
    # The 95 % point of 20 draws lies between the 19th and the 20th: the slower is told.
    assert figure(note(rising(hours), "come-up"), "took_s") == pytest.approx(4.9 * HOUR_S)
    # Whole order: position 95 of 100 steps among 101 draws, whichever way they are put in.
    many = [2.0 + 0.03 * n for n in range(101)]
    assert figure(note(rising(many[::-1]), "come-up"), "took_s") == pytest.approx(4.85 * HOUR_S)


def test_a_core_that_never_comes_up_takes_for_ever() -> None:
    never = piece([0.0, 9.0], [[4.0, 50.0]] * DRAWS)
    found = note(never, "come-up")
    assert found.warns
    assert np.isinf(figure(found, "took_s"))


def test_whether_it_was_pierced_is_kept() -> None:
    assert figure(note(usual(), "come-up"), "pierced") == 0.0
    assert figure(note(usual(punctured=True), "come-up"), "pierced") == 1.0


def test_a_draw_with_a_single_reading_says_nothing() -> None:
    nan = float("nan")
    cores = [[10.0, 54.4, 93.0]] * 18 + [[10.0, 54.4, nan], [80.0, nan, nan]]
    found = note(piece([0.0, 4.0, 9.0], cores), "come-up")
    # The last draw is left out (its 0 h would be the fast end); one of two readings counts.
    assert figure(found, "took_s") == pytest.approx(4 * HOUR_S)
    killing = note(piece([0.0, 4.0, 9.0], cores), "killing")
    assert figure(killing, "share") < 1.0
    single = note(piece([0.0, 4.0, 9.0], cores[:18] + [[200.0 / 3, nan, nan]] * 2), "killing")
    assert np.isinf(figure(single, "share"))


# Growth while it warms: told, never a warning of its own.


def test_time_in_the_growth_window_is_the_slow_tail() -> None:
    # 4 to 60 °C in a straight line of 1 h, stretched; the window's upper end is passed by 33 K.
    hours = np.array([1.0 + n for n in range(101)])
    one = piece([0.0, 1.0, 2.0], [[4.0, 60.0, 93.0]] * 101, stretch=hours)
    found = note(one, "growth")
    assert figure(found, "warm_s") == pytest.approx(96 * HOUR_S)
    assert (found.stage, found.warns) == ("Smoke", False)


def test_the_growth_window_ends_at_sixty() -> None:
    at = piece([0.0, 1.0, 3.0], [[4.0, 60.0, 60.0]] * DRAWS)
    above = piece([0.0, 1.0, 3.0], [[4.0, 60.01, 60.01]] * DRAWS)
    assert figure(note(at, "growth"), "warm_s") == pytest.approx(3 * HOUR_S)
    assert figure(note(above, "growth"), "warm_s") == pytest.approx(HOUR_S, rel=1e-3)
    cold = piece([0.0, 1.0, 2.0], [[3.99, 3.99, 93.0]] * DRAWS)
    assert figure(note(cold, "growth"), "warm_s") < HOUR_S
    fridge = piece([0.0, 1.0, 2.0], [[4.0, 4.0, 93.0]] * DRAWS)
    assert figure(note(fridge, "growth"), "warm_s") > HOUR_S


@pytest.mark.parametrize(
    ("species", "model"), [("pork", "perfringens pork"), ("beef", "perfringens beef")]
)
def test_growth_on_the_way_up_ends_where_the_table_begins(species: str, model: str) -> None:
    # Up to 54.4 °C, then down to where it grows again: what comes after is not the way up.
    hours = 3.0 + np.arange(101) / 20
    cores = [[4.0, 54.4, 46.0, 46.0, 93.0]] * 101
    one = piece([0.0, 1.0, 2.0, 6.0, 8.0], cores, stretch=hours, species=species)
    slow_s = (3.0 + 95 / 20) * HOUR_S
    alone = growth_log10([0.0, slow_s], [4.0, 54.4], GROWTH_MODELS[model], lag=False)
    found = note(one, "growth")
    # Growth without lag is in proportion to time, so its 95 % point is that of the times.
    assert figure(found, "grown") == pytest.approx(alone, rel=0.01)
    assert GROWTH_MODELS[model].source.text in found.table


def test_growth_of_a_core_that_never_gets_hot_counts_to_the_end() -> None:
    one = piece([0.0, 1.0, 5.0], [[20.0, 46.0, 46.0]] * DRAWS, species="beef")
    whole = growth_log10(one.time_s, one.core_c[0], GROWTH_MODELS["perfringens beef"], lag=False)
    assert figure(note(one, "growth"), "grown") == pytest.approx(whole)


def test_a_core_that_starts_hot_has_no_way_up() -> None:
    one = piece([0.0, 1.0, 4.0], [[54.4, 60.0, 46.0]] * DRAWS)
    assert "grown" not in note(one, "growth").figures


# Killing: the table's share, read low.


def lethal(minutes: list[float], top_c: float = 57.2) -> SafetyPiece:
    """Return draws that stand so long at a printed row (57.2 °C: 36 min for 6.5 log)."""
    stretch = np.array(minutes)
    return piece([0.0, 1 / 60], [[top_c, top_c]] * len(minutes), stretch=stretch)


def test_lethality_is_judged_by_the_worst_draws() -> None:
    one_short = note(lethal([60.0] * 19 + [30.0]), "killing", margin_k=0.0)
    assert one_short.warns
    assert figure(one_short, "share") == pytest.approx(30 / 36)
    one_long = note(lethal([30.0] * 19 + [9.0e3]), "killing", margin_k=0.0)
    assert one_long.warns
    assert figure(one_long, "share") == pytest.approx(30 / 36)
    assert note(lethal([37.0] * 20), "killing", margin_k=0.0).warns is False


def test_a_share_of_exactly_one_is_enough() -> None:
    found = note(lethal([36.0] * 20), "killing", margin_k=0.0)
    assert (figure(found, "share"), found.warns) == (1.0, False)


def test_the_twentieth_of_101_draws_is_told() -> None:
    # At 5 of 100 steps: five draws of 101 lie below.
    found = note(lethal([36.0 + n for n in range(101)]), "killing", margin_k=0.0)
    assert figure(found, "share") == pytest.approx(41 / 36)


def test_the_margin_is_taken_off() -> None:
    # 57.2 °C less 1 K is 56.2 °C, between the rows of 56 min (56.1) and 45 min (56.7).
    found = note(lethal([36.0] * 20), "killing")
    assert found.warns
    assert 36 / 56 < figure(found, "share") < 36 / 45
    assert figure(found, "margin_k") == 1.0
    assert figure(found, "hottest_c") == pytest.approx(56.2)


def test_the_hottest_that_is_told_is_of_the_cold_draws() -> None:
    tops = [60.0 + n / 10 for n in range(101)]
    one = piece([0.0, 1.0, 2.0], [[4.0, top, 50.0] for top in tops])
    one = replace(one, log_salmonella=np.arange(101.0)[::-1])
    found = note(one, "killing")
    assert figure(found, "hottest_c") == pytest.approx(60.5 - 1.0)
    assert figure(found, "logs") == pytest.approx(5.0)


def test_the_killing_is_told_of_the_last_stage_in_a_cooker() -> None:
    stages = protocol().stages
    third = stages[1].model_copy(update={"id": "third", "name": "Third"})
    one = usual(protocol=Protocol(stages=(*stages[:2], third, stages[2])))
    assert note(one, "killing").stage == "Third"
    bird = note(replace(one, species="poultry"), "other table")
    assert (bird.stage, bird.warns) == ("Third", True)
    assert bird.figures["species"] == "poultry"


# Ovens: the air that the Food Code asks for, by mass.


def smoked(air_c: float | None, mass_kg: float, humidity: Humidity | None = None) -> SafetyPiece:
    more = {} if humidity is None else {"humidity": humidity}
    stage = Stage.model_validate(
        {"id": "smoke", "name": "Smoke", "surround_c": air_c, "ends": [{"core_c": 93.0}], **more}
    )
    hold = protocol().stages[2]
    return usual(protocol=Protocol(stages=(stage, hold)), mass_kg=mass_kg)


@pytest.mark.parametrize(
    ("air_c", "mass_kg", "least_c"),
    [(120.4, 4.5, 121.0), (120.4, 9.0, 121.0), (176.4, 4.49, 177.0), (121.0, 2.0, 177.0)],
)
def test_air_below_the_dry_row_warns(air_c: float, mass_kg: float, least_c: float) -> None:
    found = note(smoked(air_c, mass_kg), "oven")
    assert (found.warns, found.stage) == (True, "Smoke")
    assert found.figures == {"air_c": air_c, "mass_kg": mass_kg, "least_c": least_c}


@pytest.mark.parametrize(
    "one",
    [
        smoked(120.5, 4.5),  # Half a kelvin is how a setting in °F is rounded.
        smoked(176.5, 4.4),
        smoked(None, 5.0),
        smoked(107.0, 5.0, Humidity.STEAM),
        smoked(107.0, 5.0, Humidity.SEALED_WRAP),
    ],
)
def test_air_that_meets_a_row_is_not_told(one: SafetyPiece) -> None:
    assert [n for n in safety_notes(one) if n.code == "oven"] == []


# Holding: 54, 57 and 60 °C, by the colder of air and core.


def held(air_c: float | None, ends: list[float], place: Place = Place.CABINET) -> SafetyPiece:
    stages = protocol().stages
    hold = Stage(
        id="hold", name="Hold", place=place, surround_c=air_c, ends=(EndCondition(elapsed_s=7200),)
    )
    cores = [[4.0, 54.4, 93.0, end] for end in ends]
    return piece([0.0, 5.0, 10.0, 12.0], cores, protocol=Protocol(stages=(*stages[:2], hold)))


HOLDS = ("hold unknown", "hold below all", "hold below 57", "hold below 60", "hold above 60")


@pytest.mark.parametrize(
    ("lowest_c", "code", "warns"),
    [
        (53.0, "hold below all", True),
        (53.99, "hold below all", True),
        (54.0, "hold below 57", True),
        (56.0, "hold below 57", True),
        (56.99, "hold below 57", True),
        (57.0, "hold below 60", True),
        (58.0, "hold below 60", True),
        (59.99, "hold below 60", True),
        (60.0, "hold above 60", False),
        (61.0, "hold above 60", False),
    ],
)
def test_a_hold_by_its_coldest(lowest_c: float, code: str, warns: bool) -> None:
    # Whether the core or the air is the colder one.
    for one in (held(80.0, [lowest_c] * DRAWS), held(lowest_c, [80.0] * DRAWS)):
        found = note(one, *HOLDS)
        assert (found.code, found.warns, found.stage) == (code, warns, "Hold")


def test_the_hold_is_judged_by_the_cold_draws() -> None:
    ends = [59.0 + n / 5 for n in range(101)]  # 5 of 100 end at 60 °C or below.
    found = note(held(66.0, ends[::-1]), *HOLDS)
    assert figure(found, "core_c") == pytest.approx(60.0)
    assert figure(found, "air_c") == 66.0
    assert note(held(66.0, [50.0] * 10 + [90.0] * 91), *HOLDS).code == "hold below all"


def test_a_cooler_is_a_hold_and_a_hold_without_a_temperature_warns() -> None:
    assert note(held(58.0, [80.0] * DRAWS, Place.COOLER), *HOLDS).code == "hold below 60"
    found = note(held(None, [80.0] * DRAWS), *HOLDS)
    assert (found.code, found.warns) == ("hold unknown", True)


@pytest.mark.parametrize("place", [Place.FRIDGE, Place.COUNTER])
def test_nothing_else_is_read_as_a_hold(place: Place) -> None:
    one = held(66.0, [80.0] * DRAWS, place)
    assert [n for n in safety_notes(one) if n.code in HOLDS] == []


# Standing without heat: 4 h.


@pytest.mark.parametrize(
    ("waits_h", "place", "told"),
    [
        (4.0, Place.COOLER, False),
        (4.01, Place.COOLER, True),
        (0.0, Place.COOLER, False),
        (9.0, Place.CABINET, False),
    ],
)
def test_four_hours_without_heat(waits_h: float, place: Place, told: bool) -> None:
    one = replace(held(66.0, [70.0] * DRAWS, place), waits_s=waits_h * HOUR_S)
    found = [n for n in safety_notes(one) if n.code == "standing"]
    assert bool(found) == told
    for each in found:
        assert each.warns
        assert each.figures == {"stands_s": waits_h * HOUR_S, "within_s": 4 * HOUR_S}


# Leftovers: 57 to 21 °C within 2 h and to 5 °C within 6 h in all.


@pytest.mark.parametrize(
    ("first_h", "last_h", "warns"),
    [
        (2.0, 6.0, False),
        (2.01, 5.0, True),
        (1.9, 6.01, True),
        (3.0, 9.0, True),
        (1.5, float("inf"), True),
    ],
)
def test_cooling_what_is_left_over(first_h: float, last_h: float, warns: bool) -> None:
    found = note(usual(cools_s=(first_h * HOUR_S, last_h * HOUR_S)), "left over")
    assert found.warns is warns
    assert found.figures == {
        "first_s": first_h * HOUR_S,
        "last_s": last_h * HOUR_S,
        "slow": float(warns),
    }
    assert "code 57 to 21" in found.table
    assert "code 57 to 5" in found.table


def test_cooling_that_was_not_worked_out_warns() -> None:
    assert note(usual(cools_s=None), "left over unknown").warns


def test_a_note_can_be_put_in_a_set() -> None:
    assert len(set(safety_notes(usual()))) == len(safety_notes(usual()))
