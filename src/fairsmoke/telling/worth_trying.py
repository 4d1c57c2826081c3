"""Which method is worth trying: the answer as sections and as JSON."""

from collections.abc import Iterator, Sequence
from typing import Any, Literal

import numpy as np

from fairsmoke.cooking import difference
from fairsmoke.cooking.sweep import VALUES
from fairsmoke.messages.message import N_, NN_, Listed, Message, Words
from fairsmoke.planning.methods.choice import MethodsAnswer
from fairsmoke.planning.methods.contrasts import VALUE_OF, ContrastWorth, ranked
from fairsmoke.planning.methods.simulated import LEVEL, DrawInterval
from fairsmoke.planning.methods.space import GOALS, KEPT_IN
from fairsmoke.planning.size.how_many import AIM
from fairsmoke.quantity.values import Number, Share, Temperature
from fairsmoke.telling import blocks
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.draw_words import (
    Kind,
    alone,
    chance_words,
    change_words,
    interval_words,
    size_words,
)
from fairsmoke.telling.method_words import (
    contrast_words,
    method_words,
    settings_row,
    wrap_words,
)
from fairsmoke.telling.simulated import not_known_json, sentences
from fairsmoke.telling.simulator_words import STANDING
from fairsmoke.trial.question import TIMES, Measure, MeasureKind

FORM = 1
GOAL_WORDS: dict[str, tuple[Message, Kind]] = {
    "yield": (N_("Yield"), "share"),
    "tenderness": (N_("Collagen dissolved in the core"), "share"),
    "crust": (N_("Dried crust on top"), "crust"),
    "cap": (N_("Fat cap rendered"), "share"),
    "time": (N_("To the end of the hold"), "time"),
}
SAFETY_WORDS: dict[str, tuple[Message, Kind]] = {
    "log_salmonella": (N_("Salmonella, log10 reduction in the coldest lean part"), "log"),
    "come_up_s": (
        N_("Core from %(low)s to %(high)s", low=Temperature(10.0), high=Temperature(54.0)),
        "time",
    ),
    "growth_s": (
        N_("Core between %(low)s and %(high)s", low=Temperature(4.0), high=Temperature(60.0)),
        "time",
    ),
}
"""What is told of a method's safety, by the sweep's names."""
MEASURE_TITLES: dict[MeasureKind, Message] = {
    MeasureKind.YIELD: N_("By yield"),
    MeasureKind.COOK_TIME: N_("By time on the cooker"),
}
CAUTIONS: tuple[Message, ...] = (
    N_(
        "A model's numbers, not a record: they never show that food is safe. Cook, hold and cool "
        "by your local code and your food authority's tables, with a thermometer. A better yield "
        "is no reason to cook less, hold cooler or come up slower."
    ),
    N_(
        "The chances take the model's differences as true within its draws; where the model is "
        "wrong about a knob, so are they. Only a trial tells."
    ),
    N_(
        "Collagen dissolved stands for tenderness up to where a piece falls apart; the model does "
        "not know too tender. Nothing here knows taste, smoke or bark's flavour, and no rule is "
        "known from collagen or crust to a score, so those are not ranked."
    ),
)


def worth_trying_sections(told: MethodsAnswer) -> list[Section]:
    """Return the answer: what to try next, then the methods to choose from, then what it is of."""
    first = [
        blocks.strong(STANDING),
        blocks.small(CAUTIONS[0]),
        *(blocks.text(line) for line in _answer(told)),
    ]
    if told.listed and len(told.goals) > 1:
        first.append(blocks.figure("chart", _CAPTION, _ALT))
    cautions = [*CAUTIONS[1:], _hold_caution(told)]
    return [
        Section(told.asked.title, first),
        Section(N_("To choose from"), list(_choose(told))),
        Section(N_("The next trial"), list(_next_trial(told))),
        Section(N_("Cautions, and what it rests on"), [blocks.items([*cautions, *_basis(told)])]),
    ]


_CAPTION = N_(
    "Numbers: the methods below, with intervals. Shapes: better than every other in something that "
    "matters, by wrap. Small dots: beaten."
)
_ALT = N_(
    "What each method gives against the time it takes; the tables below have the same numbers."
)


def _answer(told: MethodsAnswer) -> Iterator[Message]:
    """Yield which contrast to try first, by each measure, and how many methods to choose from."""
    for measure in told.measures:
        best = ranked(told.worth, str(measure.kind))
        if not best:
            continue
        seen = best[0].seen[str(measure.kind)]
        yield N_(
            "%(measure)s: try %(what)s first. Expected: %(change)s; that is %(ratio)s times what "
            "two pieces cooked alike show by chance once in twenty, and %(enough)s.",
            measure=MEASURE_TITLES[measure.kind],
            what=contrast_words(best[0].contrast),
            change=_change(best[0], measure),
            ratio=Number(seen.ratio),
            enough=_enough(seen.enough, len(seen.chances)),
        )
    if told.listed:
        yield NN_(
            "%(count)s method is better than every other in something that matters.",
            "%(count)s methods are better than every other in something that matters.",
            int(told.front.front.sum()),
        )
    else:
        yield N_("No method keeps the limits surely; give other ranges.")


def _enough(enough: int | None, most: int) -> Message:
    aim = Share(AIM, 0)
    if enough is None:
        return NN_(
            "%(count)s pair settles it with less than %(aim)s",
            "%(count)s pairs settle it with less than %(aim)s",
            most,
            aim=aim,
        )
    return NN_(
        "%(count)s pair settles it with %(aim)s or more",
        "%(count)s pairs settle it with %(aim)s or more",
        enough,
        aim=aim,
    )


def _choose(told: MethodsAnswer) -> Iterator[Block]:
    if not told.listed:
        return
    beaten = int(told.front.ruled_out.sum())
    if beaten:
        yield blocks.text(
            NN_(
                "%(count)s is beaten in all by one and the same other in %(sure)s of the draws or "
                "more.",
                "%(count)s are beaten in all by one and the same other in %(sure)s of the draws or "
                "more.",
                beaten,
                sure=Share(told.front.sure, 0),
            )
        )
    yield blocks.text(
        N_(
            "The numbered ones show the span: the best in each, the all-rounder, and those "
            "farthest from them."
        )
    )
    for number, at in enumerate(told.listed, start=1):
        method = method_words(told.asked.methods[at])
        title = N_("%(number)s. %(method)s", number=number, method=method)
        yield blocks.folded(title, [blocks.facts(list(_facts(told, at)))])
    yield blocks.strong(
        N_(
            "Each of these keeps the limits in 95 of 100 draws of a model; that does not make it "
            "safe. The figures are those of the tables that are named; your local code may ask for "
            "more, and holds."
        )
    )


def _facts(told: MethodsAnswer, at: int) -> Iterator[tuple[Words, Words]]:
    for goal in told.goals:
        label, kind = GOAL_WORDS[goal]
        yield label, interval_words(_interval(told, GOALS[goal].name, at), kind)
    for name, (label, kind) in SAFETY_WORDS.items():
        yield label, interval_words(_interval(told, name, at), kind)
    chance = chance_words(float(told.front.chance_on_front[at]))
    yield N_("Beaten by none in"), N_("%(chance)s of draws", chance=chance)


def _interval(told: MethodsAnswer, name: str, at: int) -> DrawInterval:
    return DrawInterval.of(told.found.value(name)[at])


def _next_trial(told: MethodsAnswer) -> Iterator[Block]:
    base = method_words(told.asked.base)
    yield blocks.text(N_("Each knob turned alone, from: %(base)s.", base=base))
    for measure in told.measures:
        yield blocks.heading(MEASURE_TITLES[measure.kind])
        yield from _ranking(told, measure)
    yield blocks.small(
        N_(
            "Times chance: the size of the difference over what two pieces cooked alike show once "
            "in twenty. Settled means a verdict for one of the two, or that the difference is too "
            "small to matter. ✓: the first number of pairs with a chance of %(aim)s.",
            aim=Share(AIM, 0),
        )
    )


def _ranking(told: MethodsAnswer, measure: Measure) -> Iterator[Block]:
    kind = str(measure.kind)
    best = ranked(told.worth, kind)
    if not best:
        yield blocks.text(N_("No knob has a range in which it makes a difference."))
    else:
        first = best[0].seen[kind]
        yield blocks.text(
            N_(
                "Two pieces cooked alike differ by more than %(alike)s once in twenty; a "
                "difference of %(worth)s would matter.",
                alike=size_words(first.by_chance, _size(measure)),
                worth=size_words(measure.worthwhile, _size(measure)),
            )
        )
        yield blocks.items(
            [
                N_(
                    "%(number)s. %(what)s: %(change)s; %(ratio)s times chance",
                    number=number,
                    what=contrast_words(one.contrast),
                    change=_change(one, measure),
                    ratio=Number(one.seen[kind].ratio),
                )
                for number, one in enumerate(best, start=1)
            ]
        )
        yield _chances(told, best, kind)
    yield from (blocks.small(line) for line in _not_ranked(told, best))


def _not_ranked(told: MethodsAnswer, best: Sequence[ContrastWorth]) -> Iterator[Message]:
    for one in told.worth:
        if not one.kept:
            yield N_(
                "Not ranked: %(what)s, as one of the two does not surely keep the limits.",
                what=contrast_words(one.contrast),
            )
    nothing = [contrast_words(one.contrast) for one in told.worth if one.kept and one not in best]
    if nothing:
        yield N_("Makes no difference here: %(what)s.", what=Listed(nothing))


def _chances(told: MethodsAnswer, best: Sequence[ContrastWorth], kind: str) -> Block:
    """Return the chance that so many pairs settle each contrast, and what they cost."""
    counts = range(1, len(best[0].seen[kind].chances) + 1)
    columns = [Column(N_("Chance that so many pairs settle it"), width=5)]
    columns += [Column(str(count), "right", 1) for count in counts]
    rows: list[list[Words]] = []
    for number, one in enumerate(best, start=1):
        seen = one.seen[kind]
        what = contrast_words(one.contrast)
        rows.append(
            [
                N_("%(number)s. %(what)s", number=number, what=what),
                *(
                    N_("✓ %(chance)s", chance=chance_words(chance))
                    if seen.enough == count
                    else chance_words(chance)
                    for count, chance in zip(counts, seen.chances, strict=True)
                ),
            ]
        )
    costs = best[0].seen[kind].costs
    if any(cost is not None for cost in costs):
        label = N_("What so many pairs cost")
        if told.currency:
            label = N_("What so many pairs cost, %(currency)s", currency=told.currency)
        shown = ["–" if cost is None else alone(str(round(cost))) for cost in costs]
        rows.append([label, *shown])
    return blocks.table(columns, rows)


def _change(one: ContrastWorth, measure: Measure) -> Words:
    by_draw = one.seen[str(measure.kind)].difference
    return change_words(difference(by_draw, np.zeros_like(by_draw)), _size(measure))


def _size(measure: Measure) -> Literal["time", "share"]:
    return "time" if measure.kind in TIMES else "share"


def _hold_caution(told: MethodsAnswer) -> Message:
    return N_(
        "One kind of wrap in the hold (%(wrap)s) is in every method; the crust is that at the end "
        "of the hold, where a tight wrap has softened it.",
        wrap=wrap_words(told.asked.space.hold_wrap),
    )


def _basis(told: MethodsAnswer) -> Iterator[Message]:
    plan, allowed = told.asked.sweep, told.front.allowed
    yield N_(
        "Simulated, nothing was cooked: %(methods)s methods, %(draws)s draws of what nobody knows, "
        "the same for every method (seed %(seed)s), %(whole)s of them on the whole piece. In "
        "brackets: where %(level)s of the draws lie.",
        methods=len(told.asked.methods),
        draws=plan.members,
        seed=str(plan.seed),
        whole=plan.whole,
        level=Share(LEVEL, 0),
    )
    for limit in told.limits:
        broken = int(np.sum(limit.kept[: len(allowed)] < KEPT_IN))
        if broken:
            yield NN_(
                "%(count)s method is not offered, as it does not surely keep: %(rule)s (%(source)s)"
                ".",
                "%(count)s methods are not offered, as they do not surely keep: %(rule)s "
                "(%(source)s).",
                broken,
                rule=limit.rule,
                source=limit.source,
            )


def all_methods_section(told: MethodsAnswer) -> Section:
    """Return every method that keeps the limits: those listed first, then the front, the others."""
    front = told.front
    offered = [at for at, may in enumerate(front.allowed) if may]
    rest = sorted(set(offered) - set(told.listed), key=lambda at: (not front.front[at], at))
    columns = [
        Column(words)
        for words in (
            N_("Method"),
            N_("Pit"),
            N_("Wrap"),
            N_("Water pan"),
            N_("Off at"),
            N_("Held"),
            *(GOAL_WORDS[goal][0] for goal in told.goals),
            N_("Beaten by none in"),
        )
    ]
    rows: list[list[Words]] = []
    for number, at in enumerate((*told.listed, *rest), start=1):
        chance = chance_words(float(front.chance_on_front[at]))
        if front.ruled_out[at]:
            chance = N_("%(chance)s (surely beaten by another)", chance=chance)
        goals = [
            interval_words(_interval(told, GOALS[goal].name, at), GOAL_WORDS[goal][1])
            for goal in told.goals
        ]
        rows.append([str(number), *settings_row(told.asked.methods[at]), *goals, chance])
    lead = N_(
        "Nothing here says that a method is safe: your local code and your food authority's tables "
        "hold."
    )
    title = N_("All methods that keep the limits")
    return Section(
        title, [blocks.strong(STANDING), blocks.strong(lead), blocks.table(columns, rows)]
    )


def worth_trying_json(told: MethodsAnswer) -> dict[str, Any]:
    """Return all of it as plain data: SI units, shares of the raw mass; larger tables by method."""
    plan = told.asked.sweep
    return {
        "form": FORM,
        "simulated": True,
        "title": str(told.asked.title),
        "draws": plan.members,
        "draws_on_whole_body": plan.whole,
        "seed": plan.seed,
        "level": LEVEL,
        "goals": [
            {"goal": g, "value": GOALS[g].name, "more": GOALS[g].more, "step": GOALS[g].step}
            for g in told.goals
        ],
        "limits": [
            {"key": x.key, "rule": str(x.rule), "source": str(x.source)} for x in told.limits
        ],
        "sure": told.front.sure,
        "methods": _methods_json(told),
        "listed": list(told.listed),
        "base": plain(told.asked.base),
        "knobs": [_contrast_json(one) for one in told.worth],
        "ranked": {
            str(m.kind): [told.worth.index(one) for one in ranked(told.worth, str(m.kind))]
            for m in told.measures
        },
        "not_known": not_known_json(),
        "cautions": sentences([STANDING, *CAUTIONS, _hold_caution(told)]),
    }


def _methods_json(told: MethodsAnswer) -> list[dict[str, Any]]:
    front = told.front
    values = {name: told.found.value(name) for name in VALUES}
    return [
        {
            "number": at,
            "method": plain(method),
            "values": {name: plain(DrawInterval.of(array[at])) for name, array in values.items()},
            "limits_kept": {limit.key: plain(limit.kept[at]) for limit in told.limits},
            "allowed": bool(front.allowed[at]),
            "on_front": bool(front.front[at]),
            "chance_on_front": plain(front.chance_on_front[at]),
            "chance_beaten": plain(front.chance_beaten[at]),
            "beaten_by": int(front.beaten_by[at]) if front.beaten_by[at] >= 0 else None,
            "ruled_out": bool(front.ruled_out[at]),
        }
        for at, method in enumerate(told.asked.methods)
    ]


def _contrast_json(one: ContrastWorth) -> dict[str, Any]:
    return {
        "knob": one.contrast.factor,
        "before": plain(one.contrast.before),
        "after": plain(one.contrast.after),
        "keeps_limits": one.kept,
        "differences": {n: plain(DrawInterval.of(array)) for n, array in one.differences.items()},
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
