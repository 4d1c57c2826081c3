"""The finding as text for a terminal: the answer first, then what it rests on."""

import textwrap
from collections.abc import Iterator, Sequence

from fairsmoke.judging.finding import (
    ClassicalResult,
    Difference,
    Finding,
    LeftOut,
    MeasureFinding,
)
from fairsmoke.quantity import METRIC, Units, show_duration, show_temperature
from fairsmoke.telling.numbers import (
    show_chance,
    show_difference,
    show_difference_interval,
    show_level,
    show_p,
    show_plus_minus,
    show_ratio,
    show_size,
)
from fairsmoke.telling.sentences import one_pair_sentence
from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord

WIDTH = 78


def finding_text(finding: Finding, units: Units = METRIC) -> str:
    """Return the whole finding in plain words and tables, lines of about ``WIDTH`` letters."""
    record = finding.record
    lines = [
        *_heading(finding),
        "",
        *_answer(finding.main, record),
        "",
        *_pieces(finding.main, record),
    ]
    for found in finding.measures[1:]:
        lines += ["", *_other(found, record)]
    lines += ["", *_conduct(finding, units)]
    if finding.ledger is not None and finding.ledger.disagreements:
        lines += ["", "WEIGHINGS THAT DISAGREE"]
        for one in finding.ledger.disagreements:
            lines += _wrapped(one.text(units), "  ")
    if finding.left_out:
        lines += ["", *_left_out(finding.left_out)]
    lines += ["", *_cautions()]
    return "\n".join(lines)


def _heading(finding: Finding) -> Iterator[str]:
    trial = finding.record.trial
    yield trial.title + (" (an invented demonstration)" if trial.invented else "")
    yield from _wrapped(trial.question)
    registration = finding.record.registration
    if registration is None:
        yield from _wrapped(
            "Exploratory: the plan was not registered before the first reading, so the finding "
            "may have been shaped by what was seen."
        )
    else:
        yield f"Registered {registration.at:%Y-%m-%d}, plan {registration.digest[:12]}…"


def _answer(found: MeasureFinding, record: TrialRecord) -> Iterator[str]:
    yield f"ANSWER ({found.measure.name})"
    for note in () if found.differences else found.notes:
        yield from _wrapped(note, "  ")
    for difference in found.differences:
        yield from _difference(found, difference, record)
    if found.differences:
        for note in found.notes:
            yield from _wrapped(f"Note: {note}", "  ")


def _difference(
    found: MeasureFinding, difference: Difference, record: TrialRecord
) -> Iterator[str]:
    measure, believed = found.measure, difference.believed
    arm, base = record.trial.arm(difference.arm).name, record.trial.arm(difference.base).name
    yield from _wrapped(difference.verdict.sentence, "  ")
    middle = show_difference(measure, believed.value, believed.low, believed.high)
    interval = show_difference_interval(measure, believed.low, believed.high)
    yield f"  {arm} less {base}: {middle} (95 % interval {interval})"
    if difference.ratio is not None:
        ratio = difference.ratio
        yield f"  as a ratio: {show_ratio(ratio.value, ratio.low, ratio.high)}"
    for label, chance in difference.verdict.chances.items():
        yield f"  {show_chance(chance):>16}  {label}"
    yield from _sensitivity(measure, difference)
    yield "  Beside it:"
    for classical in difference.classical:
        yield from _wrapped(_classical(measure, classical), "    ")
    if difference.one_pair is not None:
        yield from _wrapped(one_pair_sentence(measure, difference.one_pair), "  ")
    for note in difference.notes:
        yield from _wrapped(note, "  ")


def _sensitivity(measure: Measure, difference: Difference) -> Iterator[str]:
    yield "  If pieces treated alike differ by half, as much, or double what was thought:"
    for row in difference.sensitivity:
        d = row.difference
        middle = show_difference(measure, d.value, d.low, d.high)
        interval = show_difference_interval(measure, d.low, d.high)
        chance = show_chance(row.better_by_enough)
        yield f"    × {row.times:<4g} {middle} ({interval}), better by enough: {chance}"


def _classical(measure: Measure, found: ClassicalResult) -> str:
    parts = []
    if found.difference is not None:
        d = found.difference
        interval = show_difference_interval(measure, d.low, d.high)
        parts.append(f"{show_difference(measure, d.value, d.low, d.high)} ({interval})")
    if found.p is not None:
        parts.append(show_p(found.p))
    head = f"{found.name}: {', '.join(parts)}. " if parts else f"{found.name}: "
    return head + found.sentence


def _pieces(found: MeasureFinding, record: TrialRecord) -> Iterator[str]:
    yield f"PIECES ({found.measure.name}; ± standard uncertainty of measuring)"
    rows = []
    for piece, row in zip(record.units, found.responses.rows, strict=True):
        value = show_plus_minus(found.measure, row.value, row.uncertainty)
        arm = record.trial.arm(piece.arm or "").name
        spot = piece.spot.text if piece.spot else "not known"
        note = row.note if row.value is None else ""
        rows.append((piece.name, arm, piece.cook or "", spot, value, note))
    yield from _columns(("piece", "arm", "cook", "position", "value", ""), rows)


def _other(found: MeasureFinding, record: TrialRecord) -> Iterator[str]:
    yield f"{found.measure.name.upper()}"
    for arm, level in found.arm_levels:
        shown = show_level(found.measure, level.value, level.low, level.high)
        yield f"  {record.trial.arm(arm).name}: {shown}"
    for note in () if found.differences else found.notes:
        yield from _wrapped(note, "  ")
    for difference in found.differences:
        believed = difference.believed
        middle = show_difference(found.measure, believed.value, believed.low, believed.high)
        interval = show_difference_interval(found.measure, believed.low, believed.high)
        arm, base = record.trial.arm(difference.arm).name, record.trial.arm(difference.base).name
        yield from _wrapped(difference.verdict.sentence, "  ")
        yield f"  {arm} less {base}: {middle} (95 % interval {interval})"
        yield f"  a difference matters from {show_size(found.measure, found.measure.worthwhile)}"


def _conduct(finding: Finding, units: Units) -> Iterator[str]:
    yield "HOW IT WAS RUN"
    names = {piece.id: piece.name for piece in finding.record.pieces}
    spots = [
        (
            spot.cook,
            spot.spot,
            f"{show_temperature(spot.mean_c, units)} on average",
            f"{show_temperature(spot.low_c, units)} to {show_temperature(spot.high_c, units)}",
            f"{spot.hours:.1f} h read",
        )
        for spot in finding.conduct.spots
    ]
    yield from _columns(("cook", "position", "air", "from, to", ""), spots)
    pieces = [
        (
            names[one.piece],
            "not known" if one.cook_s is None else show_duration(60 * round(one.cook_s / 60)),
            "not read"
            if one.core_at_pull_c is None
            else show_temperature(one.core_at_pull_c, units),
            _come_up(one.come_up_s, one.come_up_starts_late),
        )
        for one in finding.conduct.pieces
    ]
    yield ""
    yield from _columns(
        ("piece", "on the cooker", "core when pulled", "from 10 to 54.4 °C"), pieces
    )


def _come_up(seconds: float | None, late: bool) -> str:
    if seconds is None:
        return "not read"
    return ("at least " if late else "") + show_duration(60 * round(seconds / 60))


def _left_out(rows: Sequence[LeftOut]) -> Iterator[str]:
    yield "LEFT OUT (kept in the record)"
    for row in rows:
        of = f" of {row.of:,}" if row.of is not None else ""
        yield from _wrapped(f"{row.count:,}{of} {row.what}: {row.why}", "  ")


def _cautions() -> Iterator[str]:
    yield "CAUTIONS"
    yield from _wrapped(
        "This says what the record shows and never that food is safe. Cook, hold and cool by your "
        "local code and your food authority's tables; a better score or yield is no reason to go "
        "below them. The report has the rest.",
        "  ",
    )


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False
    ) or [indent]


def _columns(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield a table with columns as wide as they need to be."""
    widths = [
        max(len(headers[i]), *(len(row[i]) for row in rows)) if rows else len(headers[i])
        for i in range(len(headers))
    ]
    for row in (headers, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield ("  " + "  ".join(cells)).rstrip()
