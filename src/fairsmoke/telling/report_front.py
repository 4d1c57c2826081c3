"""The first page of the report: the answer, how sure it is, and what it rests on."""

from typing import Any

from fairsmoke.judging.finding import Difference, Finding, MeasureFinding
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block
from fairsmoke.telling.chart_data import believed_of
from fairsmoke.telling.numbers import (
    show_date,
    show_difference,
    show_difference_interval,
    show_difference_words,
    show_value,
)
from fairsmoke.telling.registered import untold_lines
from fairsmoke.telling.remark_words import amended_lines, caution_lines, settled_below_lines
from fairsmoke.telling.sentences import comparison_name, counted, one_pair_lines
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.question import Better, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord

ROWS_ON_FRONT = 6
"""Rows of the chart of pieces that still fit on the first page."""

CURVE_ON_FRONT = 3
"""Differences of the main measure (of three arms) beside which the first one's curve still fits."""

OTHERS_ON_FRONT = 4

_DIGEST_SHOWN = 12


def front_page(finding: Finding, charts: dict[str, str]) -> dict[str, Any]:
    """Return the first page as data; ``charts`` maps the pictures that stand on it to their alt."""
    trial = finding.record.trial
    main = finding.main
    tags = [plan_words(finding)]
    if trial.invented:
        tags.insert(0, "Invented: no meat was cooked for this trial")
    return {
        "kicker": "Barbecue trial: the finding",
        "tags": tags,
        "invented": trial.invented,
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


def against_first(finding: Finding) -> list[Difference]:
    """Return the main measure's differences from the first arm, each an answer of its own."""
    first = finding.record.trial.arms[0].id
    return [one for one in finding.main.differences if one.base == first]


def _others(finding: Finding) -> list[Block]:
    """Return the other arms against each other, a line each."""
    main, shown = finding.main, against_first(finding)
    columns = [
        blocks.Column("Against each other", width=5),
        blocks.Column("Difference (95 % interval)", "right", 5),
        blocks.Column("Verdict", width=4),
    ]
    rows = [
        [
            comparison_name(finding.record, one),
            _with_interval(main.measure, one),
            str(one.verdict.word),
        ]
        for one in main.differences
        if one not in shown
    ]
    if len(main.differences) > CURVE_ON_FRONT:
        return [blocks.small("The other arms against each other: see “Every measure”.")]
    return [blocks.table(columns, rows)] if rows else []


def _with_interval(measure: Measure, one: Difference) -> str:
    believed = one.believed
    mean = show_difference(measure, believed.value, believed.low, believed.high)
    return f"{mean} ({show_difference_interval(measure, believed.low, believed.high)})"


def plan_words(finding: Finding) -> str:
    """Say whether the plan was frozen before, and how it can be recognised."""
    registration = finding.record.registration
    if registration is None:
        return "Exploratory: no plan was registered before"
    if finding.exploratory:
        return "Exploratory: the plan was registered after the first result"
    amended = len(registration.amendments)
    changes = f", {amended} amendment{'s' * (amended > 1)}" if amended else ""
    return f"Registered plan {registration.digest[:_DIGEST_SHOWN]}…{changes}"


def _answer(finding: Finding, main: MeasureFinding, found: Difference) -> dict[str, Any]:
    measure, trial = main.measure, finding.record.trial
    arm, base = trial.arm(found.arm).name, trial.arm(found.base).name
    believed = found.believed
    words = show_difference_words(measure, believed.value, believed.low, believed.high)
    ends = show_difference_interval(measure, believed.low, believed.high)
    return {
        "verdict": found.verdict.sentence,
        "number": f"{words}; {believed.level:.0%} interval {ends}".replace("%", " %"),
        "about": f"{measure.name}: “{arm}” against “{base}”. {_observed(measure, found)}",
        "chances": chance_lines(measure, found),
    }


def _observed(measure: Measure, found: Difference) -> str:
    if found.observed is None:
        return ""
    seen = show_difference(measure, found.observed, found.believed.low, found.believed.high)
    return f"Seen between partners on average: {seen}."


def _no_answer(main: MeasureFinding) -> dict[str, Any]:
    return {
        "verdict": f"No answer yet for {main.measure.name.lower()}.",
        "number": "",
        "about": " ".join(main.notes),
        "chances": [],
    }


def chance_lines(measure: Measure, found: Difference) -> list[tuple[str, str]]:
    """Return each chance with its words: better by enough, no difference that matters, worse.

    Where neither way is better: higher, no difference that matters, lower.
    """
    below, within, above = believed_of(measure, found).zones
    outer = (below, above) if measure.better is Better.LOWER else (above, below)
    return [(zone.chance, zone.words) for zone in (outer[0], within, outer[1])]


def _pictures(finding: Finding, charts: dict[str, str]) -> list[Block]:
    main = finding.main
    several = len(main.differences) > 1
    name_of_first = comparison_name(finding.record, main.differences[0]) if several else ""
    found: list[Block] = []
    for name, alt in charts.items():
        if name.startswith("believed"):
            between = name_of_first if several else ""
            caption = believed_caption(between)
        else:
            caption = dots_caption(main.measure)
        found.append(blocks.figure(name, caption, alt))
    return found


def believed_caption(between: str = "") -> str:
    """Explain the chart of what is believed, of the arms named where there are more than two."""
    of = f" ({between})" if between else ""
    return (
        f"What is believed of the difference{of} after the trial: the higher, the likelier. "
        "Dashed lines mark the difference that would change what is done; the bar is the interval."
    )


def dots_caption(measure: Measure) -> str:
    """Explain the chart of every piece's value."""
    if measure.kind is MeasureKind.SCORE:
        return "Every piece: the panel's mean. Partners stand on one row, joined by a line."
    return (
        "Every piece. Partners stand on one row, joined by a line; a thick bar through a mark is "
        "the 95 % interval of measuring that piece, where it is wide enough to be seen."
    )


def _notes(finding: Finding) -> list[Block]:
    """Return what must be minded with the answer, and what one pair can and cannot tell."""
    main, record = finding.main, finding.record
    lines = [
        *main.caveats,
        *caution_lines(main),
        *settled_below_lines(main.measure, main.differences),
        *amended_lines(main.differences),
        *one_pair_lines(finding, main.measure, main.differences),
    ]
    if finding.ledger_aside:
        names = ", ".join(record.piece(piece).name for piece in finding.ledger_aside)
        lines.append(
            f"Some weighings cannot all be true, so there is no yield of {names}; which ones they "
            "are stands under “Where the mass went”."
        )
    lines += untold_lines(finding)
    if finding.conduct.implausible:
        lines.append("Some temperatures cannot be right: check the units, as the cautions say.")
    return [blocks.strong(line) for line in lines]


def _beside(finding: Finding) -> list[Block]:
    """Return the other measures, a line each, where there are few enough for the page."""
    others = [found for found in finding.measures if found is not finding.main]
    if not others or len(finding.record.trial.arms) > 2 or len(others) > OTHERS_ON_FRONT:
        return []
    columns = [
        blocks.Column("Beside it", width=4),
        blocks.Column("Difference (95 % interval)", "right", 5),
        blocks.Column("Verdict", width=5),
    ]
    rows = []
    for found in others:
        if not found.differences:
            rows.append([found.measure.name, "–", "no answer"])
            continue
        one = found.differences[0]
        rows.append([found.measure.name, _with_interval(found.measure, one), str(one.verdict.word)])
    return [blocks.table(columns, rows)]


def _how_done(finding: Finding) -> Block:
    record = finding.record
    pieces, cooks = len(record.units), len({piece.cook for piece in record.units})
    drawn = record.trial.draw
    how = (
        f"arms drawn by chance within each {drawn.within}"
        if drawn.how == "drawn"
        else "arms chosen by hand, not drawn"
    )
    zone = time_zone(record.cooks[0].time_zone) if record.cooks else None
    made = f"Worked out {show_date(finding.made, zone)}. " if zone else ""
    return blocks.small(
        f"{counted(pieces, 'piece')} in {counted(cooks, 'cook')}{_when(record)}; {how}. "
        f"{made}How it was run, every number and what was left out stand on the pages behind."
    )


def _when(record: TrialRecord) -> str:
    if not record.cooks:
        return ""
    ordered = sorted(record.cooks, key=lambda cook: cook.starts)
    dates = [show_date(cook.starts, time_zone(cook.time_zone)) for cook in ordered]
    return f", {dates[0]}" if len(dates) == 1 else f", {dates[0]} to {dates[-1]}"


def levels_alt(main: MeasureFinding, record: TrialRecord) -> str:
    """Return the words that stand for the chart of every piece's value."""
    names = {arm.id: arm.name for arm in record.trial.arms}
    values = [
        f"{piece.name} ({names.get(piece.arm or '', '')}) {show_value(main.measure, row.value)}"
        for piece, row in zip(record.units, main.responses.rows, strict=True)
    ]
    return f"{main.measure.name} of every piece: {'; '.join(values)}."
