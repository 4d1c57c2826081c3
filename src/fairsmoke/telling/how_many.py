"""How many pairs it takes: one document for terminal, page and print, and the same as JSON.

The answer stands first, the number that was asked for singled out; the rest follows as details.
"""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from fairsmoke.judging.panel import ANSWER_SHARE
from fairsmoke.messages.message import N_, NN_, Listed, Message, Words
from fairsmoke.planning.panels.sizes import PanelSize
from fairsmoke.planning.panels.tasters import trade
from fairsmoke.planning.size.how_many import AIM, Given, HowMany, Row
from fairsmoke.quantity.values import Number, Share
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.telling.as_json import plain, size_of
from fairsmoke.telling.blocks import (
    Block,
    Column,
    Section,
    facts,
    heading,
    small,
    strong,
    table,
    text,
)
from fairsmoke.telling.numbers import decimals_beside, show_chance, show_p, show_size
from fairsmoke.telling.sentences import one_pair_sentence
from fairsmoke.trial.question import TIMES, Better

FORM = 1
"""Raised when a key of the JSON changes its meaning or goes away."""

_TASTERS = (1, 2, 4, 8, 16, 32)
_PAIRS = (1, 2, 3, 4, 6, 8, 12)
_USUAL_LEVEL = 0.05

_PRICED = {"piece": N_("pieces"), "cook": N_("cooks"), "sitting": N_("tasters")}
_SPREADS = {
    "piece": N_("from piece to piece"),
    "cook": N_("from cook to cook"),
    "position": N_("from place to place"),
    "animal": N_("from animal to animal"),
    "parent": N_("from whole piece to whole piece"),
}


class HowManyDocument(NamedTuple):
    """The answers, a section for every measure (alike ones together), and what they rest on."""

    answers: list[Section]
    details: list[Section]


class ChanceCurve(NamedTuple):
    """Chances of a settled verdict and of a wrong one for each number of repeats."""

    blocks: list[int]
    settled: list[float]
    wrong: list[float]


def how_many_document(found: Sequence[HowMany], asked: int | None = None) -> HowManyDocument:
    """Return the answers and their details; ``asked`` is the number of repeats to single out."""
    groups = alike(found)
    answers = [_answer_section(group, asked) for group in groups]
    details = [_detail_section(group) for group in groups]
    return HowManyDocument(answers, [*details, _how_to_read(found, asked)])


def alike(found: Sequence[HowMany]) -> list[list[HowMany]]:
    """Return the tables in groups whose measures differ in nothing but their names."""
    groups: list[list[HowMany]] = []
    for one in found:
        for group in groups:
            named = {"id": group[0].measure.id, "name": group[0].measure.name, "main": False}
            other = group[0].measure.model_copy(update={"main": False})
            if one.measure.model_copy(update=named) == other and one.rows == group[0].rows:
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def curve_of(one: HowMany) -> ChanceCurve:
    """Return the chances to be drawn for a table."""
    return ChanceCurve(
        [row.blocks for row in one.rows],
        [row.chances.settled for row in one.rows],
        [row.misled for row in one.rows],
    )


def _named(group: Sequence[HowMany]) -> Words:
    return Listed([one.measure.name for one in group], "and")


def _answer_section(group: Sequence[HowMany], asked: int | None) -> Section:
    one = group[0]
    title = N_("How many %(units)s: %(measures)s", units=units_of(one), measures=_named(group))
    worth = N_(
        "Worthwhile difference: %(size)s.", size=show_size(one.measure, one.measure.worthwhile)
    )
    section = Section(title, [strong(answer(one))])
    row = next((row for row in one.rows if row.blocks == asked), None)
    if row is not None:
        section.blocks.append(strong(_asked_for(one, row)))
    section.blocks += [text(worth), _main_table(one, asked)]
    return section


def units_of(one: HowMany) -> Message:
    """Return what repeats are called: pairs, or sets with more than two pieces."""
    if one.means.block.whole:
        return N_("cooks of each arm")
    return N_("pairs") if one.means.block.pieces == 2 else N_("sets")


def counted_units(one: HowMany, count: int) -> Message:
    """Return so many repeats: "1 pair", "6 sets"."""
    if one.means.block.whole:
        return NN_("%(count)s cook of each arm", "%(count)s cooks of each arm", count)
    if one.means.block.pieces == 2:
        return NN_("%(count)s pair", "%(count)s pairs", count)
    return NN_("%(count)s set", "%(count)s sets", count)


def answer(one: HowMany) -> Message:
    """Say in a sentence or two how many it takes, or why none of the table does."""
    if one.enough is not None:
        return N_(
            "A settled verdict has a chance of %(aim)s or more from %(units)s on.",
            aim=show_chance(AIM),
            units=counted_units(one, one.enough),
        )
    last = one.rows[-1]
    return N_(
        "Not even %(units)s reach a chance of %(aim)s of a settled verdict; %(chance)s is what "
        "they "
        "give. True differences near %(worth)s are the hard ones: whichever side of it they lie on "
        "takes many pieces to tell.",
        units=counted_units(one, last.blocks),
        aim=show_chance(AIM),
        chance=show_chance(last.chances.settled, lines=[AIM]),
        worth=show_size(one.measure, one.measure.worthwhile),
    )


def _asked_for(one: HowMany, row: Row) -> Message:
    """Say what the number of repeats that is planned or asked for can be expected to tell."""
    values = {
        "units": counted_units(one, row.blocks),
        "chance": _percent(row.chances.settled),
        "wrong": _percent(row.misled),
        "half": _half(one, row),
    }
    if row.cost is None:
        return N_(
            "With %(units)s, as asked: a settled verdict %(chance)s, a wrong one %(wrong)s, the "
            "difference known to ± %(half)s.",
            **values,
        )
    return N_(
        "With %(units)s, as asked: a settled verdict %(chance)s, a wrong one %(wrong)s, the "
        "difference known to ± %(half)s, for %(cost)s.",
        **values,
        cost=show_cost(row.cost, one.means.prices.currency),
    )


def _main_table(one: HowMany, asked: int | None) -> Block:
    better = N_("one higher") if one.measure.better is Better.NEITHER else N_("one better")
    heads = [units_of(one), N_("settled"), better, N_("no diff."), N_("wrong"), Message("±")]
    heads += [N_("pieces"), N_("cooks")]
    priced = one.rows[0].cost is not None
    rows = [_main_row(one, row, asked) for row in one.rows]
    return _numbers([*heads, *([N_("cost")] if priced else [])], rows)


def _main_row(one: HowMany, row: Row, asked: int | None) -> list[Words]:
    mark = "→ " if row.blocks == asked else "✓ " if row.blocks == one.enough else ""
    cells: list[Words] = [
        f"{mark}{row.blocks}",
        _percent(row.chances.settled),
        _percent(row.chances.one_is_better),
        _percent(row.chances.no_difference),
        _percent(row.misled),
        _half(one, row),
        str(row.pieces),
        str(row.cooks),
    ]
    if row.cost is not None:
        cells.append(show_cost(row.cost, one.means.prices.currency))
    return cells


def _half(one: HowMany, row: Row) -> Words:
    """Return half of the expected interval, of which only two digits mean anything."""
    return show_size(one.measure, float(f"{row.width / 2:.2g}"))


def show_cost(cost: float, currency: str) -> Message:
    """Return a sum without cents, "1,160 €"."""
    return Message("%(sum)s %(currency)s", {"sum": round(cost), "currency": currency})


def shown_truth(one: HowMany, given: Given) -> Words:
    """Return a true difference as a column's head: "none" or its size."""
    return N_("none") if given.difference == 0 else show_size(one.measure, abs(given.difference))


def _percent(chance: float) -> Message:
    """Write a chance to the per cent, which is what the number of trials can bear."""
    if chance < 0.005:
        return Message("< %(share)s", {"share": Share(0.01, 0)})
    if chance > 0.995:
        return Message("> %(share)s", {"share": Share(0.99, 0)})
    # A number just short of the aim is not written as if it had reached it.
    return Message("%(share)s", {"share": Share(chance, decimals_beside(chance, [AIM]))})


def _numbers(heads: Sequence[Words], rows: Sequence[Sequence[Words]]) -> Block:
    return table([Column(head, "right") for head in heads], rows)


def _detail_section(group: Sequence[HowMany]) -> Section:
    one = group[0]
    section = Section(N_("In detail: %(measures)s", measures=_named(group)))
    section.blocks += [*_given(one), *_one_pair(one), *_tasters(one), *_assumed(one)]
    return section


def _given(one: HowMany) -> Iterator[Block]:
    yield text(N_("Chance of a settled verdict, were the true difference:"))
    heads = [units_of(one), *(shown_truth(one, given) for given in one.rows[0].given)]
    yield _numbers(
        heads,
        [
            [str(row.blocks), *(_percent(given.chances.settled) for given in row.given)]
            for row in one.rows
        ],
    )
    if any(given.power is not None for row in one.rows for given in row.given):
        level = Share(1 - one.means.sure, 0)
        yield text(
            N_(
                "Beside it the power of a paired t test at %(level)s against no difference at all, "
                "which asks for less than a verdict does:",
                level=level,
            )
        )
        yield _numbers(heads, [_power_row(row) for row in one.rows])


def _power_row(row: Row) -> list[Words]:
    powers = ("–" if given.power is None else _percent(given.power) for given in row.given)
    return [str(row.blocks), *powers]


def _one_pair(one: HowMany) -> Iterator[Block]:
    if one.one_pair is not None:
        yield text(one_pair_sentence(one.measure, one.one_pair))
    able = next((row for row in one.rows if row.smallest_p <= _USUAL_LEVEL), None)
    if able is None:
        smallest = show_p(one.rows[-1].smallest_p)
        yield text(
            N_(
                "Re-randomising the draw cannot give a two-sided p of %(level)s or less with any "
                "of "
                "these numbers; %(smallest)s is the smallest.",
                level=Number(_USUAL_LEVEL, 2),
                smallest=smallest,
            )
        )
    else:
        yield text(
            N_(
                "Re-randomising the draw can give a two-sided p of %(level)s or less from "
                "%(units)s "
                "on (%(best)s at best).",
                level=Number(_USUAL_LEVEL, 2),
                units=counted_units(one, able.blocks),
                best=show_p(able.smallest_p),
            )
        )


def _tasters(one: HowMany) -> Iterator[Block]:
    if one.spreads is None:
        return
    panel = one.means.panel
    pairs = [n for n in _PAIRS if n <= one.means.most]
    rows = trade(one.spreads, pairs, _TASTERS, panel.repeats if panel is not None else 1)
    cells = {(row.pairs, row.tasters): row.standard_error for row in rows}
    yield text(
        N_(
            "Tasters against pieces: standard error of the mean difference, points. Tasters cannot "
            "stand in for pieces: down a column it goes on falling, along a row it stops."
        )
    )
    heads = [NN_("%(count)s taster", "%(count)s tasters", count) for count in _TASTERS]
    yield _numbers(
        [units_of(one), *heads],
        [[str(n), *(_two_digits(cells[n, t]) for t in _TASTERS)] for n in pairs],
    )
    spreads = one.spreads
    yield small(
        N_(
            "From spreads (one sd) of %(piece)s between pieces, %(answer)s of one answer and "
            "%(method)s of tasters' own effects.",
            piece=_two_digits(spreads.piece),
            answer=_two_digits(spreads.answer),
            method=_two_digits(spreads.taster_by_method),
        )
    )
    if panel is None or panel.answer_sd is None:
        share = Share(ANSWER_SHARE, 0)
        yield small(N_("That of an answer is a guess, %(share)s of the scale.", share=share))


def _two_digits(value: float) -> Message:
    written = f"{value:.2g}"
    return Message("%(value)s", {"value": Number(value, len(written.partition(".")[2]))})


def _assumed(one: HowMany) -> Iterator[Block]:
    """Yield what judging assumes beforehand; the reasons and sources stand in JSON and docs."""
    priors = one.priors
    yield heading(N_("What judging assumes beforehand"))
    pairs: list[tuple[Words, Words]] = [
        (
            N_("Difference between two arms"),
            N_(
                "none expected either way; 19 times in 20 it is below %(size)s",
                size=(priors.shown.spread(1.96 * priors.difference_sd)),
            ),
        )
    ]
    for name, prior in {"piece": priors.piece, **priors.groups}.items():
        label = N_("Spread %(between)s (one sd)", between=_SPREADS.get(name, name))
        size, low, high = (
            priors.shown.spread(prior.quantile(level)) for level in (0.5, 0.025, 0.975)
        )
        words = N_(
            "about %(size)s, very likely between %(low)s and %(high)s",
            size=size,
            low=low,
            high=high,
        )
        pairs.append((label, N_("known, %(size)s", size=size) if prior.known else words))
    yield facts(pairs)
    trials = sorted({learnt.trial for learnt in one.means.learnt})
    if trials:
        own = one.believed.shown.spread(one.believed.piece.quantile(0.5))
        yield text(
            N_(
                "The trials behind the chances use this notebook's own spreads, from %(trials)s: "
                "from piece to piece about %(size)s.",
                trials=Listed(trials, "and"),
                size=own,
            )
        )


def _how_to_read(found: Sequence[HowMany], asked: int | None) -> Section:
    one = found[0]
    section = Section(N_("Read it so"))
    section.blocks.append(
        text(
            N_(
                "Chances are over what is assumed beforehand, from %(trials)s drawn trials, each "
                "judged by the very rule of the verdict (sure: %(sure)s); they are good to about "
                "2 %%. “wrong” is the chance of a settled verdict that is not true. ± is half of "
                "the expected interval (%(level)s). ✓: the first number that reaches a chance of "
                "%(aim)s.",
                trials=one.trials,
                sure=Share(one.means.sure, 0 if round(100 * one.means.sure, 6) % 1 == 0 else 1),
                level=Share(one.level, 0),
                aim=show_chance(AIM),
            )
        )
    )
    if asked is not None:
        section.blocks.append(text(N_("→: the number that was asked for, or that is at hand.")))
    unpriced = one.means.prices.unpriced
    if unpriced and one.rows[0].cost is not None:
        without = Listed([_PRICED[name] for name in unpriced], "and")
        section.blocks.append(
            text(
                N_("The cost counts nothing for %(without)s: no price was given.", without=without)
            )
        )
    if any(other.measure.kind in TIMES for other in found):
        section.blocks.append(
            text(
                N_(
                    "Times are compared as ratios; minutes are those of a cook of about the usual "
                    "time."
                )
            )
        )
    return section


def panel_document(
    test: TasteTest, share: float, size: PanelSize, *, alike: bool, alpha: float, beta: float
) -> list[Section]:
    """Return the size of a panel in words."""
    false, miss = (beta, alpha) if alike else (alpha, beta)
    values = {
        "answers": size.answers,
        "bound": size.bound,
        "risk": _short_percent(size.false_claim),
        "asked": _short_percent(false),
        "power": _short_percent(size.power, 3),
        "wanted": _short_percent(1 - miss),
    }
    if alike:
        words = N_(
            "%(answers)s answers, one of each taster: claim likeness up to %(bound)s correct ones. "
            "Risk of wrongly finding them alike %(risk)s (asked: %(asked)s); the right claim has a "
            "chance of %(power)s (asked: %(wanted)s) when nobody can tell the samples apart.",
            **values,
        )
    else:
        words = N_(
            "%(answers)s answers, one of each taster: claim a difference from %(bound)s correct "
            "ones. Risk of wrongly finding a difference %(risk)s (asked: %(asked)s); the right "
            "claim has a chance of %(power)s (asked: %(wanted)s) when %(share)s of the tasters can "
            "tell the samples apart.",
            **values,
            share=_short_percent(share),
        )
    section = Section(N_("Panel: %(test)s", test=_TESTS[test]), [text(words)])
    if size.always > size.answers:
        section.blocks.append(
            text(
                N_(
                    "As counts are whole numbers some larger panels do a little worse; from "
                    "%(always)s on every panel keeps both.",
                    always=size.always,
                )
            )
        )
    section.blocks.append(
        text(
            N_(
                "Exact binomial, as in the tables of ISO 4120, ISO 10399 and ISO 5495. It tells "
                "the "
                "pieces tasted apart, not the methods: that takes several pieces of each."
            )
        )
    )
    return [section]


_TESTS = {
    TasteTest.TRIANGLE: N_("triangle"),
    TasteTest.TETRAD: N_("tetrad"),
    TasteTest.DUO_TRIO: N_("duo-trio"),
    TasteTest.PAIRED: N_("paired comparison"),
}


def _short_percent(share: float, digits: int = 2) -> Message:
    written = f"{100 * share:.{digits}g}"
    return Message("%(share)s", {"share": Share(share, len(written.partition(".")[2]))})


def panel_json(
    test: TasteTest, share: float, size: PanelSize, *, alike: bool, alpha: float, beta: float
) -> dict[str, Any]:
    """Return the size of a panel as plain data."""
    asked = {"test": test.value, "share": share, "alpha": alpha, "beta": beta, "likeness": alike}
    return {"form": FORM, "asked": asked, "panel": plain(size)}


def how_many_json(found: Sequence[HowMany]) -> dict[str, Any]:
    """Return the tables as dictionaries, lists, numbers, text and None; own sizes of measures."""
    return {"form": FORM, "measures": [_one_json(one) for one in found]}


def _one_json(one: HowMany) -> dict[str, Any]:
    means = one.means
    return {
        "id": one.measure.id,
        "name": one.measure.name,
        "size": size_of(one.measure),
        "worthwhile": one.measure.worthwhile,
        "sure": means.sure,
        "repeated": "cook" if means.block.whole else "pair" if means.block.pieces == 2 else "set",
        "aim": AIM,
        "enough": one.enough,
        "interval_level": one.level,
        "currency": means.prices.currency or None,
        "unpriced": list(means.prices.unpriced),
        "rows": [plain(row) for row in one.rows],
        "one_pair": plain(one.one_pair) if one.one_pair is not None else None,
        "score_spreads": plain(one.spreads) if one.spreads is not None else None,
        "believed_before": [str(line) for line in one.priors.described()],
        "own_spreads_from": sorted({learnt.trial for learnt in means.learnt}),
        "trials": one.trials,
    }
