"""How much water heated meat holds, how hard it squeezes, and how fast water moves through it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.air import KELVIN
from fairsmoke.physics.ranges import FloatArray, Number, OnRange, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

ROAST_SOURCE = Citation(
    "van der Sman 2007, AIChE J. 53(11):2986–2995; Feyissa, Gernaey & Adler-Nissen 2013, "
    "Meat Sci. 93:810–820",
    Seen.CODE,
    "a drainage model for roasts of an hour or two: far too dry as an equilibrium above 65 °C",
)
SLOW_SOURCE = Citation(
    "fit to moisture of beef at 60, 70 and 80 °C (J. Food Sci. 1963, SM, ST and LD) and of braised "
    "brisket against raw (USDA Standard Reference); see SLOW_POINTS",
    Seen.DERIVED,
    "within 0.08 kg/kg of each point; the points at 60 to 80 °C were not held for hours",
)
PERMEABILITY_SOURCE = Citation(
    "Oroszvári et al. 2006, J. Food Eng., beefburgers cooked at 50–80 °C; Datta 2006 gives 1e-17 "
    "to 1e-19 m² for muscle",
    Seen.READ,
)
DIFFUSIVITY_SOURCE = Citation(
    "effective water diffusivity of a drying slab of meat that gives observed stall hours",
    Seen.ASSUMED,
    "lean beef at 6.6–40 °C: 2.3e-10 to 5.8e-10 (Trujillo et al. 2007, from memory); "
    "marinated beef dried at 30–40 °C: 4.6e-10 to 13.7e-10 (biltong study, read)",
)
HOLDING_SOURCE = Citation(
    "form: what lets water go is myosin and actin denaturing, each at its own rate, and cooked "
    "meat tightening with temperature; where it tightens: SLOW_POINTS, met in passing, and pork "
    "loin losing 21.7 % in 12 h at 60 °C but 32.6 % in half an hour at 75 °C (Hwang et al. 2019, "
    "read)",
    Seen.DERIVED,
    "its middle is known to about 3 K",
)
DRYING_SOURCE = Citation(
    "thin beef slices drying at 30–60 °C: 0.4e-10 m²/s where 2.5 mm thick and soon dry, 5.6e-10 "
    "where 10 mm (Mewa et al. 2018, Curr. Res. Nutr. Food Sci. 6:552, abstract read)",
    Seen.DERIVED,
    "the form is assumed: half as fast at 0.5 kg/kg, in proportion below",
)
VISCOSITY_SOURCE = Citation(
    "Vogel's equation for liquid water, 2.414e-5·10^(247.8/(T − 140)), within 2.5 %", Seen.MEMORY
)

HELD_RANGE = Range(
    "temperature of meat that holds water", "°C", 0.0, 105.0, "raw to boiling-hot meat"
)
VISCOSITY_RANGE = Range("temperature of liquid water", "°C", 0.0, 200.0, "Vogel's equation")

# The oven-roast curve: 0.745 − 0.345/(1 + 30·exp(−0.25(T − 52))), kg water per kg meat.
_ROAST_RAW, _ROAST_FALL, _ROAST_FACTOR, _ROAST_STEEP, _ROAST_C = 0.745, 0.345, 30.0, 0.25, 52.0
# Elastic modulus in the same set: 12 kPa + 83 kPa/(1 + exp(−0.3(T − 60))).
_SOFT_PA, _STIFFENING_PA, _STIFF_STEEP, _STIFF_C = 12e3, 83e3, 0.3, 60.0


class HeldPoint(NamedTuple):
    """Water per protein (kg/kg) found in beef at a temperature; `ends` marks hours of heat."""

    temp_c: float
    water_per_protein: float
    what: str


# Moisture of 69.7, 64.7 and 60.3 % is 2.30, 1.83 and 1.52 kg per kg of solids; raw lean brisket
# flat has 0.82 of its solids as protein (21.57 of 26.24 g), which makes these water per protein.
PROTEIN_OF_SOLIDS = 0.82
SLOW_POINTS = (
    HeldPoint(60.0, 2.30 / PROTEIN_OF_SOLIDS, "three muscles to 60 °C, moisture 69.7 %"),
    HeldPoint(70.0, 1.83 / PROTEIN_OF_SOLIDS, "three muscles to 70 °C, moisture 64.7 %"),
    HeldPoint(80.0, 1.52 / PROTEIN_OF_SOLIDS, "three muscles to 80 °C, moisture 60.3 %"),
)
RAW_POINTS = (3.42, 3.39, 3.39)  # lean flat 1/8 in, lean flat 0 in, whole lean, raw
BRAISED_POINTS = (1.83, 1.79, 1.94)  # the same after hours of braising at 85 °C and more
SLOW_RAW, SLOW_END, SLOW_MIDDLE_C, SLOW_WIDTH_C = 3.40, 1.853, 62.87, 5.67

FIRMING_MIDDLE_C, FIRMING_WIDTH_C = 69.0, 4.0
DRYING_HALF_KG_KG = 0.5

PERMEABILITY_WATER_M2 = (6.8e-18, 1.6e-16)
PERMEABILITY_FAT_M2 = (8.4e-17, 5.1e-15)
EFFECTIVE_DIFFUSIVITY_M2_S = (0.5e-9, 1.2e-9)


def roast_capacity_kg_kg(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return kg of water per kg of fat-free meat that the oven-roast model tends to, 0–105 °C.

    WARNING: as an equilibrium this is far too dry above 65 °C (0.40 kg/kg at 85 °C, where meat
    braised for hours keeps 0.64 on the same basis); slow drainage hides it in a short roast. For
    a cook of hours use `slow_capacity_kg_kg`.
    Source: ROAST_SOURCE. Raises PhysicsRangeError outside.
    """
    return bare_roast_capacity_kg_kg(HELD_RANGE.check(temp_c, on_range))


def bare_roast_capacity_kg_kg(temp_c: Number) -> Number:
    """Return `roast_capacity_kg_kg` without checking the range, for compiled code."""
    rising: Number = np.exp(-_ROAST_STEEP * (temp_c - _ROAST_C))
    return _ROAST_RAW - _ROAST_FALL / (1.0 + _ROAST_FACTOR * rising)


def slow_capacity_kg_kg(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return kg of water per kg of protein that lean meat keeps in its own juice, 0–105 °C.

    Falls from 3.40 raw through 2.8 at 60 °C and 2.2 at 70 °C to 1.85 above 85 °C; below that
    plateau meat gets only by evaporating. Animals and muscles differ by about ±0.15.
    Source: SLOW_SOURCE. Raises PhysicsRangeError outside.
    """
    return bare_slow_capacity_kg_kg(HELD_RANGE.check(temp_c, on_range))


def bare_slow_capacity_kg_kg(temp_c: Number) -> Number:
    """Return `slow_capacity_kg_kg` without checking the range, for compiled code."""
    rising: Number = np.exp((temp_c - SLOW_MIDDLE_C) / SLOW_WIDTH_C)
    return SLOW_END + (SLOW_RAW - SLOW_END) / (1.0 + rising)


def firmed(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return how far cooked meat has tightened at a temperature (0 to 1), 0 to 105 °C.

    Source: HOLDING_SOURCE. Raises PhysicsRangeError outside.
    """
    return bare_firmed(HELD_RANGE.check(temp_c, on_range))


def bare_firmed(temp_c: Number) -> Number:
    """Return `firmed` without checking the range, for compiled code."""
    rising: Number = np.exp(-(temp_c - FIRMING_MIDDLE_C) / FIRMING_WIDTH_C)
    return 1.0 / (1.0 + rising)


def held_share(
    myosin: Number,
    actin: Number,
    firm: Number,
    by_myosin: float,
    by_actin: float,
    by_firming: float,
) -> Number:
    """Return the share of its raw water that meat holds.

    `myosin`, `actin`: shares still native; `firm`: from `firmed`, at the hottest it has been (what
    has tightened does not loosen); the last three: shares of the raw water that each lets go when
    complete. Source: HOLDING_SOURCE.
    """
    lost: Number = by_myosin * (1.0 - myosin) + by_actin * (1.0 - actin) + by_firming * firm
    return 1.0 - lost


def drying_slows(moisture_kg_kg: Number, raw_kg_kg: Number, half_kg_kg: float) -> Number:
    """Return by how much less water spreads in dried meat than in raw (1 where raw, to 0).

    Moistures are kg per kg of fat-free dry matter; raw above 0, dried above nothing. Source:
    DRYING_SOURCE.
    """
    now: Number = moisture_kg_kg / (moisture_kg_kg + half_kg_kg)
    return now * (raw_kg_kg + half_kg_kg) / raw_kg_kg


def elastic_modulus_pa(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the elastic modulus of the muscle network in the oven-roast model, 0–105 °C.

    12 kPa raw, 95 kPa well done. Source: ROAST_SOURCE. Raises PhysicsRangeError outside.
    """
    temp = HELD_RANGE.check(temp_c, on_range)
    return _SOFT_PA + _STIFFENING_PA / (1.0 + np.exp(-_STIFF_STEEP * (temp - _STIFF_C)))


def bare_elastic_modulus_pa(temp_c: Number) -> Number:
    """Return `elastic_modulus_pa` without checking the range, for compiled code."""
    rising: Number = np.exp(-_STIFF_STEEP * (temp_c - _STIFF_C))
    return _SOFT_PA + _STIFFENING_PA / (1.0 + rising)


def water_viscosity_pa_s(temp_c: ArrayLike, on_range: OnRange = "error") -> FloatArray:
    """Return the viscosity of liquid water, 0 to 200 °C, within 2.5 %.

    The oven-roast papers' own formula, as public code has it, gives 12 times this and is not used.
    Source: VISCOSITY_SOURCE. Raises PhysicsRangeError outside.
    """
    kelvin = VISCOSITY_RANGE.check(temp_c, on_range) + KELVIN
    return 2.414e-5 * 10.0 ** (247.8 / (kelvin - 140.0))


def darcy_speed_m_s(
    modulus_pa: ArrayLike,
    excess_per_m: ArrayLike,
    viscosity_pa_s: ArrayLike,
    permeability_m2: ArrayLike,
) -> FloatArray:
    """Return the speed at which squeezed water flows, −(K·E/μ)·∇(C − C_eq).

    `excess_per_m` is the gradient (1/m) of the water content above what the meat can hold (kg/kg);
    the flow goes down it. Permeability of muscle: PERMEABILITY_WATER_M2, a 25-fold range.
    Source: ROAST_SOURCE, PERMEABILITY_SOURCE. Raises PhysicsRangeError where modulus, viscosity
    or permeability are not above 0.
    """
    modulus, viscosity, permeability = (
        np.asarray(v, dtype=np.float64) for v in (modulus_pa, viscosity_pa_s, permeability_m2)
    )
    if not ((modulus > 0).all() and (viscosity > 0).all() and (permeability > 0).all()):
        raise PhysicsRangeError(
            "flow of squeezed water: modulus, viscosity and permeability must be above 0."
        )
    return -permeability * modulus / viscosity * np.asarray(excess_per_m, dtype=np.float64)


def loss_from_moisture(moisture_kg_kg: ArrayLike, raw_moisture_kg_kg: ArrayLike) -> FloatArray:
    """Return the share of raw mass lost, if only water left: 1 − (1 − C_0)/(1 − C).

    Moistures are kg water per kg meat, 0 to below 1. Source: conservation of what is not water.
    Raises PhysicsRangeError outside.
    """
    wet = Range("moisture of meat", "kg/kg", 0.0, 0.999, "a share of the mass")
    dry, raw = 1.0 - wet.check(moisture_kg_kg), 1.0 - wet.check(raw_moisture_kg_kg)
    return 1.0 - raw / dry
