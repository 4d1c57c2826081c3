"""Read a logger's file by its mapping: readings as written, and every row accounted for."""

from collections.abc import Callable, Sequence
from collections.abc import Mapping as Dict
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from fairsmoke.intake.instants import days_unrolled, local_ms, newest_first, to_utc
from fairsmoke.intake.layout import Mapping, layout_digest
from fairsmoke.intake.restarts import restarts
from fairsmoke.intake.rows import UNITS, Reasons, Rows, rows_of
from fairsmoke.intake.series import ProbeSeries, series_of
from fairsmoke.intake.text import (
    ROWS_PER_BLOCK,
    IntakeError,
    UnusableRow,
    blocks,
    lines_of,
    record_at,
    text_of,
)
from fairsmoke.intake.times import MINUTE_MS
from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_, Message
from fairsmoke.trial.clock import ClockError, epoch_ms, instant_from_local, time_zone
from fairsmoke.trial.reading import ReadingUnit

HEADER_WITHIN = 1000
"""The header is looked for in so many lines; some loggers write more or fewer notes above it."""

Progress = Callable[[int, int], None]
"""Called with how many lines are done, and of how many."""


@dataclass(frozen=True, eq=False)
class LoggerFile:
    """What a logger's file held. ``rows_read == rows_good + rows_bad + rows_blank`` always.

    A row is bad when it could not be used, or when one of its cells could not; its other cells
    are then still in the series. Blank rows are empty or comments. ``layout`` is the digest
    of how the file is laid out (see ``layout_digest``). ``notes`` are worth showing to a person.
    ``zone`` is the time zone that was needed to read the times, "" when they carry their offset.
    ``first_time`` is the first row's time as written, ``first_ms`` what it was read as
    (milliseconds since 1970 UTC), None when no row could be used.
    """

    series: tuple[ProbeSeries, ...]
    bad: tuple[UnusableRow, ...]
    rows_read: int
    rows_good: int
    rows_blank: int
    header_line: int
    layout: str
    notes: tuple[Message, ...]
    zone: str = ""
    first_time: str = ""
    first_ms: int | None = None

    @property
    def rows_bad(self) -> int:
        """How many rows could not be used, or not wholly."""
        return len(self.bad)


@dataclass(frozen=True)
class _Clock:
    """What turns a logger's times into instants."""

    mapping: Mapping
    zone: ZoneInfo | None
    start_ms: int


def read(
    data: bytes,
    mapping: Mapping,
    *,
    zone: ZoneInfo | None = None,
    start: datetime | None = None,
    progress: Progress | None = None,
    rows_per_block: int = ROWS_PER_BLOCK,
) -> LoggerFile:
    """Read a whole file.

    ``zone`` is where the logger's clock was set, for times without an offset, unless the mapping
    names one. ``start`` is when a log of elapsed times began, or the day on which one without
    dates did; without an offset it is a local time. Nothing is flagged here beyond CONFLICT and
    CLOCK_STEP; see ``flag_readings``.

    Raises IntakeError when the mapping leaves something open, does not belong to this file, or
    needs a zone or a start that was not given. A row that cannot be read raises nothing.
    """
    if mapping.open_points:
        raise IntakeError(
            N_(
                "the mapping does not say yet: %(open_points)s",
                open_points=", ".join(mapping.open_points),
            )
        )
    zone = time_zone(mapping.zone) if mapping.zone else zone
    clock = _Clock(mapping, zone, _start_ms(mapping, zone, start))
    lines = lines_of(text_of(data, mapping.encoding))
    header = find_header(lines, mapping)
    first = header + mapping.has_header + mapping.lines_below
    if first > len(lines):
        raise IntakeError(
            N_("line %(lines)s: the file ends before its first row", lines=len(lines) + 1)
        )
    width, needed = len(mapping.columns), columns_needed(mapping)
    mark = mapping.separator_mark
    parts: list[Rows] = []
    odd: list[UnusableRow] = []
    blank = 0
    names: dict[str, int] = {}
    reasons: Reasons = {}
    again = restarts(lines, header, first, mapping)
    for part in again.stretches:
        for block in blocks(
            lines, part.first, mark, width, needed, past=part.end, rows_per_block=rows_per_block
        ):
            parts.append(rows_of(block, part.mapping, names, reasons))
            odd += block.bad
            blank += block.blank
            if progress:
                progress(part.first - first + block.lines_done, len(lines) - first)
    rows = Rows.joined(parts, len(mapping.numbers("value")))
    series, notes, first_ms = _all_series(rows, clock, list(names), reasons)
    first_time = _first_time(rows, lines, mapping)
    local_start = mapping.needs_start and start is not None and start.tzinfo is None
    local = local_start or bool(rows.local[rows.usable].any())
    bad = _bad_rows(odd, reasons, lines, again.reasons)
    rows_read = rows.lines.size + len(odd) + blank
    return LoggerFile(
        series=tuple(series),
        bad=bad,
        rows_read=rows_read,
        rows_good=rows_read - len(bad) - blank,
        rows_blank=blank,
        header_line=header + 1 if mapping.has_header else 0,
        layout=layout_digest(mapping, first_time),
        notes=(*notes, *again.notes),
        zone=zone.key if zone and local else "",
        first_time=first_time,
        first_ms=first_ms,
    )


def columns_needed(mapping: Mapping) -> int:
    """Return how many fields a row must have: up to the last column that is used."""
    used = [i for i, column in enumerate(mapping.columns) if column.use != "ignore"]
    return used[-1] + 1


def find_header(lines: Sequence[str], mapping: Mapping) -> int:
    """Return the index of the header's line, or where it would be if there is none.

    Raises IntakeError when the header of the mapping is not in the file.
    """
    if not mapping.has_header:
        return mapping.lines_above
    expected = [column.header.strip() for column in mapping.columns]
    width, needed = len(expected), columns_needed(mapping)
    places: list[int] = [mapping.lines_above, *range(min(len(lines), HEADER_WITHIN))]
    for at in places:
        if at < len(lines):
            fields, _ = record_at(lines, at, mapping.separator_mark, width, needed)
            if fields and [cell.strip() for cell in fields] == expected:
                return at
    at = mapping.lines_above
    found = repr(lines[at][:200]) if at < len(lines) else "the end of the file"
    raise IntakeError(
        N_(
            "line %(at)s: the header is not the one that the mapping was made for: "
            "expected the columns %(expected)s, found %(found)s; use the mapping of "
            "this layout, or let the columns be recognised anew",
            at=at + 1,
            expected=", ".join(map(repr, expected)),
            found=found,
        )
    )


def _start_ms(mapping: Mapping, zone: ZoneInfo | None, start: datetime | None) -> int:
    """Return the start in UTC, or by local clocks for times without a date; 0 if not needed."""
    if not mapping.needs_start:
        return 0
    if start is None:
        what = "day on which" if mapping.time_form == "clock" else "date and time at which"
        raise IntakeError(
            N_("this file does not hold the %(what)s it begins; give the start", what=what)
        )
    if start.tzinfo is None:
        if zone is None:
            raise IntakeError(N_("the start has no offset; give it one, or give the time zone"))
        try:
            start = instant_from_local(start, zone)
        except ClockError as error:
            raise IntakeError(
                N_("the start of the log: %(error)s", error=message_of(error))
            ) from error
    return local_ms(start, zone) if mapping.time_form == "clock" else epoch_ms(start)


def _first_time(rows: Rows, lines: Sequence[str], mapping: Mapping) -> str:
    """Return the first time that could be read, as written."""
    usable = np.flatnonzero(rows.usable)
    if not usable.size:
        return ""
    at = int(rows.lines[usable[0]]) - 1
    width, needed = len(mapping.columns), columns_needed(mapping)
    fields, _ = record_at(lines, at, mapping.separator_mark, width, needed)
    return time_text(fields or [], mapping)


def time_text(fields: Sequence[str], mapping: Mapping) -> str:
    """Return the time of a row as written, its date and clock joined by a space."""
    which = [*mapping.numbers("time"), *mapping.numbers("date"), *mapping.numbers("clock")]
    return " ".join(fields[i].strip() for i in which if i < len(fields))


def _all_series(
    rows: Rows, clock: _Clock, names: Sequence[str], reasons: Reasons
) -> tuple[list[ProbeSeries], list[Message], int | None]:
    """Sort the rows by probe, then each probe's rows by time; also tell the first row's time."""
    mapping = clock.mapping
    series: list[ProbeSeries] = []
    twice = backward = 0
    first_ms: int | None = None
    usable = np.flatnonzero(rows.usable)
    by_probe = usable[np.argsort(rows.probe[usable], kind="stable")]
    ends = np.flatnonzero(np.diff(rows.probe[by_probe])) + 1
    # Each column is a probe even if it never says anything; a name must have been written.
    streams = [] if mapping.one_reading_a_row and not by_probe.size else np.split(by_probe, ends)
    for stream in streams:
        if newest_first(rows.ms[stream], clock_only=mapping.time_form == "clock"):
            stream, backward = stream[::-1], backward + 1
        utc_ms, never, doubled = _instants(rows, stream, clock, reasons)
        twice += doubled
        for at in np.flatnonzero(np.isin(stream, usable[:1])).tolist():
            first_ms = int(utc_ms[at])
        happened = stream[~never]
        for at, number in enumerate(mapping.numbers("value")):
            name = (
                names[int(rows.probe[stream[0]])]
                if mapping.one_reading_a_row
                else mapping.probe_name(number)
            )
            series += _by_unit(rows, happened, utc_ms[~never], at, name, mapping)
    notes: list[Message] = []
    if backward:
        notes.append(N_("The rows run from the newest to the oldest and were turned round."))
    if twice:
        notes.append(
            N_(
                "%(twice)s readings lie in the hour that the clocks went through twice; which of "
                "the two is taken from the order of the rows.",
                twice=twice,
            )
        )
    return series, notes + _minute_notes(series), first_ms


def _instants(
    rows: Rows, stream: NDArray[np.intp], clock: _Clock, reasons: Reasons
) -> tuple[NDArray[np.int64], NDArray[np.bool_], int]:
    """Return the instants of rows in the order of the logger, which never were, how many doubled.

    Raises IntakeError when a zone is needed and not given.
    """
    form = clock.mapping.time_form or ""
    ms, local = rows.ms[stream], rows.local[stream]
    if local.any() and clock.zone is None:
        line = int(rows.lines[stream[np.argmax(local)]])
        raise IntakeError(
            N_(
                "line %(line)s: the times have no offset; give the time zone in which "
                "the logger's clock was set, such as 'Europe/London'",
                line=line,
            )
        )
    if form == "clock":
        ms = days_unrolled(ms, clock.start_ms)
    elif form.startswith("elapsed"):
        ms = ms + clock.start_ms
    instants = to_utc(ms, local, clock.zone)
    for line in rows.lines[stream[instants.skipped]].tolist():
        zone = clock.zone.key if clock.zone else "UTC"
        reasons.setdefault(line, []).append(
            f"its local time never was: the clocks in {zone} went forward over it"
        )
    return instants.utc_ms, instants.skipped, instants.repeated_hour


def _by_unit(
    rows: Rows,
    which: NDArray[np.intp],
    utc_ms: NDArray[np.int64],
    at: int,
    name: str,
    mapping: Mapping,
) -> list[ProbeSeries]:
    """Return a series for each unit in which the value column ``at`` is written."""

    def one(unit: ReadingUnit, mask: NDArray[np.bool_] | slice) -> ProbeSeries:
        index = which[mask]
        return series_of(
            name,
            unit,
            utc_ms[mask],
            rows.kind[index, at],
            rows.raw[index, at],
            rows.decimals[index, at],
        )

    written = rows.unit[which, at]
    stated = mapping.columns[mapping.numbers("value")[at]].unit
    if stated is not None and not written.size and not mapping.numbers("unit"):
        return [one(stated, slice(None))]
    codes = np.unique(written)
    return [one(UNITS[code], written == code) for code in codes if code < len(UNITS)]


def _minute_notes(series: Sequence[ProbeSeries]) -> list[Message]:
    conflicting = sum(one.conflicting for one in series)
    if conflicting and all(not np.any(one.readings.time_ms % MINUTE_MS) for one in series):
        return [
            N_(
                "The times have no seconds, and %(conflicting)s readings share their minute with "
                "another; the first of each minute is believed. Export with seconds if you can.",
                conflicting=conflicting,
            )
        ]
    return []


def _bad_rows(
    odd: Sequence[UnusableRow],
    reasons: Reasons,
    lines: Sequence[str],
    headers: Dict[int, str],
) -> tuple[UnusableRow, ...]:
    bad = [*odd, *(UnusableRow(at, lines[at - 1], "; ".join(why)) for at, why in reasons.items())]
    return tuple(
        replace(row, reason=headers.get(row.line, row.reason))
        for row in sorted(bad, key=lambda row: row.line)
    )
