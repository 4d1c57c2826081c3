"""FiPy on the same column: finite volumes, implicit diffusion, sweeps, our physics as coefficients.

Temperature and share of water are CellVariables of one coupled equation on a Grid1D whose cells
are the column's. Each sweep gets conductances, sources and their slopes from our compiled rates
and its own last values as a deferred correction, so that swept out it is backward Euler with
exactly our rates. Fat, tightening, collagen and protein are local: backward Euler in closed form.
"""

import time
from importlib import import_module
from typing import Any

import numpy as np

from benchmarks.scipy_lines import TooSlowError
from benchmarks.slab import CLASSES, END_S, FIRM_S, SAMPLES_S, SPEEDS, Answer, Column
from fairsmoke.cooking import cells as c
from fairsmoke.cooking import tables as t
from fairsmoke.cooking.body import spacing
from fairsmoke.cooking.constants import PAR
from fairsmoke.physics.ranges import FloatArray

_FIRST_S, _SWEEPS, _SETTLED_K = 1.0, 8, 1e-3
# A step of this many seconds goes with a change of 1 K in the cell that changes most.
_S_PER_K = 200.0


class FipyColumn:
    """The column as FiPy's mesh, variables and coupled equation."""

    def __init__(self) -> None:
        fipy: Any = import_module("fipy")
        self.column = Column()
        self.raw = self.column.shape.fixed[0, c.RAW_WATER]
        self.solids = self.column.shape.fixed[0, c.SOLIDS]
        self.fat_rate = np.zeros(self.column.cells)
        self.thick = np.diff(spacing(self.column.cells))
        mesh = fipy.Grid1D(dx=self.thick)
        between = 0.5 * (self.thick[1:] + self.thick[:-1])
        self.across = np.concatenate([[1.0], between, [1.0]])

        def cell_values(value: float = 0.0, old: bool = False) -> Any:
            return fipy.CellVariable(mesh=mesh, value=value, hasOld=old)

        self.temp = cell_values(float(self._temperatures(self.column.start)[0]), old=True)
        self.share = cell_values(1.0, old=True)
        names = ("capacity", "water_heat", "t_by_t", "t_by_s", "s_by_t", "s_by_s", "heat", "water")
        self.of = {name: cell_values() for name in names}
        self.by = {
            name: fipy.FaceVariable(mesh=mesh, value=0.0) for name in ("heat", "carried", "water")
        }
        self.raw_per_m = cell_values()
        self.raw_per_m.setValue(self.raw / self.thick)
        of, by = self.of, self.by
        transient, diffuses = fipy.TransientTerm, fipy.DiffusionTerm
        implicit = fipy.ImplicitSourceTerm
        warms = transient(coeff=of["capacity"], var=self.temp)
        warms += transient(coeff=of["water_heat"], var=self.share)
        gains = diffuses(coeff=by["heat"], var=self.temp)
        gains += diffuses(coeff=by["carried"], var=self.share)
        gains += implicit(coeff=of["t_by_t"], var=self.temp)
        gains += implicit(coeff=of["t_by_s"], var=self.share) + of["heat"]
        dries = transient(coeff=self.raw_per_m, var=self.share)
        moves = diffuses(coeff=by["water"], var=self.share)
        moves += implicit(coeff=of["s_by_t"], var=self.temp)
        moves += implicit(coeff=of["s_by_s"], var=self.share) + of["water"]
        self.equation = (warms == gains) & (dries == moves)
        self.solver = fipy.LinearLUSolver()

    def _temperatures(self, unknowns: FloatArray) -> FloatArray:
        self.column.rates(unknowns)
        return np.array(self.column.room.works[0, 0, c.TEMP])

    def _table(self, temp: FloatArray) -> FloatArray:
        place = (temp - t.LOW_C) / t.STEP_K
        row = np.clip(place.astype(int), 0, t.ROWS - 2)
        low, high = self.column.table[row].T, self.column.table[row + 1].T
        return np.asarray(low + (place - row) * (high - low))

    def step(self, old: FloatArray, dt_s: float) -> FloatArray:
        """Return the unknowns after a step, swept until temperatures stand still."""
        self.temp.updateOld()
        self.share.updateOld()
        new = old.copy()
        for _ in range(_SWEEPS):
            temp, share = np.array(self.temp.value), np.array(self.share.value)
            self._fill(old, new, temp, share, dt_s)
            self.equation.sweep(dt=dt_s, solver=self.solver)
            moved = (
                np.abs(self.temp.value - temp).max() + 100 * np.abs(self.share.value - share).max()
            )
            if moved < _SETTLED_K:
                break
        else:
            raise ArithmeticError(f"{_SWEEPS} sweeps of {dt_s:g} s did not settle")
        # What stands for good balances: heat and water from the rates themselves.
        temp, share = np.array(self.temp.value), np.array(self.share.value)
        self._local(old, new, temp, share, dt_s)
        return new

    def _local(
        self, old: FloatArray, new: FloatArray, temp: FloatArray, share: FloatArray, dt_s: float
    ) -> FloatArray:
        """Set all but heat and water at the end of a step; return the table's columns there."""
        par, at = self.column.par, self._table(temp)
        # At most one part in 1200 of the loose fat leaves in a second: the sweeps see to that.
        new[:, 2] = np.maximum(old[:, 2] + dt_s * self.fat_rate, 0.0)
        firm = (old[:, 3] + dt_s / FIRM_S * at[t.FIRMED]) / (1.0 + dt_s / FIRM_S)
        new[:, 3] = np.maximum(old[:, 3], firm)
        new[:, 4] = old[:, 4] / (1.0 + dt_s * SPEEDS[-1] * par[PAR.open_scale] * at[t.OPENS])
        opened = old[:, 5] + _native(old[:, 4]) - _native(new[:, 4])
        new[:, 5] = opened / (1.0 + dt_s * par[PAR.dissolve_scale] * at[t.DISSOLVES])
        new[:, 6] = old[:, 6] / (1.0 + dt_s * at[t.MYOSIN])
        new[:, 7] = old[:, 7] / (1.0 + dt_s * at[t.ACTIN])
        new[:, 1] = share * self.raw
        new[:, 0] = self.solids * at[t.H_S] + new[:, 1] * at[t.H_W] + new[:, 2] * at[t.H_F]
        return at

    def _fill(
        self, old: FloatArray, new: FloatArray, temp: FloatArray, share: FloatArray, dt_s: float
    ) -> None:
        """Set the equation's coefficients from our physics at the last sweep's values."""
        self._local(old, new, temp, share, dt_s)
        rate = self.column.rates(new)
        self.fat_rate = rate[:, 2].copy()
        work, slopes = self.column.room.works[0, 0], self.column.room.slopes[0, 0]
        last, raw, thick = self.column.cells - 1, self.raw, self.thick
        capacity, water_heat = work[c.CAPACITY].copy(), work[c.WATER_HEAT].copy()
        # Through a face as heat by temperature and by water and water by water; vapour's rest is
        # made up by the deferred correction.
        heat_g = 0.5 * (work[c.HEAT_BY_T, :-1] - work[c.HEAT_BY_NEXT_T, :-1])
        water_g = 0.5 * (
            work[c.WATER_BY_W, :-1] * raw[:-1] - work[c.WATER_BY_NEXT_W, :-1] * raw[1:]
        )
        carried_g = 0.5 * (
            work[c.HEAT_BY_W, :-1] * raw[:-1] - work[c.HEAT_BY_NEXT_W, :-1] * raw[1:]
        )
        s_by_t, s_by_s = -work[c.BOIL_SLOPE], -(work[c.DRAIN_SLOPE] + work[c.BOIL_BY_WATER])
        t_by_t = s_by_t * work[c.BOIL_HEAT]
        t_by_s = -work[c.DRAIN_SLOPE] * water_heat - work[c.BOIL_BY_WATER] * work[c.BOIL_HEAT]
        for f, i in ((0, 0), (1, last)):
            s_by_t[i] -= slopes[f, 4]
            s_by_s[i] -= slopes[f, 5]
            t_by_t[i] += slopes[f, 0] - water_heat[i] * slopes[f, 4]
            t_by_s[i] += slopes[f, 1] - water_heat[i] * slopes[f, 5]
        s_by_s, t_by_s = s_by_s * raw, t_by_s * raw
        # Deferred correction: the rates themselves less what the implicit terms make of them.
        linear_t = _spreads(heat_g, temp) + _spreads(carried_g, share)
        heat = rate[:, 0] - linear_t - t_by_t * temp - t_by_s * share
        old_temp, old_share = np.array(self.temp.old.value), np.array(self.share.old.value)
        gained = capacity * (temp - old_temp) + water_heat * raw * (share - old_share)
        heat += (gained - (new[:, 0] - old[:, 0])) / dt_s
        water = rate[:, 1] - _spreads(water_g, share) - s_by_t * temp - s_by_s * share
        for name, values in (
            ("capacity", capacity),
            ("water_heat", water_heat * raw),
            ("t_by_t", t_by_t),
            ("t_by_s", t_by_s),
            ("s_by_t", s_by_t),
            ("s_by_s", s_by_s),
            ("heat", heat),
            ("water", water),
        ):
            self.of[name].setValue(values / thick)
        for name, values in (("heat", heat_g), ("carried", carried_g), ("water", water_g)):
            self.by[name].setValue(np.concatenate([[0.0], values, [0.0]]) * self.across)


def _native(slowest: FloatArray) -> FloatArray:
    """Return native collagen of all classes from the slowest's."""
    return np.asarray(CLASSES @ slowest ** (SPEEDS / SPEEDS[-1])[:, None])


def _spreads(conducts: FloatArray, value: FloatArray) -> FloatArray:
    """Return what each cell gains from its neighbours."""
    flow = conducts * (value[:-1] - value[1:])
    gained = np.zeros(value.size)
    gained[1:] += flow
    gained[:-1] -= flow
    return gained


def answer(longest_s: float, most_s: float = np.inf) -> Answer:
    """Return FiPy's answer in steps of at most `longest_s`, shorter where cells change fast."""
    step_k = longest_s / _S_PER_K
    one = FipyColumn()
    unknowns, t_s, dt_s, core = one.column.start.copy(), 0.0, _FIRST_S, []
    begin = time.thread_time()
    for until_s in SAMPLES_S:
        while t_s < until_s - 1e-6:
            spent = time.thread_time() - begin
            if spent > most_s:
                raise TooSlowError(f"FiPy in steps of {longest_s:g} s", spent, t_s / END_S)
            now_s = min(dt_s, until_s - t_s)
            before = np.array(one.temp.value), np.array(one.share.value)
            try:
                unknowns = one.step(unknowns, now_s)
            except ArithmeticError:
                one.temp.setValue(before[0])
                one.share.setValue(before[1])
                dt_s = 0.25 * now_s
                if dt_s < 1e-3:
                    raise
                continue
            t_s += now_s
            changed = np.abs(one.temp.value - before[0]).max() + 1e-9
            dt_s = min(longest_s, now_s * min(2.0, max(0.3, step_k / changed)))
        core.append(float(one.temp.value[one.column.cells // 2]))
    taken = time.thread_time() - begin
    return Answer(np.array(core), one.column.kept(unknowns[:, 1], unknowns[:, 2]), taken)
