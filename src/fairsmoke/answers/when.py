"""When: from a serving time back to the fire. What is asked, what comes of it, and what is kept."""

import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from fairsmoke.answers.past_times import PastCook, misses_said, past_cooks, past_misses
from fairsmoke.answers.resume import Progress
from fairsmoke.answers.simulation import simulate_side_by_side
from fairsmoke.answers.simulation_trial import SimulationOptions
from fairsmoke.answers.store import (
    ResultKey,
    Store,
    StoredResult,
    digest_of,
    program_digest,
    subject_of,
)
from fairsmoke.answers.tasks import Context
from fairsmoke.answers.when_day import DRAWS, day_of_file, day_of_trial, is_trimmed, with_holds
from fairsmoke.cooking import (
    CUTS,
    ArmToCook,
    PieceToCook,
    SideBySide,
    Simulated,
    simulate,
)
from fairsmoke.cooking.run import ProtocolError
from fairsmoke.cooking.side_by_side import Cooked
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.day.adjustments import adjustments_of
from fairsmoke.planning.day.advice import (
    arm_gaps,
    buffer_of,
    hold_gaps,
    pit_conflicts,
    turning_points,
    unlike_holds,
)
from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.day_plan import AdjustmentEffect, Day, DayPlan, LearnedFrom, OnTheDay
from fairsmoke.planning.day.proposals import proposals
from fairsmoke.planning.day.safety import (
    CAREFUL,
    FRIDGE_C,
    LEFT_OVER,
    SafetyNote,
    SafetyPiece,
    safety_notes,
)
from fairsmoke.planning.day.schedule import TooSoonError, WhenPlan, time_interval
from fairsmoke.planning.day.simulated_days import DayPiece, widened_pieces
from fairsmoke.planning.day.start_effects import night_fire, start_effects
from fairsmoke.planning.day.steps import run_of
from fairsmoke.planning.day.time_errors import FROM_LOGS, TimeLogSd, learned
from fairsmoke.quantity.values import Instant
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage
from fairsmoke.trial.question import Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Weighing

ADJUSTMENT_DRAWS = 64
"""For the figures of what to do when early or late."""
_TRACES = 60


@dataclass(frozen=True)
class WhenRequest:
    """What is asked of a day, SI; None leaves it to the protocol or common practice.

    The day is that of a ``cook`` of a ``trial`` (a planned one's number, a begun one's handle), or
    of a ``file``. ``serve``, ``asked_at`` and ``not_before`` ("" for any time) are instants as
    text. ``log_sd`` are the standard deviations of the logarithm of a time between pits and within
    one; None for those learned from the notebook's past cooks and from what ``last_cooks`` says of
    others, or those of strangers' logs where ``strangers`` or nothing else is known. ``hold_c``
    puts a hold into protocols that have none. ``cut`` of the model where the piece's own words
    name none. ``rests_on`` is the digest of the record that it is worked out from.
    """

    serve: str
    zone: str
    trial: str = ""
    cook: str = ""
    file: str = ""
    asked_at: str = ""
    by: str = ""
    not_before: str = ""
    certainty: float = 0.9
    hold_shortest_s: float | None = None
    hold_longest_s: float | None = None
    together: bool = False
    log_sd: tuple[float, float] | None = None
    last_cooks: str = ""
    strangers: bool = False
    hold_c: float | None = None
    heat_up_s: float = 3600.0
    rest_s: float = 1200.0
    fuel_every_s: float = 3600.0
    water_every_s: float = 7200.0
    cut: str = ""
    draws: int = DRAWS
    seed: int = 1
    rests_on: str = ""

    @classmethod
    def from_json(cls, content: dict[str, Any]) -> "WhenRequest":
        """Return what `dataclasses.asdict` made JSON of. Raises TypeError for anything else."""
        log_sd = content.get("log_sd")
        return cls(**{**content, "log_sd": None if log_sd is None else tuple(log_sd)})

    @property
    def key(self) -> ResultKey:
        """The name under which its answer is kept: it rests on the request and on the program."""
        rooms = ("answers", "cooking", "physics", "planning", "telling", "trial")
        return ResultKey.of("when", asdict(self), program_digest(*rooms))

    @property
    def constraints(self) -> DayConstraints:
        """What it asks of the day. Raises PlanError that names the field to mend."""
        names = {one.name for one in fields(DayConstraints)} & {one.name for one in fields(self)}
        return DayConstraints(**{name: getattr(self, name) for name in names})


class ServingTooSoonError(JobError):
    """Nothing can be ready by the serving time; ``earliest`` can, and ``why`` says what is slow."""

    def __init__(self, day: Day, certainty: float, error: TooSoonError) -> None:
        self.why = error.why
        self.earliest = day.serve + timedelta(seconds=error.later_s)
        self.cannot = N_(
            "Nothing can be ready with %(sure)s %% certainty by %(serve)s. The earliest possible "
            "is %(earliest)s.",
            sure=round(100 * certainty),
            serve=Instant(day.serve, "moment", day.zone),
            earliest=Instant(self.earliest, "moment", day.zone),
        )
        message = N_("%(cannot)s %(why)s", cannot=self.cannot, why=error.why)
        super().__init__(message, field="serve")


def day_of(request: WhenRequest, record: TrialRecord | None) -> Day:
    """Return the day that is asked; ``record`` is the trial's, None where it is a file's.

    Raises JobError or FolderError that names what is missing and how to record it.
    """
    serve, zone = datetime.fromisoformat(request.serve), time_zone(request.zone)
    some = {"draws": request.draws, "seed": request.seed}
    if record is None:
        return day_of_file(Path(request.file), serve, zone, **some)
    cuts: dict[str, str] = {}
    if request.cut:
        # One for all: whose words name a cut of the model would not have been asked.
        planned = () if record.plan is None else record.plan.at_hand.pieces
        handles = [*(one.id for one in planned), *(one.id for one in record.units)]
        cuts = dict.fromkeys(handles, request.cut)
    return day_of_trial(
        record, request.cook, serve, zone, choices=SimulationOptions(cuts=cuts), **some
    )


def compute(
    request: WhenRequest,
    record: TrialRecord | None,
    *,
    past: Iterable[PastCook] = (),
    store: Store | Path | None = None,
    **how: Any,
) -> DayPlan | None:
    """Plan the day that is asked; ``past`` are the cooks to learn from, ``how`` the other
    arguments of `plan_day`.

    Returns None when it was stopped. Raises what `day_of` and `plan_day` raise.
    """
    constraints, day = request.constraints, with_holds(day_of(request, record), request.hold_c)
    log_sd, learned_from = _log_sd(request, past, store)
    if request.not_before:
        how["not_before"] = datetime.fromisoformat(request.not_before)
    return plan_day(day, constraints, log_sd=log_sd, learned_from=learned_from, store=store, **how)


def _log_sd(
    request: WhenRequest, past: Iterable[PastCook], store: Store | Path | None
) -> tuple[TimeLogSd, LearnedFrom]:
    """Return how real times vary, and what that rests on."""
    if request.log_sd is not None:
        return TimeLogSd(*request.log_sd), LearnedFrom(given=True)
    said = misses_said(request.last_cooks)
    if request.strangers:
        return FROM_LOGS, LearnedFrom()
    own = past_misses(past, store)
    found = LearnedFrom(len(said), len({one.kitchen for one in own}))
    return learned([*said, *own]), found


@dataclass(frozen=True)
class KeptDay:
    """A day that was asked, and the document that came of it if it did."""

    key: str
    request: WhenRequest
    document: dict[str, Any] | None = None


def _kept(entry: StoredResult | None, *, whole: bool = True) -> KeptDay | None:
    """Return an entry as a day; None for a damaged one.

    A day that an earlier program worked out is shown; one that it did not is asked for anew.
    """
    from fairsmoke.telling.document import from_json

    try:
        request = WhenRequest.from_json(entry.request if entry else {})
        document = from_json(entry.get("document")) if entry and whole else None
    except (TypeError, KeyError, ValueError, AttributeError):
        return None
    assert entry is not None
    if entry.key != request.key and entry.file("document.json") is None:
        return None
    return KeptDay(entry.key.digest, request, document if isinstance(document, dict) else None)


def ask_day(request: WhenRequest, store: Store, notebook: Path) -> KeptDay:
    """Keep what is asked, so that it is listed with the days of its trial."""
    entry = store.ask(request.key, asdict(request), subject=subject_of(notebook, request.trial))
    return _kept(entry) or KeptDay(request.key.digest, request)


def kept_day(store: Store, trial: str, key: str) -> KeptDay | None:
    """Return a day of a trial that was asked, None when it is not kept."""
    found = _kept(store.find("when", key))
    return found if found is not None and found.request.trial == trial else None


def kept_days(store: Store, notebook: Path, trial: str) -> list[KeptDay]:
    """Return the days of a trial that are kept, the latest asked first, without their answers."""
    entries = store.asked("when", subject_of(notebook, trial))
    found = [_kept(entry, whole=False) for entry in entries]
    return sorted(filter(None, found), key=lambda one: one.request.asked_at, reverse=True)


def when_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Work a day out as a job and keep its document; a time that cannot be met is an answer too.

    Raises KeyboardInterrupt when it was stopped, else what `compute` raises.
    """
    from fairsmoke.telling.document import to_json

    request = WhenRequest.from_json(content)
    entry = at.store.ask(request.key, content, subject=subject_of(at.notebook, request.trial))
    book = at.book()
    record = book.load_trial(request.trial, lazy=True)
    past = past_cooks(book, request.cook)
    # A core is left to the app, where there is more than one.
    workers = max(1, (os.cpu_count() or 2) - 1)
    try:
        plan = compute(
            request, record, past=past, store=at.store, workers=workers, progress=progress
        )
    except ServingTooSoonError as error:
        soon = {"cannot": error.cannot, "why": error.why, "earliest": error.earliest}
        document: dict[str, Any] = {"too_soon": soon}
    else:
        if plan is None:
            raise KeyboardInterrupt
        document = _document(plan, datetime.fromisoformat(request.asked_at))
    entry.put("document", to_json(document))
    return {}


def _document(plan: DayPlan, made: datetime) -> dict[str, Any]:
    """Return all that is kept of a day; language, units and clock are chosen when it is shown."""
    from fairsmoke.telling.day_chart import chart_content
    from fairsmoke.telling.reminders import calendar_content
    from fairsmoke.telling.run_sheet import run_sheet_content
    from fairsmoke.telling.when import when_sections

    return {
        "made": made,
        "sections": when_sections(plan),
        "chart": chart_content(plan),
        "offers_hold_c": next((one.hold_c for one in plan.proposals if one.kind == "hold"), None),
        # Nobody is sent to work by a day that most likely goes otherwise.
        **(
            {"sheet": run_sheet_content(plan, made), "calendar": calendar_content(plan)}
            if plan.may_be_printed
            else {}
        ),
    }


def rests_on(
    trial: Trial,
    plan: Plan | None,
    cook: Cook | None,
    pieces: tuple[Piece, ...] = (),
    weighings: tuple[Weighing, ...] = (),
) -> str:
    """Return the digest of what a day is worked out from: the plan, or a begun cook's pieces."""
    records = [trial, plan] if cook is None else [trial, *pieces, *filter(is_trimmed, weighings)]
    return digest_of(*("" if one is None else one.model_dump_json() for one in records))


def plan_day(
    day: Day,
    asked: DayConstraints | None = None,
    *,
    log_sd: TimeLogSd = FROM_LOGS,
    learned_from: LearnedFrom | None = None,
    not_before: datetime | None = None,
    store: Store | Path | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    with_adjustments: bool = True,
) -> DayPlan | None:
    """Plan a day; None when the simulation was stopped (the same call goes on from there).

    `not_before` is the earliest instant at which anything can be done. Raises ServingTooSoonError
    where the serving time cannot be met, PlanError or ProtocolError for a day that cannot be.
    """
    asked = asked or DayConstraints()
    if not_before is not None:
        asked = replace(asked, not_before_s=(not_before - day.serve).total_seconds())
    sides = replace(day.sides, whole_body=False)
    found = simulate_side_by_side(sides, store, workers=workers, progress=progress)
    if not found.complete:
        return None
    raw = day_pieces(day, found)
    pieces = widened_pieces(raw, log_sd, sides.seed)
    try:
        plan = plan_when(pieces, asked)
    except TooSoonError as error:
        raise ServingTooSoonError(day, asked.certainty, error) from error
    return DayPlan(
        day,
        plan,
        log_sd,
        arm_gaps(plan, _every_arm(day, found)),
        hold_gaps(plan),
        buffer_of(plan),
        turning_points(plan),
        _adjustments(day, sides, store, workers) if with_adjustments else (),
        _safety(day, found, plan),
        pit_conflicts(plan.pieces),
        unlike_holds(plan),
        learned_from or LearnedFrom(),
        proposals(raw, asked, log_sd, sides.seed, plan),
        start_effects(raw, asked, log_sd, sides.seed, plan),
        night_fire(plan, day.serve, day.zone),
    )


def day_pieces(day: Day, found: Simulated) -> tuple[DayPiece, ...]:
    """Return the pieces of a day with the draws of their stages, not widened yet."""
    return tuple(_day_piece(day, one, one.arm, found) for one in day.who)


def _day_piece(day: Day, one: OnTheDay, arm_id: str, found: Simulated) -> DayPiece:
    arm, piece = _looked_up(day.sides, arm_id, one.piece)
    run = run_of(arm.protocol)
    return DayPiece(
        one.piece,
        piece.name,
        arm.id,
        arm.name,
        one.cooker,
        one.place,
        run,
        lengths(found.cooked[arm_id, one.piece], len(run.before)),
        piece.piece.cut,
    )


def _looked_up(sides: SideBySide, arm: str, piece: str) -> tuple[ArmToCook, PieceToCook]:
    return (
        next(one for one in sides.arms if one.id == arm),
        next(one for one in sides.pieces if one.id == piece),
    )


def lengths(cooked: Cooked, stages: int) -> FloatArray:
    """Return how long the first stages lasted by draw (s), infinite where one never ended."""
    ends = np.hstack([np.zeros((cooked.done.size, 1)), cooked.stage_end_s[:, :stages]])
    return np.nan_to_num(np.diff(ends, axis=1), nan=np.inf)


def _every_arm(day: Day, found: Simulated) -> dict[tuple[str, str], DayPiece]:
    used = [arm.id for arm in day.sides.arms if any(one.arm == arm.id for one in day.who)]
    return {(arm, one.piece): _day_piece(day, one, arm, found) for arm in used for one in day.who}


def _adjustments(
    day: Day, sides: SideBySide, store: Store | Path | None, workers: int | None
) -> tuple[AdjustmentEffect, ...]:
    """Run what can be done for each arm's first piece, on the same draws as without it."""
    effects = []
    for arm_id in dict.fromkeys(one.arm for one in day.who):
        first = next(one for one in day.who if one.arm == arm_id)
        arm, piece = _looked_up(sides, arm_id, first.piece)
        some = adjustments_of(arm.protocol)
        # Named as they always were: the names are in the digest of what is kept.
        tried = [ArmToCook(f"lever-{k}", one.kind, one.protocol) for k, one in enumerate(some)]
        try:
            found = simulate_side_by_side(
                replace(sides, arms=(arm, *tried), pieces=(piece,), members=ADJUSTMENT_DRAWS),
                store,
                workers=workers,
            )
        except ProtocolError:
            # A pit that is cooled too far never ends the cook; then there is no figure to tell.
            continue
        if not found.complete:
            continue
        usual, kept = found.value(arm.id, "cook_s"), found.value(arm.id, "yield")
        for one, adjustment in zip(tried, some, strict=True):
            gap = found.value(one.id, "cook_s") - usual
            ended = gap[np.isfinite(gap)]
            if ended.size < ADJUSTMENT_DRAWS // 2:
                continue
            more = float(np.nanmedian(found.value(one.id, "yield") - kept))
            effects.append(AdjustmentEffect(arm.name, adjustment, time_interval(ended), more))
    return tuple(effects)


def _safety(day: Day, found: Simulated, plan: WhenPlan) -> tuple[SafetyNote, ...]:
    notes: list[SafetyNote] = []
    cools: dict[str, tuple[float, float]] = {}
    for planned, one, held in zip(plan.pieces, day.who, plan.held_s, strict=True):
        cooked = found.cooked[one.arm, one.piece]
        arm, piece = _looked_up(day.sides, one.arm, one.piece)
        if piece.id not in cools:
            cools[piece.id] = _cools(piece)
        raw = np.sum(lengths(cooked, len(planned.piece.run.before)), axis=1)
        with np.errstate(invalid="ignore"):
            stretch = planned.piece.run_s / raw
        stretch = np.where(np.isfinite(stretch), stretch, 1.0)
        notes += safety_notes(
            SafetyPiece(
                piece.name,
                arm.name,
                CUTS[piece.piece.cut].species,
                piece.piece.mass_kg,
                arm.protocol,
                found.sample_s,
                cooked.core_c[:_TRACES],
                stretch[:_TRACES],
                cooked.values["log_salmonella"],
                max(0.0, float(np.quantile(held, CAREFUL, method="higher"))),
                cools[piece.id],
            )
        )
    return tuple(notes)


def _cools(piece: PieceToCook) -> tuple[float, float]:
    """Return how long the whole piece takes in a fridge to each limit for what is left over (s)."""
    first_limit, last_limit = LEFT_OVER
    fridge = Stage(
        id="fridge",
        name="Fridge",
        place=Place.FRIDGE,
        surround_c=FRIDGE_C,
        ends=(EndCondition(core_c=first_limit.to_c), EndCondition(elapsed_s=2 * 86_400.0)),
    )
    colder = fridge.model_copy(
        update={
            "id": "colder",
            "ends": (EndCondition(core_c=last_limit.to_c), EndCondition(elapsed_s=2 * 86_400.0)),
        }
    )
    hot = replace(piece.piece, start_c=first_limit.from_c or 0.0)
    out = simulate(hot, Protocol(stages=(fridge, colder)), piece.conditions, whole_body=False)
    first, last = out.stage_end_s["fridge"], out.stage_end_s["colder"]
    return first, last if out.core_c <= (last_limit.to_c or 0.0) + 0.5 else float("inf")
