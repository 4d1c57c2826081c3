"""What was found, measure by measure."""

from collections.abc import Iterator, Sequence

from fairsmoke.judging.blinding import blinding_of
from fairsmoke.judging.counterparts import ANYTIME, PAIRED, RANDOMISATION, REML
from fairsmoke.judging.finding import Difference, Finding, Interval, MeasureFinding
from fairsmoke.judging.rule import Analysis, sure_under
from fairsmoke.messages.message import N_, Listed, Message, Words, bracketed, in_a_row
from fairsmoke.quantity.values import Number
from fairsmoke.telling import blocks
from fairsmoke.telling.blinding_words import (
    blinding_words,
    knowing_words,
    name_with_blinding,
)
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.finding.answer import (
    chance_lines,
    difference_words,
    dots_caption,
    posterior_caption,
    verdict_sentence,
)
from fairsmoke.telling.numbers import (
    deciding_lines,
    half_of_95,
    show_bound,
    show_chance,
    show_level,
    show_p,
    show_plus_minus,
    show_ratio,
    show_size,
    show_spread,
    show_with_interval,
    with_unit,
)
from fairsmoke.telling.record_words import BETTER, FACTORS, VERDICTS
from fairsmoke.telling.remark_words import caution_lines, source_lines
from fairsmoke.telling.sentences import comparison_name, one_pair_sentence
from fairsmoke.trial.question import Measure, MeasureKind


def overview_section(finding: Finding, picture: str | None) -> Section:
    """Return every measure's differences on one page; ``picture`` names the chart of them."""
    section = Section(N_("Every measure"), fresh=True)
    if picture is not None:
        alt = N_("Interval of each difference in units of the difference that would matter.")
        section.blocks.append(blocks.figure(picture, _STRIPES_CAPTION, alt))
    columns = [
        Column(N_("Measure"), width=4),
        Column(N_("Which"), width=4),
        Column(N_("Difference (95 % interval)"), "right", 5),
        Column(N_("Better"), "right", 2),
        Column(N_("No matter"), "right", 2.4),
        Column(N_("Worse"), "right", 2),
        Column(N_("Verdict"), width=5),
    ]
    rows: list[list[Words]] = []
    lines = deciding_lines(finding.record.trial.verdict)
    for found in finding.measures:
        for one in found.differences:
            verdict = one.verdict
            shares = (verdict.better_by_enough, verdict.no_difference, verdict.worse_by_enough)
            name = name_with_blinding(finding.record, found.measure)
            if found is finding.main:
                name = N_("%(measure)s (main)", measure=name)
            which = comparison_name(finding.record, one)
            shown = difference_words(found.measure, one)
            chances = [show_chance(share, short=True, lines=lines) for share in shares]
            rows.append([name, which, shown, *chances, VERDICTS[verdict.word]])
        if not found.differences:
            rows.append(
                [
                    name_with_blinding(finding.record, found.measure),
                    "–",
                    N_("no answer"),
                    "–",
                    "–",
                    "–",
                    "–",
                ]
            )
    section.blocks.append(blocks.table(columns, rows))
    if len(finding.measures) > 1:
        section.blocks.append(blocks.small(_MANY))
    return section


_STRIPES_CAPTION = N_(
    "Every difference in units of the smallest difference that would change what is done, better "
    "to the right. Inside the grey band a difference does not matter; the bar is the 95 % interval."
)
_MANY = N_(
    "The verdict of the trial is about the main measure. The others stand beside it: the more "
    "measures are looked at, the likelier one of them looks like something by chance alone."
)


def measure_sections(finding: Finding, pictures: dict[str, dict[str, Words]]) -> list[Section]:
    """Return a section for each measure; ``pictures`` its charts by measure, name to alt text."""
    return [
        _measure_section(finding, found, pictures.get(found.measure.id, {}))
        for found in finding.measures
    ]


def _measure_section(
    finding: Finding, found: MeasureFinding, pictures: dict[str, Words]
) -> Section:
    measure = found.measure
    title = name_with_blinding(finding.record, measure)
    section = Section(
        N_("%(measure)s (main measure)", measure=title) if found is finding.main else title
    )
    section.blocks.append(
        blocks.facts(
            [
                (N_("Better"), BETTER[measure.better]),
                (N_("Worthwhile difference"), show_size(measure, measure.worthwhile)),
            ]
        )
    )
    section.blocks += _pictures(finding, found, pictures)
    section.blocks.append(_values(finding, found))
    blinding = blinding_of(finding.record, measure)
    if blinding.scores:
        section.blocks.append(blocks.strong(blinding_words(blinding)))
    cautions = [*found.caveats, *caution_lines(found)]
    section.blocks += [blocks.strong(caution) for caution in cautions]
    notes = [*source_lines(found), *found.notes]
    section.blocks += [blocks.text(note) for note in notes]
    if found.arm_levels:
        section.blocks.append(_levels(finding, found))
    for one in found.differences:
        section.blocks += _one_difference(finding, found, one)
    if found.spreads:
        section.blocks += [blocks.heading(N_("How far they differ (one sd)")), _spreads(found)]
    return section


def _pictures(
    finding: Finding, found: MeasureFinding, pictures: dict[str, Words]
) -> Iterator[Block]:
    several = len(found.differences) > 1
    for name, alt in pictures.items():
        if not name.startswith("posterior"):
            yield blocks.figure(name, dots_caption(found.measure), alt)
            continue
        one = found.differences[int(name.rsplit("-", 1)[1])]
        between = comparison_name(finding.record, one) if several else ""
        yield blocks.figure(name, posterior_caption(between), alt)


def _values(finding: Finding, found: MeasureFinding) -> Block:
    record = finding.record
    arms = {arm.id: arm.name for arm in record.trial.arms}
    known = blinding_of(record, found.measure).pieces
    unsure = any(row.uncertainty for row in found.responses.rows)
    columns = [
        Column(N_("Piece"), width=3),
        Column(N_("Arm"), width=4),
        Column(_unsure_of(found.measure) if unsure else N_("Value"), "right", 3),
        Column(N_("How it was come by"), width=5),
    ]
    rows = [
        [
            piece.name,
            arms.get(piece.arm or "", "–"),
            show_bound(found.measure, row.at_least, row.at_most)
            or show_plus_minus(found.measure, row.value, half_of_95(row.uncertainty)),
            in_a_row(
                (
                    _how(row.note, row.caution),
                    knowing_words(known.get(piece.id, {})),
                    row.caution,
                ),
                "; ",
            ),
        ]
        for piece, row in zip(record.units, found.responses.rows, strict=True)
    ]
    return blocks.table(columns, rows)


def _unsure_of(measure: Measure) -> Words:
    """Return the head of values, with what the ± behind them is."""
    if measure.kind is MeasureKind.SCORE:
        return N_("Value ± half of 95 % interval (how far tasters disagree)")
    return N_("Value ± half of 95 % interval (of measuring)")


def _how(note: Words, caution: Words) -> Words:
    """Return how a value was come by, unless the caution says so too."""
    return "" if str(caution).startswith(str(note)) else note


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
    yield blocks.strong(verdict_sentence(finding, found, one))
    ratio = one.ratio
    chances = [bracketed(words, chance) for chance, words in chance_lines(finding, found, one)]
    causes = [
        in_a_row((_factor(name), with_unit(f"{100 * share:.0f}", "%")))
        for name, share in one.shares
        if share > 0.005
    ]
    yield blocks.facts(
        [
            (N_("Believed"), difference_words(measure, one)),
            (N_("As a ratio"), show_ratio(ratio.value, ratio.low, ratio.high) if ratio else ""),
            (N_("Chances"), Listed(chances, between="; ")),
            (N_("Unsure because of"), Listed(causes)),
        ]
    )
    if one.one_pair is not None:
        yield blocks.text(one_pair_sentence(measure, one.one_pair))
    if one.notes:
        yield blocks.items(one.notes)
    yield _sensitivity(found, one, deciding_lines(finding.record.trial.verdict))
    if one.classical:
        yield _classical(found, one)


def _interval(measure: Measure, found: Interval) -> Words:
    return show_with_interval(measure, found.value, found.low, found.high)


def _sensitivity(found: MeasureFinding, one: Difference, lines: Sequence[float]) -> Block:
    columns = [
        Column(N_("Had the spread between pieces been thought"), width=5),
        Column(N_("Difference (95 % interval)"), "right", 5),
        Column(N_("Better by enough"), "right", 3),
        Column(N_("Worse by enough"), "right", 3),
    ]
    rows = [
        [
            _TIMES.get(row.times, Message("× %(times)s", {"times": Number(row.times)})),
            _interval(found.measure, row.difference),
            show_chance(row.better_by_enough, lines=lines),
            show_chance(row.worse_by_enough, lines=lines),
        ]
        for row in one.sensitivity
    ]
    if one.sceptical is not None:
        sceptic = [sure_under(Analysis.SCEPTICAL, lines[-1])]
        rows.append(
            [
                N_("twice as large, and methods thought to differ less"),
                _interval(found.measure, one.sceptical.difference),
                show_chance(one.sceptical.better_by_enough, lines=sceptic),
                show_chance(one.sceptical.worse_by_enough, lines=sceptic),
            ]
        )
    return blocks.table(columns, rows)


_TIMES = {0.5: N_("half as large"), 1.0: N_("as it was"), 2.0: N_("twice as large")}


def _classical(found: MeasureFinding, one: Difference) -> Block:
    columns = [
        Column(N_("Classical counterpart"), width=3),
        Column(N_("Difference (95 % interval)"), "right", 4),
        Column(N_("p, two-sided"), "right", 2),
        Column(N_("What it says"), width=7),
    ]
    rows = [
        [
            _COUNTERPARTS.get(result.name, result.name),
            "–" if result.difference is None else _interval(found.measure, result.difference),
            "–" if result.p is None else show_p(result.p),
            result.sentence,
        ]
        for result in one.classical
    ]
    return blocks.table(columns, rows)


_COUNTERPARTS = {
    RANDOMISATION: N_("re-randomisation"),
    PAIRED: N_("paired t"),
    ANYTIME: N_("looking often (e-value)"),
    REML: N_("mixed model (REML)"),
}


def _spreads(found: MeasureFinding) -> Block:
    columns = [
        Column(N_("From one to another"), width=3),
        Column(N_("Thought before (95 %)"), "right", 5),
        Column(N_("Believed now (95 %)"), "right", 5),
    ]
    rows = [
        [
            _factor(spread.name),
            *(
                show_spread(found.measure, one.value, one.low, one.high)
                for one in (spread.before, spread.now)
            ),
        ]
        for spread in found.spreads
    ]
    return blocks.table(columns, rows)


def _factor(name: str) -> Words:
    """Return a factor of the model as people say it."""
    return FACTORS.get(name, name)
