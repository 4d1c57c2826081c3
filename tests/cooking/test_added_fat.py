"""Fat laid on a piece: its mass, the heat it takes, and where it is at the end."""

import numpy as np
import pytest

from fairsmoke.cooking.added import lay_fat
from fairsmoke.cooking.body import MeasuredPiece, one_column
from fairsmoke.cooking.constants import DEFAULT
from fairsmoke.cooking.cook_record import FAT_ADDED, HEAT_OUT_J, POOL_FAT, RESULT
from fairsmoke.cooking.outcomes import Outcome
from fairsmoke.cooking.run import simulate
from fairsmoke.cooking.stages import ROW, STAGE_LENGTH
from fairsmoke.cooking.stepping import HEAT, make_room
from fairsmoke.cooking.tables import build
from fairsmoke.physics import fat, food
from fairsmoke.trial.protocol import Addition, Cover, EndCondition, Place, Protocol, Stage, Wrap

FOIL = Wrap(above=Cover.FOIL, below=Cover.FOIL)
BRISKET = MeasuredPiece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)


def laid(start_c: float, fat_c: float, mass_kg: float) -> tuple[float, np.ndarray]:
    """Return the heat (J) that fat took from a piece of one temperature, by the kernel."""
    body = one_column(MeasuredPiece("slab", 5.0, 0.30, 0.20, 0.08, start_c=start_c))
    state, result, row = body.state.copy(), np.zeros(RESULT), np.zeros(STAGE_LENGTH)
    row[ROW.adds_fat_kg] = mass_kg
    room = make_room(1, state.shape[2], start_c)
    lay_fat(build(DEFAULT), body.shape, row, fat_c, state, room, result)
    gone = float(np.sum(body.shape.plan_m2 * np.sum(body.state[HEAT] - state[HEAT], axis=1)))
    assert result[HEAT_OUT_J] == pytest.approx(gone, rel=1e-12, abs=1e-6)
    assert result[FAT_ADDED] == result[POOL_FAT] == mass_kg
    return gone, body.state[HEAT, 0] - state[HEAT, 0]


def test_fat_takes_the_heat_of_warming_and_melting() -> None:
    # 10 g barely cool the meat: heat capacity of fat (Choi & Okos) and the melting curve between 20
    # and 58 °C are all there is.
    taken, where = laid(58.0, 20.0, 0.01)
    only_fat = food.Composition(water=0.0, protein=0.0, fat=1.0, ash=0.0)
    warms = food.sensible_enthalpy_j_kg([20.0, 58.0], only_fat)
    melts = fat.melting_enthalpy_j_kg([20.0, 58.0])
    assert taken == pytest.approx(0.01 * float(np.diff(warms)[0] + np.diff(melts)[0]), rel=0.02)
    assert where[0] > 0.0
    assert where[where.size // 2] == 0.0


def test_much_cold_fat_and_the_outer_meat_meet_between_their_temperatures() -> None:
    small, _ = laid(58.0, 4.0, 0.1)
    large, _ = laid(58.0, 4.0, 3.0)
    assert small < large < 30.0 * small
    assert laid(20.0, 40.0, 0.1)[0] < 0.0
    assert laid(20.0, 20.0, 0.1)[0] == pytest.approx(0.0, abs=1e-3)


def cooked(wrap: Wrap, fat_kg: float, opened: bool = False) -> Outcome:
    adds = (Addition(what="fat", name="beef fat", mass_kg=fat_kg),) if fat_kg else ()
    stages = [
        Stage(id="a", name="a", surround_c=121.0, ends=(EndCondition(core_c=60.0),)),
        Stage(
            id="b",
            name="b",
            surround_c=121.0,
            wrap=wrap,
            adds=adds,
            ends=(EndCondition(core_c=80.0),),
        ),
    ]
    if opened:
        half_an_hour = (EndCondition(elapsed_s=1800.0),)
        stages.append(Stage(id="c", name="c", place=Place.COUNTER, ends=half_an_hour))
    return simulate(BRISKET, Protocol(stages=tuple(stages)), whole_body=False)


def test_added_fat_is_told_apart_from_the_piece() -> None:
    with_fat, without = cooked(FOIL, 0.3), cooked(FOIL, 0.0)
    assert with_fat.added_fat_kg == 0.3
    assert with_fat.added_kg == without.added_fat_kg == 0.0
    # What the wrap holds is the added fat and what came out of the piece since it was closed.
    assert 0.3 < with_fat.fat_in_wrap_kg < 0.3 + with_fat.rendered_kg
    assert with_fat.fat_in_wrap_kg - without.fat_in_wrap_kg == pytest.approx(0.3, abs=0.01)
    # Not a gram of it counts as meat.
    assert with_fat.yield_share == pytest.approx(without.yield_share, abs=0.01)
    assert "of fat, 300 g added" in with_fat.text
    assert with_fat.mark_s[70.0] > without.mark_s[70.0]


def test_fat_runs_off_a_bare_piece_and_out_of_an_opened_wrap() -> None:
    bare, opened = cooked(Wrap(), 0.3), cooked(FOIL, 0.3, opened=True)
    assert bare.added_fat_kg == opened.added_fat_kg == 0.3
    assert bare.fat_in_wrap_kg == opened.fat_in_wrap_kg == 0.0
    assert abs(bare.mass_gap_kg) < 1e-9
    assert abs(opened.mass_gap_kg) < 1e-9
