"""Logger files of every kind: never a traceback, never a lost row, values exactly as written."""

import csv
import io
import string
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fairsmoke.intake import (
    IntakeError,
    LoggerFile,
    Mapping,
    flag_readings,
    new_only,
    read,
    recognise,
)
from fairsmoke.intake.cells import parse_cell, parse_cells
from fairsmoke.intake.layout import SEPARATORS
from fairsmoke.intake.text import fields_of, lines_of, quick_fields, text_of
from fairsmoke.intake.times import TimeForm, parse_times
from fairsmoke.trial.reading import Readings

LONDON = ZoneInfo("Europe/London")
START = datetime(2026, 5, 2, 23, tzinfo=UTC)

# Text that looks like a logger's file often enough to reach every branch.
SCRAPS = st.sampled_from(
    ["\n", "\n", ",", ",", ";", "\t", '"', "#", " ", "-", "°F", "C", "t", "pit", "Err", "1",
     "203.4", "107,5", "2026-05-02 12:00", "5/2/2026 1:00 PM", "02.05.2026", "12:00:30", "0:05",
     "1777723200", "9" * 25, "1e9", "0e-400", "NaN",
     "\x00", "\r", "é", "２", "∞", "99:99", "2026-02-30T25:61Z"]
)  # fmt: skip
FILES = st.one_of(
    st.binary(max_size=300),
    st.lists(SCRAPS, max_size=80).map("".join).map(str.encode),
    st.lists(SCRAPS, max_size=40).map("".join).map(lambda text: text.encode("utf-16")),
)
FORMS: list[dict[str, Any]] = [
    {"time_form": "date and clock", "date_order": "year-month-day"},
    {"time_form": "date and clock", "date_order": "month-day-year", "twelve_hour": True},
    {"time_form": "date and clock", "date_order": "yyyymmdd"},
    {"time_form": "elapsed min"},
    {"time_form": "elapsed h:mm:ss"},
    {"time_form": "epoch ms"},
]


def _adds_up(found: LoggerFile) -> None:
    assert found.rows_read == found.rows_good + found.rows_bad + found.rows_blank
    assert len({row.line for row in found.bad}) == len(found.bad)


@given(FILES)
def test_recognising_anything_raises_only_its_own_error(data: bytes) -> None:
    try:
        found = recognise(data)
    except IntakeError as error:
        message = str(error)
        found = None
    if found is None:
        assert message.startswith("line ")
        return
    answers = {
        question.about: question.choices[0] if question.choices else "Europe/London"
        for question in found.questions
        if question.about != "start"
    }
    _adds_up(read(data, found.answered(answers), start=START, zone=LONDON))


@given(FILES, st.sampled_from(FORMS), st.sampled_from(list(SEPARATORS)), st.booleans())
def test_reading_anything_loses_no_line(
    data: bytes, form: dict[str, Any], separator: str, by_name: bool
) -> None:
    columns = [{"use": "time"}, {"use": "value", "unit": "degF"}]
    if by_name:
        columns.append({"use": "probe name"})
    mapping = Mapping.from_dict(
        {"columns": columns, "has_header": False, "separator": separator, **form}
    )
    found = read(data, mapping, zone=LONDON, start=START)
    _adds_up(found)
    lines = lines_of(text_of(data, "utf-8"))
    assert found.rows_read <= len(lines)
    if not any('"' in line for line in lines):
        assert found.rows_read == len(lines)


@dataclass(frozen=True)
class _Written:
    """A file as it was written: its rows as (instant, texts of two values) or None if bad."""

    data: bytes
    mapping: Mapping
    rows: list[tuple[datetime, tuple[str, str]] | None]


DATE_FORMATS = {
    "year-month-day": "%Y-%m-%dT%H:%M:%S",
    "month-day-year": "%m/%d/%Y %I:%M:%S %p",
    "day-month-year": "%d.%m.%Y %H:%M:%S",
    "yyyymmdd": "%Y%m%d %H%M%S",
}
VALUES = st.builds(
    lambda whole, part, sign: f"{sign}{whole}{part}",
    st.integers(0, 999),
    st.one_of(st.just(""), st.text("0123456789", min_size=1, max_size=9).map(lambda d: "." + d)),
    st.sampled_from(["", "", "-", "+"]),
)
BAD_ROWS = ["yesterday{0}1{0}2", "2026{0}", "{0}{0}{0}{0}1", "x", "2026-13-01 12:00{0}1{0}2"]


@st.composite
def written_files(draw: st.DrawFn) -> _Written:
    separator = draw(st.sampled_from(["comma", "semicolon", "tab", "pipe"]))
    mark = draw(st.sampled_from(["point", "comma"])) if separator != "comma" else "point"
    order = draw(st.sampled_from(list(DATE_FORMATS)))
    ending = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    quoted = draw(st.booleans())
    above = draw(st.lists(st.sampled_from(["", "a note", "made by hand"]), max_size=3))
    units_row = draw(st.booleans())
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
    by_name = draw(st.booleans())
    unit = draw(st.sampled_from(["degC", "degF", "K"]))
    character = SEPARATORS[separator]  # type: ignore[index]
    at = draw(st.datetimes(datetime(2001, 1, 1), datetime(2090, 1, 1))).replace(microsecond=0)

    def line(*cells: str) -> str:
        return character.join(f'"{cell}"' if quoted else cell for cell in cells)

    names = ["when", "probe", "temp"] if by_name else ["when", "left", "right"]
    lines = [*above, line(*names)]
    if units_row:
        lines.append(line("", "", "°C"))
    rows: list[tuple[datetime, tuple[str, str]] | None] = []
    for _ in range(draw(st.integers(0, 12))):
        kind = draw(st.sampled_from(["good"] * 6 + ["bad", "blank"]))
        if kind == "blank":
            lines.append(draw(st.sampled_from(["", "  ", character * 2, "# a remark"])))
            continue
        if kind == "bad":
            lines.append(draw(st.sampled_from(BAD_ROWS)).format(character))
            rows.append(None)
            continue
        at += timedelta(seconds=draw(st.integers(1, 100_000)))
        left, right = draw(VALUES), draw(VALUES)
        shown = [text.replace(".", "." if mark == "point" else ",") for text in (left, right)]
        when = at.strftime(DATE_FORMATS[order])
        lines.append(line(when, "p", shown[1]) if by_name else line(when, *shown))
        rows.append((at.replace(tzinfo=UTC), (left, right)))
    second: dict[str, Any] = (
        {"header": "probe", "use": "probe name"}
        if by_name
        else {"header": "left", "use": "value", "unit": unit}
    )
    mapping = Mapping.from_dict(
        {
            "columns": [
                {"header": "when", "use": "time"},
                second,
                {"header": names[2], "use": "value", "unit": unit},
            ],
            "time_form": "date and clock",
            "date_order": order,
            "twelve_hour": order == "month-day-year",
            "zone": "UTC",
            "encoding": "utf-16" if encoding == "utf-16" else "utf-8",
            "separator": separator,
            "decimal_mark": mark,
            "lines_above": len(above),
            "lines_below": int(units_row),
        }
    )
    end = draw(st.sampled_from(["", ending]))
    return _Written((ending.join(lines) + end).encode(encoding), mapping, rows)


@given(written_files())
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_what_was_written_is_read_exactly(written: _Written) -> None:
    found = read(written.data, written.mapping)
    good = [row for row in written.rows if row]
    assert found.rows_good == len(good)
    assert found.rows_bad == len(written.rows) - len(good)
    _adds_up(found)
    which = [1] if written.mapping.one_reading_a_row else [0, 1]
    if good or not written.mapping.one_reading_a_row:
        assert len(found.series) == len(which)
    for series, column in zip(found.series, which, strict=False):
        readings = series.readings
        assert readings.time_ms.tolist() == [round(at.timestamp() * 1000) for at, _ in good]
        scale = Decimal(1).scaleb(readings.decimals)
        assert readings.raw.tolist() == [int(Decimal(v[column]) * scale) for _, v in good]
        assert not readings.flags.any()


@given(written_files(), st.integers(1, 5))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_the_size_of_the_blocks_does_not_matter(written: _Written, size: int) -> None:
    whole = read(written.data, written.mapping)
    pieces = read(written.data, written.mapping, rows_per_block=size)
    assert whole.bad == pieces.bad
    assert (whole.rows_read, whole.rows_blank, whole.layout) == (
        pieces.rows_read,
        pieces.rows_blank,
        pieces.layout,
    )
    for one, other in zip(whole.series, pieces.series, strict=True):
        assert one.readings.same_as(other.readings)


@given(written_files())
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_recognised_files_are_read_as_they_were_written(written: _Written) -> None:
    enough = sum(row is not None for row in written.rows) * 2 > len(written.rows) + 2
    try:
        found = recognise(written.data)
    except IntakeError:
        assert not enough
        return
    if not enough:
        return
    answers = {"date_order": str(written.mapping.date_order), "zone": "UTC"}
    asked = [question.about for question in found.questions]
    mapping = found.answered(
        {
            about: answers.get(about, "degC" if about.startswith("unit") else "value")
            for about in asked
        }
    )
    assert mapping.separator == written.mapping.separator
    good = [row for row in written.rows if row]
    file = read(written.data, mapping, zone=ZoneInfo("UTC"))
    assert file.rows_bad == len(written.rows) - len(good)
    assert file.rows_good == len(good)
    for series in file.series:
        assert series.readings.time_ms.tolist() == [round(at.timestamp() * 1000) for at, _ in good]


@given(st.lists(st.lists(st.text(string.printable + "é"), min_size=1, max_size=4), max_size=5))
def test_quoting_agrees_with_the_csv_module(rows: list[list[str]]) -> None:
    for row in rows:
        cells = [cell.replace("\r", "").replace("\n", "") for cell in row]
        text = io.StringIO()
        csv.writer(text, quoting=csv.QUOTE_ALL, lineterminator="").writerow(cells)
        assert fields_of(text.getvalue(), ",") == cells


@given(st.text('ab",; \t', max_size=20), st.sampled_from([",", ";", "\t"]))
def test_quick_splitting_is_careful_splitting(line: str, separator: str) -> None:
    quick = quick_fields(line, separator) if line else None
    if quick is not None:
        assert quick == fields_of(line, separator)


CELLS = st.one_of(
    VALUES,
    st.from_regex(r"[+-]?[0-9]{1,10}[.,][0-9]{8,9}[0-9]?[05]{0,3}[0-9]?", fullmatch=True),
    st.sampled_from(
        ["", "---", "Err", "1e3", "-2.5E-4", "12 °F", "9" * 30, "1,5", " 7 ", ".5", "5."]
    ),
    st.text(max_size=8),
)


@given(st.lists(CELLS, max_size=30), st.sampled_from([".", ","]))
def test_cells_all_at_once_are_cells_one_by_one(cells: list[str], mark: str) -> None:
    together = parse_cells(pl.Series(cells, dtype=pl.String), mark, "degF")
    for index, text in enumerate(cells):
        alone = parse_cell(text, mark, "degF")
        assert together.kind[index] == alone.kind
        if alone.kind == 0:
            assert (together.raw[index], together.decimals[index]) == (alone.raw, alone.decimals)


@given(st.datetimes(datetime(1900, 1, 1), datetime(2199, 12, 31)), st.integers(0, 9))
def test_times_agree_with_the_standard_library(at: datetime, digits: int) -> None:
    at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    fraction = f"{at.microsecond:06d}000"[:digits]
    exact = at.replace(microsecond=int(f"{fraction:0<6}"[:6]) // 1000 * 1000)
    text = at.strftime("%Y-%m-%d %H:%M:%S") + (f".{fraction}" if fraction else "")
    if at.year < 1000:
        return
    parsed = parse_times(pl.Series([text]), "date and clock", "year-month-day")
    assert parsed.ok.all()
    assert int(parsed.ms[0]) == (exact - datetime(1970, 1, 1)) // timedelta(milliseconds=1)


@given(st.text(string.digits + "-/:. TZ+APMapm", max_size=25))
def test_no_text_is_read_as_an_impossible_time(text: str) -> None:
    forms: list[TimeForm] = ["date and clock", "clock", "elapsed mm:ss", "epoch s", "elapsed min"]
    for form in forms:
        parsed = parse_times(pl.Series([text]), form, "year-month-day")
        if parsed.ok[0]:
            assert -2_300_000_000_000 < int(parsed.ms[0]) < 7_300_000_000_000


SERIES = st.lists(st.tuples(st.integers(0, 40), st.integers(-5, 5)), max_size=30).map(
    lambda pairs: sorted(set(pairs), key=lambda pair: pair[0])
)


def _readings(pairs: list[tuple[int, int]]) -> Readings:
    time = np.array([time * 1000 for time, _ in pairs], dtype=np.int64)
    raw = np.array([raw for _, raw in pairs], dtype=np.int64)
    return Readings(time, raw, 0, "degC", np.zeros(len(pairs), dtype=np.uint8))


@given(SERIES, SERIES)
def test_merging_keeps_every_reading_once(
    existing: list[tuple[int, int]], incoming: list[tuple[int, int]]
) -> None:
    merge = new_only(_readings(existing), _readings(incoming))
    new = list(zip((merge.new.time_ms // 1000).tolist(), merge.new.raw.tolist(), strict=True))
    assert new == [pair for pair in incoming if pair not in existing]
    assert merge.repeated + len(new) == len(incoming)
    joined = Readings.joined([_readings(existing), merge.new])
    again = new_only(joined, _readings(incoming))
    assert (len(again.new), again.repeated) == (0, len(incoming))


@given(
    st.lists(st.tuples(st.integers(0, 10**8), st.integers(-2000, 20000)), max_size=60),
    st.sampled_from(["meat", "air"]),
)
def test_flags_of_anything(pairs: list[tuple[int, int]], kind: Any) -> None:
    readings = _readings(sorted(pairs))
    flags = flag_readings(readings, kind)
    assert flags.shape == readings.raw.shape
    # Flags are found from the readings alone, so that finding them again changes nothing.
    assert np.array_equal(flags, flag_readings(readings, kind))


@pytest.mark.parametrize("quotes", ['"', '""', '"""'])
def test_many_open_quotes_stay_quick(quotes: str) -> None:
    data = ("2026-05-02 12:00," + quotes + "1\n") * 5_000
    mapping = Mapping.from_dict(
        {
            "columns": [{"use": "time"}, {"use": "value", "unit": "degC"}],
            "has_header": False,
            **FORMS[0],
        }
    )
    _adds_up(read(data.encode(), mapping, zone=LONDON))
