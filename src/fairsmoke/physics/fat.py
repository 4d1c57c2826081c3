"""Melting of beef and pork fat, the heat it takes, and how it renders out."""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.kinetics import COLLAGEN_DISSOLVES, bare_rate_per_s, rate_per_s
from fairsmoke.physics.ranges import FloatArray, Number, OnRange, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

Species = Literal["beef", "pork"]


class MeltingCurve(NamedTuple):
    """Solid share of a fat by temperature, straight between points, with the heat of melting."""

    temp_c: tuple[float, ...]
    solid: tuple[float, ...]
    heat_j_kg: float
    heat_low_j_kg: float
    heat_high_j_kg: float
    source: Citation


# Below 10 °C the curves are drawn on in a straight line from memory of refrigerated fats.
MELTING: dict[str, MeltingCurve] = {
    "beef": MeltingCurve(
        (-40.0, 0.0, 10.0, 20.0, 30.0, 35.0, 40.0, 45.0, 50.0),
        (0.95, 0.70, 0.58, 0.45, 0.27, 0.18, 0.08, 0.02, 0.0),
        140e3,
        100e3,
        150e3,
        Citation(
            "beef tallow, solid fat 58, 45, 27, 18, 8, 2, 0 % at 10, 20, 30, 35, 40, 45, 50 °C",
            Seen.MEMORY,
            "low confidence; mutton tallow, of like profile, has 60, 37, 20, 12 % at 10, 20, 30, "
            "35 °C (Bockisch 1998, read second-hand); with 140 kJ/kg the apparent heat capacity "
            "at 5–25 °C is that measured on rendered beef fat (Morley 1972, read)",
        ),
    ),
    "pork": MeltingCurve(
        (-40.0, 0.0, 10.0, 20.0, 30.0, 40.0, 45.0),
        (0.90, 0.50, 0.28, 0.20, 0.06, 0.02, 0.0),
        130e3,
        100e3,
        150e3,
        Citation(
            "lard, solid fat about 28, 20, 6, 2 % at 10, 20, 30, 40 °C",
            Seen.MEMORY,
            "low confidence; lard melts between 30 and 48 °C depending on where it grew (read); "
            "backfat in tissue is harder: 17 % melted at 10 °C, 74 % at 40 °C (Favreau 1981, "
            "read second-hand)",
        ),
    ),
}
FAT_RANGE = Range("temperature of fat", "°C", -40.0, 150.0, "melting curves; liquid above")

HOLDING_SOURCE = Citation(
    "ground beef: 0.05–0.6 g fat per g non-fat dry matter at 30–90 °C, largest change at 40–55 °C, "
    "no clear effect of 2–15 min (Watkins 2004, thesis, Michigan State University)",
    Seen.READ,
    "the shape between the ends is drawn here; whole muscle holds more",
)
HOLDING_RANGE = Range("temperature of fat-holding lean", "°C", 0.0, 110.0, "Watkins 2004")
_HELD_COLD, _HELD_HOT, _HELD_MIDDLE_C, _HELD_WIDTH_C = 0.60, 0.05, 47.5, 5.0

CAP_SOURCE = Citation(
    "adipose tissue gives up its liquid fat as the collagen around its cells dissolves, slowly, "
    "and as steam bursts the cells: in rendering whole tissue the cells burst while the water "
    "boils off, and the fat runs clear once it is gone (texts on rendering, read)",
    Seen.ASSUMED,
    "no measured rate was found. Dissolving is taken as that of the collagen of lean, in "
    "proportion to the water the tissue still has; the number for steam is chosen so that a cap "
    "renders well only in air above 135 °C (common practice)",
)
CAP_RATE_REF_C = 90.0
CAP_ACTIVATION_J_MOL = COLLAGEN_DISSOLVES.activation_j_mol
CAP_RATE_REF_PER_S = float(rate_per_s(CAP_RATE_REF_C, COLLAGEN_DISSOLVES))
BURST_PER_WATER = 8.0
CAP_RANGE = Range("temperature of a fat cap", "°C", 0.0, 150.0, "assumed")


def solid_fraction(
    temp_c: ArrayLike, species: Species = "beef", on_range: OnRange = "error"
) -> FloatArray:
    """Return the share of the fat that is solid, −40 to 150 °C; slow heating of settled fat.

    Melting on heating only: fat that cools sets later, at lower temperatures.
    Source: MELTING. Raises PhysicsRangeError outside, KeyError for another animal.

    >>> float(solid_fraction(20.0))
    0.45
    """
    curve = _curve(species)
    return np.asarray(np.interp(FAT_RANGE.check(temp_c, on_range), curve.temp_c, curve.solid))


def melting_enthalpy_j_kg(
    temp_c: ArrayLike, species: Species = "beef", on_range: OnRange = "error"
) -> FloatArray:
    """Return the heat of melting that 1 kg of fat has taken since 0 °C (negative below).

    Comes on top of food.sensible_enthalpy_j_kg. Uncertain by +7 and −29 % (heat_low, heat_high).
    Source: MELTING. Raises PhysicsRangeError outside −40 to 150 °C.
    """
    curve = _curve(species)
    at_zero = float(np.interp(0.0, curve.temp_c, curve.solid))
    return curve.heat_j_kg * (at_zero - solid_fraction(temp_c, species, on_range))


def melting_capacity_j_kgk(
    temp_c: ArrayLike, species: Species = "beef", on_range: OnRange = "error"
) -> FloatArray:
    """Return the heat of melting per kelvin, the slope of `melting_enthalpy_j_kg`.

    Constant between points of the curve and 0 above the last. Source: MELTING. Raises
    PhysicsRangeError outside −40 to 150 °C.
    """
    curve = _curve(species)
    temp = FAT_RANGE.check(temp_c, on_range)
    steps = -np.diff(curve.solid) / np.diff(curve.temp_c)
    slopes = np.append(steps, 0.0)
    return np.asarray(
        curve.heat_j_kg * slopes[np.searchsorted(curve.temp_c, temp, side="right") - 1]
    )


def holding_capacity_kg_kg(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return kg of fat that lean meat holds per kg of its non-fat dry matter, 0 to 110 °C.

    0.6 cold, 0.05 hot, the fall centred at 47.5 °C. Fat beyond it runs out of the lean.
    Source: HOLDING_SOURCE. Raises PhysicsRangeError outside.
    """
    return bare_holding_capacity_kg_kg(HOLDING_RANGE.check(temp_c, on_range))


def bare_holding_capacity_kg_kg(temp_c: Number) -> Number:
    """Return `holding_capacity_kg_kg` without checking the range, for compiled code."""
    rising: Number = np.exp((temp_c - _HELD_MIDDLE_C) / _HELD_WIDTH_C)
    return _HELD_HOT + (_HELD_COLD - _HELD_HOT) / (1.0 + rising)


def cap_rendered(
    time_s: ArrayLike,
    temp_c: ArrayLike,
    species: Species = "beef",
    rate_ref_per_s: float = CAP_RATE_REF_PER_S,
    boiled_share: ArrayLike = 0.0,
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the share of a cap's fat that has run out after a time at a steady temperature.

    Only liquid fat runs. Walls of wet tissue dissolve, first order, half in 6.5 h at 90 °C unless
    told otherwise, and burst with the share of the tissue's raw water that boiled off in it
    (`boiled_share`, 0 to 1; what dries off without boiling does not count): e^(−8·share)
    stays. Nobody has published either, so fit them before trusting hours.
    Source: CAP_SOURCE. Raises PhysicsRangeError outside 0 to 150 °C, for negative times and
    shares outside 0 to 1.
    """
    time, boiled = np.asarray(time_s, dtype=np.float64), np.asarray(boiled_share, dtype=np.float64)
    if not (time >= 0).all() or not rate_ref_per_s > 0:
        raise PhysicsRangeError("rendering: time must be 0 s or more and the rate above 0 /s.")
    if not ((boiled >= 0) & (boiled <= 1)).all():
        raise PhysicsRangeError("rendering: the share of water boiled off must be 0 to 1.")
    temp = CAP_RANGE.check(temp_c, on_range)
    rate = bare_rate_per_s(temp, CAP_RATE_REF_C, rate_ref_per_s, CAP_ACTIVATION_J_MOL)
    liquid = 1.0 - solid_fraction(temp, species, on_range)
    return np.asarray(liquid * -np.expm1(-rate * time - BURST_PER_WATER * boiled))


def _curve(species: str) -> MeltingCurve:
    if species not in MELTING:
        raise KeyError(f'no melting curve for "{species}". There are: {", ".join(MELTING)}.')
    return MELTING[species]
