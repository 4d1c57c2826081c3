"""Nothing is made or lost: mass, water and heat over 30 h with every wrap, in both bodies."""

import pytest

from fairsmoke.cooking.body import MeasuredPiece
from fairsmoke.cooking.run import simulate
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
BOTH = [(cover, cover) for cover in Cover]
MIXED = [(Cover.BARE, Cover.FOIL), (Cover.PAPER, Cover.FOIL), (Cover.BARE, Cover.TRAY)]


def protocol(above: Cover, below: Cover) -> Protocol:
    wrap = Wrap(above=above, below=below)
    return Protocol(
        stages=(
            Stage(
                id="bare",
                name="bare",
                surround_c=121.0,
                humidity=Humidity.SPRITZ,
                ends=(EndCondition(core_c=68.0),),
            ),
            Stage(
                id="wrapped",
                name="wrapped",
                surround_c=135.0,
                humidity=Humidity.WATER_PAN,
                wrap=wrap,
                adds=(
                    Addition(what="liquid", name="stock", mass_kg=0.1),
                    Addition(what="fat", name="beef fat", mass_kg=0.2),
                ),
                ends=(EndCondition(core_c=90.0), EndCondition(elapsed_s=36_000)),
            ),
            Stage(
                id="held",
                name="held",
                place=Place.CABINET,
                surround_c=66.0,
                wrap=wrap,
                ends=(EndCondition(elapsed_s=72_000),),
            ),
            Stage(
                id="cooled",
                name="cooled",
                place=Place.COUNTER,
                ends=(EndCondition(elapsed_s=7200),),
            ),
        )
    )


@pytest.mark.parametrize("whole_body", [False, True], ids=["column", "section"])
@pytest.mark.parametrize(("above", "below"), BOTH + MIXED)
def test_thirty_hours_keep_mass_and_heat(above: Cover, below: Cover, whole_body: bool) -> None:
    outcome = simulate(BRISKET, protocol(above, below), whole_body=whole_body)
    assert outcome.end_s > 27 * 3600
    assert abs(outcome.mass_gap_kg) < 1e-9 * outcome.start_kg
    assert abs(outcome.heat_gap_j) < 1e-9 * outcome.heat_in_j
    parts = (outcome.evaporated_kg, outcome.dripped_kg, outcome.rendered_kg, outcome.in_wrap_kg)
    assert min(parts) > -1e-9
    assert outcome.added_fat_kg == 0.2
    assert 0.0 <= outcome.fat_in_wrap_kg <= outcome.rendered_kg + 0.2
    assert outcome.retained_kg > 0.3 * outcome.start_kg
