"""The plan of a day as JSON data for other programs."""

import math
from typing import Any

from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.safety import SafetyNote
from fairsmoke.planning.day.schedule import PiecePlan, TimeInterval
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.safety_notes import DEFER, note_words
from fairsmoke.telling.when import adjustment_words, assumed, differs_words, remarks, step_message
from fairsmoke.telling.when_start import proposal_words

FORM = 1
"""Raised when a key changes its meaning or goes away."""


def when_json(plan: DayPlan) -> dict[str, Any]:
    """Return the plan as JSON data: instants as text with offset, lengths in s, English words."""
    found = plan.plan
    return {
        "form": FORM,
        "title": plan.day.sides.title,
        "invented": plan.day.invented,
        "serve": _moment(plan, 0.0),
        "certainty": found.asked.certainty,
        "ready": found.ready,
        "ready_and_holds_within": found.holds_within,
        "interval": 0.9,
        "scatter": {"shared": plan.log_sd.between_pits, "own": plan.log_sd.within_pit}
        | {"learned_from": plain(plan.learned)},
        "printed": plan.may_be_printed,
        "proposals": [
            plain(one) | {"lit": _moment(plan, one.first_s), "what": str(proposal_words(plan, one))}
            for one in plan.proposals
        ],
        "start_effects": plain(plan.effects),
        "night_fire": plain(plan.night),
        "draws": plan.day.sides.members,
        "seed": plan.day.sides.seed,
        "pieces": [_piece(plan, one) for one in found.pieces],
        "reminders": [
            {"kind": str(one.kind), "cooker": one.cooker, "at": _moment(plan, one.at_s)}
            for one in found.reminders
        ],
        "arms": [plain(gap) | {"differs": str(differs_words(gap))} for gap in plan.arms],
        "hold_gaps": plain(plan.holds),
        "buffer": plain(plan.buffer),
        "turning_points": [
            {
                "piece": one.piece,
                "stage": one.stage,
                "late": _moment(plan, one.latest_s),
                "early": _moment(plan, one.earliest_s),
            }
            for one in plan.turning
        ],
        "levers": [
            {
                "arm": one.arm,
                "when": one.adjustment.when,
                "what": str(adjustment_words(one)),
                "longer_s": plain(one.longer),
                "yield_change": one.kept,
            }
            for one in plan.adjustments
        ],
        "safety": [_note(note) for note in plan.safety],
        "safety_defers": str(DEFER),
        "remarks": [str(words) for words in remarks(plan)],
        "assumed": [str(words) for words in assumed(plan)],
    }


def _piece(plan: DayPlan, one: PiecePlan) -> dict[str, Any]:
    return {
        "id": one.piece.id,
        "name": one.piece.name,
        "arm": one.piece.arm,
        "cooker": one.piece.cooker,
        "place": one.piece.place,
        "on": _moment(plan, one.on_s),
        "marks": [
            {
                "kind": str(step.step.kind),
                "what": str(step_message(one, step.step)),
                "planned": _moment(plan, step.planned_s),
                "due": _moments(plan, step.due),
                "weigh": [": ".join(filter(None, (w.load, w.name))) for w in step.step.weigh],
            }
            for step in one.steps
        ],
        "hold_s": plain(one.hold),
        "hold_shortest_s": one.hold_shortest_s,
        "hold_longest_s": one.hold_longest_s,
        "open": _moment(plan, one.open_s),
        "slice": _moment(plan, one.slice_s),
        "ready": one.ready,
        "hold_too_long": one.too_long,
    }


def _note(note: SafetyNote) -> dict[str, Any]:
    return {
        "piece": note.piece,
        "stage": note.stage,
        "warns": note.warns,
        "words": "; ".join(str(words) for words in note_words(note)),
        "table": note.table,
        "code": note.code,
        "figures": plain(note.figures),
    }


def _moment(plan: DayPlan, seconds: float | None) -> str | None:
    if seconds is None or not math.isfinite(seconds):
        return None
    return plan.at(seconds).astimezone(plan.day.zone).isoformat()


def _moments(plan: DayPlan, due: TimeInterval) -> dict[str, Any]:
    return {
        "low": _moment(plan, due.low_s),
        "middle": _moment(plan, due.middle_s),
        "high": _moment(plan, due.high_s),
    }
