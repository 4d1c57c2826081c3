"""The same rates in NumPy alone, as one would write them without compiled kernels.

Whole-array arithmetic over the cells, Brent's method for each surface. Unknowns per cell:
temperature (in 100 K), water as a share of the raw cell's, fat (kg/m²), tightened, slowest class
of native collagen, opened collagen, myosin, actin.
"""

import math

import numpy as np
from scipy.optimize import brentq

from benchmarks.slab import (
    ACTIN_J,
    CLASSES,
    COLLAGEN_J,
    FIRM_S,
    LAYERS,
    MYOSIN_J,
    SLAB,
    SPEEDS,
    Column,
)
from fairsmoke.cooking import tables as t
from fairsmoke.cooking.cells import (
    AREA,
    CRUST_KG_KG,
    DRAIN_THICK_M,
    MARBLED,
    PLACE,
    RAW_WATER,
    RENDERS,
    SOLIDS,
)
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.surface import SIDE
from fairsmoke.physics.air import CP_DRY_AIR_J_KGK, CP_VAPOUR_J_KGK, KELVIN, VAPOUR_TO_AIR
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.surface import GAB_C, GAB_K, MONOLAYER_KG_KG, STEFAN_BOLTZMANN
from fairsmoke.physics.water import drying_slows, held_share

_SOFT, _COOL_C, _TRACE_WET, _RUN_OUT_S = 0.04, 75.0, 1e-6, 1200.0
_LEAST_PAST_FAT = 1e-3
_MOST_KG_M2S = 0.02


def water_activity(moisture: FloatArray) -> FloatArray:
    """Return water activity at kg water per kg dry matter; straight through nothing below 1e-6."""
    layers = np.maximum(moisture, 1e-6) / MONOLAYER_KG_KG
    half = 0.5 * (GAB_C - layers * (GAB_C - 2.0))
    root = np.sqrt(half * half + layers * layers * (GAB_C - 1.0))
    wet = (root - half) / (layers * (GAB_C - 1.0)) / GAB_K
    dry = np.maximum(moisture, 0.0) / (MONOLAYER_KG_KG * GAB_C * GAB_K)
    return np.where(moisture < 1e-6, dry, wet)


class PlainColumn:
    """The column's right-hand side in NumPy."""

    TEMP_SCALE = 100.0

    def __init__(self) -> None:
        column = Column()
        self._table, self._par, self._sides = column.table, column.par, column.sides
        self._fixed, self.column, self.cells = column.shape.fixed[0], column, column.cells
        self.start = column.start.copy()
        self.start[:, 0] = SLAB.start_c / self.TEMP_SCALE
        self.start[:, 1] = 1.0

    def kept(self, share: FloatArray, fat: FloatArray) -> float:
        """Return the share of the raw mass that is left."""
        return self.column.kept(share * self._fixed[RAW_WATER], fat)

    def _look_up(self, temp_c: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return all columns of the table and their slopes (columns × temperatures)."""
        place = (temp_c - t.LOW_C) / t.STEP_K
        row = np.clip(place.astype(int), 0, t.ROWS - 2)
        low = self._table[row].T
        rise = self._table[row + 1].T - low
        return low + (place - row) * rise, rise / t.STEP_K

    def field(self, _: float, packed: FloatArray) -> FloatArray:
        """Return the rates of all unknowns."""
        par, fixed = self._par, self._fixed
        scaled, share, fat, firm, slowest, opened, myosin, actin = packed.reshape(-1, LAYERS).T
        temp, raw, solids = scaled * self.TEMP_SCALE, fixed[RAW_WATER], fixed[SOLIDS]
        water = share * raw
        at, slope = self._look_up(temp)
        volume = solids * at[t.V_S] + water * at[t.V_W] + fat * at[t.V_F]
        across = solids * at[t.ACROSS_S] + water * at[t.ACROSS_W] + fat * at[t.ACROSS_F]
        parallel = solids * at[t.ALONG_S] + water * at[t.ALONG_W] + fat * at[t.ALONG_F]
        along = par[PAR.along]
        conductivity = along * parallel / volume + (1.0 - along) * volume / across
        capacity = solids * slope[t.H_S] + water * slope[t.H_W] + fat * slope[t.H_F]
        depth = volume / fixed[AREA]
        wet = np.maximum(water, _TRACE_WET * raw) / solids
        diffusivity = par[PAR.diffusivity_scale] * at[t.DIFFUSIVITY]
        diffusivity = diffusivity * drying_slows(wet, raw / solids, par[PAR.dry_slows])
        # The share of lean is in the water per volume already: liquid has the detour alone.
        lean = np.maximum(1.0 - fat * at[t.V_F] / volume, 0.0)
        diffusivity = diffusivity * np.maximum(np.sqrt(lean), _LEAST_PAST_FAT)
        past_fat = lean * np.sqrt(lean)
        heat_r, water_r = 0.5 * depth / conductivity, 0.5 * depth * volume / (raw * diffusivity)
        held = held_share(
            myosin, actin, firm, par[PAR.lost_myosin], par[PAR.lost_actin], par[PAR.lost_firming]
        )
        excess = np.maximum(share - held, 0.0)
        crust_m = np.sum(depth * np.maximum(1.0 - water / (CRUST_KG_KG * solids), 0.0))
        drain = par[PAR.drain] * DRAIN_THICK_M / depth.sum() * raw * excess
        drain /= 1.0 + par[PAR.crust_blocks] * crust_m
        boil = self._boils(temp, at[t.VAPOUR_PA], water, solids)
        walls = at[t.RENDER] * np.minimum(share, 1.0)
        breaks = par[PAR.render_scale] * (walls + par[PAR.burst] * boil / raw)
        loose = np.maximum(fat - fixed[MARBLED], 0.0)
        spare = np.maximum(np.minimum(fat, fixed[MARBLED]) - solids * at[t.FAT_HELD], 0.0)
        rendered = fixed[RENDERS] * loose * breaks / (1.0 + _RUN_OUT_S * breaks)
        rendered += par[PAR.lean_render] * par[PAR.render_scale] * walls * spare
        d_heat = -drain * at[t.H_W] - boil * (at[t.H_W] + at[t.LATENT]) - rendered * at[t.H_F]
        d_water = -drain - boil
        potential = share + par[PAR.squeeze] * excess
        flow = (potential[:-1] - potential[1:]) / (water_r[:-1] + water_r[1:])
        heat = (temp[:-1] - temp[1:]) / (heat_r[:-1] + heat_r[1:])
        heat = heat + flow * 0.5 * (at[t.H_W, :-1] + at[t.H_W, 1:])
        vapour, carries = self._vapour(temp, water / solids, depth, past_fat, at)
        flow, heat = flow + vapour, heat + vapour * carries
        d_heat[:-1] -= heat
        d_heat[1:] += heat
        d_water[:-1] -= flow
        d_water[1:] += flow
        down = fixed[PLACE] + (par[PAR.drain_down] - 0.5) * (1 - np.abs(2.0 * fixed[PLACE] - 1))
        arrives = (1.0 - par[PAR.juice_falls]) * np.array([drain @ (1.0 - down), drain @ down])
        for s, i in ((0, 0), (1, self.cells - 1)):
            moist = (float(share[i]), float(raw[i] / solids[i]))
            gained, drawn = self._surface(
                s,
                float(temp[i]),
                *moist,
                1.0 / heat_r[i],
                1.0 / water_r[i],
                depth[i] / max(past_fat[i], _LEAST_PAST_FAT),
                arrives[s],
            )
            d_heat[i] += gained - drawn * at[t.H_W, i]
            d_water[i] -= drawn
        speed = par[PAR.open_scale] * at[t.OPENS]
        left = np.maximum(slowest, 0.0) ** (SPEEDS / SPEEDS[-1])[:, None]
        opens, myosin_falls = speed * ((CLASSES * SPEEDS) @ left), at[t.MYOSIN] * myosin
        actin_falls = at[t.ACTIN] * actin
        dissolves = par[PAR.dissolve_scale] * at[t.DISSOLVES] * opened
        per_kg = MYOSIN_J * myosin_falls + ACTIN_J * actin_falls
        d_heat -= solids * (per_kg + COLLAGEN_J * par[PAR.collagen] * opens)
        warms = (d_heat - at[t.H_W] * d_water + at[t.H_F] * rendered) / capacity
        tightens = np.maximum(at[t.FIRMED] - firm, 0.0) / FIRM_S
        return np.stack(
            [
                warms / self.TEMP_SCALE,
                d_water / raw,
                -rendered,
                tightens,
                -SPEEDS[-1] * speed * slowest,
                opens - dissolves,
                -myosin_falls,
                -actin_falls,
            ],
            axis=1,
        ).ravel()

    def _vapour(
        self,
        temp: FloatArray,
        moisture: FloatArray,
        depth: FloatArray,
        past_fat: FloatArray,
        at: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Return vapour from each cell to the next (kg/m²s) and the heat that it carries (J/kg)."""
        dried = np.maximum(1.0 - moisture / self._par[PAR.crust_moisture], 0.0)
        lets = self._par[PAR.crust_permeability] * dried**2 * past_fat
        over = water_activity(moisture) * at[t.VAPOUR_PA]
        passes = (lets[:-1] + lets[1:]) / (depth[:-1] + depth[1:])
        latent = self._look_up(0.5 * (temp[:-1] + temp[1:]))[0][t.LATENT]
        warm = 0.5 * (at[t.H_W, :-1] + at[t.H_W, 1:])
        return passes * (over[:-1] - over[1:]), latent + warm

    def _boils(
        self, temp: FloatArray, vapour: FloatArray, water: FloatArray, solids: FloatArray
    ) -> FloatArray:
        over = water_activity(water / solids) * vapour / self._sides[0, SIDE.pressure_pa] - 1.0
        rounded = np.where(over < _SOFT, 0.25 * (over + _SOFT) ** 2 / _SOFT, over)
        boils = (temp > _COOL_C) & (over > -_SOFT)
        return np.where(boils, self._par[PAR.boil] * water * rounded, 0.0)

    def _surface(
        self,
        s: int,
        temp: float,
        share: float,
        raw: float,
        heat_g: float,
        water_g: float,
        depth: float,
        arrives: float,
    ) -> tuple[float, float]:
        """Return heat into the cell (W/m²) and water drawn from it (kg/m²s) at one side."""
        side = self._sides[s]
        h, pressure, ratio = (
            side[SIDE.convection_w_m2k],
            side[SIDE.pressure_pa],
            side[SIDE.air_ratio],
        )
        radiates = side[SIDE.emissivity] * STEFAN_BOLTZMANN
        wall_4 = (side[SIDE.wall_c] + KELVIN) ** 4
        left = min(1.0, share * raw / self._par[PAR.crust_moisture])
        crust = 0.5 * depth * (1.0 - left) / self._par[PAR.crust_permeability]
        crust += self._par[PAR.skin_resistance]
        water_g /= max(left, _TRACE_WET) ** 3
        air_side = CP_DRY_AIR_J_KGK / CP_VAPOUR_J_KGK + ratio
        cell_heat = self._one(temp, t.H_W)[0]

        def warmth(rate: float) -> float:
            x = rate * CP_VAPOUR_J_KGK / h
            blown = h * (x / math.expm1(x) if abs(x) > 1e-9 else 1.0)
            surface = temp
            for _ in range(20):
                latent, latent_t = self._one(surface, t.LATENT)
                liquid, liquid_t = self._one(surface, t.H_W)
                kelvin = surface + KELVIN
                gap = heat_g * (temp - surface) + blown * (side[SIDE.air_c] - surface)
                gap += radiates * (wall_4 - kelvin**4) - rate * (latent + liquid - cell_heat)
                gap_t = heat_g + blown + 4.0 * radiates * kelvin**3 + rate * (latent_t + liquid_t)
                step = gap / gap_t
                surface += step
                if abs(step) < 1e-10:
                    break
            return surface

        def lacks(rate: float) -> float:
            grown = math.expm1(rate * CP_VAPOUR_J_KGK / h * self._par[PAR.lewis])
            film = max(ratio + air_side * grown, -0.5 * VAPOUR_TO_AIR)
            moisture = (share - max(rate - arrives, 0.0) / water_g) * raw
            offered = float(water_activity(np.array([moisture]))[0])
            offered *= self._one(warmth(rate), t.VAPOUR_PA)[0]
            needed: float = pressure * film / (VAPOUR_TO_AIR + film) + rate * crust
            return needed - offered

        rate = brentq(lacks, -_MOST_KG_M2S, _MOST_KG_M2S, xtol=1e-14, rtol=1e-13)
        return heat_g * (warmth(rate) - temp), max(0.0, rate - arrives)

    def _one(self, temp_c: float, column: int) -> tuple[float, float]:
        place = (temp_c - t.LOW_C) / t.STEP_K
        row = min(max(int(place), 0), t.ROWS - 2)
        low, high = self._table.item(row, column), self._table.item(row + 1, column)
        return low + (place - row) * (high - low), (high - low) / t.STEP_K
