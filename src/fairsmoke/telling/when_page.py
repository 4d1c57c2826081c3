"""The plan of a day as plain data for a page that tells it in its reader's own words and units."""

import math
from collections.abc import Sequence
from itertools import chain
from typing import Any

import numpy as np

from fairsmoke.planning.day.adjustments import CORE_STEP_K
from fairsmoke.planning.day.advice import differences, one_pit_two_temperatures, unlike_holds
from fairsmoke.planning.day.constraints import Asked
from fairsmoke.planning.day.day_plan import Day, DayPlan, LeverEffect
from fairsmoke.planning.day.safety import SafetyNote
from fairsmoke.planning.day.schedule import Mark, PiecePlan, Span, TooSoonError
from fairsmoke.planning.day.steps import StepKind, run_of
from fairsmoke.planning.day.time_errors import NO_MORE
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.when import reminder_times
from fairsmoke.trial.protocol import Place

_POINT_S = 60.0
"""An interval shorter than that is a point."""


def when_page(told: DayPlan) -> dict[str, Any]:
    """Return a day as JSON data: times in s from serving, None for what never ends; SI figures.

    Words are the names that people gave, and codes for the rest.
    """
    plan, day = told.plan, told.day
    return {
        "serve": day.serve.isoformat(),
        "zone": day.zone.key,
        "certainty": plan.asked.certainty,
        "ready": plan.ready,
        "together": plan.asked.together,
        "scatter": None if told.scatter == NO_MORE else plain(told.scatter),
        "draws": day.sides.members,
        "day": day_of_rows(told),
        "rounds": [
            {"kind": kind, "cooker": cooker, "at": times}
            for (kind, cooker), times in reminder_times(told).items()
        ],
        "pieces": [_piece(one) for one in plan.pieces],
        "buffer": plain(told.buffer),
        "arms": _arms(told),
        "holds": plain(told.holds),
        "pits": [[a.name, b.name, a.cooker] for a, b in one_pit_two_temperatures(plan.pieces)],
        "unlike_holds": unlike_holds(plan),
        "turning": plain(told.turning),
        "levers": [_lever(one) for one in told.levers],
        "safety": gathered(told.safety),
        "minutes": plain(plan.asked.minutes),
        "heat_up_s": plan.asked.heat_up_s,
        "rest_s": plan.asked.rest_s,
        "sizes": _sizes(day),
        "feels": _feels(day),
    }


def too_soon(day: Day, error: TooSoonError, asked: Asked) -> dict[str, Any]:
    """Return why a serving time cannot be met, and the earliest that can, as JSON data."""
    slow = error.slow
    assert slow is not None
    return {
        "serve": day.serve.isoformat(),
        "zone": day.zone.key,
        "certainty": asked.certainty,
        "heat_up_s": asked.heat_up_s,
        "later_s": error.later_s,
        "piece": slow.piece.name,
        "arm": slow.piece.arm_name,
        "before_s": slow.open_s - slow.hold_shortest_s - slow.on_s,
        "middle_s": _finite(float(np.median(slow.piece.run_s))),
        "hold_s": slow.hold_shortest_s,
        "ending_s": -slow.open_s,
    }


def day_of_rows(told: DayPlan) -> list[dict[str, Any]]:
    """Return every step of the day in order of time, for one pair of hands."""
    rows = []
    for one in told.plan.pieces:
        rows += [_row(one, mark) for mark in one.marks]
        held = one.piece.run.hold is not None
        opened = {"kind": "open", "held": held, "at": one.open_s}
        for row in (opened, {"kind": "slice", "at": one.slice_s}):
            rows.append({"piece": one.piece.name, "between": None, **row})
    rows += [
        {"kind": "light", "cooker": note.cooker, "at": note.at_s, "between": None}
        for note in told.plan.reminders
        if note.kind is StepKind.LIGHT
    ]
    return sorted(rows, key=lambda row: float(row["at"]))


def _row(one: PiecePlan, mark: Mark) -> dict[str, Any]:
    step, stages = mark.step, one.piece.run.before
    then = stages[step.ends_stage + 1] if step.ends_stage + 1 < len(stages) else one.piece.run.hold
    point = step.kind is StepKind.ON or mark.due.high_s - mark.due.low_s < _POINT_S
    ends = () if step.ends_stage < 0 else stages[step.ends_stage].ends
    wraps = then is not None and step.ends_stage >= 0 and stages[step.ends_stage].wrap != then.wrap
    return {
        "kind": str(step.kind),
        "piece": one.piece.name,
        "cooker": one.piece.cooker,
        "place": one.piece.place,
        "to": None if then is None else str(then.place),
        "above": None if then is None else str(then.wrap.above),
        "below": None if then is None else str(then.wrap.below),
        "wraps": wraps,
        "adds": [] if then is None else [add.name for add in then.adds],
        "to_c": step.to_c,
        # What tells that it is due, whatever the clock says.
        "core_c": next((end.core_c for end in ends if end.core_c is not None), None),
        "feel": next((end.feel for end in ends if end.feel is not None), None),
        "at": _finite(mark.planned_s),
        "between": None if point else _span(mark.due),
    }


def _piece(one: PiecePlan) -> dict[str, Any]:
    return {
        "name": one.piece.name,
        "arm": one.piece.arm_name,
        "cooker": one.piece.cooker,
        "place": one.piece.place,
        "on": one.on_s,
        "pull": _span(one.pull),
        "hold": _span(one.hold),
        "shortest_s": one.hold_shortest_s,
        "longest_s": one.hold_longest_s,
        "held_in": None if one.piece.run.hold is None else str(one.piece.run.hold.place),
        "open": one.open_s,
        "slice": one.slice_s,
        "ready": one.ready,
        "too_long": one.too_long,
    }


def _arms(told: DayPlan) -> list[dict[str, Any]]:
    protocols = {arm.name: arm.protocol for arm in told.day.sides.arms}
    return [
        {
            "arm": gap.arm,
            "base": gap.base,
            "longer": _span(gap.longer),
            "stage": gap.stage,
            "differs": differences(run_of(protocols[gap.arm]), run_of(protocols[gap.base])),
        }
        for gap in told.arms
    ]


def _lever(one: LeverEffect) -> dict[str, Any]:
    """What a lever changes is its last stage in the cooker, but for wrapping sooner."""
    cooked = [s for s in one.lever.protocol.stages if s.place is Place.COOKER][-1]
    return {
        "arm": one.arm,
        "id": one.lever.id,
        "when": one.lever.when,
        "stage": cooked.name,
        "to_c": cooked.surround_c,
        "sooner_k": CORE_STEP_K,
        "longer": _span(one.longer),
        "kept": one.kept,
    }


def gathered(notes: Sequence[SafetyNote]) -> list[dict[str, Any]]:
    """Put notes that say the same of several pieces together, warnings first."""
    found: dict[tuple[str, str], tuple[SafetyNote, list[str]]] = {}
    for note in sorted(notes, key=lambda one: not one.warns):
        found.setdefault((note.stage, note.words), (note, []))[1].append(note.piece)
    return [
        {
            "pieces": pieces,
            "stage": note.stage,
            "warns": note.warns,
            "code": note.code,
            "figures": {
                key: _finite(value) if isinstance(value, float) else value
                for key, value in note.figures.items()
            },
            "table": note.table,
        }
        for note, pieces in found.values()
    ]


def _sizes(day: Day) -> list[dict[str, Any]]:
    return [
        {
            "piece": one.name,
            "long_m": one.piece.length_m,
            "wide_m": one.piece.width_m,
            "start_c": one.piece.start_c,
        }
        for one in day.sides.pieces
        if one.id in day.guessed
    ]


def _feels(day: Day) -> list[dict[str, Any]]:
    stages = chain.from_iterable(arm.protocol.stages for arm in day.sides.arms)
    feels = [end.feel for stage in stages for end in stage.ends if end.feel is not None]
    tender_c = day.sides.pieces[0].conditions.tender_c
    return [{"feel": feel, "core_c": tender_c} for feel in dict.fromkeys(feels)]


def _span(span: Span) -> dict[str, float | None]:
    return {
        "low": _finite(span.low_s),
        "middle": _finite(span.middle_s),
        "high": _finite(span.high_s),
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


__all__ = ["day_of_rows", "gathered", "too_soon", "when_page"]
