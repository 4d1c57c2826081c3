"""When to do what on the day: simulate the pieces, plan back from serving, check it, tell it."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from fairsmoke.answers.resume import Progress
from fairsmoke.answers.simulation import simulate_side_by_side
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
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.day.adjustments import levers_of
from fairsmoke.planning.day.advice import (
    arm_gaps,
    buffer_of,
    hold_gaps,
    remarks,
    turning_points,
)
from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import Asked
from fairsmoke.planning.day.day_plan import Day, DayPlan, LeverEffect, OnTheDay
from fairsmoke.planning.day.safety import CAREFUL, SafetyNote, SafetyPiece, safety_notes
from fairsmoke.planning.day.schedule import TooSoonError, WhenPlan, span
from fairsmoke.planning.day.simulated_days import DayPiece, widened_pieces
from fairsmoke.planning.day.steps import run_of
from fairsmoke.planning.day.time_errors import FROM_LOGS, Scatter
from fairsmoke.trial.clock import show_instant
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage

LEVER_DRAWS = 64
"""For the figures of what to do when early or late."""
_TRACES = 60


def plan_day(
    day: Day,
    asked: Asked | None = None,
    *,
    scatter: Scatter = FROM_LOGS,
    not_before: datetime | None = None,
    folder: Path | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    with_levers: bool = True,
) -> DayPlan | None:
    """Plan a day; None when the simulation was stopped (the same call goes on from there).

    `not_before` is the earliest instant at which anything can be done. Raises JobError with the
    earliest possible serving time where the asked one cannot be met, PlanError or ProtocolError
    for a day that cannot be.
    """
    asked = asked or Asked()
    if not_before is not None:
        asked = replace(asked, not_before_s=(not_before - day.serve).total_seconds())
    _check(day)
    sides = replace(day.sides, whole_body=False)
    found = simulate_side_by_side(sides, folder, workers=workers, progress=progress)
    if not found.complete:
        return None
    pieces = widened_pieces(day_pieces(day, found), scatter, sides.seed)
    try:
        plan = plan_when(pieces, asked)
    except TooSoonError as error:
        earliest = day.serve + timedelta(seconds=error.later_s)
        raise JobError(
            f"nothing can be ready with {100 * asked.certainty:.0f} % certainty by "
            f"{show_instant(day.serve, day.zone)}; the earliest possible is "
            f"{show_instant(earliest, day.zone)}: {error.why}"
        ) from error
    return DayPlan(
        day,
        plan,
        scatter,
        arm_gaps(plan, _every_arm(day, found)),
        hold_gaps(plan),
        buffer_of(plan),
        turning_points(plan),
        _levers(day, sides, folder, workers) if with_levers else (),
        _safety(day, found, plan),
        remarks(plan),
        day.sides.assumed,
    )


def _check(day: Day) -> None:
    arms = {arm.id for arm in day.sides.arms}
    pieces = {piece.id for piece in day.sides.pieces}
    for one in day.who:
        if one.arm not in arms:
            raise JobError(
                f"piece '{one.piece}': there is no arm '{one.arm}'; there are {', '.join(arms)}"
            )
        if one.piece not in pieces:
            raise JobError(f"there is no piece '{one.piece}'; there are {', '.join(pieces)}")


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


def _levers(
    day: Day, sides: SideBySide, folder: Path | None, workers: int | None
) -> tuple[LeverEffect, ...]:
    """Run what can be done for each arm's first piece, on the same draws as without it."""
    effects = []
    for arm_id in dict.fromkeys(one.arm for one in day.who):
        first = next(one for one in day.who if one.arm == arm_id)
        arm, piece = _looked_up(sides, arm_id, first.piece)
        levers = levers_of(arm.protocol)
        tried = [ArmToCook(f"lever-{k}", one.words, one.protocol) for k, one in enumerate(levers)]
        try:
            found = simulate_side_by_side(
                replace(sides, arms=(arm, *tried), pieces=(piece,), members=LEVER_DRAWS),
                folder,
                workers=workers,
            )
        except ProtocolError:
            # A pit that a lever cools too far never ends; then there is no figure to tell.
            continue
        if not found.complete:
            continue
        usual, kept = found.value(arm.id, "cook_s"), found.value(arm.id, "yield")
        for one, lever in zip(tried, levers, strict=True):
            gap = found.value(one.id, "cook_s") - usual
            if np.sum(np.isfinite(gap)) < LEVER_DRAWS // 2:
                continue
            more = found.value(one.id, "yield") - kept
            effects.append(
                LeverEffect(arm.name, lever, span(gap[np.isfinite(gap)]), float(np.nanmedian(more)))
            )
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
    """Return how long the whole piece takes in a fridge from 57 to 21 and to 5 °C (s)."""
    fridge = Stage(
        id="fridge",
        name="Fridge",
        place=Place.FRIDGE,
        surround_c=4.0,
        ends=(EndCondition(core_c=21.0), EndCondition(elapsed_s=2 * 86_400.0)),
    )
    colder = fridge.model_copy(
        update={
            "id": "colder",
            "ends": (EndCondition(core_c=5.0), EndCondition(elapsed_s=2 * 86_400.0)),
        }
    )
    hot = replace(piece.piece, start_c=57.0)
    out = simulate(hot, Protocol(stages=(fridge, colder)), piece.conditions, whole_body=False)
    first, last = out.stage_end_s["fridge"], out.stage_end_s["colder"]
    return first, last if out.core_c <= 5.5 else float("inf")


__all__ = ["Day", "DayPlan", "LeverEffect", "OnTheDay", "day_pieces", "lengths", "plan_day"]
