"""The table of default priors: one row for each kind of measure and spread, with its source."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from fairsmoke.messages.message import N_, Listed, Message, Words
from fairsmoke.quantity.values import Digits


class PriorKind(StrEnum):
    """The kinds of response for which default priors are kept."""

    YIELD = "yield"
    COOK_TIME = "cook_time"
    SHEAR_FORCE = "shear_force"
    SCORE = "score"
    TEMPERATURE = "temperature"


@dataclass(frozen=True, slots=True)
class Shown:
    """How levels and spreads of a response are written for people.

    `times` turns the SI or fractional number into the shown one. With `log` the response is the
    natural logarithm of seconds: a level is shown in hours and a spread as a per cent of the time.
    """

    level_unit: str = ""
    spread_unit: str = ""
    times: float = 1.0
    log: bool = False

    def level(self, value: float) -> Message:
        """Return a level with two significant digits."""
        number = math.exp(value) / 3600.0 if self.log else value * self.times
        return _two_digits(number, self.level_unit)

    def spread(self, value: float) -> Message:
        """Return a spread or a difference with two significant digits."""
        number = 100.0 * math.expm1(value) if self.log else value * self.times
        return _two_digits(number, self.spread_unit)


def _two_digits(number: float, unit: str) -> Message:
    """Return a number with two significant digits and no exponent; 100 and above to the unit."""
    exponent = int(f"{number:.1e}".split("e")[1])
    shown = Digits(f"{number:.{max(0, 1 - exponent)}f}")
    if unit == "points":
        return N_("%(number)s points", number=shown)
    return Message("%(number)s %(unit)s" if unit else "%(number)s", {"number": shown, "unit": unit})


@dataclass(frozen=True, slots=True)
class DefaultRow:
    """One row of the table.

    For level, `size` is the prior mean and `factor` the prior sd; for difference `size` is the sd;
    for a spread `size` is the median and `factor` what one sd multiplies it by. `why` and `source`
    are for the report.
    """

    size: float
    factor: float
    why: Words
    source: Words


GUESS = N_("common practice, no source; a guess kept wide.")
_LEVEL = N_("Wide, so that the data decide.")
_COOK = N_("Weather, fuel and fire differ from day to day.")
_POSITION = N_("Sides and shelves of a cooker differ in heat and draught.")
_SHARED = N_(
    "a correlation of .5 guessed (.3 to .7 would not surprise); none found for large cuts."
)
_ANIMAL = N_("Pieces of one animal are alike: it is half of the variance between whole pieces.")
_PARENT = N_(
    "Parts of one piece share its animal, fat and age: half of the variance between wholes."
)

SHARES: Mapping[frozenset[str], Mapping[str, float]] = MappingProxyType(
    {
        frozenset(): MappingProxyType({}),
        frozenset({"animal"}): MappingProxyType({"animal": 0.5}),
        frozenset({"parent"}): MappingProxyType({"parent": 0.5}),
        frozenset({"animal", "parent"}): MappingProxyType({"animal": 0.3, "parent": 0.2}),
    }
)
"""Share of the variance between whole pieces that runs with what they have in common.

The rest is the spread within it. A guess: references/stats.md section 8 suggests a correlation of
.5 between partner pieces, .3 to .7, and found .53 for tenderness scores (data set nlme::Meat).
"""


ODD_SHARE = 0.02
"""Share of pieces believed odd (a mistake, a sick animal): common practice, no source; a guess."""

ODD_TIMES = 5.0
"""Sd of an odd piece's further error, in middle spreads between pieces: 15 points of yield."""


def within_reason(shared: Iterable[str]) -> tuple[Message, Message]:
    """Return why, and from which source, pieces that share these differ less."""
    names = {"animal": N_("animal"), "parent": N_("whole piece")}
    why = N_(
        "Within one %(shared)s. Less than between unrelated pieces, for what they share is told "
        "apart.",
        shared=Listed([names[one] for one in sorted(shared)], "and"),
    )
    return why, _SHARED


# Median spread and the factor for one sd; the first two rows give an sd and no factor.
# Yield is a fraction of the raw mass, cook time the natural log of seconds, shear force kilograms,
# a score a fraction of the scale's span, temperature kelvin.
# The piece rows of yield, time and score are for whole pieces of different animals (SHARES splits
# them); shear force has been measured within animals.
DEFAULTS: Mapping[PriorKind, Mapping[str, DefaultRow]] = MappingProxyType(
    {
        PriorKind.YIELD: {
            "level": DefaultRow(0.60, 0.15, _LEVEL, GUESS),
            "difference": DefaultRow(
                0.10, 1, N_("Methods move yield by some points, seldom by 20."), GUESS
            ),
            "piece": DefaultRow(
                0.030,
                1.8,
                N_(
                    "Pieces of the same kind cooked alike lose different amounts of mass; wide "
                    "enough to hold all published spreads within one sd, as none is of a large "
                    "cut."
                ),
                N_(
                    "cook-loss sd 2.0 points (818 pork loins, PMC6357800), 2.8 (936 pork loins, "
                    "PMC3268573), about 4.0 (cattle loins, PMC4647104, worked out from its "
                    "standard error), 3.3 to 5.2 by cut (Food Sci. Anim. Resour. 42:655); chops "
                    "and steaks, as large cuts were not found."
                ),
            ),
            "cook": DefaultRow(0.015, 2.0, _COOK, GUESS),
            "animal": DefaultRow(0.021, 1.8, _ANIMAL, _SHARED),
            "parent": DefaultRow(0.021, 1.8, _PARENT, _SHARED),
            "position": DefaultRow(0.010, 2.0, _POSITION, GUESS),
        },
        PriorKind.COOK_TIME: {
            "level": DefaultRow(math.log(12 * 3600.0), 0.5, _LEVEL, GUESS),
            "difference": DefaultRow(
                0.30, 1, N_("Wraps and pit temperatures change times by tens of per cent."), GUESS
            ),
            "piece": DefaultRow(
                0.10,
                1.8,
                N_(
                    "Times are compared as ratios, for a longer cook spreads more; thickness and "
                    "the length of the stall differ between pieces of one weight."
                ),
                GUESS,
            ),
            "cook": DefaultRow(0.08, 2.0, _COOK, GUESS),
            "animal": DefaultRow(0.071, 2.0, _ANIMAL, _SHARED),
            "parent": DefaultRow(0.071, 2.0, _PARENT, _SHARED),
            "position": DefaultRow(0.06, 2.0, _POSITION, GUESS),
        },
        PriorKind.SHEAR_FORCE: {
            "level": DefaultRow(
                3.5, 1.5, _LEVEL, N_("means 3.2 to 3.9 kg, J. Anim. Sci. 91:2931.")
            ),
            "difference": DefaultRow(
                2.0, 1, N_("Up to about the whole force of a tender piece."), GUESS
            ),
            "piece": DefaultRow(
                0.9,
                1.8,
                N_("Neighbouring steaks of one loin differ in shear force."),
                N_(
                    "within-animal sd 0.82 and 1.36 kg (J. Anim. Sci. 72:2325); 0.69 kg between "
                    "pork loins (PMC3268573); repeatability .67 to .87 (J. Anim. Sci. 75:2423)."
                ),
            ),
            "cook": DefaultRow(0.25, 2.0, _COOK, GUESS),
            "animal": DefaultRow(
                0.8,
                1.8,
                N_("Animals differ as much as the steaks of one animal do."),
                N_("among-animal sd 0.73 and 2.08 kg (J. Anim. Sci. 72:2325)."),
            ),
            "parent": DefaultRow(0.8, 1.8, _PARENT, N_("taken as for animals.")),
            "position": DefaultRow(0.2, 2.0, _POSITION, GUESS),
        },
        PriorKind.SCORE: {
            "level": DefaultRow(0.5, 0.25, _LEVEL, GUESS),
            "difference": DefaultRow(0.25, 1, N_("Seldom more than half of the scale."), GUESS),
            "piece": DefaultRow(
                0.085,
                1.8,
                N_("Mean scores of a panel differ between pieces treated alike."),
                N_(
                    "sd .62 and .59 on a scale of 1 to 8 (936 pork loins, PMC3268573); 2.7 on a "
                    "scale of 0 to 40 within an animal (left and right roasts, data set "
                    "nlme::Meat)."
                ),
            ),
            "cook": DefaultRow(0.05, 2.0, _COOK, GUESS),
            "animal": DefaultRow(0.060, 1.8, _ANIMAL, N_("correlation of sides .53, nlme::Meat.")),
            "parent": DefaultRow(0.060, 1.8, _PARENT, N_("taken as for animals.")),
            "position": DefaultRow(0.03, 2.0, _POSITION, GUESS),
        },
        PriorKind.TEMPERATURE: {
            "level": DefaultRow(85.0, 15.0, _LEVEL, GUESS),
            "difference": DefaultRow(8.0, 1, N_("Seldom more than 16 °C."), GUESS),
            "piece": DefaultRow(
                2.0, 2.0, N_("A probe some millimetres off its place reads degrees off."), GUESS
            ),
            "cook": DefaultRow(2.0, 2.0, _COOK, GUESS),
            "animal": DefaultRow(0.7, 2.0, N_("Little runs with the animal."), GUESS),
            "parent": DefaultRow(1.0, 2.0, _PARENT, GUESS),
            "position": DefaultRow(2.0, 2.0, _POSITION, GUESS),
        },
    }
)

SHOWN: Mapping[PriorKind, Shown] = MappingProxyType(
    {
        PriorKind.YIELD: Shown("%", "points", 100.0),
        PriorKind.COOK_TIME: Shown("h", "%", log=True),
        PriorKind.SHEAR_FORCE: Shown("kg", "kg"),
        PriorKind.SCORE: Shown("", "points"),
        PriorKind.TEMPERATURE: Shown("°C", "°C"),
    }
)
