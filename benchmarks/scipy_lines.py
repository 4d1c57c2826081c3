"""SciPy's stiff integrators by the method of lines, with compiled physics and with NumPy's."""

import time
from collections.abc import Callable
from typing import Any, Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import csc_matrix, kron
from scipy.sparse import diags_array as diags

from benchmarks.plain_physics import PlainColumn
from benchmarks.slab import END_S, LAYERS, SAMPLES_S, SCALE, Answer, Column
from fairsmoke.physics.ranges import FloatArray

Method = Literal["LSODA", "BDF", "Radau"]
Jacobian = Literal["banded", "sparse", "by hand"]
_MOVE = 1e-5


class TooSlowError(RuntimeError):
    """A method that has had its time; `spent_s` is the processor time that it took of it."""

    def __init__(self, what: str, spent_s: float, share: float) -> None:
        super().__init__(f"{what}: stopped after {spent_s:.0f} s, {share:.0%} of the cook")
        self.spent_s = spent_s


def compiled(method: Method, jacobian: Jacobian, rtol: float, most_s: float = np.inf) -> Answer:
    """Return SciPy's answer with our compiled physics as the right-hand side."""
    column = Column()
    scale = np.tile(SCALE, column.cells)

    def field(_: float, packed: FloatArray) -> FloatArray:
        return np.asarray(column.rates(packed * scale).ravel() / scale)

    start = column.start.ravel() / scale
    found, taken = _integrate(field, start, column.cells, method, jacobian, rtol, most_s)
    unknowns = (found.T * scale).reshape(-1, column.cells, LAYERS)
    core = np.array([column.core_c(one) for one in unknowns])
    return Answer(core, column.kept(unknowns[-1, :, 1], unknowns[-1, :, 2]), taken)


def plain(method: Method, jacobian: Jacobian, rtol: float, most_s: float = np.inf) -> Answer:
    """Return SciPy's answer with the physics in NumPy: a general tool by itself."""
    column = PlainColumn()
    start = column.start.ravel()
    found, taken = _integrate(column.field, start, column.cells, method, jacobian, rtol, most_s)
    unknowns = found.T.reshape(-1, column.cells, LAYERS)
    core = unknowns[:, column.cells // 2, 0] * column.TEMP_SCALE
    return Answer(core, column.kept(unknowns[-1, :, 1], unknowns[-1, :, 2]), taken)


def _integrate(
    field: Callable[[float, FloatArray], FloatArray],
    start: FloatArray,
    cells: int,
    method: Method,
    jacobian: Jacobian,
    rtol: float,
    most_s: float,
) -> tuple[FloatArray, float]:
    """Return the unknowns at SAMPLES_S and the seconds. Raises RuntimeError where it fails."""
    begin = time.thread_time()

    def timed(t: float, packed: FloatArray) -> FloatArray:
        spent = time.thread_time() - begin
        if spent > most_s:
            raise TooSlowError(f"{method} at {rtol:g}", spent, t / END_S)
        return field(t, packed)

    band = 2 * LAYERS - 1
    more: dict[str, Any] = {
        "banded": {"lband": band, "uband": band},
        "sparse": {"jac_sparsity": _pattern(cells)},
        "by hand": {"jac": lambda t, packed: _slopes(timed, cells, t, packed)},
    }[jacobian]
    found = solve_ivp(
        timed,
        (0.0, END_S),
        start,
        method=method,
        t_eval=SAMPLES_S,
        rtol=rtol,
        atol=rtol * 1e-2,
        **more,
    )
    if not found.success:
        raise RuntimeError(f"{method} at {rtol:g}: {found.message}")
    return found.y, time.thread_time() - begin


def _pattern(cells: int) -> Any:
    """Return which unknowns a rate depends on: those of its own cell and of both neighbours."""
    near = diags([1.0, 1.0, 1.0], offsets=[-1, 0, 1], shape=(cells, cells))
    return csc_matrix(kron(near, np.ones((LAYERS, LAYERS))))


def _slopes(
    field: Callable[[float, FloatArray], FloatArray], cells: int, t: float, packed: FloatArray
) -> csc_matrix[np.float64]:
    """Return the Jacobian from differences of every third cell at once, of one fixed size."""
    base, dense = field(t, packed), np.zeros((packed.size, packed.size))
    for first in range(3):
        for layer in range(LAYERS):
            moved = np.arange(first, cells, 3) * LAYERS + layer
            trial = packed.copy()
            trial[moved] += _MOVE
            change = (field(t, trial) - base) / _MOVE
            for at in moved:
                near = slice(max(0, at - layer - LAYERS), at - layer + 2 * LAYERS)
                dense[near, at] = change[near]
    return csc_matrix(dense)
