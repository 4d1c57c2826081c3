"""What is recognised in files of many layouts, all invented."""

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from fairsmoke.intake import IntakeError, LoggerFile, Recognition, read, recognise

LONDON = ZoneInfo("Europe/London")
START = datetime(2026, 5, 2, 23, 0)
MAY_2_2300_MS = 1_777_759_200_000  # 2026-05-02T22:00:00Z, 23:00 in London


def _rows(row: Callable[[int], str], count: int = 30) -> str:
    return "".join(row(i) + "\n" for i in range(count))


def _asked(found: Recognition) -> list[str]:
    return [question.about for question in found.questions]


def _read(text: str, **answers: str) -> tuple[Recognition, LoggerFile]:
    data = text.encode()
    found = recognise(data)
    mapping = found.answered({key.replace("_unit", "unit"): a for key, a in answers.items()})
    return found, read(data, mapping, zone=LONDON, start=START)


LAYOUTS = {
    "US dates, 12 h, units in headers": (
        "Time,Pit (°F),Brisket (°F)\n"
        + _rows(lambda i: f"5/2/2026 11:{i:02d}:00 PM,225.{i % 10},{40 + i}.5"),
        {"date_order": "month-day-year"},
    ),
    "semicolons, decimal comma, notes above, units below, trailing separator": (
        "\ufeffNotes;of an invented evening\nMade by hand\n\nZeit;Pit;Kern 1;\n;°C;°C;\n"
        + _rows(lambda i: f"02.05.2026 23:{i:02d};107,{i % 10};{i},5;"),
        {"date_order": "day-month-year"},
    ),
    "tabs, elapsed minutes, unit above": (
        "Temperature unit: F\nElapsed (min)\tProbe 1\tProbe 2\n"
        + _rows(lambda i: f"{i}.0\t203.5\t{i}.5"),
        {},
    ),
    "upright strokes, hours and minutes from the start": (
        "Elapsed|Pit F|Meat F\n" + _rows(lambda i: f"0:{i:02d}:00|225.{i % 10}|{40 + i}.5"),
        {},
    ),
    "epoch seconds, letter behind the name": (
        "ts,pit_C,meat_C\n"
        + _rows(lambda i: f"{MAY_2_2300_MS // 1000 + 60 * i},93.{i % 10},{i}.5"),
        {},
    ),
    "epoch milliseconds": (
        "stamp,pit [degC],meat [degC]\n"
        + _rows(lambda i: f"{MAY_2_2300_MS + 60_000 * i},93.{i % 10},{i}.5"),
        {},
    ),
    "date and clock apart, month by name, row numbers and humidity beside": (
        "#,Date,Time,Pit °C,Meat °C,RH %\n"
        + _rows(lambda i: f"{i + 1},02-May-2026,23:{i:02d}:00,107.{i % 10},{i}.5,44.1"),
        {},
    ),
    "every field quoted": (
        '"Time","Pit, left (°C)","Meat (°C)"\n'
        + _rows(lambda i: f'"2026-05-02 23:{i:02d}:00","107,{i % 10}","{i},5"'),
        {},
    ),
    "compact times in UTC": (
        "Time;Pit (K);Meat (K)\n"
        + _rows(lambda i: f"20260502T22{i:02d}00Z;360,{i % 10};{300 + i},5"),
        {},
    ),
    "unit behind the values": (
        "Time,Pit,Meat\n"
        + _rows(lambda i: f"2026-05-02 23:{i:02d}:00,225.{i % 10} °F,{40 + i}.5 °F"),
        {},
    ),
    "header in a comment, channels numbered": (
        "# of an invented pit, °C\n# Time,1,2\n"
        + _rows(lambda i: f"2026-05-02T23:{i:02d}:00+01:00,107.{i % 10},{i}.5"),
        {"_unit": "degC"},
    ),
    "clock without date": (
        "Clock,Pit (F),Meat (F)\n" + _rows(lambda i: f"23:{i:02d},225.{i % 10},{i}.5"),
        {},
    ),
}


@pytest.mark.parametrize(("text", "answers"), LAYOUTS.values(), ids=LAYOUTS.keys())
def test_layouts_are_recognised(text: str, answers: dict[str, str]) -> None:
    found, file = _read(text, **answers)
    assert file.rows_bad == file.rows_blank == 0
    assert file.rows_good == 30
    assert len(file.series) == 2
    for series in file.series:
        assert series.readings.time_ms.tolist() == [MAY_2_2300_MS + 60_000 * i for i in range(30)]
        assert series.readings.decimals == 1
    assert [int(raw) % 10 for raw in file.series[0].readings.raw] == [*range(10)] * 3 or (
        file.series[0].readings.raw == 2035
    ).all()
    assert (file.series[1].readings.raw % 10 == 5).all()
    assert file.layout == found.layout
    assert {*_asked(found)} - {"zone", "start"} == {key.replace("_unit", "unit") for key in answers}


def test_one_reading_a_row_with_its_unit() -> None:
    text = "timestamp,probe,temp,unit\n" + _rows(
        lambda i: f"2026-05-02T22:{i // 2:02d}:00Z,{'AB'[i % 2]},{100 + i},{'FC'[i % 2]}"
    )
    found, file = _read(text)
    assert not found.questions
    assert [(s.probe, s.readings.unit, len(s.readings)) for s in file.series] == [
        ("A", "degF", 15),
        ("B", "degC", 15),
    ]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252", "latin-1"])
def test_encodings(encoding: str) -> None:
    text = "Time,Pit (°C)\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},107")
    found = recognise(text.encode(encoding))
    assert found.mapping.columns[1].unit == "degC"
    assert read(text.encode(encoding), found.mapping, zone=LONDON).rows_good == 30


def test_dates_that_allow_both_orders_are_asked() -> None:
    rows = _rows(lambda i: f"03/04/2026 23:{i:02d},225")
    (question,) = [
        q for q in recognise(f"t,p °F\n{rows}".encode()).questions if q.about == "date_order"
    ]
    assert question.choices == ("month-day-year", "day-month-year")
    assert question.suggestion is None


def test_a_date_far_down_settles_the_order() -> None:
    rows = _rows(lambda i: f"03/04/2026 23:00:{i % 60:02d},225", 3000)
    late = rows[:60_000] + "13/04/2026 00:00:00,225\n" + rows[60_000:]
    assert "date_order" in _asked(recognise(f"t,p °F\n{rows}".encode()))
    found = recognise(f"t,p °F\n{late}".encode())
    assert found.mapping.date_order == "day-month-year"


def test_crossing_midnight_hints_at_the_order_but_is_still_asked() -> None:
    rows = _rows(lambda i: f"03/0{4 + i // 15}/2026 23:{i:02d},225")
    (question,) = [
        q for q in recognise(f"t,p °F\n{rows}".encode()).questions if q.about == "date_order"
    ]
    assert question.suggestion == "month-day-year"


def test_the_unit_is_never_decided_by_the_size_of_the_values() -> None:
    found = recognise(("t,pit\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},225.5")).encode())
    (question,) = [q for q in found.questions if q.about == "unit"]
    assert question.suggestion == "degF"
    assert found.mapping.open_points == ("unit: pit",)
    with pytest.raises(IntakeError, match="unit: pit"):
        read(b"t,pit\n", found.mapping, zone=LONDON)


def test_probe_c_is_a_name_beside_probe_a() -> None:
    found = recognise(
        ("t,Probe A,Probe B,Probe C\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},1,2,3")).encode()
    )
    assert [column.unit for column in found.mapping.columns[1:]] == [None, None, None]
    assert [column.probe for column in found.mapping.columns[1:]] == [
        "Probe A",
        "Probe B",
        "Probe C",
    ]


@pytest.mark.parametrize(("value", "unit"), [("107.5", None), ("380.5", "K")])
def test_k_may_be_the_type_of_a_thermocouple(value: str, unit: str | None) -> None:
    text = "t,Pit (K)\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},{value}")
    assert recognise(text.encode()).mapping.columns[1].unit == unit


def test_minutes_and_seconds_or_hours_and_minutes_is_asked() -> None:
    text = "Elapsed,Pit (°F)\n" + _rows(lambda i: f"{i:02d}:00,225")
    found = recognise(text.encode())
    assert found.mapping.open_points == ("time_form",)
    minutes = found.answered({"time_form": "elapsed mm:ss"})
    file = read(text.encode(), minutes, zone=LONDON, start=START)
    assert int(file.series[0].readings.time_ms[-1]) == MAY_2_2300_MS + 29 * 60_000


def test_columns_that_are_no_probes_are_left_aside() -> None:
    text = "Time,Pit °C,Fan %,Set point °C,Battery V,Note\n" + _rows(
        lambda i: f"2026-05-02 23:{i:02d},107.5,30,110,3.7,{'spritz' if i == 7 else ''}"
    )
    found = recognise(text.encode())
    uses = [column.use for column in found.mapping.columns]
    assert uses[:5] == ["time", "value", "ignore", "ignore", "ignore"]
    assert read(text.encode(), found.mapping, zone=LONDON).rows_bad == 0


def test_the_same_layout_has_the_same_digest_whatever_the_readings() -> None:
    def digest(header: str, row: Callable[[int], str]) -> str:
        return recognise(f"{header}\n{_rows(row)}".encode()).layout

    header = "Time;Pit (°C)"
    one = digest(header, lambda i: f"2.5.2026 9:{i:02d};107,5")
    other = digest(header, lambda i: f"12.11.2027 13:{i:02d};9")
    assert one == other
    assert digest("Time;Pit 2 (°C)", lambda i: f"2.5.2026 9:{i:02d};107,5") != one
    assert digest(header, lambda i: f"2026-05-02 09:{i:02d};107,5") != one


def test_a_growing_export_keeps_its_digest() -> None:
    text = "Time,Pit (°C)\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},107.5")
    assert recognise(text[:80].encode()).layout == recognise(text.encode()).layout


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "line 1: no readings"),
        (b"PK\x03\x04rest", "line 1: this is a spreadsheet"),
        (b"a,b\n1\x00,2\n", "line 2: there are zero bytes"),
        (b"a line\nof prose\n", "line 1: no readings"),
        (b"name,mass\nleft,5.5\nright,5.4\n", "line 1: no readings"),
        (
            ("t,P1 °C,P2 °C\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},107,5,93,1")).encode(),
            "line 1: the header names 3 columns, but line 2 has 5; if its numbers have decimal",
        ),
        (
            ("t,note\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},---")).encode(),
            "",
        ),
    ],
)
def test_what_cannot_be_used_is_said_with_its_line(data: bytes, message: str) -> None:
    if not message:
        # A probe that is unplugged throughout is still a probe.
        assert recognise(data).mapping.columns[1].use == "value"
        return
    with pytest.raises(IntakeError, match=message):
        recognise(data)


def test_wrong_answers_are_refused() -> None:
    found = recognise(("t,pit\n" + _rows(lambda i: f"2026-05-02 23:{i:02d},225")).encode())
    with pytest.raises(IntakeError, match="asked are: zone, unit"):
        found.answered({"date_order": "month-day-year"})
    with pytest.raises(IntakeError, match="unit: 'Rankine' is not one of degC, degF, K"):
        found.answered({"unit": "Rankine"})
    with pytest.raises(IntakeError, match="zone: 'Mars' is not a time zone"):
        found.answered({"zone": "Mars"})


def test_decisions_say_why() -> None:
    text, _ = LAYOUTS["US dates, 12 h, units in headers"]
    found = recognise(text.encode())
    assert ("column 2: Pit (°F)", "degF", "its header says so", "certain") in [
        (d.about, str(d.choice), str(d.reason), d.sure) for d in found.decisions
    ]
    assert found.preview[0] == ("5/2/2026 11:00:00 PM", "225.0", "40.5")
