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
from fairsmoke.telling.lines import wrapped
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
from fairsmoke.telling.remark_words import (
    amended_lines,
    caution_lines,
    settled_below_lines,
    source_lines,
)
from fairsmoke.telling.report_run import spot_name
from fairsmoke.telling.sentences import (
    come_up_ends,
    comparison_name,
    cooling_text,
    doubt_lines,
    one_pair_lines,
    unsure_of,
)
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord

_NAME_WIDTH = 22


def finding_text(finding: Finding, units: Units = METRIC) -> str:
    """Return the whole finding in plain words and tables, in lines as ``lines.wrapped`` breaks."""
    record = finding.record
    lines = [
        *_heading(finding),
        "",
        *_answer(finding, units),
        "",
        *_pieces(finding.main, record),
    ]
    for found in finding.measures[1:]:
        lines += ["", *_other(found, record)]
    lines += _run(finding, units)
    lines += _weighings(finding, units)
    if finding.left_out:
        lines += ["", *_left_out(finding.left_out)]
    lines += ["", *_cautions()]
    return "\n".join(lines)


def _heading(finding: Finding) -> Iterator[str]:
    trial = finding.record.trial
    yield trial.title + (" (an invented demonstration)" if trial.invented else "")
    yield from wrapped(trial.question)
    registration = finding.record.registration
    if registration is None:
        yield from wrapped(
            "Exploratory: the plan was not registered before the first reading, so the finding "
            "may have been shaped by what was seen."
        )
    else:
        yield f"Registered {registration.at:%Y-%m-%d}, plan {registration.digest[:12]}…"
        for change in registration.amendments:
            said = f"Amended {change.at:%Y-%m-%d}: {change.what} Why: {change.why}"
            yield from wrapped(said, "  ")
        for one in finding.deviations:
            as_amended = ", as amended" if one.told else ""
            yield from wrapped(f"Not as registered{as_amended}: {one.sentence}", "  ")


def _answer(finding: Finding, units: Units) -> Iterator[str]:
    """Yield the verdicts, what must be minded with them, and then what each rests on."""
    found, record = finding.main, finding.record
    yield f"ANSWER ({found.measure.name})"
    for note in () if found.differences else found.notes:
        yield from wrapped(note, "  ")
    for difference in found.differences:
        yield from _verdict(found.measure, difference, record)
    for caveat in found.caveats:
        yield from wrapped(f"But: {caveat}", "  ")
    for line in caution_lines(found):
        yield from wrapped(f"But: {line}", "  ")
    for line in (
        *settled_below_lines(found.measure, found.differences),
        *amended_lines(found.differences),
        *one_pair_lines(finding, found.measure, found.differences),
    ):
        yield from wrapped(line, "  ")
    if finding.ledger_problem:
        yield from wrapped("But: some weighings cannot all be true; they stand below.", "  ")
    for line in doubt_lines(finding, units)[:1]:
        yield from wrapped(f"But: some temperatures cannot be right. {line}", "  ")
    for difference in found.differences:
        if len(found.differences) > 1:
            yield f"  {comparison_name(record, difference)}, what it rests on:"
        yield from _behind(found.measure, difference)
    if found.differences:
        for note in (*source_lines(found), *found.notes):
            yield from wrapped(f"Note: {note}", "  ")


def _verdict(measure: Measure, difference: Difference, record: TrialRecord) -> Iterator[str]:
    yield from _less(measure, difference, record)
    if difference.ratio is not None:
        ratio = difference.ratio
        yield f"  as a ratio: {show_ratio(ratio.value, ratio.low, ratio.high)}"
    for label, chance in difference.verdict.chances.items():
        yield f"  {show_chance(chance):>16}  {label}"


def _less(measure: Measure, difference: Difference, record: TrialRecord) -> Iterator[str]:
    believed = difference.believed
    arm, base = record.trial.arm(difference.arm).name, record.trial.arm(difference.base).name
    yield from wrapped(difference.verdict.sentence, "  ")
    middle = show_difference(measure, believed.value, believed.low, believed.high)
    interval = show_difference_interval(measure, believed.low, believed.high)
    yield f"  {arm} less {base}: {middle} (95 % interval {interval})"


def _behind(measure: Measure, difference: Difference) -> Iterator[str]:
    yield from _sensitivity(measure, difference)
    yield "  Beside it:"
    for classical in difference.classical:
        yield from wrapped(_classical(measure, classical), "    ")
    for note in difference.notes:
        yield from wrapped(note, "  ")


def _sensitivity(measure: Measure, difference: Difference) -> Iterator[str]:
    yield "  If pieces treated alike differ by half, as much, or double what was thought:"
    for row in difference.sensitivity:
        d = row.difference
        middle = show_difference(measure, d.value, d.low, d.high)
        interval = show_difference_interval(measure, d.low, d.high)
        chance = show_chance(row.better_by_enough)
        yield f"    × {row.times:<4g} {middle} ({interval}), better by enough: {chance}"
    if difference.sceptical is not None:
        d = difference.sceptical.difference
        middle = show_difference(measure, d.value, d.low, d.high)
        interval = show_difference_interval(measure, d.low, d.high)
        chance = show_chance(difference.sceptical.better_by_enough)
        yield "  To one who believes in small differences only:"
        yield f"           {middle} ({interval}), better by enough: {chance}"


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
    yield f"PIECES ({found.measure.name})"
    rows = []
    cooks = {cook.id: cook.name for cook in record.cooks}
    for piece, row in zip(record.units, found.responses.rows, strict=True):
        value = show_plus_minus(found.measure, row.value, row.uncertainty)
        arm = record.trial.arm(piece.arm or "").name
        spot = spot_name(record, piece.spot.text) if piece.spot else "not known"
        cook = cooks.get(piece.cook or "", "")
        rows.append((_short(piece.name), _short(arm), _short(cook), _short(spot), value))
    yield from _columns(("piece", "arm", "cook", "position", "value"), rows)
    if any(row.uncertainty for row in found.responses.rows):
        yield from wrapped(f"± is the {unsure_of(found.measure)}.", "  ")
    said: dict[str, list[str]] = {}
    for piece, row in zip(record.units, found.responses.rows, strict=True):
        said.setdefault(row.caution or (row.note if row.value is None else ""), []).append(
            piece.name
        )
    for words, names in said.items():
        if words:
            yield from wrapped(f"{', '.join(names)}: {words}", "  ")


def _short(name: str) -> str:
    """Return a name that leaves room for the other columns."""
    return textwrap.shorten(name.strip("“”"), _NAME_WIDTH, placeholder="…")


def _other(found: MeasureFinding, record: TrialRecord) -> Iterator[str]:
    yield f"{found.measure.name.upper()}"
    for arm, level in found.arm_levels:
        shown = show_level(found.measure, level.value, level.low, level.high)
        yield f"  {record.trial.arm(arm).name}: {shown}"
    for note in () if found.differences else found.notes:
        yield from wrapped(note, "  ")
    for difference in found.differences:
        yield from _less(found.measure, difference, record)
        for note in difference.notes:
            yield from wrapped(note, "  ")
    if found.differences:
        yield f"  a difference matters from {show_size(found.measure, found.measure.worthwhile)}"
    for caveat in found.caveats:
        if found.measure.kind is MeasureKind.YIELD and "not weighed" in caveat:
            yield from wrapped(f"But: {caveat}", "  ")


def _run(finding: Finding, units: Units) -> list[str]:
    """Return how the cooks went, nothing at all where nothing was recorded of it."""
    told = [*_spots(finding, units), *_ways(finding, units)]
    doubts = [line for one in doubt_lines(finding, units) for line in wrapped(one, "  ")]
    return ["", "HOW IT WAS RUN", *doubts, *told] if doubts or told else []


def _spots(finding: Finding, units: Units) -> list[str]:
    record = finding.record
    cooks = {cook.id: cook.name for cook in record.cooks}
    spots = [
        (
            _short(cooks[spot.cook]),
            _short(spot_name(record, spot.spot)),
            f"{show_temperature(spot.mean_c, units)} on average",
            f"{show_temperature(spot.low_c, units)} to {show_temperature(spot.high_c, units)}",
            f"{spot.hours:.1f} h read",
        )
        for spot in finding.conduct.spots
    ]
    return list(_columns(("cook", "position", "air", "from, to", ""), spots))


def _ways(finding: Finding, units: Units) -> list[str]:
    """Return each piece's way through the cook, and how its core cooled where that was read."""
    names = {piece.id: piece.name for piece in finding.record.pieces}
    known = [
        one
        for one in finding.conduct.pieces
        if any(x is not None for x in (one.cook_s, one.core_highest_c, one.hold_s))
    ]
    pieces = [
        (
            names[one.piece],
            "not known" if one.cook_s is None else show_duration(60 * round(one.cook_s / 60)),
            "not read"
            if one.core_at_pull_c is None
            else show_temperature(one.core_at_pull_c, units),
            _come_up(one.come_up_s, one.come_up_starts_late),
            "not known" if one.hold_s is None else show_duration(60 * round(one.hold_s / 60)),
            "not read" if one.hold_lowest_c is None else show_temperature(one.hold_lowest_c, units),
        )
        for one in known
    ]
    heads = ("piece", "cooked", "core at pull", come_up_ends(units), "held", "lowest")
    lines = list(_columns(heads, pieces))
    for one in known:
        if one.cooling is not None:
            said = f"{names[one.piece]} cooled from {cooling_text(one.cooling, units)}."
            lines += wrapped(said, "  ")
    return ["", *lines] if lines else []


def _weighings(finding: Finding, units: Units) -> list[str]:
    """Return what is wrong with weighings, or was left open by them."""
    lines: list[str] = []
    if finding.ledger_problem:
        names = [finding.record.piece(one).name for one in finding.ledger_aside]
        lines += ["", "WEIGHINGS THAT CANNOT ALL BE TRUE"]
        for problem in finding.ledger_problem.splitlines():
            lines += wrapped(problem, "  ")
        if names:
            lines += wrapped(f"Until that is mended there is no yield of {', '.join(names)}.", "  ")
    if finding.ledger is not None and finding.ledger.disagreements:
        lines += ["", "WEIGHINGS THAT DISAGREE"]
        for one in finding.ledger.disagreements:
            lines += wrapped(one.text(units), "  ")
    if finding.remarks:
        lines += ["", "NOT WEIGHED"]
        for remark in finding.remarks:
            lines += wrapped(f"{remark[0].upper()}{remark[1:]}.", "  ")
    return lines


def _come_up(seconds: float | None, late: bool) -> str:
    if seconds is None:
        return "not read"
    return ("at least " if late else "") + show_duration(60 * round(seconds / 60))


def _left_out(rows: Sequence[LeftOut]) -> Iterator[str]:
    yield "LEFT OUT (kept in the record)"
    for row in rows:
        of = f" of {row.of:,}" if row.of is not None else ""
        yield from wrapped(f"{row.count:,}{of} {row.what}: {row.why}", "  ")


def _cautions() -> Iterator[str]:
    yield "CAUTIONS"
    yield from wrapped(
        "This says what the record shows and never that food is safe. Cook, hold and cool by your "
        "local code and your food authority's tables; a better score or yield is no reason to go "
        "below them. The report has the rest.",
        "  ",
    )


def _columns(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield a table with columns as wide as they need to be; nothing where it has no rows."""
    if not rows:
        return
    widths = [max(len(headers[i]), *(len(row[i]) for row in rows)) for i in range(len(headers))]
    for row in (headers, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield ("  " + "  ".join(cells)).rstrip()
