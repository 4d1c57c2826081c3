"""Random bodies, protocols, altitudes: nothing fails or turns negative; monotone where it must."""

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fairsmoke.cooking.body import Piece
from fairsmoke.cooking.cooker import Cooker, Site
from fairsmoke.cooking.run import Conditions, simulate
from fairsmoke.trial.protocol import Cover, EndCondition, Humidity, Place, Protocol, Stage, Wrap

COVERS = st.sampled_from(list(Cover))
QUICK = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@st.composite
def pieces(draw):
    cut = draw(st.sampled_from(["brisket", "brisket flat", "pork shoulder", "brick", "short ribs"]))
    thick = draw(st.floats(0.03, 0.14))
    width = draw(st.floats(1.0, 4.0)) * thick
    length = draw(st.floats(1.0, 3.0)) * width
    thin = draw(st.floats(0.5, 1.0)) * thick
    fill = draw(st.floats(0.5, 0.95))
    mass = fill * 1040.0 * length * width * 0.5 * (thick + thin)
    cap = draw(st.floats(0.0, 0.012))
    assume(0.06 < mass < 15.0 and length < 1.0 and width < 0.6)
    return Piece(cut, mass, length, width, thick, thin, cap)


@st.composite
def protocols(draw):
    stages = []
    for number in range(draw(st.integers(1, 4))):
        place = draw(st.sampled_from(list(Place)))
        pit = draw(st.floats(80.0, 165.0)) if place == Place.COOKER else None
        ends = [EndCondition(elapsed_s=draw(st.floats(60.0, 40_000.0)))]
        if draw(st.booleans()):
            ends.append(EndCondition(core_c=draw(st.floats(40.0, 96.0))))
        stages.append(
            Stage(
                id=f"stage-{number}",
                name="stage",
                place=place,
                surround_c=pit,
                humidity=draw(st.sampled_from(list(Humidity))),
                wrap=Wrap(above=draw(COVERS), below=draw(COVERS)),
                ends=tuple(ends),
            )
        )
    return Protocol(stages=tuple(stages))


@QUICK
@given(
    pieces(),
    protocols(),
    st.floats(0.0, 3500.0),
    st.floats(3.0, 40.0),
    st.sampled_from([True, False]),
)
def test_any_cook_can_be_worked_out(piece, protocol, altitude_m, convection, whole_body):
    conditions = Conditions(
        cooker=Cooker(convection_w_m2k=convection), site=Site(altitude_m=altitude_m)
    )
    outcome = simulate(piece, protocol, conditions, whole_body=whole_body, sample_s=(30.0, 3600.0))
    assert abs(outcome.mass_gap_kg) < 1e-9 * outcome.start_kg
    assert abs(outcome.heat_gap_j) < 1e-9 * max(abs(outcome.heat_in_j), 1e5)
    assert 0.0 < outcome.water_kg <= outcome.raw_water_kg * 1.2
    assert outcome.fat_kg > 0.0
    assert outcome.in_wrap_kg >= 0.0
    assert outcome.rendered_kg >= -1e-12
    assert -1.5 < outcome.core_c < 170.0
    assert outcome.peak_c < 180.0
    seen = [probe[np.isfinite(probe)] for probe in outcome.trace.probe_c.values()]
    assert all(np.all((probe > -2.0) & (probe < 180.0)) for probe in seen)


def to_core(piece, pit_c, cover=Cover.BARE, core_c=70.0):
    wrap = Wrap(above=cover, below=cover)
    ends = (EndCondition(core_c=core_c), EndCondition(elapsed_s=200_000.0))
    stage = Stage(id="one", name="one", surround_c=pit_c, wrap=wrap, ends=ends)
    return simulate(piece, Protocol(stages=(stage,)), whole_body=False)


@QUICK
@given(pieces(), st.floats(100.0, 150.0), st.floats(2.0, 15.0))
def test_hotter_pit_is_never_later(piece, pit_c, hotter_k):
    assert to_core(piece, pit_c + hotter_k).end_s <= to_core(piece, pit_c).end_s * 1.005


@QUICK
@given(st.floats(0.03, 0.10), st.floats(1.05, 1.5), st.floats(100.0, 150.0))
def test_thicker_is_never_sooner(thick_m, more, pit_c):
    times = []
    for thick in (thick_m, thick_m * more):
        mass = 0.9 * 1050.0 * thick * 0.3 * 0.2
        times.append(to_core(Piece("slab", mass, 0.3, 0.2, thick, thick, 0.0), pit_c).end_s)
    assert times[0] <= times[1] * 1.005


@pytest.mark.parametrize("pit_c", [107.0, 121.0, 149.0])
def test_tighter_wrap_never_loses_more_vapour(pit_c):
    piece = Piece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)
    lost = []
    for cover in (Cover.BARE, Cover.PAPER, Cover.FILM, Cover.FOIL, Cover.FILM_UNDER_FOIL):
        wrap = Wrap(above=cover, below=cover)
        ends = (EndCondition(elapsed_s=4 * 3600.0),)
        stage = Stage(id="one", name="one", surround_c=pit_c, wrap=wrap, ends=ends)
        outcome = simulate(piece, Protocol(stages=(stage,)), whole_body=False)
        lost.append(outcome.evaporated_kg)
    assert np.all(np.diff(lost) <= 1e-6)
