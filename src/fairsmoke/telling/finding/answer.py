"""The answer: what was found, how sure that is, and what stands beside it on the first page."""

import math
from collections.abc import Iterator
from typing import Any

from fairsmoke.judging.blinding import blinding_of
from fairsmoke.judging.finding import Difference, Finding, MeasureFinding, VerdictFound
from fairsmoke.judging.rule import Lean, VerdictKind
from fairsmoke.messages.message import (
    N_,
    NN_,
    Listed,
    Message,
    Sentence,
    Words,
    alone,
    in_a_row,
    stretch,
)
from fairsmoke.quantity.values import Digits, Instant, Share
from fairsmoke.telling import blocks
from fairsmoke.telling.blinding_words import blinding_words, name_with_blinding
from fairsmoke.telling.blocks import Block
from fairsmoke.telling.chart_data import posterior_of
from fairsmoke.telling.finding.registration import untold_lines
from fairsmoke.telling.numbers import (
    deciding_lines,
    show_bound,
    show_difference,
    show_difference_interval,
    show_difference_words,
    show_size,
    show_value,
    show_with_interval,
)
from fairsmoke.telling.record_words import VERDICTS
from fairsmoke.telling.remark_words import caution_lines, source_lines
from fairsmoke.telling.sentences import comparison_name, one_pair_sentence
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.question import Better, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import Basis, yield_of

ROWS_ON_FRONT = 6
"""Rows of the chart of pieces that still fit on the first page."""

CURVE_ON_FRONT = 3
"""Differences of the main measure (of three arms) beside which the first one's curve still fits."""

OTHERS_ON_FRONT = 4

_DIGEST_SHOWN = 12

_WITHIN = {
    "pair": N_("arms drawn by chance within each pair"),
    "cook": N_("arms drawn by chance within each cook"),
    "whole piece": N_("arms drawn by chance within each whole piece"),
    "trial": N_("arms drawn by chance within the trial"),
}


def front_page(finding: Finding, charts: dict[str, Words]) -> dict[str, Any]:
    """Return the first page as data; ``charts`` maps the pictures that stand on it to their alt."""
    trial = finding.record.trial
    main = finding.main
    tags: list[Words] = [plan_words(finding)]
    if trial.invented:
        tags.insert(0, N_("Invented: no meat was cooked for this trial"))
    return {
        "kicker": N_("Barbecue trial: the finding"),
        "tags": tags,
        "invented": trial.invented,
        "title": trial.title,
        "question": trial.question,
        "answers": [_answer(finding, main, one) for one in against_first(finding)]
        or [_no_answer(main)],
        "blocks": [
            *_others(finding),
            *_notes(finding),
            *_pictures(finding, charts),
            *_beside(finding),
            _how_done(finding),
        ],
    }


def brief(finding: Finding) -> dict[str, Any]:
    """Return the finding as lists show it: each measure's differences, and what is left open."""
    registration = finding.record.registration
    return {
        "made": finding.made.isoformat(),
        "exploratory": finding.exploratory,
        "registration": registration.digest if registration else None,
        "measures": [
            {
                "name": name_with_blinding(finding.record, found.measure),
                "differences": [
                    {
                        "which": comparison_name(finding.record, one),
                        **_answer(finding, found, one),
                    }
                    for one in found.differences
                ],
                "notes": [] if found.differences else list(found.notes),
            }
            for found in finding.measures
        ],
        "problems": list(finding.ledger_problems),
        "open": [*waiting_lines(finding), *(Sentence(line) for line in finding.remarks)],
        "not_weighed": list(_not_weighed(finding)),
        "spots": [
            {"cook": s.cook, "spot": s.spot, "mean_c": s.mean_c, "hours": s.hours}
            for s in finding.conduct.spots
        ],
    }


def _not_weighed(finding: Finding) -> Iterator[dict[str, Any]]:
    """Yield what leaves a piece's yield open, so that a page can ask for an estimate of it."""
    told = set()
    for found in finding.measures:
        for row in found.responses.rows if finding.ledger is not None else ():
            if not row.bounded:
                continue
            piece = finding.record.piece(row.piece)
            assert finding.ledger is not None
            given = yield_of(finding.ledger, row.piece, found.measure.state, Basis.TRIMMED)
            for one in given.open_parts:
                if one.piece == row.piece and piece.cook and (one.piece, one.part) not in told:
                    told.add((one.piece, one.part))
                    yield {
                        "piece": piece.id,
                        "name": piece.name,
                        "cook": piece.cook,
                        "part": one.part.text,
                        "words": one.part.words,
                    }


def against_first(finding: Finding) -> list[Difference]:
    """Return the main measure's differences from the first arm, each an answer of its own."""
    first = finding.record.trial.arms[0].id
    return [one for one in finding.main.differences if one.base == first]


def _others(finding: Finding) -> list[Block]:
    """Return the other arms against each other, a line each."""
    main, shown = finding.main, against_first(finding)
    columns = [
        blocks.Column(N_("Against each other"), width=5),
        blocks.Column(N_("Difference (95 % interval)"), "right", 5),
        blocks.Column(N_("Verdict"), width=4),
    ]
    rows = [
        [
            comparison_name(finding.record, one),
            difference_words(main.measure, one),
            VERDICTS[one.verdict.word],
        ]
        for one in main.differences
        if one not in shown
    ]
    if len(main.differences) > CURVE_ON_FRONT:
        return [blocks.small(N_("The other arms against each other: see “Every measure”."))]
    return [blocks.table(columns, rows)] if rows else []


def difference_words(measure: Measure, one: Difference) -> Words:
    """Return a difference with its interval."""
    return show_with_interval(measure, one.believed.value, one.believed.low, one.believed.high)


def plan_words(finding: Finding) -> Words:
    """Say whether the plan was frozen before, and how it can be recognised."""
    registration = finding.record.registration
    if registration is None:
        return N_("Exploratory: no plan was registered before")
    if finding.exploratory:
        return N_("Exploratory: the plan was registered after the first result")
    digest = f"{registration.digest[:_DIGEST_SHOWN]}…"
    if not registration.amendments:
        return N_("Registered plan %(digest)s", digest=digest)
    return NN_(
        "Registered plan %(digest)s, %(count)s amendment",
        "Registered plan %(digest)s, %(count)s amendments",
        len(registration.amendments),
        digest=digest,
    )


def verdict_sentence(
    finding: Finding, found: MeasureFinding, one: Difference, verdict: VerdictFound | None = None
) -> Message:
    """Return a verdict, the difference's own if none is given, in words that are fixed.

    An unsettled one says how far it leans, and to what.
    """
    trial, verdict = finding.record.trial, verdict or one.verdict
    arm, base = trial.arm(one.arm).name, trial.arm(one.base).name
    sure = Digits(f"{100 * verdict.sure:g} %")
    match verdict.word:
        case VerdictKind.NO_DIFFERENCE:
            return N_(
                "No difference that matters between “%(arm)s” and “%(base)s” (at least %(sure)s "
                "sure).",
                arm=arm,
                base=base,
                sure=sure,
            )
        case VerdictKind.HIGHER:
            return N_(
                "“%(winner)s” is higher, by enough to matter (at least %(sure)s sure).",
                winner=verdict.winner,
                sure=sure,
            )
        case VerdictKind.BETTER:
            return N_(
                "“%(winner)s” is better, by enough to matter (at least %(sure)s sure).",
                winner=verdict.winner,
                sure=sure,
            )
    what: Words
    if verdict.leans_to == 1:
        what = N_("no difference that matters between “%(arm)s” and “%(base)s”", arm=arm, base=base)
    elif found.measure.better is Better.NEITHER:
        what = N_("“%(arm)s” higher by enough to matter", arm=(arm, "", base)[verdict.leans_to])
    else:
        what = N_("“%(arm)s” better by enough to matter", arm=(arm, "", base)[verdict.leans_to])
    chance = sure_percent(verdict.lean_chance, *verdict.lines)
    if verdict.waits:
        return N_(
            "Not settled while entries wait that hardly can be true; without them the likeliest is "
            "%(what)s.",
            what=what,
        )
    match verdict.lean:
        case Lean.OPEN:
            return N_(
                "Open: likeliest, and only to %(chance)s, is %(what)s. Not settled.",
                chance=chance,
                what=what,
            )
        case Lean.HINT:
            return N_("A hint of %(what)s (%(chance)s), not settled.", what=what, chance=chance)
        case _:
            return N_("Leaning to %(what)s (%(chance)s), not settled.", what=what, chance=chance)


def sure_percent(probability: float, *lines: float) -> Words:
    """Return a probability that is never rounded across one of the lines that decide.

    >>> str(sure_percent(0.9496, 0.95)), str(sure_percent(0.9504, 0.95))
    ('94 %', '95 %')
    """
    percent = round(100.0 * probability)
    if any(probability < line and percent >= 100.0 * line for line in lines):
        percent = math.floor(100.0 * probability)
    elif any(probability >= line and percent < 100.0 * line for line in lines):
        percent = math.ceil(100.0 * probability)
    elif probability > 0.995:
        return N_("over %(chance)s", chance=Digits("99 %"))
    return alone(Digits(f"{percent} %"))


def _answer(finding: Finding, found: MeasureFinding, one: Difference) -> dict[str, Any]:
    measure, trial, posterior = found.measure, finding.record.trial, one.believed
    ends = show_difference_interval(measure, posterior.low, posterior.high)
    about = N_(
        "%(measure)s: “%(arm)s” against “%(base)s”.",
        measure=name_with_blinding(finding.record, measure),
        arm=trial.arm(one.arm).name,
        base=trial.arm(one.base).name,
    )
    return {
        "verdict": VERDICTS[one.verdict.word],
        "sentence": verdict_sentence(finding, found, one),
        "number": show_difference_words(measure, posterior.value, posterior.low, posterior.high),
        "interval": N_("%(level)s interval %(ends)s", level=Share(posterior.level, 0), ends=ends),
        "about": in_a_row([about, _observed(measure, one)]),
        "chances": chance_lines(finding, found, one),
    }


def _observed(measure: Measure, found: Difference) -> Words:
    if found.observed is None:
        return ""
    seen = show_difference(measure, found.observed, found.believed.low, found.believed.high)
    return N_("Seen between partners on average: %(seen)s.", seen=seen)


def _no_answer(main: MeasureFinding) -> dict[str, Any]:
    return {
        "verdict": N_("No answer yet"),
        "sentence": N_("No answer yet for “%(measure)s”.", measure=main.measure.name),
        "number": "",
        "interval": "",
        "about": in_a_row(main.notes),
        "chances": [],
    }


def chance_lines(
    finding: Finding, found: MeasureFinding, one: Difference
) -> list[tuple[Words, Words]]:
    """Return each chance with its words: better by enough, no difference that matters, worse.

    Where neither way is better: higher, no difference that matters, lower.
    """
    measure, lines = found.measure, deciding_lines(finding.rule)
    below, within, above = posterior_of(measure, one, lines).zones
    outer = (below, above) if measure.better is Better.LOWER else (above, below)
    return [(zone.chance, zone.words) for zone in (outer[0], within, outer[1])]


def _pictures(finding: Finding, charts: dict[str, Words]) -> Iterator[Block]:
    main = finding.main
    for name, alt in charts.items():
        if name.startswith("posterior"):
            several = len(main.differences) > 1
            between = comparison_name(finding.record, main.differences[0]) if several else ""
            yield blocks.figure(name, posterior_caption(between), alt)
        else:
            yield blocks.figure(name, dots_caption(main.measure), alt)


def posterior_caption(between: Words = "") -> Words:
    """Explain the chart of a posterior, of the arms named where there are more than two."""
    if between:
        return N_(
            "What is believed of the difference (%(between)s) after the trial: the higher, the "
            "likelier. Dashed lines mark the difference that would change what is done; the bar is "
            "the interval.",
            between=between,
        )
    return N_(
        "What is believed of the difference after the trial: the higher, the likelier. Dashed "
        "lines mark the difference that would change what is done; the bar is the interval."
    )


def dots_caption(measure: Measure) -> Words:
    """Explain the chart of every piece's value."""
    if measure.kind is MeasureKind.SCORE:
        return N_("Every piece: the panel's mean. Partners stand on one row, joined by a line.")
    return N_(
        "Every piece. Partners stand on one row, joined by a line; a thick bar through a mark is "
        "the 95 % interval of measuring that piece, where it is wide enough to be seen."
    )


def _notes(finding: Finding) -> list[Block]:
    """Return what must be minded with the answer, and what one pair can and cannot tell."""
    main, record = finding.main, finding.record
    lines: list[Words] = [
        *waiting_lines(finding),
        *_blinding_lines(finding),
        *main.caveats,
        *caution_lines(main),
        *_settled_below_lines(finding),
        *_amended_lines(finding),
        *_untaught_lines(finding),
        *_one_pair_lines(finding),
    ]
    if finding.ledger_aside:
        names = Listed([record.piece(piece).name for piece in finding.ledger_aside])
        lines.append(
            N_(
                "Some weighings cannot all be true, so there is no yield of %(pieces)s; which ones "
                "they are stands under “Where the mass went”.",
                pieces=names,
            )
        )
    lines += untold_lines(finding)
    if finding.conduct.implausible:
        lines.append(N_("Some temperatures cannot be right: check the units, as the cautions say."))
    return [blocks.strong(line) for line in lines]


def waiting_lines(finding: Finding) -> list[Words]:
    """Say which entries wait to be settled, what waits for each, and how each is settled."""
    lines: list[Words] = []
    for one in finding.waiting:
        if not one.measures:
            lines.append(N_("To look at: %(entry)s", entry=Sentence(one.words)))
            continue
        lines.append(
            N_(
                "Waits: %(entry)s Confirm it, correct it or leave it out; until then it counts "
                "nowhere.",
                entry=Sentence(one.words),
            )
        )
    return lines


def _blinding_lines(finding: Finding) -> Iterator[Words]:
    """Say how blind the main measure was scored, where it is a score."""
    found = blinding_of(finding.record, finding.main.measure)
    if found.scores:
        yield blinding_words(found)


def _settled_below_lines(finding: Finding) -> list[Words]:
    """Say under which spread between pieces an unsettled answer would be settled.

    Of several comparisons each is named; those that the first page leaves to “Every measure” are
    left out.
    """
    main = finding.main
    every = len(main.differences) <= CURVE_ON_FRONT
    told = [
        (comparison_name(finding.record, one), show_size(main.measure, float(f"{spread:.3g}")))
        for one in (main.differences if every else against_first(finding))
        if (spread := one.verdict.settled_below) is not None
    ]
    if not told:
        return []
    if len(main.differences) == 1:
        return [
            N_(
                "It would be settled only if pieces treated alike differed by less than %(spread)s "
                "(one standard deviation).",
                spread=told[0][1],
            )
        ]
    each = [N_("%(spread)s for %(comparison)s", spread=s, comparison=name) for name, s in told]
    return [
        N_(
            "What is open would be settled only if pieces treated alike differed by less than "
            "(one standard deviation) %(each)s.",
            each=Listed(each, between="; "),
        )
    ]


def _amended_lines(finding: Finding) -> Iterator[Words]:
    """Say the verdicts by the question as it was changed after the first result."""
    for one in finding.main.differences:
        if one.as_amended is not None:
            yield N_(
                "Exploratory, by the question as it was changed after the first result: "
                "%(verdict)s",
                verdict=verdict_sentence(finding, finding.main, one, one.as_amended),
            )


def _untaught_lines(finding: Finding) -> Iterator[Words]:
    """Say where the spread is from when earlier trials taught it, and the answer without them."""
    found = finding.main
    if any(one.without_past is not None for one in found.differences):
        yield from source_lines(found)
    for one in found.differences:
        if one.without_past is not None:
            own, verdict = one.without_past
            yield N_(
                "Without this notebook's past: %(difference)s. %(verdict)s",
                difference=show_with_interval(found.measure, own.value, own.low, own.high),
                verdict=verdict_sentence(finding, found, one, verdict),
            )


def _one_pair_lines(finding: Finding) -> Iterator[Words]:
    """Say what one pair can tell of each difference that rests on one, alike ones together."""
    measure, found = finding.main.measure, finding.main.differences
    lines: dict[str, tuple[Words, list[Words]]] = {}
    for one in found:
        if one.one_pair is not None:
            sentence = one_pair_sentence(measure, one.one_pair)
            names = lines.setdefault(str(sentence), (sentence, []))[1]
            names.append(comparison_name(finding.record, one))
    for said, names in lines.values():
        several = len(found) > 1
        yield in_a_row([Listed(names, between="; "), said], ": ") if several else said


def _beside(finding: Finding) -> list[Block]:
    """Return the other measures, a line each, where there are few enough for the page."""
    others = finding.measures[1:]
    if not others or not has_others_on_front(finding):
        return []
    columns = [
        blocks.Column(N_("Beside it"), width=4),
        blocks.Column(N_("Difference (95 % interval)"), "right", 5),
        blocks.Column(N_("Verdict"), width=5),
    ]
    rows: list[list[Words]] = []
    for found in others:
        name = name_with_blinding(finding.record, found.measure)
        if not found.differences:
            rows.append([name, "–", N_("no answer")])
            continue
        one = found.differences[0]
        shown = difference_words(found.measure, one)
        rows.append([name, shown, VERDICTS[one.verdict.word]])
    return [blocks.table(columns, rows)]


def has_others_on_front(finding: Finding) -> bool:
    """Tell whether the other measures stand on the first page, a line each."""
    return len(finding.record.trial.arms) == 2 and len(finding.measures) - 1 <= OTHERS_ON_FRONT


def _how_done(finding: Finding) -> Block:
    record = finding.record
    pieces, cooks = len(record.units), len({piece.cook for piece in record.units})
    drawn = record.trial.draw
    how = _WITHIN[drawn.within] if drawn.how == "drawn" else N_("arms chosen by hand, not drawn")
    in_cooks = NN_(
        "%(pieces)s in %(count)s cook",
        "%(pieces)s in %(count)s cooks",
        cooks,
        pieces=NN_("%(count)s piece", "%(count)s pieces", pieces),
    )
    lines: list[Words] = [
        Sentence(in_a_row([in_a_row([in_cooks, _when(record)], ", "), how], "; "))
    ]
    if record.cooks:
        zone = time_zone(record.cooks[0].time_zone)
        lines.append(N_("Worked out %(day)s.", day=Instant(finding.made, "date", zone)))
    lines.append(
        N_("How it was run, every number and what was left out stand on the pages behind.")
    )
    return blocks.small(in_a_row(lines))


def _when(record: TrialRecord) -> Words:
    if not record.cooks:
        return ""
    ordered = sorted(record.cooks, key=lambda cook: cook.starts)
    days = [Instant(cook.starts, "date", time_zone(cook.time_zone)) for cook in ordered]
    first, last = days[0], days[-1]
    if len(days) == 1:
        return alone(first)
    return stretch(first, last)


def levels_alt(main: MeasureFinding, record: TrialRecord) -> Words:
    """Return the words that stand for the chart of every piece's value."""
    names = {arm.id: arm.name for arm in record.trial.arms}
    values = [
        Message(
            "%(piece)s (%(arm)s) %(value)s",
            {
                "piece": piece.name,
                "arm": names.get(piece.arm or "", ""),
                "value": show_bound(main.measure, row.at_least, row.at_most)
                or show_value(main.measure, row.value),
            },
        )
        for piece, row in zip(record.units, main.responses.rows, strict=True)
    ]
    return N_(
        "%(measure)s of every piece: %(values)s.",
        measure=main.measure.name,
        values=Listed(values, between="; "),
    )


def posterior_alt(finding: Finding, found: MeasureFinding, one: Difference) -> Words:
    """Return the words that stand for the chart of a posterior."""
    lines = deciding_lines(finding.rule)
    drawn = posterior_of(found.measure, one, lines)
    zones = [in_a_row([zone.words, zone.chance], ": ") for zone in drawn.zones]
    return N_(
        "Curve of what is believed of the difference in %(measure)s, %(between)s: %(shown)s. "
        "%(zones)s",
        measure=found.measure.name,
        between=comparison_name(finding.record, one),
        shown=drawn.text,
        zones=Listed(zones, between="; "),
    )
