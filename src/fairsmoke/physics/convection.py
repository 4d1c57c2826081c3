"""Convective coefficients worked out from size, temperatures and air speed."""

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.air import KELVIN, density_kg_m3
from fairsmoke.physics.air_transport import (
    conductivity_w_mk,
    heat_capacity_j_kgk,
    viscosity_pa_s,
)
from fairsmoke.physics.ranges import FloatArray, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

GRAVITY_M_S2 = 9.80665

NATURAL_SOURCE = Citation(
    "Churchill & Chu 1975, Int. J. Heat Mass Transfer 18:1049, horizontal cylinder, Ra ≤ 1e12",
    Seen.MEMORY,
)
FORCED_SOURCE = Citation(
    "Churchill & Bernstein 1977, J. Heat Transfer 99:300, cylinder in cross flow, Re·Pr ≥ 0.2",
    Seen.MEMORY,
)
RAYLEIGH_RANGE = Range("Rayleigh number", "", 1e-5, 1e12, "Churchill & Chu 1975")
PECLET_RANGE = Range("Reynolds × Prandtl", "", 0.2, 4e7, "Churchill & Bernstein 1977")


def natural_convection_w_m2k(
    surface_c: ArrayLike,
    air_c: ArrayLike,
    thick_m: ArrayLike,
    pressure_pa: ArrayLike = 101_325.0,
    ratio_kg_kg: ArrayLike = 0.01,
) -> FloatArray:
    """Return the coefficient of a piece in still air, taken as a lying cylinder `thick_m` thick.

    Properties at the mean of surface and air; the lightness of vapour is left out. Holds for film
    temperatures of 0 to 200 °C. A real draught adds to it. Expect ±25 %.
    Source: NATURAL_SOURCE. Raises PhysicsRangeError outside and for a thickness of 0 or less.
    """
    surface, air = np.asarray(surface_c, dtype=np.float64), np.asarray(air_c, dtype=np.float64)
    film = (surface + air) / 2
    size = _size(thick_m)
    conductivity, kinematic, prandtl = _film(film, pressure_pa, ratio_kg_kg)
    lift = GRAVITY_M_S2 * np.abs(surface - air) / (film + KELVIN)
    rayleigh = lift * size**3 / kinematic**2 * prandtl
    # With no difference nothing moves; the formula's own floor, 0.36 = 0.60², is pure conduction.
    rayleigh = RAYLEIGH_RANGE.check(np.maximum(rayleigh, RAYLEIGH_RANGE.low))
    spread = (1.0 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)
    return conductivity / size * (0.60 + 0.387 * rayleigh ** (1 / 6) / spread) ** 2


def forced_convection_w_m2k(
    surface_c: ArrayLike,
    air_c: ArrayLike,
    thick_m: ArrayLike,
    speed_m_s: ArrayLike,
    pressure_pa: ArrayLike = 101_325.0,
    ratio_kg_kg: ArrayLike = 0.01,
) -> FloatArray:
    """Return the coefficient of a piece across which air moves at `speed_m_s`.

    Taken as a cylinder `thick_m` thick; properties at the mean of surface and air, 0 to 200 °C.
    Expect ±20 % in smooth flow; turbulence, as behind a fan, gives more.
    Source: FORCED_SOURCE. Raises PhysicsRangeError outside, also for hardly moving air.
    """
    size = _size(thick_m)
    film = (np.asarray(surface_c, dtype=np.float64) + np.asarray(air_c, dtype=np.float64)) / 2
    conductivity, kinematic, prandtl = _film(film, pressure_pa, ratio_kg_kg)
    reynolds = np.asarray(speed_m_s, dtype=np.float64) * size / kinematic
    PECLET_RANGE.check(reynolds * prandtl)
    spread = (1.0 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
    rough = (1.0 + (reynolds / 282_000.0) ** (5 / 8)) ** (4 / 5)
    return conductivity / size * (0.3 + 0.62 * reynolds**0.5 * prandtl ** (1 / 3) / spread * rough)


def _film(
    film_c: FloatArray, pressure_pa: ArrayLike, ratio_kg_kg: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    conductivity = conductivity_w_mk(film_c, ratio_kg_kg)
    viscosity = viscosity_pa_s(film_c, ratio_kg_kg)
    prandtl = viscosity * heat_capacity_j_kgk(ratio_kg_kg) / conductivity
    return conductivity, viscosity / density_kg_m3(film_c, ratio_kg_kg, pressure_pa), prandtl


def _size(thick_m: ArrayLike) -> FloatArray:
    size = np.asarray(thick_m, dtype=np.float64)
    if not ((size > 0) & np.isfinite(size)).all():
        raise PhysicsRangeError("thickness: it must be above 0 m. Measure the piece across.")
    return size
