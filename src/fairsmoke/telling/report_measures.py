"""The pages that tell what was found, measure by measure, and what was left out."""

from collections.abc import Iterator

from fairsmoke.judging.finding import Difference, Finding, MeasureFinding
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.numbers import (
    show_chance,
    show_clock,
    show_difference,
    show_difference_interval,
    show_level,
    show_moment,
    show_p,
    show_plus_minus,
    show_ratio,
    show_size,
    show_spread,
)
from fairsmoke.telling.report_front import believed_caption, chance_lines, dots_caption
from fairsmoke.telling.sentences import comparison_name, counted, one_pair_sentence, unsure_of
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.source import STREAM

_BAD_ROWS_SHOWN = 20


def overview_section(finding: Finding, picture: str | None) -> Section:
    """Return every measure's differences on one page; ``picture`` names the chart of them."""
    section = Section("Every measure", fresh=True)
    if picture is not None:
        alt = "Interval of each difference in units of the difference that would matter."
        section.blocks.append(blocks.figure(picture, _STRIPES_CAPTION, alt))
    columns = [
        Column("Measure", width=4),
        Column("Which", width=4),
        Column("Difference (95 % interval)", "right", 5),
        Column("Better", "right", 2),
        Column("No matter", "right", 2),
        Column("Worse", "right", 2),
        Column("Verdict", width=5),
    ]
    rows = []
    for found in finding.measures:
        for one in found.differences:
            chances = [_short(chance) for chance, _ in chance_lines(found.measure, one)]
            which = comparison_name(finding.record, one)
            name = found.measure.name + (" (main)" if found is finding.main else "")
            rows.append([name, which, _difference(found, one), *chances, str(one.verdict.word)])
        if not found.differences:
            rows.append([found.measure.name, "–", "no answer", "–", "–", "–", "–"])
    section.blocks.append(blocks.table(columns, rows))
    if len(finding.measures) > 1:
        section.blocks.append(blocks.small(_MANY))
    return section


_STRIPES_CAPTION = (
    "Every difference in units of the smallest difference that would change what is done, better "
    "to the right. Inside the grey band a difference does not matter; the bar is the 95 % interval."
)
_MANY = (
    "The verdict of the trial is about the main measure. The others stand beside it: the more "
    "measures are looked at, the likelier one of them looks like something by chance alone."
)


def _short(chance: str) -> str:
    return chance.replace("less than", "<").replace("more than", ">")


def _difference(found: MeasureFinding, one: Difference) -> str:
    believed = one.believed
    mean = show_difference(found.measure, believed.value, believed.low, believed.high)
    return f"{mean} ({show_difference_interval(found.measure, believed.low, believed.high)})"


def measure_sections(finding: Finding, pictures: dict[str, dict[str, str]]) -> list[Section]:
    """Return a section for each measure; ``pictures`` its charts by measure, name to alt text."""
    return [
        _measure_section(finding, found, pictures.get(found.measure.id, {}))
        for found in finding.measures
    ]


def _measure_section(finding: Finding, found: MeasureFinding, pictures: dict[str, str]) -> Section:
    measure = found.measure
    section = Section(measure.name + (" (main measure)" if found is finding.main else ""))
    section.blocks.append(
        blocks.facts(
            [
                ("Better", str(measure.better)),
                ("Worthwhile difference", show_size(measure, measure.worthwhile)),
            ]
        )
    )
    section.blocks += _pictures(finding, found, pictures)
    section.blocks.append(_values(finding, found))
    section.blocks += [blocks.strong(caveat) for caveat in found.caveats]
    section.blocks += [blocks.text(note) for note in found.notes]
    if found.arm_levels:
        section.blocks.append(_levels(finding, found))
    for one in found.differences:
        section.blocks += _one_difference(finding, found, one)
    if found.spreads:
        section.blocks += [blocks.heading("How far they differ (one sd)"), _spreads(found)]
    return section


def _pictures(finding: Finding, found: MeasureFinding, pictures: dict[str, str]) -> Iterator[Block]:
    several = len(found.differences) > 1
    for name, alt in pictures.items():
        if not name.startswith("believed"):
            yield blocks.figure(name, dots_caption(found.measure), alt)
            continue
        one = found.differences[int(name.rsplit("-", 1)[1])]
        between = comparison_name(finding.record, one) if several else ""
        yield blocks.figure(name, believed_caption(between), alt)


def _values(finding: Finding, found: MeasureFinding) -> Block:
    record = finding.record
    arms = {arm.id: arm.name for arm in record.trial.arms}
    columns = [
        Column("Piece", width=3),
        Column("Arm", width=4),
        Column("Value", "right", 3),
        Column("How it was come by", width=5),
    ]
    rows = [
        [
            piece.name,
            arms.get(piece.arm or "", "–"),
            show_plus_minus(found.measure, row.value, row.uncertainty),
            "; ".join(part for part in (_how(row.note, row.caution), row.caution) if part),
        ]
        for piece, row in zip(record.units, found.responses.rows, strict=True)
    ]
    if any(row.uncertainty for row in found.responses.rows):
        columns[2] = Column(f"Value ± {unsure_of(found.measure)}", "right", 3)
    return blocks.table(columns, rows)


def _how(note: str, caution: str) -> str:
    """Return how a value was come by, unless the caution says so too."""
    return "" if caution.startswith(note) else note


def _levels(finding: Finding, found: MeasureFinding) -> Block:
    trial = finding.record.trial
    return blocks.facts(
        [
            (trial.arm(arm).name, show_level(found.measure, level.value, level.low, level.high))
            for arm, level in found.arm_levels
        ]
    )


def _one_difference(finding: Finding, found: MeasureFinding, one: Difference) -> Iterator[Block]:
    measure = found.measure
    yield blocks.heading(comparison_name(finding.record, one))
    yield blocks.strong(one.verdict.sentence)
    ratio = one.ratio
    chances = "; ".join(f"{words} ({chance})" for chance, words in chance_lines(measure, one))
    yield blocks.facts(
        [
            ("Believed", _difference(found, one)),
            ("As a ratio", show_ratio(ratio.value, ratio.low, ratio.high) if ratio else ""),
            ("Chances", chances),
            (
                "Unsure because of",
                ", ".join(
                    f"{_factor(name)} {100 * share:.0f} %"
                    for name, share in one.shares
                    if share > 0.005
                ),
            ),
        ]
    )
    if one.one_pair is not None:
        yield blocks.text(one_pair_sentence(measure, one.one_pair))
    if one.notes:
        yield blocks.items(one.notes)
    yield _sensitivity(found, one)
    if one.classical:
        yield _classical(found, one)


def _sensitivity(found: MeasureFinding, one: Difference) -> Block:
    columns = [
        Column("Had the spread between pieces been thought", width=5),
        Column("Difference (95 % interval)", "right", 5),
        Column("Better by enough", "right", 3),
        Column("Worse by enough", "right", 3),
    ]
    rows = []
    for row in one.sensitivity:
        believed = row.difference
        mean = show_difference(found.measure, believed.value, believed.low, believed.high)
        ends = show_difference_interval(found.measure, believed.low, believed.high)
        name = {0.5: "half as large", 1.0: "as it was", 2.0: "twice as large"}.get(
            row.times, f"{row.times:g} times as large"
        )
        chances = (row.better_by_enough, row.worse_by_enough)
        rows.append([name, f"{mean} ({ends})", *(show_chance(chance) for chance in chances)])
    return blocks.table(columns, rows)


def _classical(found: MeasureFinding, one: Difference) -> Block:
    columns = [
        Column("Classical counterpart", width=3),
        Column("Difference (95 % interval)", "right", 4),
        Column("p, two-sided", "right", 2),
        Column("What it says", width=7),
    ]
    rows = []
    for result in one.classical:
        shown = "–"
        if result.difference is not None:
            d = result.difference
            mean = show_difference(found.measure, d.value, d.low, d.high)
            shown = f"{mean} ({show_difference_interval(found.measure, d.low, d.high)})"
        p = show_p(result.p) if result.p is not None else "–"
        rows.append([result.name, shown, p, result.sentence])
    return blocks.table(columns, rows)


def _spreads(found: MeasureFinding) -> Block:
    columns = [
        Column("From one to another", width=3),
        Column("Thought before (95 %)", "right", 5),
        Column("Believed now (95 %)", "right", 5),
    ]
    rows = []
    for spread in found.spreads:
        texts = [
            show_spread(found.measure, one.value, one.low, one.high)
            for one in (spread.before, spread.now)
        ]
        rows.append([_factor(spread.name), *texts])
    return blocks.table(columns, rows)


def _factor(name: str) -> str:
    """Return a factor of the model as people say it."""
    return {"parent": "whole piece", "position": "place in the cooker"}.get(name, name)


def left_out_section(finding: Finding) -> Section:
    """Return what was recorded but not used, how much of it, and why; and the logger files."""
    section = Section("What was left out, and why")
    if finding.left_out:
        columns = [
            Column("What", width=6),
            Column("How many", "right", 2),
            Column("Why", width=7),
        ]
        rows = [
            [one.what, f"{one.count:,} of {one.of:,}" if one.of else f"{one.count:,}", one.why]
            for one in finding.left_out
        ]
        section.blocks.append(blocks.table(columns, rows))
    else:
        section.blocks.append(blocks.text("Nothing that was recorded was left out."))
    lines = [_exclusion(finding.record, one) for one in finding.record.exclusions]
    if lines:
        section.blocks += [blocks.heading("Left out by a person"), blocks.items(lines)]
    section.blocks += _logger_files(finding.record)
    return section


def _exclusion(record: TrialRecord, one: Exclusion) -> str:
    cooks = {cook.id: cook for cook in record.cooks}
    if one.piece is not None:
        names = {piece.id: piece.name for piece in record.pieces}
        what = names.get(one.piece, one.piece)
        if one.measure is not None:
            measures = {measure.id: measure.name for measure in record.trial.measures}
            what += f", {measures.get(one.measure, one.measure)}"
    else:
        probes = {probe.id: probe.name for probe in record.probes}
        what = probes.get(one.probe or "", one.probe or "")
        cook = cooks.get(one.cook or "")
        if cook is not None and one.since is not None and one.until is not None:
            zone = time_zone(cook.time_zone)
            what += f" in {cook.name}, {show_moment(one.since, zone)} to "
            what += show_clock(one.until, zone)
    by = f" ({one.by})" if one.by else ""
    return f"{what}: {one.why}{by}"


def _logger_files(record: TrialRecord) -> Iterator[Block]:
    files = [source for source in record.sources if source.layout != STREAM]
    if not files:
        return
    columns = [
        Column("Logger file", width=5),
        Column("Rows", "right", 2),
        Column("Good", "right", 2),
        Column("Bad", "right", 1.5),
        Column("Blank", "right", 1.5),
        Column("New readings", "right", 2),
        Column("Repeated", "right", 2),
        Column("Conflicting", "right", 2),
    ]
    rows = [
        [
            source.file_name,
            *(
                f"{count:,}"
                for count in (
                    source.rows_read,
                    source.rows_good,
                    source.rows_bad,
                    source.rows_blank,
                    source.readings_new,
                    source.readings_repeated,
                    source.readings_conflicting,
                )
            ),
        ]
        for source in files
    ]
    yield blocks.heading("Logger files")
    yield blocks.table(columns, rows)
    lines = []
    for source in files:
        lines += [f"{source.file_name}, line {bad.line}: {bad.why}" for bad in source.bad_rows]
    if lines:
        more = len(lines) - _BAD_ROWS_SHOWN
        yield blocks.items(lines[:_BAD_ROWS_SHOWN])
        if more > 0:
            rows_more = counted(more, "more bad row")
            yield blocks.small(f"And {rows_more}; the exported folder lists them all.")
