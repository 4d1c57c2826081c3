"""Published spreads between whole pieces of what is measured on them, by the measure's name."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fairsmoke.judging.prior_table import DEFAULTS, PriorKind
from fairsmoke.judging.priors import Reason
from fairsmoke.messages.message import N_
from fairsmoke.trial.question import Measure

_KILOGRAMS = {"kg": 1.0, "kgf": 1.0, "n": 1 / 9.80665, "lbf": 0.45359237, "lb": 0.45359237}
_POINTS = {"%": 1.0, "points": 1.0, "percentage points": 1.0}
_PH = {"ph": 1.0, "units": 1.0, "unit": 1.0, "1": 1.0, "-": 1.0}
_COLOUR = {"units": 1.0, "unit": 1.0, "1": 1.0, "-": 1.0, "l*": 1.0, "a*": 1.0, "b*": 1.0}
_FACTOR = 1.8
"""What one sd multiplies a published spread by, as for yields: none is of a large cut."""


@dataclass(frozen=True)
class TabledSpread:
    """A published spread (one sd) in the measure's unit, what one sd multiplies it by, and why."""

    size: float
    factor: float
    reason: Reason


@dataclass(frozen=True)
class _Study:
    name: re.Pattern[str]
    units: Mapping[str, float]
    size: float
    reason: Reason


def _study(name: str, units: Mapping[str, float], size: float, reason: Reason) -> _Study:
    return _Study(re.compile(name, re.IGNORECASE), MappingProxyType(dict(units)), size, reason)


_SHEAR = DEFAULTS[PriorKind.SHEAR_FORCE]
# The first row whose name and unit fit is taken.
_STUDIES = (
    _study(
        r"slice shear",
        _KILOGRAMS,
        5.5,
        Reason(
            N_("Slices of whole loins differ in shear force."),
            N_("sd 5.50 kg about 14.80 (818 pork loins, PMC6357800)."),
        ),
    ),
    _study(
        r"shear",
        _KILOGRAMS,
        math.hypot(_SHEAR["piece"].size, _SHEAR["animal"].size),
        Reason(_SHEAR["piece"].why, _SHEAR["piece"].source),
    ),
    _study(
        r"\bph\b",
        _PH,
        0.15,
        Reason(
            N_("Muscles of one cut differ in pH from animal to animal."),
            N_(
                "sd 0.15 (3,990 pork loins, PMC6357800), 0.14 (927, PMC3268573), 0.21 (12, "
                "PMC8750212), 0.08 to 0.15 by cut (Food Sci. Anim. Resour. 42:655); raw meat."
            ),
        ),
    ),
    _study(
        r"cook(ing)?[ -]loss",
        _POINTS,
        100.0 * DEFAULTS[PriorKind.YIELD]["piece"].size,
        Reason(DEFAULTS[PriorKind.YIELD]["piece"].why, DEFAULTS[PriorKind.YIELD]["piece"].source),
    ),
    _study(
        r"drip loss",
        _POINTS,
        1.2,
        Reason(
            N_("Raw pieces of one cut drip differently."),
            N_("sd 1.18 points (946 pork loins, PMC3268573)."),
        ),
    ),
    _study(
        r"l\*",
        _COLOUR,
        2.5,
        Reason(
            N_("Pieces of one cut differ in lightness."),
            N_("sd 2.49 and 2.64 (3,937 and 818 pork loins, PMC6357800), 2.24 (900, PMC3268573)."),
        ),
    ),
    _study(
        r"[ab]\*",
        _COLOUR,
        1.5,
        Reason(
            N_("Pieces of one cut differ in colour."),
            N_(
                "sd 1.02 to 1.40 (818 to 3,937 pork loins, PMC6357800), 1.61 and 1.83 (900, "
                "PMC3268573)."
            ),
        ),
    ),
)


def tabled_spread(measure: Measure) -> TabledSpread | None:
    """Return the published spread of a measured quantity, None where none is kept.

    Known by its name and unit: shear force (Warner-Bratzler or of slices), pH, cook loss, drip
    loss, colour (L*, a*, b*). Hardness is not among them: no spread between pieces was found.
    """
    unit = measure.unit.strip().casefold()
    for study in _STUDIES:
        if study.name.search(measure.name) and unit in study.units:
            return TabledSpread(study.size / study.units[unit], _FACTOR, study.reason)
    return None
