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
from fairsmoke.telling.sentences import one_pair_sentence
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.question import Better, Measure
from fairsmoke.trial.record import TrialRecord

ROWS_ON_FRONT = 6
"""Rows of the chart of pieces that still fit on the first page."""

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
        "answers": [_answer(finding, main, one) for one in main.differences] or [_no_answer(main)],
        "blocks": [
            *_notes(main),
            *_pictures(main, charts),
            *_beside(finding),
            _how_done(finding),
        ],
    }


def plan_words(finding: Finding) -> str:
    """Say whether the plan was frozen before, and how it can be recognised."""
    registration = finding.record.registration
    if finding.exploratory or registration is None:
        return "Exploratory: no plan was registered before"
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


def _pictures(main: MeasureFinding, charts: dict[str, str]) -> list[Block]:
    found: list[Block] = []
    for name, alt in charts.items():
        caption = {"believed": believed_caption(), "dots": dots_caption()}[name.split("-")[0]]
        found.append(blocks.figure(name, caption, alt))
    return found


def believed_caption() -> str:
    """Explain the chart of what is believed."""
    return (
        "What is believed of the difference after the trial: the higher the curve, the likelier. "
        "Dashed lines mark the difference that would change what is done; the bar is the interval."
    )


def dots_caption() -> str:
    """Explain the chart of every piece's value."""
    return (
        "Every piece. Partners stand on one row, joined by a line; a thick bar through a mark is "
        "the 95 % interval of measuring that piece, where it is wide enough to be seen."
    )


def _notes(main: MeasureFinding) -> list[Block]:
    """Return what one pair can and cannot tell, where the answer rests on no more."""
    lines = [
        one_pair_sentence(main.measure, found.one_pair)
        for found in main.differences
        if found.one_pair is not None
    ]
    return [blocks.strong(line) for line in dict.fromkeys(lines)]


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
        mean = show_difference(
            found.measure, one.believed.value, one.believed.low, one.believed.high
        )
        ends = show_difference_interval(found.measure, one.believed.low, one.believed.high)
        rows.append([found.measure.name, f"{mean} ({ends})", str(one.verdict.word)])
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
        f"{_counted(pieces, 'piece')} in {_counted(cooks, 'cook')}{_when(record)}; {how}. "
        f"{made}How it was run, every number and what was left out stand on the pages behind."
    )


def _counted(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


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
