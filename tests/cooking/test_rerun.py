"""How a published case is cooked again: its shape, its bone, its pan, its hold, what is kept apart.

Checked against geometry, the boiling point of water and conservation of mass, not against results.
"""

import dataclasses

import pytest

from fairsmoke.cooking.constants import DEFAULT
from fairsmoke.cooking.cuts import CUTS
from fairsmoke.cooking.experiments import Case, End, ExperimentPiece, Heating, HeatingStage, library
from fairsmoke.cooking.rerun import (
    _SHAPES,
    _piece,
    bone_share,
    compare_source,
    measures,
    run_experiment,
)
from fairsmoke.cooking.validate import answers, checks, spreads, trends

LIBRARY = {source.key: source for source in library()}


def case(cut: str, medium: str = "air", warm_c: float = 120.0, **piece: float) -> Case:
    return Case(
        key="one",
        species="beef",
        cut=cut,
        piece=ExperimentPiece(**piece),  # type: ignore[arg-type]
        heating=Heating(medium=medium, stages=(HeatingStage(medium_c=warm_c),)),  # type: ignore[arg-type]
        end=End(core_c=70.0),
    )


@pytest.mark.parametrize(
    ("cut", "mass_kg", "thick_m", "wide_m", "long_m"),
    [
        # Common practice, no source: what a cook's tape shows on such a piece, to a quarter.
        ("brisket, flat half", 2.0, 0.045, 0.16, 0.36),
        ("eye of round roast", 2.2, 0.085, 0.09, 0.34),
        ("pork spareribs", 1.4, 0.03, 0.15, 0.37),
        ("pork loin roast", 2.0, 0.08, 0.11, 0.27),
    ],
)
def test_a_cut_has_its_own_proportions(
    cut: str, mass_kg: float, thick_m: float, wide_m: float, long_m: float
) -> None:
    value = {"mass_kg": mass_kg, "thick_m": thick_m}
    piece = _piece(case(cut, mass_kg=mass_kg, thick_m=thick_m), value)
    assert piece.width_m == pytest.approx(wide_m, rel=0.25)
    assert piece.length_m == pytest.approx(long_m, rel=0.25)


def test_without_a_thickness_the_proportions_and_the_mass_give_one() -> None:
    for word, wider, longer in _SHAPES:
        piece = _piece(case(word or "roast", mass_kg=2.0), {"mass_kg": 2.0})
        assert piece.width_m / piece.thick_m == pytest.approx(wider, rel=1e-6)
        assert piece.length_m / piece.width_m == pytest.approx(longer, rel=1e-6)
        thin_m = piece.thick_m if piece.thin_m is None else piece.thin_m
        if "brisket" in word:
            thin_m = CUTS[piece.cut].thin_share * piece.thick_m
        mean_m = 0.5 * (piece.thick_m + thin_m)
        box_kg = mean_m * piece.width_m * piece.length_m * 1050.0 * 0.8
        assert box_kg == pytest.approx(2.0, rel=1e-6)


def test_bone_is_weighed_and_loses_nothing() -> None:
    bare = case("rib roast", mass_kg=1.6, thick_m=0.08)
    boned = case("rib roast", mass_kg=2.0, thick_m=0.08, bone_fraction=0.2)
    flesh = run_experiment(DEFAULT, bare, whole_body=False)
    whole = run_experiment(DEFAULT, boned, whole_body=False)
    assert whole.start_kg == pytest.approx(flesh.start_kg)
    assert bone_share(boned) == 0.2
    alone, both = measures(flesh, bare), measures(whole, boned, bone_share(boned))
    assert both["loss_fraction"] == pytest.approx(0.8 * alone["loss_fraction"])
    assert both["yield_fraction"] == pytest.approx(0.2 + 0.8 * alone["yield_fraction"])
    assert both["water_fraction"] == pytest.approx(alone["water_fraction"])
    parts = both["water_change_fraction"] + both["fat_change_fraction"]
    assert -parts <= both["loss_fraction"] + 1e-9


def test_a_braise_is_as_hot_as_its_liquid_and_gives_off_no_vapour() -> None:
    pot = case("pot roast", "covered_pan", 98.0, mass_kg=1.0, thick_m=0.06)
    cooked = run_experiment(DEFAULT, pot, whole_body=False)
    assert cooked.evaporated_kg == pytest.approx(0.0, abs=1e-6)
    assert cooked.peak_c <= 98.0
    # Liquid and steam are far better at it than air of the same warmth.
    air = run_experiment(DEFAULT, case("pot roast", "air", 98.0, mass_kg=1.0, thick_m=0.06))
    assert cooked.end_s < 0.5 * air.end_s


def test_a_hold_is_at_the_core_reached_however_it_is_asked_for() -> None:
    held = LIBRARY["kerth_2024"].case("core_85_hold")
    outcome = run_experiment(DEFAULT, held, whole_body=False)
    told = answers(DEFAULT, held, whole_body=False)
    assert told["yield_fraction"] == pytest.approx(outcome.yield_share)
    assert told["time_s"] == pytest.approx(outcome.end_s - 3 * 3600.0)
    assert outcome.mark_s[85.0] == pytest.approx(told["time_s"], rel=0.01)
    # In the smokehouse itself, at 110 °C, it would go on rising for those three hours; bare in air
    # of 85 °C it cools by what it evaporates.
    assert 70.0 < outcome.core_c < 85.5


def test_a_piece_done_before_a_timed_stage_is_over_is_taken_off_then() -> None:
    slow = HeatingStage(medium_c=120.0, duration_s=36000.0)
    timed = Heating(medium="air", stages=(slow, HeatingStage(medium_c=120.0, wrap="foil")))
    plain = case("roast", mass_kg=0.6, thick_m=0.05)
    early = dataclasses.replace(plain, heating=timed)
    done = run_experiment(DEFAULT, plain, whole_body=False)
    assert done.end_s < 36000.0
    assert run_experiment(DEFAULT, early, whole_body=False).end_s == pytest.approx(done.end_s)


def test_what_is_kept_apart_is_not_compared() -> None:
    found = checks(
        sources=[LIBRARY["usda_composition_2014"], LIBRARY["burfoot_1990"], LIBRARY["powell_2000"]],
        whole_body=False,
    )
    assert {c.measure for c in found if c.source == "usda_composition_2014"} == {
        "water_protein_ratio"
    }
    assert [c.case for c in found if c.source == "burfoot_1990"] == [
        "mean of 5: water_slab …",
    ]
    assert {(c.case, c.measure) for c in found if c.source == "powell_2000"} == {
        ("oven_163", "collagen_unaltered_fraction")
    }
    compared = compare_source(DEFAULT, LIBRARY["powell_2000"], whole_body=False)
    assert [one.measure for one in compared] == ["collagen_unaltered_fraction"]
    assert answers(DEFAULT, LIBRARY["powell_2000"].case("three_stages")) == {}
    untold = {(t.source, t.less) for t in trends() if not t.told}
    assert ("jones_1980", "oven_149") in untold


def test_holds_found_alike_are_given_for_each() -> None:
    found = spreads()["pull_bath_2012", "collagen_soluble_fraction"]
    assert len(found) == len(LIBRARY["pull_bath_2012"].alikes[0].cases)
    assert all(0.0 < share <= 1.0 for share in found)


def test_a_case_kept_apart_says_why() -> None:
    apart = [c for s in library() for c in s.cases if c.apart]
    assert apart
    assert all(len(c.apart or "") > 20 for c in apart)
    assert dataclasses.replace(apart[0], apart=None).apart is None
