"""One coupled problem that ours and general tools all solve, and the compiled rates that they get.

A slab of 5 kg and 8 cm as one column of 25 cells, bare for 30 h in steady air of fixed moisture:
heat, water, fat, tightening, two kinds of collagen and two proteins in every cell.
"""

import time
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking import tables
from fairsmoke.cooking.body import MeasuredPiece, one_column
from fairsmoke.cooking.cells import SOLIDS, TEMP
from fairsmoke.cooking.compiled import kernel, making_kernel
from fairsmoke.cooking.constants import DEFAULT, PAR, parameters
from fairsmoke.cooking.cooker import CookerModel
from fairsmoke.cooking.run import COLUMN_CONTROL, Conditions, Control, simulate, stage_rows
from fairsmoke.cooking.stages import set_sides
from fairsmoke.cooking.stepping import HEAT, HOLDS, Room, Shape, evaluate, make_room
from fairsmoke.cooking.surface import SIDE_LENGTH, look_up
from fairsmoke.physics import kinetics
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.physics.water import held_share
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage

HOUR_S = 3600.0
END_S = 30 * HOUR_S
SAMPLES_S = tuple(np.linspace(0.0, END_S, 61)[1:])
SLAB = MeasuredPiece("slab", 5.0, 0.30, 0.20, 0.08)
AIR_C, RATIO = 107.0, 0.03
STEADY = Conditions(cooker=CookerModel(ratio_kg_kg=RATIO, ramp_s=0.0, wall_below_k=0.0))
BARE = Protocol(
    stages=(
        Stage(
            id="bare",
            name="Bare",
            surround_c=AIR_C,
            ends=(EndCondition(elapsed_s=END_S),),
        ),
    )
)

LAYERS = 8
"""Unknowns per cell: heat, water, fat, tightened; the slowest class of native collagen (from which
the others follow), opened collagen, myosin, actin."""
CLASSES, SPEEDS = (np.array(part) for part in kinetics.class_rates())
"""Shares of the classes of collagen, and how fast each opens against the table's rate."""
FIRM_S = 60.0
"""Meat tightens as it warms, within this time: at once for a cook, and never loosens."""
SCALE = np.array([1e6, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0])
"""What a general tool's unknowns are multiplied by, so that all are of about one size."""

MYOSIN_J, ACTIN_J = kinetics.MYOSIN.heat_j_kg, kinetics.ACTIN.heat_j_kg
COLLAGEN_J = kinetics.COLLAGEN_OPENS.heat_j_kg
_held_share = kernel(held_share)


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
        slowest, opened = max(packed[at + 4], 0.0), packed[at + 5]
        myosin, actin = packed[at + 6], packed[at + 7]
        speed = par[PAR.open_scale] * look_up(table, temp, tables.OPENS)[0]
        opens = 0.0
        for k in range(SPEEDS.size):
            opens += CLASSES[k] * SPEEDS[k] * speed * slowest ** (SPEEDS[k] / SPEEDS[-1])
        dissolves = par[PAR.dissolve_scale] * look_up(table, temp, tables.DISSOLVES)[0] * opened
        myosin_falls = look_up(table, temp, tables.MYOSIN)[0] * myosin
        actin_falls = look_up(table, temp, tables.ACTIN)[0] * actin
        per_kg = MYOSIN_J * myosin_falls
        per_kg += ACTIN_J * actin_falls
        per_kg += COLLAGEN_J * par[PAR.collagen] * opens
        answer[at] = rate[HEAT, 0, i] - shape.fixed[0, SOLIDS, i] * per_kg
        answer[at + 1], answer[at + 2] = rate[1, 0, i], rate[2, 0, i]
        tightens = look_up(table, temp, tables.FIRMED)[0] - packed[at + 3]
        answer[at + 3] = max(0.0, tightens) / FIRM_S
        answer[at + 4], answer[at + 5] = -SPEEDS[-1] * speed * slowest, opens - dissolves
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


class Column:
    """The column as the solver sets it up, with its rates for a general tool."""

    def __init__(self) -> None:
        body = one_column(SLAB, DEFAULT)
        self.table, self.par = tables.build(DEFAULT, body.cut.species), parameters(DEFAULT)
        self.shape, self.cells = body.shape, body.state.shape[2]
        self.start_kg = body.start_kg
        self.room = make_room(1, self.cells, SLAB.start_c)
        row = stage_rows(BARE, STEADY, 2.0 * float(np.sum(self.shape.plan_m2)))[0]
        self.sides = np.zeros((3, SIDE_LENGTH))
        pressure_pa = STEADY.site.pressure_pa
        set_sides(row, AIR_C, RATIO, pressure_pa, self.table, 0.0, self.sides)
        self._state, self._rate = body.state.copy(), np.zeros_like(body.state)
        start = np.ones((self.cells, LAYERS))
        start[:, :3] = body.state[:3, 0].T
        start[:, [3, 5]] = 0.0
        self.start = start
        """The unknowns at the start, cells × LAYERS, in SI units."""

    def rates(self, unknowns: FloatArray) -> FloatArray:
        """Return the rates of all unknowns (cells × LAYERS, SI); fills the room's scratch too."""
        answer = np.empty(self.cells * LAYERS)
        rates(
            self.table,
            self.par,
            self.sides,
            self.shape,
            self.room,
            unknowns.ravel(),
            self._state,
            self._rate,
            answer,
        )
        return answer.reshape(self.cells, LAYERS)

    def core_c(self, unknowns: FloatArray) -> float:
        """Return the temperature of the middle cell."""
        self.rates(unknowns)
        return float(self.room.works[0, 0, TEMP, self.cells // 2])

    def kept(self, water: FloatArray, fat: FloatArray) -> float:
        """Return the share of the raw mass that is left."""
        masses = self.shape.fixed[0, SOLIDS] + water + fat
        return float(self.shape.plan_m2[0] * np.sum(masses)) / self.start_kg


def ours(control: Control = COLUMN_CONTROL, runs: int = 25) -> Answer:
    """Return our answer to the problem, timed as the fastest of `runs`."""
    taken = []
    for _ in range(runs + 1):
        begin = time.thread_time()
        outcome = simulate(
            SLAB, BARE, STEADY, whole_body=False, sample_s=SAMPLES_S, control=control
        )
        taken.append(time.thread_time() - begin)
    return Answer(outcome.trace.probe_c["thick"], outcome.yield_share, min(taken[1:]))
