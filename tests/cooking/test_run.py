"""Protocols run through the model: what ends a stage, wraps, altitude, pit history, lids."""

from typing import Any

import numpy as np
import pytest

from fairsmoke.cooking.body import BodyError, MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.cooker import CookerError, CookerModel, LidOpening, Site
from fairsmoke.cooking.outcomes import Outcome
from fairsmoke.cooking.run import Conditions, ProtocolError, simulate
from fairsmoke.trial.protocol import (
    Addition,
    Cover,
    EndCondition,
    Humidity,
    Place,
    Protocol,
    Stage,
    Wrap,
)

BRISKET = MeasuredPiece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)


def hours(h: float) -> EndCondition:
    return EndCondition(elapsed_s=3600.0 * h)


def core(c: float) -> EndCondition:
    return EndCondition(core_c=c)


def stage(
    name: str = "smoke",
    surround_c: float | None = 121.0,
    ends: tuple[EndCondition, ...] = (),
    wrap: Wrap | None = None,
    **more: Any,
) -> Stage:
    return Stage(id=name, name=name, surround_c=surround_c, ends=ends, wrap=wrap or Wrap(), **more)


def run(*stages: Stage, piece: MeasuredPiece = BRISKET, **more: Any) -> Outcome:
    more.setdefault("whole_body", False)
    return simulate(piece, Protocol(stages=stages), **more)


def both(cover: Cover) -> Wrap:
    return Wrap(above=cover, below=cover)


def test_whichever_end_comes_first() -> None:
    by_time = run(stage(ends=(core(90.0), hours(2))))
    assert by_time.end_s == pytest.approx(7200.0)
    by_core = run(stage(ends=(core(60.0), hours(20))))
    assert by_core.core_c == pytest.approx(60.0, abs=0.011)
    assert by_core.end_s < 20 * 3600


def test_core_that_ends_a_stage_may_be_met_from_above() -> None:
    outcome = run(
        stage(ends=(core(85.0),)),
        stage("rest", 20.0, (core(70.0),), both(Cover.FOIL), place=Place.COUNTER),
    )
    assert outcome.core_c == pytest.approx(70.0, abs=0.011)


def test_clock_ends_a_stage() -> None:
    conditions = Conditions(start_clock_s=22 * 3600.0)
    protocol = Protocol(stages=(stage(ends=(EndCondition(clock="06:30"),)),))
    outcome = simulate(BRISKET, protocol, conditions, whole_body=False)
    assert outcome.end_s == pytest.approx(8.5 * 3600)


def test_protocol_that_never_ends_is_refused_with_the_stage() -> None:
    with pytest.raises(ProtocolError, match="stage 'smoke' has not ended"):
        run(stage(surround_c=60.0, ends=(core(90.0),)))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"mass_kg": 0.0}, "mass of the piece is 0 kg"),
        ({"thick_m": 0.9}, "thickness of the piece"),
        ({"mass_kg": 20.0}, "would fill"),
        ({"cut": "unicorn"}, "no cut is called"),
        ({"start_c": -18.0}, "thaw a frozen piece"),
    ],
)
def test_pieces_that_cannot_be_are_refused(change: dict[str, Any], message: str) -> None:
    values = {**BRISKET.__dict__, **change}
    with pytest.raises(BodyError, match=message):
        run(stage(ends=(hours(1),)), piece=MeasuredPiece(**values))


def test_impossible_surroundings_are_refused() -> None:
    with pytest.raises(CookerError, match="900 °C around the piece"):
        run(stage(surround_c=900.0, ends=(hours(1),)))
    with pytest.raises(CookerError, match="without a temperature"):
        run(stage(surround_c=None, ends=(hours(1),)))


def test_body_keeps_the_measured_mass() -> None:
    for body in (one_column(BRISKET), two_dimensional(BRISKET)):
        amounts = body.shape.fixed[:, 0] + body.state[1] + body.state[2]
        assert np.sum(body.shape.plan_m2[:, None] * amounts) == pytest.approx(5.6)


def test_bare_piece_stalls_and_a_tight_wrap_ends_it() -> None:
    """Common practice, no source: hours between 65 and 77 °C bare; foil shortens them."""
    bare = run(stage(surround_c=107.0, ends=(core(85.0), hours(30))))
    wrapped = run(
        stage(surround_c=107.0, ends=(core(66.0),)),
        stage("foil", 107.0, (core(85.0), hours(30)), both(Cover.FOIL)),
    )
    slow = bare.mark_s[77.0] - bare.mark_s[65.0]
    quick = wrapped.mark_s[77.0] - wrapped.mark_s[65.0]
    before = bare.mark_s[52.0] - bare.mark_s[40.0]
    assert slow > 1.3 * 3600
    assert slow > 1.3 * before
    assert quick < 0.75 * slow


def test_underside_dries_more_without_a_water_pan() -> None:
    """Common practice, no source."""
    pan = run(stage(humidity=Humidity.WATER_PAN, ends=(hours(6),)))
    none = run(stage(ends=(hours(6),)))
    assert none.crust_underside_kg_m2 > pan.crust_underside_kg_m2


def test_cores_boil_lower_up_a_mountain() -> None:
    high = Conditions(site=Site(altitude_m=2500.0))
    # In foil, where meat stays wet: bare it dries and never boils.
    wrapped = stage("foil", 150.0, (hours(8),), both(Cover.FOIL))
    low = run(wrapped)
    up = simulate(
        BRISKET,
        Protocol(stages=(wrapped,)),
        high,
        whole_body=False,
    )
    # Water boils at 91.7 °C at 2500 m in the standard atmosphere (from memory); drier meat above.
    assert up.core_c < low.core_c - 5.0
    assert up.core_c < 96.0


def test_juice_stays_in_foil_and_is_poured_when_opened() -> None:
    closed = run(stage(ends=(core(70.0),)), stage("foil", 121.0, (core(93.0),), both(Cover.FOIL)))
    opened = run(
        stage(ends=(core(70.0),)),
        stage("foil", 121.0, (core(93.0),), both(Cover.FOIL)),
        stage("open", 121.0, (hours(0.2),)),
    )
    assert closed.in_wrap_kg > 0.02
    assert opened.in_wrap_kg == 0.0
    assert opened.dripped_kg > closed.dripped_kg + 0.9 * closed.in_wrap_kg


def test_added_liquid_is_not_counted_as_meat() -> None:
    stock = (Addition(what="liquid", name="stock", mass_kg=0.3),)
    ends = (hours(3),)
    dry = run(stage(ends=(core(70.0),)), stage("foil", 121.0, ends, both(Cover.FOIL)))
    wet = run(stage(ends=(core(70.0),)), stage("foil", 121.0, ends, both(Cover.FOIL), adds=stock))
    assert wet.in_wrap_kg == pytest.approx(dry.in_wrap_kg + 0.3, abs=0.15)
    assert wet.yield_share == pytest.approx(dry.yield_share, abs=0.03)


def test_measured_pit_that_repeats_the_set_point_gives_the_same_cook() -> None:
    protocol = Protocol(stages=(stage(ends=(hours(6),)),))
    times = tuple(np.arange(0.0, 6.2 * 3600, 60.0))
    ramp = tuple(float(121.0 + (20.0 - 121.0) * np.exp(-t / 900.0)) for t in times)
    set_point = simulate(BRISKET, protocol, whole_body=False)
    measured = simulate(BRISKET, protocol, Conditions(pit_s=times, pit_c=ramp), whole_body=False)
    assert measured.core_c == pytest.approx(set_point.core_c, abs=0.05)
    assert measured.yield_share == pytest.approx(set_point.yield_share, abs=2e-4)


def test_opening_the_lid_slows_the_cook() -> None:
    lids = tuple(LidOpening(at_s=1800.0 * k) for k in range(1, 12))
    protocol = Protocol(stages=(stage(ends=(core(70.0),)),))
    shut = simulate(BRISKET, protocol, whole_body=False)
    opened = simulate(
        BRISKET, protocol, Conditions(cooker=CookerModel(openings=lids)), whole_body=False
    )
    assert opened.end_s > shut.end_s + 300.0


def test_held_meat_goes_on_softening_and_keeps_safe() -> None:
    outcome = run(
        stage(ends=(core(88.0),)),
        stage("hold", 66.0, (hours(12),), both(Cover.FILM_UNDER_FOIL), place=Place.CABINET),
    )
    at_pull = run(stage(ends=(core(88.0),)))
    assert outcome.core_c == pytest.approx(66.0, abs=1.5)
    more = outcome.regions["whole"].collagen_dissolved
    assert more > at_pull.regions["whole"].collagen_dissolved + 0.05
    assert outcome.regions["core"].log_salmonella > 7.0
