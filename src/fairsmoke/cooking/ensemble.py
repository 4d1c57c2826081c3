"""Many cooks at once over what is not known, and arms side by side on the same draws."""

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from fairsmoke.cooking import cook_kernel, tables
from fairsmoke.cooking import cook_record as book_names
from fairsmoke.cooking.body import Body, MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.cells import SOLIDS
from fairsmoke.cooking.changes import NATIVE, OPENED
from fairsmoke.cooking.constants import DEFAULT, Constants, parameters
from fairsmoke.cooking.cook_record import DRIPPED, EVAPORATED, POOL, POOL_FAT, RENDERED
from fairsmoke.cooking.run import (
    DEFAULT_CONDITIONS,
    LONGEST_COOK_S,
    MARKS_C,
    Conditions,
    Control,
    fresh_changes,
    stage_rows,
    usual_control,
)
from fairsmoke.cooking.stepping import FAT, WATER, make_room
from fairsmoke.cooking.unknowns import LearntUnknown, Members, draw, members_of, with_known
from fairsmoke.physics.kinetics import SOLUBLE_RAW
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Place, Protocol

CHUNK = 16
NOTHING_KNOWN: Mapping[str, LearntUnknown] = MappingProxyType({})

Progress = Callable[[int, int], bool]
"""Told how many members are done and how many there are; returns False to stop."""


@dataclass(eq=False)
class Ensemble:
    """The outcomes of all members, one entry each; `done` says which have been run.

    Shares are of the raw mass, times in s; NaN where a member never got there.
    """

    members: int
    done: FloatArray
    answers: FloatArray
    end_s: FloatArray
    core_c: FloatArray
    stage_end_s: dict[str, FloatArray]
    mark_s: dict[float, FloatArray]
    sample_s: FloatArray
    samples: FloatArray
    shares: dict[str, FloatArray]
    collagen_dissolved: FloatArray
    cap_rendered: FloatArray
    _work: dict[str, FloatArray] = field(default_factory=dict, repr=False)

    @property
    def complete(self) -> bool:
        """Whether every member has been run."""
        return bool(np.all(self.done > 0))

    def good(self) -> FloatArray:
        """Return which members were run to their end."""
        return np.asarray((self.done > 0) & (self.answers == cook_kernel.OK))

    def interval(self, values: FloatArray, level: float = 0.8) -> tuple[float, float, float]:
        """Return low, middle and high of one outcome over the members that have it.

        NaN for all three where fewer than half have it. Raises ValueError for a level that is
        not between 0 and 1.
        """
        if not 0.0 < level < 1.0:
            raise ValueError(f"level {level:g}: give a share between 0 and 1, such as 0.8.")
        have = values[self.good() & np.isfinite(values)]
        if have.size < 0.5 * self.members:
            return float("nan"), float("nan"), float("nan")
        edge = 0.5 * (1.0 - level)
        low, middle, high = np.quantile(have, [edge, 0.5, 1.0 - edge])
        return float(low), float(middle), float(high)


def run_ensemble(
    piece: MeasuredPiece,
    protocol: Protocol,
    conditions: Conditions = DEFAULT_CONDITIONS,
    constants: Constants = DEFAULT,
    *,
    members: int = 200,
    seed: int = 1,
    piece_number: int = 0,
    whole_body: bool = False,
    sample_s: Sequence[float] = (),
    workers: int | None = None,
    progress: Progress | None = None,
    resume: Ensemble | None = None,
    control: Control | None = None,
    normal: FloatArray | None = None,
    known: Mapping[str, LearntUnknown] = NOTHING_KNOWN,
) -> Ensemble:
    """Cook one piece many times over what is not known about it and its cooker.

    The numbers depend on `seed` and `piece_number`, not on `workers`. With `progress` returning
    False the run stops after the chunks in hand; pass what came back as `resume`, with the same
    other arguments, to go on. `normal` replaces the draw. `known` says where some unknowns lie, by
    name (unknowns.UNKNOWNS): what past cooks told of a pit, or what a forecast has learnt so far.
    """
    body = (two_dimensional if whole_body else one_column)(piece, constants)
    control = control or usual_control(whole_body)
    stages = stage_rows(protocol, conditions, 2.0 * float(np.sum(body.shape.plan_m2)))
    drawn = draw(members, seed, piece_number) if normal is None else normal
    drawn = with_known(drawn, known)
    in_cooker = np.array([float(stage.place == Place.COOKER) for stage in protocol.stages])
    shape = body.shape
    drawn_members = members_of(
        drawn,
        parameters(constants),
        shape.fixed,
        shape.plan_m2,
        shape.lateral_m,
        body.state,
        stages,
        in_cooker,
    )
    book = resume._work if resume is not None else _book(drawn_members, body, len(sample_s))
    _run_chunks(
        drawn_members,
        body,
        piece,
        conditions,
        constants,
        control,
        book,
        sample_s,
        workers,
        progress,
    )
    return _gathered(drawn_members, body, protocol, book, np.asarray(sample_s, dtype=float))


def _book(drawn_members: Members, body: Body, samples: int) -> dict[str, FloatArray]:
    members, stages = drawn_members.stages.shape[0], drawn_members.stages.shape[1]
    columns, cells = drawn_members.states.shape[2], drawn_members.states.shape[3]
    changes = fresh_changes(columns, cells)
    return {
        "done": np.zeros(members),
        "answers": np.zeros(members),
        "states": drawn_members.states.copy(),
        "changes": np.repeat(changes[None], members, axis=0),
        "result": np.zeros((members, book_names.RESULT)),
        "stage_end_s": np.full((members, stages), np.nan),
        "mark_s": np.full((members, len(MARKS_C)), np.nan),
        "samples": np.full((members, samples, body.probes.shape[0] + book_names.EXTRA), np.nan),
        "other": np.zeros((members, book_names.OTHER)),
    }


def _run_chunks(
    drawn_members: Members,
    body: Body,
    piece: MeasuredPiece,
    conditions: Conditions,
    constants: Constants,
    control: Control,
    book: dict[str, FloatArray],
    sample_s: Sequence[float],
    workers: int | None,
    progress: Progress | None,
) -> None:
    members = book["done"].size
    columns, cells = book["states"].shape[2], book["states"].shape[3]
    table = tables.build(constants, body.cut.species)
    past, lids = conditions.past(), conditions.cooker.lids()
    site = np.array([conditions.site.pressure_pa, conditions.site.ambient_c, LONGEST_COOK_S])
    limits = control.limits()
    marks, times = np.array(MARKS_C), np.asarray(sample_s, dtype=float)

    def run(first: int) -> tuple[int, int]:
        last = min(first + CHUNK, members)
        cook_kernel.cook_many(
            first,
            last,
            table,
            drawn_members.pars,
            drawn_members.fixed,
            body.shape.face,
            drawn_members.plan_m2,
            drawn_members.lateral_m,
            body.shape.rim,
            body.shape.rim_half_m,
            body.shape.across,
            body.core,
            body.probes,
            drawn_members.stages,
            past,
            lids,
            site,
            limits,
            piece.start_c,
            book["states"],
            book["changes"],
            make_room(columns, cells, piece.start_c, bool(body.shape.rim.any())),
            book["result"],
            book["stage_end_s"],
            marks,
            book["mark_s"],
            times,
            book["samples"],
            book["other"],
            book["answers"],
        )
        return first, last

    todo = [first for first in range(0, members, CHUNK) if book["done"][first] == 0]
    count = workers or os.cpu_count() or 1
    with ThreadPoolExecutor(count) as pool:
        waiting = [pool.submit(run, first) for first in todo]
        for finished in as_completed(waiting):
            if finished.cancelled():
                continue
            first, last = finished.result()
            book["done"][first:last] = 1.0
            if progress is not None and not progress(int(np.sum(book["done"])), members):
                for other in waiting:
                    other.cancel()


def _gathered(
    drawn_members: Members,
    body: Body,
    protocol: Protocol,
    book: dict[str, FloatArray],
    sample_s: FloatArray,
) -> Ensemble:
    plan = drawn_members.plan_m2[:, :, None]
    states, changes, result = book["states"], book["changes"], book["result"]
    solids = plan * drawn_members.fixed[:, :, SOLIDS]
    kept = np.sum(solids + plan * (states[:, WATER] + states[:, FAT]), axis=(1, 2))
    lean = solids * (body.cap < 0.5)
    left = changes[:, NATIVE] + changes[:, OPENED]
    dissolved = 1.0 - np.sum(lean * left, axis=(1, 2)) / np.sum(lean, axis=(1, 2))
    cap = plan * body.cap
    raw_cap = np.sum(cap * drawn_members.states[:, FAT], axis=(1, 2))
    cap_now = np.sum(cap * states[:, FAT], axis=(1, 2))
    rendered = 1.0 - cap_now / raw_cap if body.cap.any() else np.full(kept.shape, np.nan)
    start = body.start_kg
    return Ensemble(
        members=kept.size,
        done=book["done"],
        answers=book["answers"],
        end_s=book["other"][:, book_names.END_S],
        core_c=book["other"][:, book_names.CORE_C],
        stage_end_s={s.id: book["stage_end_s"][:, k] for k, s in enumerate(protocol.stages)},
        mark_s={c: book["mark_s"][:, k] for k, c in enumerate(MARKS_C)},
        sample_s=sample_s,
        samples=book["samples"],
        shares={
            "kept": kept / start,
            "evaporated": result[:, EVAPORATED] / start,
            "dripped": result[:, DRIPPED] / start,
            "rendered": result[:, RENDERED] / start,
            "in wrap": result[:, POOL] / start,
            "fat in wrap": result[:, POOL_FAT] / start,
        },
        collagen_dissolved=SOLUBLE_RAW + (1.0 - SOLUBLE_RAW) * dissolved,
        cap_rendered=rendered,
        _work=book,
    )


@dataclass(frozen=True)
class EnsembleDifference:
    """How much more an arm has than the base: middle, 80 % interval, and share above nothing."""

    low: float
    middle: float
    high: float
    chance_more: float


def difference(arm: FloatArray, base: FloatArray, level: float = 0.8) -> EnsembleDifference:
    """Return the difference of one outcome, member by member on the same draws.

    NaN where no member has both. Raises ValueError for arrays of unlike length.
    """
    if arm.shape != base.shape:
        raise ValueError(f"{arm.size} and {base.size} members: run both arms with the same draws.")
    both = np.isfinite(arm) & np.isfinite(base)
    if not both.any():
        nan = float("nan")
        return EnsembleDifference(nan, nan, nan, nan)
    gap = (arm - base)[both]
    edge = 0.5 * (1.0 - level)
    low, middle, high = np.quantile(gap, [edge, 0.5, 1.0 - edge])
    return EnsembleDifference(float(low), float(middle), float(high), float(np.mean(gap > 0)))


def run_arms(
    piece: MeasuredPiece,
    arms: Mapping[str, Protocol],
    conditions: Conditions = DEFAULT_CONDITIONS,
    constants: Constants = DEFAULT,
    *,
    members: int = 200,
    seed: int = 1,
    piece_number: int = 0,
    whole_body: bool = False,
    workers: int | None = None,
) -> dict[str, Ensemble]:
    """Cook the same draws of one piece by every arm's protocol (common random numbers)."""
    return {
        name: run_ensemble(
            piece,
            protocol,
            conditions,
            constants,
            members=members,
            seed=seed,
            piece_number=piece_number,
            whole_body=whole_body,
            workers=workers,
        )
        for name, protocol in arms.items()
    }
