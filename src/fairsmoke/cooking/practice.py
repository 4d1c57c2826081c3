"""A brisket cooked as common practice has it, and what practice says comes of it (no source).

A trimmed whole brisket of 5.6 kg from 4 °C at 121 °C over large water pans has 60 °C in the thick
part after 4 to 5 h; raised to 149 °C; open above and sealed below from 77 °C; off at 88–90 °C;
wrapped tightly with added fat and held at 66 °C for 18 h it keeps 59–62 % of its mass.
"""

import math
from typing import NamedTuple

from fairsmoke.cooking.body import MeasuredPiece
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.outcomes import Outcome
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

HOUR_S = 3600.0
BRISKET = MeasuredPiece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)
BOAT = Wrap(above=Cover.BARE, below=Cover.FOIL)
TIGHT = Wrap(above=Cover.FILM_UNDER_FOIL, below=Cover.FILM_UNDER_FOIL)
_SMOKE_C, _RAISE_C, _HOLD_C = 121.0, 149.0, 66.0
_SIXTY_C, _BOAT_C, _OFF_C = 60.0, 77.0, 89.0
_HOLD_S, _LONGEST_S, _ADDED_KG = 18 * HOUR_S, 40 * HOUR_S, 0.1


class PracticeRange(NamedTuple):
    """A number as practice gives it: its two ends, and whether it is a time (s) or a share."""

    low: float
    high: float
    timed: bool

    def off(self, model: float) -> float:
        """Return how many standard deviations a model's value is off; the ends are one off."""
        if self.timed:
            middle = math.sqrt(self.low * self.high)
            return math.log(model / middle) / math.log(self.high / middle)
        return (model - 0.5 * (self.low + self.high)) / (0.5 * (self.high - self.low))


SIXTY_S = PracticeRange(4 * HOUR_S, 5 * HOUR_S, True)
KEPT = PracticeRange(0.59, 0.62, False)


def protocol(humidity: Humidity = Humidity.WATER_PAN, *, hold: bool = True) -> Protocol:
    """Return the protocol: smoke, raise, boat and, if wanted, the hold."""

    def stage(name: str, surround_c: float, end: EndCondition, wrap: Wrap | None = None) -> Stage:
        ends = (end, EndCondition(elapsed_s=_LONGEST_S))
        return Stage(
            id=name,
            name=name,
            surround_c=surround_c,
            wrap=wrap or Wrap(),
            humidity=humidity,
            ends=ends,
        )

    stages = [
        stage("smoke", _SMOKE_C, EndCondition(core_c=_SIXTY_C)),
        stage("raise", _RAISE_C, EndCondition(core_c=_BOAT_C)),
        stage("boat", _RAISE_C, EndCondition(core_c=_OFF_C), BOAT),
    ]
    if hold:
        held = Stage(
            id="hold",
            name="hold",
            place=Place.CABINET,
            surround_c=_HOLD_C,
            wrap=TIGHT,
            ends=(EndCondition(elapsed_s=_HOLD_S),),
            adds=(Addition(what="fat", name="beef fat", mass_kg=_ADDED_KG),),
        )
        stages.append(held)
    return Protocol(stages=tuple(stages))


def cooked(constants: Constants = DEFAULT) -> Outcome:
    """Cook it to the end of the hold."""
    return simulate(BRISKET, protocol(), constants=constants)


def off(constants: Constants) -> tuple[float, float]:
    """Return by how many standard deviations the model misses the time and the mass kept."""
    outcome = cooked(constants)
    return SIXTY_S.off(outcome.mark_s[_SIXTY_C]), KEPT.off(outcome.yield_share)
