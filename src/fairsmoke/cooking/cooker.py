"""Where a piece lies: cooker with fire, walls, water pan and air; cabinet, cooler, room."""

import math
from dataclasses import dataclass, field

import numpy as np

from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.stages import ROW, STAGE_LENGTH
from fairsmoke.cooking.wraps import COVERINGS, OPEN, RADIATION_W_M2K, gap_share
from fairsmoke.messages.errors import InputError
from fairsmoke.physics import air
from fairsmoke.physics.air import (
    CP_DRY_AIR_J_KGK,
    CP_VAPOUR_J_KGK,
    KELVIN,
    VAPOUR_TO_AIR,
    bare_latent_heat_j_kg,
    bare_saturation_pressure_pa,
)
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.surface import STEFAN_BOLTZMANN
from fairsmoke.trial.protocol import Humidity, Place, Stage

PAN_EMISSIVITY = 0.9
_saturation, _latent = kernel(bare_saturation_pressure_pa), kernel(bare_latent_heat_j_kg)

HOTTEST_PIT_C = 280.0
COLDEST_C = -1.5


class CookerError(InputError):
    """A cooker, site or stage that cannot be; the message says what to change."""


@dataclass(frozen=True)
class Site:
    """The kitchen or yard: altitude (m), air there (°C), its relative humidity (0 to 1)."""

    altitude_m: float = 0.0
    ambient_c: float = 20.0
    ambient_relative: float = 0.5

    @property
    def pressure_pa(self) -> float:
        """Air pressure of the standard atmosphere at that altitude."""
        return float(air.pressure_at_altitude_pa(self.altitude_m))

    @property
    def ratio(self) -> float:
        """Humidity ratio of the air outside the cooker (kg/kg)."""
        return float(
            air.humidity_ratio_from_relative(
                self.ambient_c, self.ambient_relative, self.pressure_pa
            )
        )


@dataclass(frozen=True)
class LidOpening:
    """The lid is lifted at a time: the air falls by so much and comes back exponentially."""

    at_s: float
    falls_k: float = 60.0
    recovers_s: float = 240.0


@dataclass(frozen=True)
class CookerModel:
    """A cooker and the place in it. The middle values below are assumed, see SOURCES in the docs.

    `convection_w_m2k`: still air 3–8, gentle draught 5–12, fan 15–40 (textbook, from memory).
    `wall_above_k`, `wall_below_k`: walls against air temperature. Above they are colder by what
    they lose: 4.5 W/K over 1.7 m² of wall against 16 W/(m²·K) inside; below without a pan the
    plate over the fire is hotter than the air. `exchange_kg_s`: air that streams through.
    `fuel_water_kg_j`: water given off per joule of fire, 0.6 kg per 16 MJ of wood; 0 if electric.
    `loss_w_k`: heat through the walls. `pan_area_m2`: open water when a stage has a water pan, and
    `pan_view`: how much of what the underside sees is that pan; `pan_fire_w_m2`: heat that it gets
    from below. `pieces` share the air. `ramp_s` is the time constant with which the air comes to a
    new set point; a `preheated` cooker is at its first one when the piece goes in.
    `position_k` and `position_below_k`: air at this place against the set temperature.
    """

    convection_w_m2k: float = 8.0
    wall_above_k: float = -15.0
    wall_below_k: float = 17.0
    exchange_kg_s: float = 8e-3
    fuel_water_kg_j: float = 0.6 / 16e6
    loss_w_k: float = 4.5
    pan_area_m2: float = 0.15
    pan_view: float = 0.35
    pan_fire_w_m2: float = 3500.0
    pieces: int = 1
    ramp_s: float = 900.0
    preheated: bool = False
    position_k: float = 0.0
    position_below_k: float = 0.0
    ratio_kg_kg: float | None = None
    openings: tuple[LidOpening, ...] = field(default=())

    def __post_init__(self) -> None:
        limits = {
            "convection_w_m2k": (1.0, 2000.0),
            "exchange_kg_s": (1e-5, 1.0),
            "pan_area_m2": (0.0, 2.0),
            "pan_view": (0.0, 1.0),
            "position_k": (-60.0, 60.0),
            "ramp_s": (0.0, 7200.0),
        }
        for name, (low, high) in limits.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise CookerError(f"{name} of the cooker is {value:g}; give {low:g} to {high:g}.")
        if self.pieces < 1:
            raise CookerError("a cooker with fewer than one piece: count the one that is cooked.")

    def lids(self) -> FloatArray:
        """Return the openings as rows of time, fall and recovery."""
        rows = [(o.at_s, o.falls_k, o.recovers_s) for o in self.openings]
        return np.array(rows, dtype=float).reshape(-1, 3)


def stage_row(
    stage: Stage, cooker: CookerModel, site: Site, area_m2: float, measured: bool
) -> FloatArray:
    """Return the vector of a stage (cook_kernel.ROW) apart from what ends it.

    Raises CookerError for a temperature out of range or missing.
    """
    row = np.zeros(STAGE_LENGTH)
    air_c = _surround(stage, cooker, site, measured)
    row[ROW.air_c], row[ROW.measured] = air_c, float(measured and stage.place == Place.COOKER)
    makers = {Place.COOKER: _in_cooker, Place.CABINET: _in_cabinet, Place.COOLER: _in_cooler}
    makers.get(stage.place, _in_room)(row, stage, cooker, site, air_c, area_m2)
    _covers(row, stage, stage.place == Place.COOLER)
    if stage.humidity == Humidity.SPRITZ:
        # 20 g over the top of a large piece, 0.13 m², each 45 min: common practice, no source.
        row[ROW.wetting_kg_m2s] = 0.020 / 0.13 / 2700.0
    row[ROW.adds_liquid_kg] = sum(a.mass_kg or 0.0 for a in stage.adds if a.what == "liquid")
    row[ROW.adds_fat_kg] = sum(a.mass_kg or 0.0 for a in stage.adds if a.what == "fat")
    return row


def _surround(stage: Stage, cooker: CookerModel, site: Site, measured: bool) -> float:
    usual = {Place.CABINET: 66.0, Place.FRIDGE: 4.0}
    given = stage.surround_c
    if given is None and stage.place == Place.COOKER and not measured:
        raise CookerError(f"stage '{stage.id}' is in the cooker without a temperature; give one.")
    value = usual.get(stage.place, site.ambient_c) if given is None else given
    if stage.place == Place.COOKER:
        value += cooker.position_k
    if not COLDEST_C <= value <= HOTTEST_PIT_C:
        raise CookerError(
            f"stage '{stage.id}': {value:g} °C around the piece; the model takes "
            f"{COLDEST_C:g} to {HOTTEST_PIT_C:g} °C."
        )
    return value


def _in_cooker(
    row: FloatArray, stage: Stage, cooker: CookerModel, site: Site, air_c: float, area_m2: float
) -> None:
    row[[ROW.convection_above, ROW.convection_below]] = cooker.convection_w_m2k
    row[ROW.ramp_s], row[ROW.in_cooker] = cooker.ramp_s, 1.0
    row[ROW.preheated] = float(cooker.preheated)
    row[ROW.wall_above_k] = cooker.wall_above_k
    row[ROW.wall_below_k] = cooker.wall_below_k + cooker.position_below_k
    row[ROW.exchange_kg_s] = cooker.exchange_kg_s / cooker.pieces
    if cooker.ratio_kg_kg is not None:
        row[ROW.ratio], row[ROW.exchange_kg_s] = cooker.ratio_kg_kg, 0.0
        return
    lost = cooker.exchange_kg_s * air.CP_DRY_AIR_J_KGK + cooker.loss_w_k
    fire_w = max(0.0, lost * (air_c - site.ambient_c))
    ratio = site.ratio + cooker.fuel_water_kg_j * fire_w / cooker.exchange_kg_s
    if stage.humidity == Humidity.STEAM:
        ratio += 0.30
    if stage.humidity == Humidity.WATER_PAN:
        pan_c, ratio = water_pan(cooker, air_c, ratio, site.pressure_pa)
        below = cooker.wall_below_k * (1.0 - cooker.pan_view)
        row[ROW.wall_below_k] = below + cooker.pan_view * (pan_c - air_c)
    row[ROW.ratio] = ratio


def _in_cabinet(
    row: FloatArray, stage: Stage, cooker: CookerModel, site: Site, air_c: float, area_m2: float
) -> None:
    row[[ROW.convection_above, ROW.convection_below]] = 7.0
    row[ROW.ramp_s] = 300.0
    share = {Humidity.WATER_PAN: 0.6, Humidity.STEAM: 0.8}.get(stage.humidity)
    row[ROW.ratio], row[ROW.exchange_kg_s] = site.ratio, 1e-3
    if share is not None:
        capped = min(air_c, float(air.boiling_point_c(site.pressure_pa)) - 2.0)
        row[ROW.ratio] = air.humidity_ratio_from_relative(capped, share, site.pressure_pa)
        row[ROW.exchange_kg_s] = 0.0


def _in_cooler(
    row: FloatArray, stage: Stage, cooker: CookerModel, site: Site, air_c: float, area_m2: float
) -> None:
    # A closed insulated box of 0.6 W/K full of towels (common practice, no source): the box stands
    # between the piece and the room, and its little air is as moist as the piece makes it.
    inside = 6.0
    row[[ROW.convection_above, ROW.convection_below]] = 1.0 / (1.0 / inside + area_m2 / 0.6)
    row[ROW.ratio] = site.ratio


def _in_room(
    row: FloatArray, stage: Stage, cooker: CookerModel, site: Site, air_c: float, area_m2: float
) -> None:
    row[[ROW.convection_above, ROW.convection_below]] = 7.0 if stage.place == Place.FRIDGE else 4.5
    row[ROW.ratio] = min(
        site.ratio,
        0.95 * float(air.humidity_ratio_from_relative(air_c, 1.0, site.pressure_pa)),
    )


def _covers(row: FloatArray, stage: Stage, boxed: bool) -> None:
    keeps = 0.0
    for s, cover in enumerate((stage.wrap.above, stage.wrap.below)):
        covering = COVERINGS[cover]
        bare = covering.permeance >= OPEN
        row[ROW.resistance_above + s] = 0.0 if bare else 1.0 / covering.permeance
        h = row[ROW.convection_above + s]
        row[ROW.gap_above + s] = 1.0 if bare else gap_share(covering, s, h)
        row[ROW.emissivity_above + s] = 0.0 if boxed else covering.emissivity[s]
        row[ROW.wet_above + s] = float(covering.wets[s])
        row[ROW.fat_closes_above + s] = covering.fat_closes_m2_kg
        if boxed:
            row[ROW.resistance_above + s] += 1e10
        # What runs down collects in the cover below; one above holds only what clings to it.
        keeps = max(keeps, covering.keeps_kg_m2) if s == 1 else min(covering.keeps_kg_m2, 0.15)
    row[ROW.keeps_kg_m2] = keeps


def water_pan(
    cooker: CookerModel, air_c: float, ratio: float, pressure_pa: float
) -> tuple[float, float]:
    """Return the temperature of the pan's water and the air's humidity ratio with the pan in it.

    The pan takes convection and radiation from above and the fire's heat from below, and gives it
    all to vapour.
    """
    water_c, rate = pan_balance(
        cooker.convection_w_m2k,
        cooker.pan_fire_w_m2,
        air_c,
        ratio,
        cooker.pan_area_m2 / cooker.exchange_kg_s,
        pressure_pa,
    )
    return water_c, ratio + rate * cooker.pan_area_m2 / cooker.exchange_kg_s


@kernel
def pan_balance(
    h: float, fire_w_m2: float, air_c: float, ratio: float, area_s_kg: float, pressure_pa: float
) -> tuple[float, float]:
    """Return temperature and evaporation rate (kg/m²s) of open water, by bisection.

    At a trial temperature the heat that comes gives the rate, the rate the moisture of the air;
    the film then could carry off less (too cold) or more (too hot).
    """
    low, high = 0.0, max(air_c, 1.0)
    rate = 0.0
    for _ in range(60):
        water_c = 0.5 * (low + high)
        kelvin = water_c + KELVIN
        heat = h * (air_c - water_c) + fire_w_m2
        heat += PAN_EMISSIVITY * STEFAN_BOLTZMANN * ((air_c + KELVIN) ** 4 - kelvin**4)
        rate = max(heat, 0.0) / _latent(water_c)
        vapour = _saturation(water_c)
        if vapour >= 0.999 * pressure_pa:
            high = water_c
            continue
        at_water = VAPOUR_TO_AIR * vapour / (pressure_pa - vapour)
        moist = CP_DRY_AIR_J_KGK + CP_VAPOUR_J_KGK * (ratio + rate * area_s_kg)
        above = CP_VAPOUR_J_KGK * (at_water - ratio - rate * area_s_kg) / moist
        carried = h / CP_VAPOUR_J_KGK * math.log(max(1.0 + above, 1e-9))
        if carried < rate:
            low = water_c
        else:
            high = water_c
    return water_c, rate


__all__ = ["RADIATION_W_M2K", "CookerError", "CookerModel", "LidOpening", "Site", "stage_row"]
