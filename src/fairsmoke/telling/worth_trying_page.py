"""Which method is worth trying, as plain data for a page: SI units, no words but codes.

A page writes them in a person's units and language.
"""

from typing import Any

import numpy as np

from fairsmoke.cooking import difference
from fairsmoke.planning.methods.choice import Tried
from fairsmoke.planning.methods.contrasts import KnobWorth, ranked
from fairsmoke.planning.methods.space import GOALS, KEPT_IN, Way
from fairsmoke.planning.size.how_many import AIM
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.simulated_data import LEVEL, Range
from fairsmoke.trial.question import Measure

SAFETY = ("log_salmonella", "come_up_s", "growth_s")
"""What is told of a method's safety, by the sweep's names."""


def worth_page(told: Tried) -> dict[str, Any]:
    """Return what a page shows; shares of the raw mass, times in s, temperatures in °C.

    ``methods`` are those that keep the limits, ``listed`` their places in it in the order of the
    list; each has its ``goals`` by word. A middle that most draws never have is None.
    """
    plan, front = told.asked.sweep, told.front
    offered = [at for at, may in enumerate(front.allowed) if may]
    return {
        "cooked": len(told.asked.ways),
        "draws": plan.members,
        "whole": plan.whole,
        "seed": plan.seed,
        "level": LEVEL,
        "sure": front.sure,
        "aim": AIM,
        "goals": list(told.goals),
        "steps": {goal: GOALS[goal].step for goal in told.goals},
        "on_front": int(front.front.sum()),
        "ruled_out": int(front.ruled_out.sum()),
        "limits": [
            {"key": limit.key, "broken": int(np.sum(limit.kept[: len(front.allowed)] < KEPT_IN))}
            for limit in told.limits
        ],
        "hold_wrap": told.asked.space.hold_wrap,
        "methods": [_method(told, at) for at in offered],
        "listed": [offered.index(at) for at in told.listed],
        "base": _way(told.asked.base),
        "measures": [_measure(told, measure) for measure in told.measures],
        "currency": told.currency,
    }


def _method(told: Tried, at: int) -> dict[str, Any]:
    front = told.front
    return {
        "way": _way(told.asked.ways[at]),
        "front": bool(front.front[at]),
        "ruled_out": bool(front.ruled_out[at]),
        "chance_on_front": plain(front.chance_on_front[at]),
        "goals": {goal: _range(told, GOALS[goal].name, at) for goal in told.goals},
        "safety": {name: _range(told, name, at) for name in SAFETY} if at in told.listed else {},
    }


def _range(told: Tried, name: str, at: int) -> list[float] | None:
    found = Range.of(told.found.value(name)[at])
    return [found.low, found.middle, found.high] if found.known else None


def _way(way: Way) -> dict[str, Any]:
    found: dict[str, Any] = plain(way)
    return found


def _measure(told: Tried, measure: Measure) -> dict[str, Any]:
    kind = str(measure.kind)
    best = ranked(told.worth, kind)
    seen = next((one.seen[kind] for one in told.worth), None)
    return {
        "kind": kind,
        "worthwhile": measure.worthwhile,
        "by_chance": None if seen is None else plain(seen.by_chance),
        "costs": [] if seen is None else plain(list(seen.costs)),
        "ranked": [_turn(one) | _seen(one, kind) for one in best],
        "not_kept": [_turn(one) for one in told.worth if not one.kept],
        "no_effect": [_turn(one) for one in told.worth if one.kept and one not in best],
    }


def _turn(one: KnobWorth) -> dict[str, Any]:
    turn = one.turn
    return {"knob": turn.knob, "before": _way(turn.before), "after": _way(turn.after)}


def _seen(one: KnobWorth, kind: str) -> dict[str, Any]:
    seen = one.seen[kind]
    found = difference(seen.difference, np.zeros_like(seen.difference))
    return {
        "difference": plain([found.low, found.middle, found.high]),
        "chance_more": plain(found.chance_more),
        "ratio": plain(seen.ratio),
        "chances": plain(list(seen.chances)),
        "enough": seen.enough,
    }
