"""py-pde on the same column: eight fields on a Cartesian grid, our compiled rates as evolution.

The grid is even in the material coordinate in which the column's cells are even. Explicit
Runge–Kutta–Fehlberg steps with their own control of the error, compiled by py-pde together with
our kernels; and SciPy's LSODA called through py-pde.
"""

import time
from importlib import import_module
from typing import Any

import numpy as np

from benchmarks.scipy_lines import TooSlowError
from benchmarks.slab import END_S, LAYERS, SAMPLES_S, SCALE, Answer, Column, rates
from fairsmoke.cooking.cells import SCRATCH, SOLIDS, TEMP, TOTALS
from fairsmoke.cooking.implicit import FACTOR
from fairsmoke.cooking.stepping import STATE, Room, Shape
from fairsmoke.cooking.surface import look_up
from fairsmoke.cooking.tables import H_F, H_S, H_W
from fairsmoke.physics.ranges import FloatArray

_MIDDLE_C = 50.0
_FIRST_S = 1e-2


def _evolution(column: Column) -> Any:
    """Return the rates of the fields (layers × cells, scaled) as py-pde compiles them.

    What is compiled freezes the arrays around it, so that the scratch space is made at each call.
    """
    table, par, sides = column.table, column.par, column.sides
    fixed, face, plan_m2, lateral_m, rim, rim_half_m, across = column.shape
    cells, scale, start_rows = column.cells, SCALE, column.shape.fixed[0]
    per_k = np.array(
        [look_up(table, _MIDDLE_C, k)[1] for k in (H_S, H_W, H_F)],
    )
    at_middle = np.array([look_up(table, _MIDDLE_C, k)[0] for k in (H_S, H_W, H_F)])

    def evolves(data: FloatArray, t: float) -> FloatArray:
        works = np.zeros((2, 1, SCRATCH, cells))
        packed, answer = np.empty(cells * LAYERS), np.empty(cells * LAYERS)
        for i in range(cells):
            for layer in range(LAYERS):
                packed[i * LAYERS + layer] = data[layer, i] * scale[layer]
            # Close enough for the search in the table to end at once.
            solids, water, fat = start_rows[SOLIDS, i], data[1, i], data[2, i]
            capacity = solids * per_k[0] + water * per_k[1] + fat * per_k[2]
            content = solids * at_middle[0] + water * at_middle[1] + fat * at_middle[2]
            works[0, 0, TEMP, i] = _MIDDLE_C + (data[0, i] * scale[0] - content) / capacity
        guesses = np.zeros((1, 2, 2))
        guesses[0, 0, 0], guesses[0, 1, 0] = works[0, 0, TEMP, 0], works[0, 0, TEMP, cells - 1]
        room = Room(
            np.zeros((STATE, 1, cells)),
            np.zeros((STATE, 1, cells)),
            np.zeros((STATE, 1, cells)),
            np.zeros((2, 1, cells)),
            works,
            guesses,
            np.zeros((3, 1, TOTALS)),
            np.zeros((2, 1, 2, 6)),
            np.zeros((2, 1, cells)),
            np.zeros((1, FACTOR, cells)),
            np.zeros((1, cells)),
            np.zeros(11),
            np.zeros(6),
        )
        shape = Shape(fixed, face, plan_m2, lateral_m, rim, rim_half_m, across)
        state, rate = np.zeros((STATE, 1, cells)), np.zeros((STATE, 1, cells))
        rates(table, par, sides, shape, room, packed, state, rate, answer)
        result = np.empty_like(data)
        for i in range(cells):
            for layer in range(LAYERS):
                result[layer, i] = answer[i * LAYERS + layer] / scale[layer]
        return result

    return evolves


def _equation(pde: Any, column: Column) -> Any:
    """Return the partial differential equation as py-pde's own class."""

    def evolution_rate(self: Any, state: Any, t: float = 0.0) -> Any:
        result = state.copy()
        unknowns = (state.data * SCALE[:, None]).T
        result.data[...] = (column.rates(np.ascontiguousarray(unknowns)) / SCALE).T
        return result

    def make_evolution_rate(self: Any, state: Any, backend: Any) -> Any:
        if backend.name != "numba":
            raise NotImplementedError(backend.name)
        return _evolution(column)

    parts = {"evolution_rate": evolution_rate, "make_evolution_rate": make_evolution_rate}
    return type("Column", (pde.PDEBase,), parts)()


def answer(solver: str, tolerance: float, most_s: float = np.inf) -> Answer:
    """Return py-pde's answer by "runge-kutta", or by "scipy" (its door to SciPy's LSODA).

    Seconds are those of stepping; compiling, once for a solver, is left out.
    """
    pde: Any = import_module("pde")
    column = Column()
    grid = pde.CartesianGrid([[-1.0, 1.0]], column.cells)
    layers = (column.start / SCALE).T
    state = pde.FieldCollection([pde.ScalarField(grid, layer) for layer in layers])
    if solver == "scipy":
        engine = pde.ScipySolver(
            _equation(pde, column),
            backend="numpy",
            method="LSODA",
            rtol=tolerance,
            atol=tolerance * 1e-2,
        )
        step = engine.make_stepper(state)
    else:
        engine = pde.RungeKuttaSolver(
            _equation(pde, column), backend="numba", adaptive=True, tolerance=tolerance
        )
        step = engine.make_stepper(state, dt=_FIRST_S)
        step(state.copy(), 0.0, 1.0)
        engine.info["dt"] = _FIRST_S
    core, t_s = [], 0.0
    begin = time.thread_time()
    for until_s in SAMPLES_S:
        t_s = step(state, t_s, until_s)
        core.append(column.core_c(np.ascontiguousarray((state.data * SCALE[:, None]).T)))
        spent = time.thread_time() - begin
        if spent > most_s:
            raise TooSlowError(f"py-pde at {tolerance:g}", spent, t_s / END_S)
    taken = time.thread_time() - begin
    unknowns = (state.data * SCALE[:, None]).T
    return Answer(np.array(core), column.kept(unknowns[:, 1], unknowns[:, 2]), taken)
