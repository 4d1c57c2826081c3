"""What was recorded and not used, how much of it, and why; and the logger files."""

from collections.abc import Iterator

from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, NN_, Words, alone, bracketed, in_a_row, stretch
from fairsmoke.quantity.values import Instant
from fairsmoke.telling import blocks
from fairsmoke.telling.bad_row_words import bad_row_words
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.source import STREAM

_BAD_ROWS_SHOWN = 20


def left_out_section(finding: Finding) -> Section:
    """Return what was recorded but not used, how much of it, and why; and the logger files."""
    section = Section(N_("What was left out, and why"))
    if finding.left_out:
        columns = [
            Column(N_("What"), width=6),
            Column(N_("How many"), "right", 2),
            Column(N_("Why"), width=7),
        ]
        rows = [
            [
                one.what,
                N_("%(some)s of %(all)s", some=one.count, all=one.of)
                if one.of
                else count(one.count),
                one.why,
            ]
            for one in finding.left_out
        ]
        section.blocks.append(blocks.table(columns, rows))
    else:
        section.blocks.append(blocks.text(N_("Nothing that was recorded was left out.")))
    lines = [_exclusion(finding.record, one) for one in finding.record.exclusions]
    if lines:
        section.blocks += [blocks.heading(N_("Left out by a person")), blocks.items(lines)]
    section.blocks += _logger_files(finding.record)
    return section


def count(number: int) -> Words:
    """Return a number of things with its thousands apart."""
    return alone(number)


def _exclusion(record: TrialRecord, one: Exclusion) -> Words:
    what: Words
    if one.piece is not None:
        names = {piece.id: piece.name for piece in record.pieces}
        measures = {measure.id: measure.name for measure in record.trial.measures}
        of = measures.get(one.measure, one.measure) if one.measure is not None else ""
        what = in_a_row([names.get(one.piece, one.piece), of], ", ")
    else:
        probes = {probe.id: probe.name for probe in record.probes}
        what = probes.get(one.probe or "", one.probe or "")
        cook = next((cook for cook in record.cooks if cook.id == one.cook), None)
        if cook is not None and one.since is not None and one.until is not None:
            zone = time_zone(cook.time_zone)
            what = N_(
                "%(what)s in %(cook)s, %(when)s",
                what=what,
                cook=cook.name,
                when=stretch(Instant(one.since, zone=zone), Instant(one.until, "time", zone)),
            )
    why: Words = bracketed(one.why, one.by) if one.by else one.why
    return in_a_row([what, why], ": ")


def _logger_files(record: TrialRecord) -> Iterator[Block]:
    files = [source for source in record.sources if source.layout != STREAM]
    if not files:
        return
    columns = [
        Column(N_("Logger file"), width=5),
        Column(N_("Rows"), "right", 2),
        Column(N_("Good"), "right", 2),
        Column(N_("Bad"), "right", 1.5),
        Column(N_("Blank"), "right", 1.5),
        Column(N_("New readings"), "right", 2),
        Column(N_("Repeated"), "right", 2),
        Column(N_("Conflicting"), "right", 2),
    ]
    rows = [
        [
            source.file_name,
            *map(
                count,
                (
                    source.rows_read,
                    source.rows_good,
                    source.rows_bad,
                    source.rows_blank,
                    source.readings_new,
                    source.readings_repeated,
                    source.readings_conflicting,
                ),
            ),
        ]
        for source in files
    ]
    yield blocks.heading(N_("Logger files"))
    yield blocks.table(columns, rows)
    lines = [
        N_(
            "%(file)s, line %(line)s: %(why)s",
            file=source.file_name,
            line=bad.line,
            why=bad_row_words(bad.why),
        )
        for source in files
        for bad in source.bad_rows
    ]
    if lines:
        more = len(lines) - _BAD_ROWS_SHOWN
        yield blocks.items(lines[:_BAD_ROWS_SHOWN])
        if more > 0:
            yield blocks.small(
                NN_(
                    "And %(count)s more bad row; the exported folder lists it.",
                    "And %(count)s more bad rows; the exported folder lists them all.",
                    more,
                )
            )
