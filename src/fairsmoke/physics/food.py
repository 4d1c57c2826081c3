"""Density, heat capacity, conductivity and enthalpy of meat from its composition."""

from dataclasses import dataclass
from typing import Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.ranges import FloatArray, Number, OnRange, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

EQUATIONS = Citation(
    "Choi & Okos 1986, Food Engineering and Process Applications 1:93–101, as printed in the "
    "ASHRAE Handbook—Refrigeration, Thermal Properties of Foods, tables 1 and 2",
    Seen.CODE,
    "two public implementations, and CoolProp's food components evaluated",
)
COMPONENT_RANGE = Range("temperature of a food component", "°C", -40.0, 150.0, "Choi & Okos 1986")
UNFROZEN_RANGE = Range(
    "temperature of unfrozen meat",
    "°C",
    -1.7,
    150.0,
    "Choi & Okos 1986; beef starts to freeze at −1.7 °C in the handbook's example",
)
# Analyses rarely add up to exactly 100 g: the tables used here reach from 99.4 to 100.3.
_SUM_LOW, _SUM_HIGH = 0.98, 1.02


class Component(NamedTuple):
    """Coefficients (constant, linear, square) of one component's polynomials in °C.

    Conductivity in W/(m·K), density in kg/m³, heat capacity in J/(kg·K).
    """

    conductivity: tuple[float, float, float]
    density: tuple[float, float, float]
    heat_capacity: tuple[float, float, float]


# Water's heat capacity is a trap. The original has 4.1762 kJ/(kg·K) above 0 °C; 4.1289 belongs to
# the row for −40 to 0 °C, and some printings of the handbook, and CoolProp, carry it above 0 °C
# too. Real water has 4.18 to 4.22, and the handbook's lamb example comes out only with 4.1762.
COMPONENTS: dict[str, Component] = {
    "water": Component(
        (0.57109, 1.7625e-3, -6.7036e-6),
        (997.18, 3.1439e-3, -3.7574e-3),
        (4176.2, -9.0864e-2, 5.4731e-3),
    ),
    "protein": Component(
        (0.17881, 1.1958e-3, -2.7178e-6), (1329.9, -0.5184, 0.0), (2008.2, 1.2089, -1.3129e-3)
    ),
    "fat": Component(
        (0.18071, -2.7604e-4, -1.7749e-7), (925.59, -0.41757, 0.0), (1984.2, 1.4733, -4.8008e-3)
    ),
    "carbohydrate": Component(
        (0.20141, 1.3874e-3, -4.3312e-6), (1599.1, -0.31046, 0.0), (1548.8, 1.9625, -5.9399e-3)
    ),
    "fibre": Component(
        (0.18331, 1.2497e-3, -3.1683e-6), (1311.5, -0.36589, 0.0), (1845.9, 1.8306, -4.6509e-3)
    ),
    "ash": Component(
        (0.32962, 1.4011e-3, -2.9069e-6), (2423.8, -0.28063, 0.0), (1092.6, 1.8896, -3.6817e-3)
    ),
    "ice": Component(
        (2.2196, -6.2489e-3, 1.0154e-4), (916.89, -0.13071, 0.0), (2062.3, 6.0769, 0.0)
    ),
}

# Conductivity of meat protein as it acts in layers across the fibres, unfrozen: larger than that
# of dry protein because it carries its bound water.
PROTEIN_ACROSS_W_MK = 0.342
PROTEIN_ACROSS_SOURCE = Citation(
    "Agricultural and Biological Chemistry 46(5):1235 (1982), series model, ±7 %", Seen.READ
)
# The paper gives one value for unfrozen meat; its warming is taken from dry protein, scaled to
# agree at this temperature.
_ACROSS_REFERENCE_C = 20.0

Model = Literal["across", "parallel", "series"]
Property = Literal["conductivity", "density", "heat_capacity"]

_W, _P, _F, _A = (COMPONENTS[name] for name in ("water", "protein", "fat", "ash"))
_KW0, _KW1, _KW2 = _W.conductivity
_KP0, _KP1, _KP2 = _P.conductivity
_KF0, _KF1, _KF2 = _F.conductivity
_KA0, _KA1, _KA2 = _A.conductivity
_RW0, _RW1, _RW2 = _W.density
_RP0, _RP1, _ = _P.density
_RF0, _RF1, _ = _F.density
_RA0, _RA1, _ = _A.density
_CW0, _CW1, _CW2 = _W.heat_capacity
_CP0, _CP1, _CP2 = _P.heat_capacity
_CF0, _CF1, _CF2 = _F.heat_capacity
_CA0, _CA1, _CA2 = _A.heat_capacity
_ACROSS = PROTEIN_ACROSS_W_MK / (_KP0 + _KP1 * _ACROSS_REFERENCE_C + _KP2 * _ACROSS_REFERENCE_C**2)


@dataclass(frozen=True, eq=False)
class Composition:
    """Mass fractions (kg/kg) of a food; arrays or numbers that broadcast together.

    An analysis rarely adds up to exactly 1; properties are those of its parts scaled so that they
    do. Raises PhysicsRangeError where a fraction is negative or not a number, or where they add up
    to less than 0.98 or more than 1.02.
    """

    water: ArrayLike
    protein: ArrayLike
    fat: ArrayLike
    ash: ArrayLike = 0.0
    carbohydrate: ArrayLike = 0.0
    fibre: ArrayLike = 0.0

    def __post_init__(self) -> None:
        fractions = list(self.fractions().values())
        total = np.sum(np.broadcast_arrays(*fractions), axis=0)
        for name, fraction in self.fractions().items():
            if not (fraction >= 0).all():
                raise PhysicsRangeError(
                    f"{name} in a composition: {fraction[~(fraction >= 0)].flat[0]:g} kg/kg. "
                    "Give mass fractions of 0 or more."
                )
        if not ((total >= _SUM_LOW) & (total <= _SUM_HIGH)).all():
            worst = total.flat[np.argmax(np.abs(total - 1))]
            raise PhysicsRangeError(
                f"the parts of a composition add up to {worst:g} kg/kg. "
                "Give mass fractions, not percent, that add up to 1 within 0.02."
            )

    def fractions(self) -> dict[str, FloatArray]:
        """Return each component's mass fraction as an array, by name."""
        names = ("water", "protein", "fat", "ash", "carbohydrate", "fibre")
        return {name: np.asarray(getattr(self, name), dtype=np.float64) for name in names}

    def shares(self) -> dict[str, FloatArray]:
        """Return each component's mass fraction scaled so that all add up to 1, by name."""
        fractions = self.fractions()
        total = np.asarray(sum(fractions.values()))
        return {name: fraction / total for name, fraction in fractions.items()}


def component_property(
    component: str, which: Property, temp_c: ArrayLike, on_range: OnRange = "error"
) -> FloatArray:
    """Return one property of one component at `temp_c`.

    `which` is "conductivity" (W/(m·K)), "density" (kg/m³) or "heat_capacity" (J/(kg·K)).
    Holds from −40 to 150 °C; for water above 0 °C and for ice below 0 °C as matter stands.
    Source: EQUATIONS. Raises PhysicsRangeError outside, KeyError for an unknown component.
    """
    coefficients: tuple[float, float, float] = getattr(COMPONENTS[component], which)
    return _quadratic(COMPONENT_RANGE.check(temp_c, on_range), coefficients)


def density_kg_m3(
    temp_c: ArrayLike, composition: Composition, on_range: OnRange = "error"
) -> FloatArray:
    """Return the density of unfrozen meat without pores, 1/Σ(x/ρ), from −1.7 to 150 °C.

    Source: EQUATIONS. Raises PhysicsRangeError outside (see `on_range`).
    """
    temp = UNFROZEN_RANGE.check(temp_c, on_range)
    return 1.0 / np.asarray(sum(_volumes(temp, composition).values()))


def heat_capacity_j_kgk(
    temp_c: ArrayLike, composition: Composition, on_range: OnRange = "error"
) -> FloatArray:
    """Return the heat capacity Σ x·c of unfrozen meat, from −1.7 to 150 °C.

    Melting fat (fat.py) and denaturing protein (kinetics.py) take their heat on top of this.
    Source: EQUATIONS, mixing rule of the same chapter. Raises PhysicsRangeError outside.

    >>> lamb = Composition(water=0.7342, protein=0.2029, fat=0.0525, ash=0.0106)
    >>> f"{heat_capacity_j_kgk(5.0, lamb):.0f}"
    '3590'
    """
    temp = UNFROZEN_RANGE.check(temp_c, on_range)
    parts = composition.shares().items()
    return np.asarray(sum(x * _quadratic(temp, COMPONENTS[n].heat_capacity) for n, x in parts))


def conductivity_w_mk(
    temp_c: ArrayLike,
    composition: Composition,
    model: Model = "across",
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the thermal conductivity of unfrozen meat, from −1.7 to 150 °C.

    `model`: "parallel" (upper bound, heat along the layers), "series" (lower bound, across
    them), or "across", the series rule with the conductivity that meat protein shows across the
    fibres, which meets measured lean meat (0.48 to 0.50 W/(m·K)) where "series" is a fifth low.
    Volume fractions weight all three. Within about 7 % of measurements.
    Source: EQUATIONS; "across": PROTEIN_ACROSS_SOURCE. Raises PhysicsRangeError outside.
    """
    if model not in get_args(Model):
        raise ValueError(f'conductivity model "{model}". Write across, parallel or series.')
    temp = UNFROZEN_RANGE.check(temp_c, on_range)
    volumes = _volumes(temp, composition)
    total = np.asarray(sum(volumes.values()))
    shares = {name: volume / total for name, volume in volumes.items()}
    each = {name: _quadratic(temp, COMPONENTS[name].conductivity) for name in shares}
    if model == "parallel":
        return np.asarray(sum(shares[name] * each[name] for name in shares))
    if model == "across":
        each["protein"] = each["protein"] * _ACROSS
    return 1.0 / np.asarray(sum(shares[name] / each[name] for name in shares))


def diffusivity_m2_s(
    temp_c: ArrayLike,
    composition: Composition,
    model: Model = "across",
    on_range: OnRange = "error",
) -> FloatArray:
    """Return the thermal diffusivity k/(ρ·c) of unfrozen meat; ranges and sources as its parts."""
    conductivity = conductivity_w_mk(temp_c, composition, model, on_range)
    density = density_kg_m3(temp_c, composition, on_range)
    return conductivity / (density * heat_capacity_j_kgk(temp_c, composition, on_range))


def sensible_enthalpy_j_kg(
    temp_c: ArrayLike, composition: Composition, on_range: OnRange = "error"
) -> FloatArray:
    """Return the heat that 1 kg of unfrozen meat holds above 0 °C, without fat melting.

    The exact integral of `heat_capacity_j_kgk`; add fat.melting_enthalpy_j_kg × fat fraction
    where fat melts. Source: EQUATIONS. Raises PhysicsRangeError outside −1.7 to 150 °C.
    """
    temp = UNFROZEN_RANGE.check(temp_c, on_range)
    total = np.zeros(())
    for name, fraction in composition.shares().items():
        c0, c1, c2 = COMPONENTS[name].heat_capacity
        total = total + fraction * temp * (c0 + temp * (c1 / 2 + temp * c2 / 3))
    return total


def ice_fraction(
    temp_c: ArrayLike, water: ArrayLike, freezing_c: float = -1.7, on_range: OnRange = "error"
) -> FloatArray:
    """Return the mass of ice per mass of food below its initial freezing point `freezing_c`.

    x_ice = 1.105·x_w / (1 + 0.7138/ln(t_f − t + 1)) with x_w the water fraction before freezing;
    0 at the freezing point. Holds from −40 °C to `freezing_c`.
    Source: Tchigeov's equation in the ASHRAE chapter named in EQUATIONS (from memory; its
    worked example is reproduced). Raises PhysicsRangeError outside.
    """
    frozen = Range("temperature of freezing food", "°C", -40.0, freezing_c, "Tchigeov's equation")
    temp = frozen.check(temp_c, on_range)
    depth = np.log(np.maximum(freezing_c - temp, 1e-12) + 1.0)
    return 1.105 * np.asarray(water, dtype=np.float64) * depth / (depth + 0.7138)


def bare_volume_m3_kg(
    temp_c: Number, water: Number, protein: Number, fat: Number, ash: Number
) -> Number:
    """Return the volume of the given masses (per kg of anything) without checking the range.

    For compiled code; the same equation as `density_kg_m3`.
    """
    return (
        water / (_RW0 + temp_c * (_RW1 + temp_c * _RW2))
        + protein / (_RP0 + temp_c * _RP1)
        + fat / (_RF0 + temp_c * _RF1)
        + ash / (_RA0 + temp_c * _RA1)
    )


def bare_heat_capacity_j_kgk(
    temp_c: Number, water: Number, protein: Number, fat: Number, ash: Number
) -> Number:
    """Return Σ x·c without checking the range; `heat_capacity_j_kgk` for compiled code."""
    return (
        water * (_CW0 + temp_c * (_CW1 + temp_c * _CW2))
        + protein * (_CP0 + temp_c * (_CP1 + temp_c * _CP2))
        + fat * (_CF0 + temp_c * (_CF1 + temp_c * _CF2))
        + ash * (_CA0 + temp_c * (_CA1 + temp_c * _CA2))
    )


def bare_sensible_enthalpy_j_kg(
    temp_c: Number, water: Number, protein: Number, fat: Number, ash: Number
) -> Number:
    """Return `sensible_enthalpy_j_kg` without checking the range, for compiled code."""
    return temp_c * (
        water * (_CW0 + temp_c * (_CW1 / 2 + temp_c * _CW2 / 3))
        + protein * (_CP0 + temp_c * (_CP1 / 2 + temp_c * _CP2 / 3))
        + fat * (_CF0 + temp_c * (_CF1 / 2 + temp_c * _CF2 / 3))
        + ash * (_CA0 + temp_c * (_CA1 / 2 + temp_c * _CA2 / 3))
    )


def bare_conductivity_across_w_mk(
    temp_c: Number, water: Number, protein: Number, fat: Number, ash: Number
) -> Number:
    """Return `conductivity_w_mk` "across" without checking the range, for compiled code."""
    water_m3 = water / (_RW0 + temp_c * (_RW1 + temp_c * _RW2))
    protein_m3 = protein / (_RP0 + temp_c * _RP1)
    fat_m3 = fat / (_RF0 + temp_c * _RF1)
    ash_m3 = ash / (_RA0 + temp_c * _RA1)
    resistance = (
        water_m3 / (_KW0 + temp_c * (_KW1 + temp_c * _KW2))
        + protein_m3 / (_ACROSS * (_KP0 + temp_c * (_KP1 + temp_c * _KP2)))
        + fat_m3 / (_KF0 + temp_c * (_KF1 + temp_c * _KF2))
        + ash_m3 / (_KA0 + temp_c * (_KA1 + temp_c * _KA2))
    )
    return (water_m3 + protein_m3 + fat_m3 + ash_m3) / resistance


def _quadratic(temp: FloatArray, coefficients: tuple[float, float, float]) -> FloatArray:
    c0, c1, c2 = coefficients
    return c0 + temp * (c1 + temp * c2)


def _volumes(temp: FloatArray, composition: Composition) -> dict[str, FloatArray]:
    parts = composition.shares().items()
    return {name: x / _quadratic(temp, COMPONENTS[name].density) for name, x in parts}
