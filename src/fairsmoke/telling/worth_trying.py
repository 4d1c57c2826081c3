"""Which method is worth trying, as text for a terminal and as JSON."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from fairsmoke.cooking import UNKNOWNS, difference
from fairsmoke.cooking.sweep import VALUES
from fairsmoke.planning.methods.choice import Tried
from fairsmoke.planning.methods.contrasts import VALUE_OF, KnobWorth, ranked
from fairsmoke.planning.methods.space import GOALS, KEPT_IN, Way
from fairsmoke.planning.size.how_many import AIM
from fairsmoke.quantity import METRIC, Units, show_duration, show_temperature
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.lines import wrapped
from fairsmoke.telling.numbers import show_chance, show_size
from fairsmoke.telling.simulated import show_change, show_range
from fairsmoke.telling.simulated_data import LEVEL, STANDING, Range
from fairsmoke.trial.question import TIMES

FORM = 1
KNOB_WORDS = {
    "pit_c": "pit",
    "wrap_at_c": "wrap at",
    "until_c": "off at",
    "hold_c": "hold at",
    "hold_s": "hold for",
    "wrap": "wrap",
    "pan": "water pan",
}
_GOAL_WORDS = {
    "yield": ("yield", "share"),
    "tenderness": ("collagen dissolved in the core", "share"),
    "crust": ("dried crust on top", "crust"),
    "cap": ("fat cap rendered", "share"),
    "time": ("time to the end of the hold", "time"),
}


def way_text(way: Way, units: Units = METRIC) -> str:
    """Return a method in one line."""
    pan = " over a water pan" if way.pan else ""
    wrap = (
        "bare"
        if way.wrap == "bare"
        else f"{way.wrap} at {show_temperature(way.wrap_at_c, units, 0)}"
    )
    hold = show_duration(900.0 * max(1, round(way.hold_s / 900.0)))
    return (
        f"pit {show_temperature(way.pit_c, units, 0)}{pan}, {wrap}, off at "
        f"{show_temperature(way.until_c, units, 0)}, held {hold} at "
        f"{show_temperature(way.hold_c, units, 0)}"
    )


def goal_text(told: Tried, goal: str, method: int, units: Units = METRIC) -> str:
    """Return what is expected of a method in one goal, with its interval."""
    shown = Range.of(told.found.value(GOALS[goal].name)[method])
    kind = _GOAL_WORDS[goal][1]
    if kind != "crust":
        return show_range(shown, kind, units)
    if not shown.known:
        return "not known"
    if shown.high < 0.005:
        return "none"
    ends = [f"{max(0.0, end):.1f}" for end in (shown.middle, shown.low, shown.high)]
    return f"{ends[0]} kg/m² ({ends[1]} to {ends[2]})"


def tried_text(told: Tried, units: Units = METRIC) -> str:
    """Return the answer in plain words, lines of about ``lines.WIDTH`` letters."""
    lines = [*_heading(told), "", *_choose(told, units)]
    for measure in told.measures:
        lines += ["", *_knobs(told, str(measure.kind), units)]
    lines += ["", "CAUTIONS"]
    for text in cautions(told):
        lines += wrapped(f"{text}.", "  ")
    return "\n".join(lines)


def _heading(told: Tried) -> Iterator[str]:
    plan, front = told.asked.sweep, told.front
    yield f"{told.asked.title} (simulated, nothing was cooked)"
    yield from wrapped(f"{STANDING}.")
    yield from wrapped(
        f"{len(told.asked.ways)} methods, {plan.members} draws of what is not known on one column "
        f"through the thick part, the same for every method (seed {plan.seed}), moved by what the "
        f"whole body gives on {plan.whole} of them. In brackets: where {100 * LEVEL:.0f} % of the "
        "draws lie."
    )
    out = int(np.sum(~front.allowed))
    for limit in told.limits:
        broken = int(np.sum(limit.kept[: len(front.allowed)] < KEPT_IN))
        if broken:
            yield from wrapped(
                f"{broken} methods are not offered: they do not surely keep “{limit.rule}” "
                f"({limit.source})."
            )
    if out == len(front.allowed):
        yield from wrapped("No method keeps the limits surely; give other ranges.")


def _choose(told: Tried, units: Units) -> Iterator[str]:
    front = told.front
    yield "TO CHOOSE FROM"
    names = ", ".join(_GOAL_WORDS[goal][0] for goal in told.goals)
    yield from wrapped(
        f"Looked at: {names}. {int(front.front.sum())} methods are better than every other in "
        f"something that matters; {int(front.ruled_out.sum())} are beaten in all by one and the "
        f"same other in {show_chance(front.sure)} of the draws or more. These {len(told.listed)} "
        "show the span: the best in each, the all-rounder, and those farthest from them.",
        "  ",
    )
    for number, method in enumerate(told.listed, start=1):
        yield ""
        yield from wrapped(f"{number}. {way_text(told.asked.ways[method], units)}", "  ")
        for goal in told.goals:
            label = _GOAL_WORDS[goal][0]
            yield f"       {label.ljust(31)} {goal_text(told, goal, method, units)}"
        yield f"       {'beaten by none in'.ljust(31)} " + (
            f"{show_chance(float(front.chance_on_front[method]))} of draws"
        )


def _knobs(told: Tried, kind: str, units: Units) -> Iterator[str]:
    measure = next(m for m in told.measures if str(m.kind) == kind)
    yield f"THE NEXT TRIAL, BY {measure.name.upper()}"
    first = told.worth[0].seen[kind] if told.worth else None
    if first is None:
        yield "  no knob has a range"
        return
    yield from wrapped(
        f"Each turned alone from: {way_text(told.asked.base, units)}. Two pieces cooked alike "
        f"differ by more than {show_size(measure, _rounded(first.by_chance))} once in twenty; a "
        f"difference of {show_size(measure, measure.worthwhile)} would matter. After the arrow: "
        "what it does, then its size over that chance difference, and the chance of a settled "
        "verdict (for one of the two, or that the difference is too small to matter).",
        "  ",
    )
    for number, one in enumerate(ranked(told.worth, kind), start=1):
        seen = one.seen[kind]
        change = show_change(
            difference(seen.difference, np.zeros_like(seen.difference)),
            "time" if measure.kind in TIMES else "share",
        )
        yield from wrapped(f"{number}. {turn_text(one, units)} → {change}", "  ")
        enough = (
            f"{show_chance(AIM)} from {_pairs(seen.enough)} on"
            if seen.enough is not None
            else f"never {show_chance(AIM)} up to {_pairs(len(seen.chances))}"
        )
        at = seen.enough or len(seen.chances)
        cost = seen.costs[at - 1]
        currency = f" {told.currency}" if told.currency else ""
        price = "" if cost is None else f"; {_pairs(at)} cost {cost:,.0f}{currency}"
        some = [n for n in (1, 3, len(seen.chances)) if n <= len(seen.chances)]
        chances = ", ".join(
            f"{show_chance(seen.chances[n - 1])} with {_pairs(n)}" for n in dict.fromkeys(some)
        )
        yield from wrapped(f"{seen.ratio:.1f} times chance; {chances}; {enough}{price}", "     ")
    for one in told.worth:
        if not one.kept:
            yield from wrapped(
                f"Not ranked: {turn_text(one, units)}, as one of the two does not surely keep the "
                "limits",
                "  ",
            )


def _rounded(size: float) -> float:
    """Return two significant digits: no spread is known better."""
    return float(f"{size:.2g}")


def _pairs(count: int) -> str:
    return "1 pair" if count == 1 else f"{count} pairs"


def turn_text(one: KnobWorth, units: Units = METRIC) -> str:
    """Return "pit 107 °C to 149 °C", "paper to foil", "water pan put in"."""
    turn = one.turn
    word = KNOB_WORDS[turn.knob]
    before, after = getattr(turn.before, turn.knob), getattr(turn.after, turn.knob)
    if turn.knob == "pan":
        return "water pan put in" if after else "water pan left out"
    if turn.knob == "wrap":
        return f"{before} to {after}" if after != "bare" else f"{before} to no wrap"
    if turn.knob == "hold_s":
        return f"{word} {show_duration(before)} to {show_duration(after)}"
    return f"{word} {show_temperature(before, units, 0)} to {show_temperature(after, units, 0)}"


def cautions(told: Tried) -> Iterator[str]:
    """Yield what must be borne in mind. Nothing here says safe."""
    yield (
        "A model's numbers, not a record: they never show that food is safe. Cook, hold and cool "
        "by your local code and your food authority's tables, with a thermometer. A better yield "
        "is no reason to cook less, hold cooler or come up slower"
    )
    yield (
        "The chances take the model's differences as true within its draws; where the model is "
        "wrong about a knob, so are they. Only a trial tells"
    )
    yield (
        "Collagen dissolved stands for tenderness up to where a piece falls apart; the model does "
        "not know too tender. Nothing here knows taste, smoke or bark's flavour, and no rule is "
        "known from collagen or crust to a score, so those are not ranked"
    )
    yield (
        f"One kind of hold wrap ({told.asked.space.hold_wrap}) is in every method; the crust is "
        "that at the end of the hold, where a tight wrap has softened it"
    )


def tried_json(told: Tried) -> dict[str, Any]:
    """Return all of it as plain data: SI units, shares of the raw mass; larger tables by method."""
    plan, front = told.asked.sweep, told.front
    values = {name: told.found.value(name) for name in VALUES}
    methods = []
    for at, way in enumerate(told.asked.ways):
        beaten = int(front.beaten_by[at])
        methods.append(
            {
                "number": at,
                "method": plain(way),
                "values": {name: plain(Range.of(array[at])) for name, array in values.items()},
                "limits_kept": {limit.key: plain(limit.kept[at]) for limit in told.limits},
                "allowed": bool(front.allowed[at]),
                "on_front": bool(front.front[at]),
                "chance_on_front": plain(front.chance_on_front[at]),
                "chance_beaten": plain(front.chance_beaten[at]),
                "beaten_by": None if beaten < 0 else beaten,
                "ruled_out": bool(front.ruled_out[at]),
            }
        )
    return {
        "form": FORM,
        "simulated": True,
        "title": told.asked.title,
        "draws": plan.members,
        "draws_on_whole_body": plan.whole,
        "seed": plan.seed,
        "level": LEVEL,
        "goals": [
            {"goal": g, "value": GOALS[g].name, "more": GOALS[g].more, "step": GOALS[g].step}
            for g in told.goals
        ],
        "limits": [{"key": x.key, "rule": x.rule, "source": x.source} for x in told.limits],
        "sure": front.sure,
        "methods": methods,
        "listed": list(told.listed),
        "base": plain(told.asked.base),
        "knobs": [_knob_json(one) for one in told.worth],
        "ranked": {
            str(m.kind): [told.worth.index(one) for one in ranked(told.worth, str(m.kind))]
            for m in told.measures
        },
        "not_known": [
            {
                "name": u.name,
                "sd": u.standard_deviation,
                "of_logarithm": u.logarithmic,
                "why": u.why,
            }
            for u in UNKNOWNS
        ],
        "cautions": [STANDING, *cautions(told)],
    }


def _knob_json(one: KnobWorth) -> dict[str, Any]:
    return {
        "knob": one.turn.knob,
        "before": plain(one.turn.before),
        "after": plain(one.turn.after),
        "keeps_limits": one.kept,
        "differences": {n: plain(Range.of(array)) for n, array in one.differences.items()},
        "seen": {
            kind: {
                "value": VALUE_OF[seen.measure.kind],
                "worthwhile": seen.measure.worthwhile,
                "expected": plain(seen.expected),
                "by_chance_once_in_twenty": plain(seen.by_chance),
                "chances_settled": plain(list(seen.chances)),
                "costs": plain(list(seen.costs)),
                "pairs_enough": seen.enough,
            }
            for kind, seen in one.seen.items()
        },
    }
