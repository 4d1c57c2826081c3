"""The simulator's speed: single cooks, ensembles, the first call, a general stiff integrator.

``python -m benchmarks cooking`` prints the figures; ``python -m benchmarks.cooking`` also tells
how near the solver is to what this machine can do. docs/speed-simulator.md explains both.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import csc_matrix

from fairsmoke.cooking import tables
from fairsmoke.cooking.body import Piece, one_column, two_dimensional
from fairsmoke.cooking.cells import SOLIDS, TEMP
from fairsmoke.cooking.changes import CHANGES
from fairsmoke.cooking.compiled import kernel, making_kernel
from fairsmoke.cooking.constants import DEFAULT, PAR, parameters
from fairsmoke.cooking.cooker import Cooker
from fairsmoke.cooking.ensemble import run_ensemble
from fairsmoke.cooking.run import COLUMN_CONTROL, Conditions, Control, simulate, stage_rows
from fairsmoke.cooking.stages import set_sides
from fairsmoke.cooking.stepping import HEAT, HOLDS, Room, Shape, evaluate, make_room
from fairsmoke.cooking.surface import SIDE_LENGTH, look_up
from fairsmoke.physics import kinetics
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.water import held_share
from fairsmoke.trial.protocol import (
    Cover,
    EndCondition,
    Humidity,
    Place,
    Protocol,
    Stage,
    Wrap,
)

HOUR_S = 3600.0
THIRTY_H_S = 30 * HOUR_S
BRISKET = Piece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)
MEMBERS, CORES = 1000, 2
_MYOSIN_J, _ACTIN_J = kinetics.MYOSIN.heat_j_kg, kinetics.ACTIN.heat_j_kg
_MOVE = 1e-5
_held_share = kernel(held_share)
_COLLAGEN_J = kinetics.COLLAGEN_OPENS.heat_j_kg
_SHARES, _RATIOS = (np.array(part) for part in kinetics.class_rates())
LAYERS = 4 + 4
"""Unknowns per cell: heat, water, fat, tightened; the last class of native collagen (from which the
others follow), opened collagen, myosin, actin."""


def thirty_hours() -> Protocol:
    """Return a cook of 30 h that uses most of what the model has."""
    smoke = Stage(
        id="smoke",
        name="Smoke",
        surround_c=121.0,
        humidity=Humidity.WATER_PAN,
        ends=(EndCondition(core_c=77.0), EndCondition(elapsed_s=12 * HOUR_S)),
    )
    finish = Stage(
        id="finish",
        name="Finish",
        surround_c=149.0,
        wrap=Wrap(above=Cover.BARE, below=Cover.FOIL),
        ends=(EndCondition(core_c=90.0), EndCondition(elapsed_s=6 * HOUR_S)),
    )
    tight = Wrap(above=Cover.FILM_UNDER_FOIL, below=Cover.FILM_UNDER_FOIL)
    hold = Stage(
        id="hold",
        name="Hold",
        place=Place.CABINET,
        surround_c=66.0,
        wrap=tight,
        ends=(EndCondition(elapsed_s=18 * HOUR_S),),
    )
    return Protocol(stages=(smoke, finish, hold))


def _until_thirty(whole_body: bool) -> Protocol:
    """Return that protocol with the length of the hold set so that the middle cook takes 30 h."""
    first = Protocol(stages=thirty_hours().stages[:2])
    cooked_s = simulate(BRISKET, first, whole_body=whole_body).end_s
    hold = (
        thirty_hours()
        .stages[2]
        .model_copy(update={"ends": (EndCondition(elapsed_s=THIRTY_H_S - cooked_s),)})
    )
    return Protocol(stages=(*first.stages, hold))


def fastest_s(what: Callable[[], object], runs: int) -> tuple[float, float]:
    """Return the fastest and the median seconds of a call, after one that is not counted."""
    what()
    taken = []
    for _ in range(runs):
        begin = time.perf_counter()
        what()
        taken.append(time.perf_counter() - begin)
    return min(taken), float(np.median(taken))


_FIRST = """
import time
begin = time.perf_counter()
from fairsmoke.cooking.body import Piece
from fairsmoke.cooking.run import simulate
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
stage = Stage(id="s", name="s", surround_c=121.0, ends=(EndCondition(elapsed_s=36000.0),))
simulate(Piece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04), Protocol(stages=(stage,)))
print(time.perf_counter() - begin)
"""


def first_calls_s() -> dict[str, float]:
    """Return seconds of the first cook in new processes: nothing compiled yet, and after set-up.

    Set-up is what `make` does once: `python -m fairsmoke.cooking.warm`, in an empty cache.
    """
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "NUMBA_CACHE_DIR": cache}

        def run(*command: str) -> str:
            done = subprocess.run(
                [sys.executable, *command],
                env=environment,
                check=True,
                capture_output=True,
                text=True,
            )
            return done.stdout

        begin = time.perf_counter()
        run("-m", "fairsmoke.cooking.warm")
        set_up = time.perf_counter() - begin
        warm = [float(run("-c", _FIRST)) for _ in range(3)]
        shutil.rmtree(cache)
        Path(cache).mkdir()
        cold = float(run("-c", _FIRST))
    return {
        "cooking_set_up_once_s": set_up,
        "cooking_first_call_after_set_up_s": float(np.median(warm)),
        "cooking_first_call_without_set_up_s": cold,
    }


# The same problem for a general integrator: one column, bare, in steady air of fixed moisture.


@making_kernel
def rates(
    table: FloatArray,
    par: FloatArray,
    sides: FloatArray,
    shape: Shape,
    room: Room,
    packed: FloatArray,
    state: FloatArray,
    rate: FloatArray,
    answer: FloatArray,
) -> None:
    """Set the rates of all unknowns of one column, cell by cell, as the solver's own kernels do."""
    cells = state.shape[2]
    for i in range(cells):
        for layer in range(3):
            state[layer, 0, i] = packed[i * LAYERS + layer]
        state[HOLDS, 0, i] = _held_share(
            packed[i * LAYERS + 6],
            packed[i * LAYERS + 7],
            packed[i * LAYERS + 3],
            par[PAR.lost_myosin],
            par[PAR.lost_actin],
            par[PAR.lost_firming],
        )
    liquid = np.zeros(2)
    evaluate(table, par, sides, liquid, shape, state, room, 0, rate)
    for i in range(cells):
        at = i * LAYERS
        temp = room.works[0, 0, TEMP, i]
        last, opened = max(packed[at + 4], 0.0), packed[at + 5]
        myosin, actin = packed[at + 6], packed[at + 7]
        speed = par[PAR.open_scale] * look_up(table, temp, tables.OPENS)[0]
        opens = 0.0
        for k in range(_RATIOS.size):
            opens += _SHARES[k] * _RATIOS[k] * speed * last ** (_RATIOS[k] / _RATIOS[-1])
        dissolves = par[PAR.dissolve_scale] * look_up(table, temp, tables.DISSOLVES)[0] * opened
        myosin_falls = look_up(table, temp, tables.MYOSIN)[0] * myosin
        actin_falls = look_up(table, temp, tables.ACTIN)[0] * actin
        if temp < 30.0:
            speed, opens, dissolves, myosin_falls, actin_falls = 0.0, 0.0, 0.0, 0.0, 0.0
        per_kg = _MYOSIN_J * myosin_falls
        per_kg += _ACTIN_J * actin_falls
        per_kg += _COLLAGEN_J * par[PAR.collagen] * opens
        answer[at] = rate[HEAT, 0, i] - shape.fixed[0, SOLIDS, i] * per_kg
        answer[at + 1], answer[at + 2] = rate[1, 0, i], rate[2, 0, i]
        # It tightens as it warms and never loosens: within a minute, which is at once for a cook.
        tightens = look_up(table, temp, tables.FIRMED)[0] - packed[at + 3]
        answer[at + 3] = max(0.0, tightens) / 60.0
        answer[at + 4], answer[at + 5] = -_RATIOS[-1] * speed * last, opens - dissolves
        answer[at + 6], answer[at + 7] = -myosin_falls, -actin_falls


@dataclass(frozen=True)
class Answer:
    """Core temperature over time (°C), share kept at the end, and the seconds it took."""

    core_c: FloatArray
    kept: float
    taken_s: float

    def off(self, true: "Answer") -> tuple[float, float]:
        """Return root mean square error of the core (K) and error of the share kept."""
        return (
            float(np.sqrt(np.mean((self.core_c - true.core_c) ** 2))),
            abs(self.kept - true.kept),
        )


SLAB = Piece("slab", 5.0, 0.30, 0.20, 0.08)
AIR_C, RATIO = 107.0, 0.03
SAMPLES_S = tuple(np.linspace(0.0, THIRTY_H_S, 61)[1:])
STEADY = Conditions(cooker=Cooker(ratio_kg_kg=RATIO, ramp_s=0.0, wall_below_k=0.0))
BARE = Protocol(
    stages=(
        Stage(
            id="bare",
            name="Bare",
            surround_c=AIR_C,
            ends=(EndCondition(elapsed_s=THIRTY_H_S),),
        ),
    )
)


def ours(control: Control, runs: int = 5) -> Answer:
    """Return our answer to the problem."""

    def cook() -> object:
        return simulate(SLAB, BARE, STEADY, whole_body=False, sample_s=SAMPLES_S, control=control)

    taken, _ = fastest_s(cook, runs)
    outcome = simulate(SLAB, BARE, STEADY, whole_body=False, sample_s=SAMPLES_S, control=control)
    return Answer(outcome.trace.probe_c["thick"], outcome.yield_share, taken)


def general(method: "Method", rtol: float) -> Answer:
    """Return the answer of scipy's integrator to the same equations by the method of lines.

    The right-hand side is our own compiled physics, the Jacobian is told to be banded: as much
    help as a general integrator can be given.
    """
    body = one_column(SLAB, DEFAULT)
    table, par = tables.build(DEFAULT, body.cut.species), parameters(DEFAULT)
    shape, cells = body.shape, body.state.shape[2]
    room = make_room(1, cells, SLAB.start_c)
    row = stage_rows(BARE, STEADY, 2.0 * float(np.sum(shape.plan_m2)))[0]
    sides = np.zeros((3, SIDE_LENGTH))
    set_sides(row, AIR_C, RATIO, STEADY.site.pressure_pa, table, sides)
    state, rate = body.state.copy(), np.zeros_like(body.state)
    start = np.ones((cells, LAYERS))
    start[:, :3] = body.state[:3, 0].T
    start[:, [3, 5]] = 0.0
    scale = np.tile([1e6, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0], cells)
    room_for = np.zeros(cells * LAYERS)

    def field(_: float, packed: FloatArray) -> FloatArray:
        rates(table, par, sides, shape, room, packed * scale, state, rate, room_for)
        return np.asarray(room_for / scale)

    def slopes(t: float, packed: FloatArray) -> csc_matrix[np.float64]:
        """Differences of every third cell at once: neighbours are all that a cell depends on."""
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

    band = 2 * LAYERS - 1
    more: dict[str, Any] = {"lband": band, "uband": band}
    if method != "LSODA":
        # Left to themselves both fail: their own differences overflow where nothing changes.
        more = {"jac": slopes}
    begin = time.perf_counter()
    found = solve_ivp(
        field,
        (0.0, THIRTY_H_S),
        start.ravel() / scale,
        method=method,
        t_eval=SAMPLES_S,
        rtol=rtol,
        atol=rtol * 1e-2,
        **more,
    )
    taken = time.perf_counter() - begin
    if not found.success:
        raise RuntimeError(f"{method} at {rtol:g}: {found.message}")
    core = []
    for packed in found.y.T:
        rates(table, par, sides, shape, room, packed * scale, state, rate, room_for)
        core.append(room.works[0, 0, TEMP, cells // 2])
    end = (found.y[:, -1] * scale).reshape(cells, LAYERS)
    masses = shape.fixed[0, SOLIDS] + end[:, 1] + end[:, 2]
    kept = float(shape.plan_m2[0] * np.sum(masses)) / body.start_kg
    return Answer(np.array(core), kept, taken)


Method = Literal["LSODA", "BDF", "Radau"]
_TOLERANCES = (1e-1, 3e-2, 1e-2, 3e-3, 1e-3, 3e-4, 1e-4)


def as_good(method: Method, true: Answer, own: Answer) -> tuple[float, float]:
    """Return tolerance and fastest seconds of a method at the loosest tolerance as good as ours."""
    for rtol in _TOLERANCES:
        try:
            answer = general(method, rtol)
        except RuntimeError:
            continue
        errors = zip(answer.off(true), own.off(true), strict=True)
        if all(theirs <= ours_off for theirs, ours_off in errors):
            again = (general(method, rtol).taken_s for _ in range(2))
            return rtol, min(answer.taken_s, *again)
    return float("nan"), float("inf")


def beside_general() -> dict[str, float]:
    """Return seconds of both at equal accuracy and their ratios.

    LSODA makes its own banded Jacobian; BDF and Radau are given one made for this problem. What
    both are measured against is a third answer at a far tighter tolerance.
    """
    true = general("LSODA", 1e-6)
    own = ours(COLUMN_CONTROL, 25)
    core, kept = own.off(true)
    figures = {
        "general_ours_s": own.taken_s,
        "general_ours_core_error_k": core,
        "general_ours_kept_error_points": 100 * kept,
    }
    methods: tuple[Method, ...] = ("LSODA", "BDF", "Radau")
    for method in methods:
        rtol, taken = as_good(method, true, own)
        figures[f"general_{method}_rtol"] = rtol
        figures[f"general_{method}_s"] = taken
        figures[f"general_{method}_times_ours"] = taken / own.taken_s
    return figures


def measure() -> dict[str, float]:
    """Return the speed bars' figures; see docs/speed-simulator.md for what they are held to."""
    whole, reduced = _until_thirty(True), _until_thirty(False)
    figures: dict[str, float] = {}
    for name, protocol, whole_body, runs in (
        ("two_dimensional", whole, True, 7),
        ("one_column", reduced, False, 25),
    ):
        best, middle = fastest_s(
            lambda p=protocol, w=whole_body: simulate(BRISKET, p, whole_body=w),  # type: ignore[misc]
            runs,
        )
        figures[f"cooking_{name}_30h_s"] = best
        figures[f"cooking_{name}_30h_median_s"] = middle
    best, middle = fastest_s(
        lambda: run_ensemble(BRISKET, reduced, members=MEMBERS, workers=CORES), 3
    )
    figures["cooking_1000_one_column_30h_s"] = best
    figures["cooking_1000_one_column_30h_median_s"] = middle
    figures |= {f"cooking_{name}": value for name, value in beside_general().items()}
    return figures | first_calls_s()


def bound() -> dict[str, float]:
    """Return what holds the solver: its time per cell and step, and this core's arithmetic."""
    protocol = _until_thirty(False)
    outcome = simulate(BRISKET, protocol, whole_body=False)
    taken, _ = fastest_s(lambda: simulate(BRISKET, protocol, whole_body=False), 25)
    cells = one_column(BRISKET).state.shape[2]
    steps = outcome.steps + outcome.refused
    body = two_dimensional(BRISKET)
    column_bytes = sum(a.nbytes for a in make_room(1, cells, 4.0)) + 8 * cells * (4 + CHANGES + 5)
    return {
        "steps_taken": float(outcome.steps),
        "steps_refused": float(outcome.refused),
        "ns_per_cell_and_step": 1e9 * taken / steps / cells,
        "working_set_of_a_column_kb": column_bytes / 1e3,
        "columns_of_the_whole_body": float(body.shape.plan_m2.size),
        "table_kb": tables.build(DEFAULT).nbytes / 1e3,
        "ns_of_an_exponential": 1e9 * _exponential_s(),
        "gflops_scalar_core": _chained_gflops(),
    }


@kernel
def _exponentials(count: int) -> float:
    total = 0.0
    for k in range(count):
        total += np.exp(-1e-9 * k - 1e-3 * total)
    return total


@kernel
def _multiply_adds(count: int) -> float:
    a, b, c, d = 1.0, 1.1, 1.2, 1.3
    for _ in range(count):
        a = a * 0.999999 + 1e-7
        b = b * 0.999999 + 1e-7
        c = c * 0.999999 + 1e-7
        d = d * 0.999999 + 1e-7
    return a + b + c + d


def _exponential_s(count: int = 3_000_000) -> float:
    return fastest_s(lambda: _exponentials(count), 3)[0] / count


def _chained_gflops(count: int = 20_000_000) -> float:
    return 8e-9 * count / fastest_s(lambda: _multiply_adds(count), 3)[0]


if __name__ == "__main__":
    for figure, value in {**measure(), **bound()}.items():
        print(f"{figure:44}{value:12.4g}", flush=True)
