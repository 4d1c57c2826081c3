"""How many pairs it takes, as text for a terminal and as JSON."""

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from fairsmoke.planning.panels.sizes import PanelSize
from fairsmoke.planning.panels.tasters import trade
from fairsmoke.planning.size.how_many import AIM, ANSWER_SHARE, Given, HowMany, Row
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.telling.as_json import plain, size_of
from fairsmoke.telling.lines import wrapped
from fairsmoke.telling.numbers import show_chance, show_p, show_size
from fairsmoke.telling.sentences import one_pair_sentence
from fairsmoke.trial.question import TIMES, Better

FORM = 1
"""Raised when a key of the JSON changes its meaning or goes away."""

_TASTERS = (1, 2, 4, 8, 16, 32)
_PAIRS = (1, 2, 3, 4, 6, 8, 12)

_indented = partial(wrapped, indent="  ")


def how_many_text(found: Sequence[HowMany]) -> str:
    """Return the tables of all measures in plain words, lines of about ``lines.WIDTH`` letters."""
    lines: list[str] = []
    for one in found:
        lines += [*_measure(one), ""]
    lines += ["READ IT SO", *_how_to_read(found)]
    return "\n".join(lines)


def _measure(one: HowMany) -> Iterator[str]:
    measure = one.measure
    yield f"HOW MANY {unit_of(one, 2).upper()} ({measure.name})"
    yield from _indented(
        f"Worthwhile difference: {show_size(measure, measure.worthwhile)}. {answer(one)}"
    )
    yield ""
    yield from _table(_main_head(one), [_main_row(one, row) for row in one.rows])
    yield ""
    yield from _indented("Chance of a settled verdict, were the true difference:")
    head = [unit_of(one, 2), *(shown_truth(one, given) for given in one.rows[0].given)]
    yield from _table(head, [_given_row(row) for row in one.rows])
    if any(given.power is not None for row in one.rows for given in row.given):
        yield ""
        level = 100 * (1 - one.means.sure)
        yield from _indented(
            f"Beside it the power of a paired t test at {level:.2g} % against no difference at "
            "all, which asks for less than a verdict does:"
        )
        yield from _table(head, [_power_row(row) for row in one.rows])
    if one.one_pair is not None:
        yield ""
        said = one_pair_sentence(measure, one.one_pair).removeprefix("This is one pair. ")
        yield from _indented(f"One pair alone: {said[0].lower()}{said[1:]}")
    yield from _indented(_smallest_p(one))
    yield from _tasters(one)
    yield ""
    yield from _believed(one)


def unit_of(one: HowMany, count: int) -> str:
    """Return what a repeat is called: "pair", "pairs", or "sets" with more than two pieces."""
    word = "pair" if one.means.block.pieces == 2 else "set"
    return word if count == 1 else f"{word}s"


def answer(one: HowMany) -> str:
    """Say in a sentence or two how many it takes, or why none of the table does."""
    last = one.rows[-1]
    first, worth = f"{show_chance(AIM)}", show_size(one.measure, one.measure.worthwhile)
    if one.enough is not None:
        count = f"{one.enough} {unit_of(one, one.enough)}"
        return f"A settled verdict has a chance of {first} or more from {count} on."
    return (
        f"Not even {last.blocks} {unit_of(one, last.blocks)} reach a chance of {first} of a "
        f"settled verdict; {show_chance(last.chances.settled)} is what they give. True "
        f"differences near {worth} are the hard ones: whichever side of it they lie on takes "
        "many pieces to tell."
    )


def shown_truth(one: HowMany, given: Given) -> str:
    """Return a true difference as a column's head: "none" or its size."""
    return "none" if given.difference == 0 else show_size(one.measure, abs(given.difference))


def _smallest_p(one: HowMany) -> str:
    """Say from how many on re-randomisation can find anything at the usual level."""
    able = next((row for row in one.rows if row.smallest_p <= 0.05), None)
    if able is None:
        return (
            f"Re-randomising the draw cannot give a two-sided p of 0.05 or less with any of these "
            f"numbers; {show_p(one.rows[-1].smallest_p)} is the smallest."
        )
    return (
        f"Re-randomising the draw can give a two-sided p of 0.05 or less from {able.blocks} "
        f"{unit_of(one, able.blocks)} on ({show_p(able.smallest_p)} at best)."
    )


def _main_head(one: HowMany) -> list[str]:
    better = "one higher" if one.measure.better is Better.NEITHER else "one better"
    head = [unit_of(one, 2), "pieces", "cooks", better, "no diff.", "open", "wrong", "±"]
    if one.rows[0].cost is not None:
        head.append("cost")
    return head


def _main_row(one: HowMany, row: Row) -> list[str]:
    half = show_size(one.measure, _two_digits(row.width / 2))
    cells = [
        str(row.blocks),
        str(row.pieces),
        str(row.cooks),
        _percent(row.chances.one_is_better),
        _percent(row.chances.no_difference),
        _percent(row.chances.not_settled),
        _percent(row.misled),
        half,
    ]
    if row.cost is not None:
        cells.append(show_cost(row.cost, one.means.prices.currency))
    return cells


def show_cost(cost: float, currency: str) -> str:
    """Return a sum without cents, "1,160 €"."""
    return f"{cost:,.0f} {currency}".strip()


def _given_row(row: Row) -> list[str]:
    return [str(row.blocks), *(_percent(given.chances.settled) for given in row.given)]


def _power_row(row: Row) -> list[str]:
    powers = ("–" if given.power is None else _percent(given.power) for given in row.given)
    return [str(row.blocks), *powers]


def _percent(chance: float) -> str:
    """Write a chance to the per cent, which is what the number of trials can bear."""
    if chance < 0.005:
        return "< 1 %"
    return "> 99 %" if chance > 0.995 else f"{100 * chance:.0f} %"


def _two_digits(size: float) -> float:
    return float(f"{size:.2g}")


def _tasters(one: HowMany) -> Iterator[str]:
    if one.spreads is None:
        return
    repeats = one.means.panel.repeats if one.means.panel is not None else 1
    pairs = [n for n in _PAIRS if n <= one.means.most]
    rows = trade(one.spreads, pairs, _TASTERS, repeats)
    cells = {(row.pairs, row.tasters): row for row in rows}
    yield ""
    yield from _indented(
        "Tasters against pieces: standard error of the mean difference, points. Tasters cannot "
        "stand in for pieces: down a column it goes on falling, along a row it stops."
    )
    head = ["pairs", *(f"{t} taster{'' if t == 1 else 's'}" for t in _TASTERS)]
    yield from _table(
        head,
        [[str(n), *(f"{cells[n, t].standard_error:.2g}" for t in _TASTERS)] for n in pairs],
    )
    s = one.spreads
    yield from _indented(
        f"From spreads (one sd) of {s.piece:.2g} between pieces, {s.answer:.2g} of one answer"
        + (f", {s.taster_by_method:.2g} of tasters' own effects" if s.taster_by_method else "")
        + (
            f"; that of an answer is a guess, {100 * ANSWER_SHARE:.0f} % of the scale"
            if one.means.panel is None or one.means.panel.answer_sd is None
            else ""
        )
        + "."
    )


def _believed(one: HowMany) -> Iterator[str]:
    yield "  What judging believes beforehand:"
    # The first line is the general level, which a plan does not depend on.
    for line in one.priors.described()[1:]:
        yield from wrapped(line, "    ")
    trials = sorted({learnt.trial for learnt in one.means.learnt})
    if trials:
        yield from _indented(
            f"The trials behind the chances use this notebook's own spreads, from "
            f"{', '.join(trials)}: from piece to piece about "
            f"{one.believed.shown.spread(one.believed.piece.quantile(0.5))}."
        )


def _how_to_read(found: Sequence[HowMany]) -> Iterator[str]:
    one = found[0]
    half = "half of the expected interval"
    texts = [
        f"Chances are over what is believed beforehand, from {one.trials:,} drawn trials, each "
        f"judged by the very rule of the verdict (sure: {100 * one.means.sure:g} %); they are good "
        "to about 1 %. “wrong” is the chance of a settled verdict that is not true. "
        f"± is {half} ({100 * one.level:.0f} %)."
    ]
    if one.means.prices.unpriced and one.rows[0].cost is not None:
        names = {"piece": "pieces", "cook": "cooks", "sitting": "tasters"}
        without = " and ".join(names[name] for name in one.means.prices.unpriced)
        texts.append(f"The cost counts nothing for {without}: no price was given.")
    if any(other.measure.kind in TIMES for other in found):
        texts.append(
            "Times are compared as ratios; minutes are those of a cook of about the usual time."
        )
    for text in texts:
        yield from _indented(text)


def panel_text(
    test: TasteTest, share: float, size: PanelSize, *, alike: bool, alpha: float, beta: float
) -> str:
    """Return the size of a panel in plain words."""
    claim = "likeness up to" if alike else "a difference from"
    false, miss = (beta, alpha) if alike else (alpha, beta)
    wrong = "wrongly finding them alike" if alike else "wrongly finding a difference"
    lines = [
        f"PANEL ({test.value})",
        *_indented(
            f"{size.answers} answers, one of each taster: claim {claim} {size.bound} correct ones. "
            f"Risk of {wrong} {100 * size.false_claim:.2g} % (asked: {100 * false:g} %); the right "
            f"claim has a chance of {100 * size.power:.3g} % (asked: {100 * (1 - miss):g} %) when "
            + (
                "nobody can tell the samples apart."
                if alike
                else f"{100 * share:g} % of the tasters can tell the samples apart."
            )
        ),
    ]
    if size.always > size.answers:
        lines += _indented(
            f"As counts are whole numbers some larger panels do a little worse; from {size.always} "
            "on every panel keeps both."
        )
    lines += _indented(
        "Exact binomial, as in the tables of ISO 4120, ISO 10399 and ISO 5495. It tells the pieces "
        "tasted apart, not the methods: that takes several pieces of each."
    )
    return "\n".join(lines)


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
        "repeated": unit_of(one, 1),
        "aim": AIM,
        "enough": one.enough,
        "interval_level": one.level,
        "currency": means.prices.currency or None,
        "unpriced": list(means.prices.unpriced),
        "rows": [plain(row) for row in one.rows],
        "one_pair": plain(one.one_pair) if one.one_pair is not None else None,
        "score_spreads": plain(one.spreads) if one.spreads is not None else None,
        "believed_before": one.priors.described(),
        "own_spreads_from": sorted({learnt.trial for learnt in means.learnt}),
        "trials": one.trials,
    }


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield lines with every column right-aligned under its head."""
    widths = [max(len(row[k]) for row in (head, *rows)) for k in range(len(head))]
    for row in (head, *rows):
        yield "  " + "  ".join(c.rjust(w) for c, w in zip(row, widths, strict=True)).rstrip()
