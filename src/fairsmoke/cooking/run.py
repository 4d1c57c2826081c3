"""One piece through one protocol."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.cooking import cook_kernel, tables
from fairsmoke.cooking.body import Body, MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.changes import ACTIN_LEFT, CHANGES, MYOSIN_LEFT, NATIVE
from fairsmoke.cooking.constants import DEFAULT, Constants, parameters
from fairsmoke.cooking.cook_record import Book, make_book
from fairsmoke.cooking.cooker import CookerModel, Site, stage_row
from fairsmoke.cooking.outcomes import Outcome, gather
from fairsmoke.cooking.stages import ROW
from fairsmoke.cooking.stepping import make_room
from fairsmoke.messages.errors import InputError
from fairsmoke.physics.ranges import FloatArray, paired_readings
from fairsmoke.trial.protocol import EndCondition, Protocol

DAY_S = 86_400.0
LONGEST_COOK_S = 5 * DAY_S
MARKS_C = tuple(float(c) for c in range(5, 101, 1))
NEVER = 1e12
DEFAULT_COOKER, DEFAULT_SITE = CookerModel(), Site()


class ProtocolError(InputError):
    """A protocol that cannot be run or can never end; the message says which stage and why."""


@dataclass(frozen=True)
class Control:
    """How finely the solver works: tolerances per step (K, share of raw water), longest step."""

    temp_k: float = 0.3
    water_share: float = 0.01
    longest_step_s: float = 900.0
    most_steps: int = 40_000

    def limits(self) -> FloatArray:
        """Return these as the kernels read them."""
        return np.array(
            [self.temp_k, self.water_share, self.longest_step_s, float(self.most_steps)]
        )


@dataclass(frozen=True)
class Conditions:
    """What a cook happens under, besides its protocol.

    `pit_s` and `pit_c` are a measured pit history, seconds since the start; it replaces the set
    temperatures of stages in the cooker. `start_clock_s` is the time of day at the start.
    `tender_c` is the core temperature at which a stage that ends by feel is taken to end.
    """

    cooker: CookerModel = DEFAULT_COOKER
    site: Site = DEFAULT_SITE
    pit_s: tuple[float, ...] = ()
    pit_c: tuple[float, ...] = ()
    start_clock_s: float = 0.0
    tender_c: float = 94.0

    def past(self) -> FloatArray:
        """Return the pit history as rows of time, temperature at the place and its integral."""
        if not self.pit_s:
            return np.zeros((3, 2))
        time, temp = paired_readings(self.pit_s, self.pit_c, "pit history")
        temp = temp + self.cooker.position_k
        integral = np.concatenate([[0.0], np.cumsum(0.5 * (temp[1:] + temp[:-1]) * np.diff(time))])
        return np.vstack([time, temp, integral])


DEFAULT_CONDITIONS = Conditions()
# A thin edge of a whole body drives steps from one refusal to the next unless they are kept finer
# than one column asks for; both are within 0.1 % of far finer steps (docs/speed-simulator.md).
WHOLE_CONTROL, COLUMN_CONTROL = Control(), Control(temp_k=0.8, water_share=0.04)


def usual_control(whole_body: bool) -> Control:
    """Return how finely the solver usually works on a whole body or on one column."""
    return WHOLE_CONTROL if whole_body else COLUMN_CONTROL


def simulate(
    piece: MeasuredPiece,
    protocol: Protocol,
    conditions: Conditions = DEFAULT_CONDITIONS,
    constants: Constants = DEFAULT,
    *,
    whole_body: bool = True,
    sample_s: ArrayLike = (),
    control: Control | None = None,
) -> Outcome:
    """Cook one piece and return what came of it.

    `whole_body` True works on the section along the length, False on the reduced column.
    `sample_s` are times (s) at which temperatures and losses are written down.
    Raises BodyError, CookerError, ProtocolError or PhysicsRangeError for what cannot be.
    """
    body = (two_dimensional if whole_body else one_column)(piece, constants)
    stages = stage_rows(protocol, conditions, 2.0 * float(np.sum(body.shape.plan_m2)))
    times = np.asarray(sample_s, dtype=float)
    control = control or usual_control(whole_body)
    return run_body(body, piece, protocol, stages, conditions, constants, times, control)


def run_body(
    body: Body,
    piece: MeasuredPiece,
    protocol: Protocol,
    stages: FloatArray,
    conditions: Conditions,
    constants: Constants,
    sample_s: FloatArray,
    control: Control = WHOLE_CONTROL,
    par: FloatArray | None = None,
) -> Outcome:
    """Run a body that has been built through stage vectors that have been made.

    `par` replaces the constants' own vector of numbers (constants.Par).
    """
    par = parameters(constants) if par is None else par
    columns, cells = body.shape.face.shape[0], body.shape.face.shape[1] - 1
    shape, states = body.shape, body.state[None].copy()
    changes = fresh_changes(columns, cells)[None]
    book = make_book(stages.shape[0], np.array(MARKS_C), sample_s, body.probes.shape[0])
    answers = np.zeros(1)
    # One member of an ensemble of one: a second way in would be compiled a second time.
    cook_kernel.cook_many(
        0,
        1,
        tables.build(constants, body.cut.species),
        par[None],
        shape.fixed[None],
        shape.face,
        shape.plan_m2[None],
        shape.lateral_m[None],
        shape.rim,
        shape.rim_half_m,
        shape.across,
        body.core,
        body.probes,
        stages[None],
        conditions.past(),
        conditions.cooker.lids(),
        np.array([conditions.site.pressure_pa, conditions.site.ambient_c, LONGEST_COOK_S]),
        control.limits(),
        piece.start_c,
        states,
        changes,
        make_room(columns, cells, piece.start_c, bool(body.shape.rim.any())),
        book.result[None],
        book.stage_end_s[None],
        book.mark_c,
        book.mark_s[None],
        book.sample_s,
        book.samples[None],
        book.other[None],
        answers,
    )
    state, changes = states[0], changes[0]
    check_answer(int(answers[0]), protocol, book)
    return gather(body, state, changes, book, protocol)


def fresh_changes(columns: int, cells: int) -> FloatArray:
    """Return the record of changes of raw meat."""
    changes = np.zeros((CHANGES, columns, cells))
    changes[[NATIVE, MYOSIN_LEFT, ACTIN_LEFT]] = 1.0
    return changes


def check_answer(answer: int, protocol: Protocol, book: Book) -> None:
    """Raise ProtocolError where a cook could not be run to its end."""
    if answer == cook_kernel.OK:
        return
    reached = int(np.sum(np.isfinite(book.stage_end_s)))
    stage = protocol.stages[min(reached, len(protocol.stages) - 1)]
    if answer == cook_kernel.NEVER_ENDS:
        raise ProtocolError(
            f"stage '{stage.id}' has not ended after {LONGEST_COOK_S / DAY_S:g} days: its core "
            "never gets there in those surroundings. Add a longest time or change the surroundings."
        )
    raise ProtocolError(
        f"stage '{stage.id}' could not be worked out (solver answer {answer}). "
        "Please report the piece and protocol."
    )


def stage_rows(protocol: Protocol, conditions: Conditions, area_m2: float) -> FloatArray:
    """Return the stage vectors of a protocol. Raises ProtocolError for one that cannot end."""
    measured = bool(conditions.pit_s)
    rows = []
    kept_before = 0.0
    for number, stage in enumerate(protocol.stages):
        row = stage_row(stage, conditions.cooker, conditions.site, area_m2, measured)
        _set_end(row, stage.ends, conditions)
        # Unwrapping, or going from a tight wrap to a looser one, pours off what had collected.
        row[ROW.pours] = float(number > 0 and row[ROW.keeps_kg_m2] < kept_before)
        kept_before = row[ROW.keeps_kg_m2]
        rows.append(row)
    return np.array(rows)


def _set_end(row: FloatArray, ends: tuple[EndCondition, ...], conditions: Conditions) -> None:
    elapsed, clock, core = [NEVER], [NEVER], []
    for end in ends:
        if end.elapsed_s is not None:
            elapsed.append(end.elapsed_s)
        elif end.core_c is not None:
            core.append(end.core_c)
        elif end.clock is not None:
            hours, minutes = end.clock.split(":")
            at = 3600.0 * int(hours) + 60.0 * int(minutes)
            clock.append((at - conditions.start_clock_s) % DAY_S)
        else:
            core.append(conditions.tender_c)
    row[ROW.end_elapsed_s], row[ROW.end_clock_s] = min(elapsed), min(clock)
    row[ROW.end_core_c] = min(core) if core else NEVER
