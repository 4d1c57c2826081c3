"""Reading by a given mapping: exact values, and every row accounted for."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fairsmoke.intake import FileColumn, IntakeError, LoggerFile, Mapping, UnusableRow, read
from fairsmoke.trial.reading import Flag

LONDON = ZoneInfo("Europe/London")


def _mapping(**changes: Any) -> Mapping:
    content: dict[str, Any] = {
        "columns": [
            {"header": "t", "use": "time"},
            {"header": "pit", "use": "value", "unit": "degF"},
            {"header": "meat", "use": "value", "unit": "degC"},
        ],
        "time_form": "date and clock",
        "date_order": "year-month-day",
        "zone": "UTC",
    }
    return Mapping.from_dict(content | changes)


def _read(text: str, **changes: Any) -> LoggerFile:
    found = read(text.encode(), _mapping(**changes), zone=LONDON)
    assert found.rows_read == found.rows_good + found.rows_bad + found.rows_blank
    return found


def _minute(ms: int) -> str:
    return datetime.fromtimestamp(ms / 1000, UTC).strftime("%d %H:%M:%S")


def test_values_are_kept_as_written() -> None:
    pit, meat = _read(
        "t,pit,meat\n2026-05-02 12:00,225.50,-0.5\n2026-05-02 12:01, +226 ,1.2e1\n"
    ).series
    assert (pit.readings.unit, pit.readings.decimals) == ("degF", 2)
    assert pit.readings.raw.tolist() == [22550, 22600]
    assert meat.readings.raw.tolist() == [-5, 120]
    assert meat.readings.value_c.tolist() == [-0.5, 12.0]


@pytest.mark.parametrize(
    ("text", "raw"),
    [
        ("95.39999999999998", 95_400_000_000),
        ("1.0000000005", 1_000_000_000),
        ("-1.0000000015", -1_000_000_002),
        ("1.00000000050001", 1_000_000_001),
        ("1.00000000049", 1_000_000_000),
    ],
)
def test_more_decimals_than_a_reading_keeps_are_rounded_half_to_even(text: str, raw: int) -> None:
    _, meat = _read(f"t,pit,meat\n2026-05-02 12:00,225,{text}\n").series
    assert (meat.readings.raw.tolist(), meat.readings.decimals) == ([raw], 9)


def test_bad_rows_are_kept_with_line_and_reason() -> None:
    found = _read(
        "t,pit,meat\n"
        "2026-05-02 12:00,225,60\n"
        "2026-05-02 12:01,225\n"
        "\n"
        "yesterday,225,60\n"
        "2026-05-02 12:03,2o5,61\n"
        "# the lid was open here\n"
        ",,\n"
        't,pit,"open\n'
        "2026-05-02 12:04,226,62,7\n"
        "t,pit,meat\n"
        "2026-02-30 12:05,226,62\n"
        "2026-05-02 12:06,226,63"
    )
    assert (found.rows_read, found.rows_good, found.rows_bad, found.rows_blank) == (12, 2, 7, 3)
    assert [(row.line, row.reason) for row in found.bad] == [
        (3, "has 2 fields where the file has 3 columns"),
        (5, "'yesterday' is not a time in the form year-month-day, 24-hour clock"),
        (6, "pit: '2o5' is not a temperature"),
        (9, "a quote is opened and not closed"),
        (10, "has 4 fields where the file has 3 columns"),
        (11, "the header again; the logger was probably restarted"),
        (12, "'2026-02-30 12:05' is not a time in the form year-month-day, 24-hour clock"),
    ]
    assert found.bad[0] == UnusableRow(3, "2026-05-02 12:01,225", found.bad[0].reason)
    # The cell beside the bad one is kept.
    assert [series.readings.raw.tolist() for series in found.series] == [[225, 226], [60, 61, 63]]


def test_missing_cells_and_words_for_an_open_probe_are_counted_apart() -> None:
    cells = ["", "---", "NaN", "n/a", "Err", "OPEN", "Probe fault", "60"]
    text = "t,pit,meat\n" + "".join(f"2026-05-02 12:{i:02d},225,{c}\n" for i, c in enumerate(cells))
    _, meat = _read(text, no_value=["probe FAULT"]).series
    assert (meat.no_value, meat.open_probe, len(meat.readings)) == (5, 2, 1)
    assert _read(text).rows_bad == 1


def test_quoted_fields_may_hold_separators_and_line_breaks() -> None:
    found = _read(
        't,pit,meat,"a ""note"""\n'
        '2026-05-02 12:00,225,60,"wrapped, then\nspritzed"\n'
        "2026-05-02 12:01,226,61,\n",
        columns=[c.model_dump() for c in _mapping().columns] + [{"header": 'a "note"'}],
    )
    assert (found.rows_good, found.rows_bad) == (2, 0)


def test_an_open_quote_does_not_swallow_the_rows_below() -> None:
    rows = "".join(f"2026-05-02 12:{i:02d},225,{i}\n" for i in range(40))
    found = _read(f't,pit,meat\n"2026-05-02 11:59,225,1\n{rows}2026-05-02 13:00,226,"2"\n')
    assert (found.rows_good, [row.line for row in found.bad]) == (41, [2])


def test_a_clock_set_back_is_flagged_and_the_order_kept() -> None:
    found = _read(
        "t,pit,meat\n"
        "2026-05-02 12:10,225,60\n2026-05-02 12:20,226,61\n"
        "2026-05-02 12:15,227,62\n2026-05-02 12:25,228,63\n"
    )
    readings = found.series[0].readings
    assert readings.raw.tolist() == [225, 227, 226, 228]
    assert readings.flags.tolist() == [0, int(Flag.CLOCK_STEP), 0, 0]


def test_the_same_time_twice() -> None:
    found = _read(
        "t,pit,meat\n2026-05-02 12:00,225,60\n2026-05-02 12:00,225,61\n2026-05-02 12:00,225,60\n"
    )
    pit, meat = found.series
    assert (len(pit.readings), pit.repeated, pit.conflicting) == (1, 2, 0)
    assert (meat.readings.raw.tolist(), meat.repeated, meat.conflicting) == ([60, 61], 1, 1)
    assert meat.readings.flags.tolist() == [0, int(Flag.CONFLICT)]
    assert "share their minute" in str(found.notes[0])


def test_newest_first_is_turned_round() -> None:
    rows = [f"2026-05-02 12:{i:02d},{200 + i},{i}\n" for i in range(6)]
    found = _read("t,pit,meat\n" + "".join(reversed(rows)))
    assert found.series[0].readings.raw.tolist() == [*range(200, 206)]
    assert not found.series[0].readings.flags.any()
    assert "newest" in str(found.notes[0])


def test_clock_without_date_passes_midnight() -> None:
    columns = [{"header": "t", "use": "clock"}, {"header": "pit", "use": "value", "unit": "degF"}]
    mapping = _mapping(columns=columns, time_form="clock", date_order=None)
    data = b"t,pit\n23:58,1\n23:59,2\n00:00,3\n00:01,4\n"
    found = read(data, mapping, start=datetime(2026, 5, 2, 23, 50))
    assert [_minute(ms) for ms in found.series[0].readings.time_ms.tolist()] == [
        "02 23:58:00",
        "02 23:59:00",
        "03 00:00:00",
        "03 00:01:00",
    ]


@pytest.mark.parametrize(
    ("form", "cells"),
    [
        ("elapsed s", ["0", "90.5"]),
        ("elapsed min", ["0", "1.508333333"]),
        ("elapsed h", ["0.0", "0.025138889"]),
        ("elapsed h:mm:ss", ["0:00:00", "0:01:30.5"]),
        ("elapsed mm:ss", ["00:00", "01:30.5"]),
        ("epoch s", ["1777723200", "1777723290.5"]),
        ("epoch ms", ["1777723200000", "1777723290500"]),
    ],
)
def test_counted_times(form: str, cells: list[str]) -> None:
    mapping = _mapping(time_form=form, date_order=None)
    text = f"t,pit,meat\n{cells[0]},1,2\n{cells[1]},3,4\n"
    found = read(text.encode(), mapping, start=datetime(2026, 5, 2, 12, tzinfo=UTC))
    assert found.series[0].readings.time_ms.tolist() == [1777723200000, 1777723290500]


@pytest.mark.parametrize(
    ("order", "text"),
    [
        ("year-month-day", "2026-5-2 23:40:05"),
        ("year-month-day", "2026/05/02T23.40.05"),
        ("year-month-day", "26.05.02 23:40:05"),
        ("month-day-year", "05/02/26 23:40:05"),
        ("month-day-year", "May 2, 2026 23:40:05"),
        ("day-month-year", "02.05.2026, 23:40:05"),
        ("day-month-year", "2-May-26 23:40:05"),
        ("yyyymmdd", "20260502234005"),
        ("yyyymmdd", "20260502T23:40:05"),
        ("year-month-day", "2026-05-02T18:40:05-05:00"),
        ("year-month-day", "2026-05-02 23:40:05.4 UTC"),
    ],
)
def test_one_moment_in_many_forms(order: str, text: str) -> None:
    found = _read(f't,pit,meat\n"{text}",1,2\n', date_order=order)
    assert int(found.series[0].readings.time_ms[0]) // 1000 == 1777765205


@pytest.mark.parametrize(
    ("text", "hour"), [("12:30 AM", 0), ("1:30 am", 1), ("12:30 p.m.", 12), ("11:30PM", 23)]
)
def test_twelve_hour_clock(text: str, hour: int) -> None:
    found = _read(
        f"t,pit,meat\n5/2/2026 {text},1,2\n", date_order="month-day-year", twelve_hour=True
    )
    assert _minute(int(found.series[0].readings.time_ms[0])) == f"02 {hour:02d}:30:00"


@pytest.mark.parametrize("cell", ["5/2/2026 13:30 PM", "5/2/2026 0:30 AM", "5/2/2026 11:30"])
def test_what_a_twelve_hour_clock_cannot_show_is_bad(cell: str) -> None:
    text = f"t,pit,meat\n{cell},1,2\n"
    assert _read(text, date_order="month-day-year", twelve_hour=True).rows_bad == 1


def test_an_offset_in_the_file_wins_over_the_zone() -> None:
    found = _read("t,pit,meat\n2026-05-02 12:00+02:00,1,2\n2026-05-02 12:00,3,4\n")
    assert [_minute(ms) for ms in found.series[0].readings.time_ms.tolist()] == [
        "02 10:00:00",
        "02 12:00:00",
    ]


def test_a_value_in_another_unit_than_its_column_is_bad() -> None:
    found = _read("t,pit,meat\n2026-05-02 12:00,225 F,60 °C\n2026-05-02 12:01,107 C,61\n")
    assert [row.reason for row in found.bad] == ["pit: '107 C' is not in the unit of its column"]


def test_the_header_may_stand_lower_than_before() -> None:
    found = _read("a note\nanother\nt,pit,meat\n2026-05-02 12:00,225,60\n")
    assert (found.header_line, found.rows_good) == (3, 1)


def test_progress_reaches_the_end() -> None:
    text = "t,pit,meat\n" + "".join(f"2026-05-02 12:{i:02d},225,60\n" for i in range(50))
    seen: list[tuple[int, int]] = []
    read(
        text.encode(),
        _mapping(),
        progress=lambda done, of: seen.append((done, of)),
        rows_per_block=20,
    )
    assert seen == [(20, 50), (40, 50), (50, 50)]


@pytest.mark.parametrize(
    ("data", "changes", "message"),
    [
        (b"t,meat,pit\n", {}, "line 1: the header is not the one .* found 't,meat,pit'"),
        (b"", {}, "line 1: the header is not the one .* found the end of the file"),
        (b"t,pit,meat\n", {"lines_below": 1}, "line 2: the file ends before its first row"),
        (b"t,pit,meat\n2026-05-02 12:00,1,2\n", {"zone": None}, "line 2: .* give the time zone"),
        (b"t,pit,meat\n1,1,2\n", {"time_form": "elapsed s"}, "give the start"),
    ],
)
def test_what_cannot_be_read_at_all(data: bytes, changes: dict[str, Any], message: str) -> None:
    with pytest.raises(IntakeError, match=message):
        read(data, _mapping(**changes))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"columns": []}, "columns: "),
        ({"colums": []}, "colums: "),
        ({"zone": "Mars"}, "'Mars' is not a time zone"),
        ({"columns": [{"use": "time"}, {"use": "ignore"}]}, "one column the use 'value'"),
        ({"columns": [{"use": "value"}, {"use": "value"}]}, "one column the use 'time'"),
        ({"time_form": "sundial"}, "time_form: "),
    ],
)
def test_a_wrong_mapping_is_refused_by_name(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(IntakeError, match=f"the mapping of a logger's file is wrong: .*{message}"):
        _mapping(**changes)


def test_a_mapping_survives_as_plain_data() -> None:
    mapping = _mapping(separator="tab", decimal_mark="comma", no_value=["off"])
    assert Mapping.from_dict(mapping.to_dict()) == mapping
    assert FileColumn(header="x").use == "ignore"


def test_elapsed_start_in_the_repeated_hour_is_refused() -> None:
    mapping = _mapping(time_form="elapsed s", zone="Europe/London")
    with pytest.raises(IntakeError, match="happened twice in Europe/London"):
        read(b"t,pit,meat\n0,1,2\n", mapping, start=datetime(2026, 10, 25, 1, 30))
