"""A logger that restarts in the middle of its file, in another unit or with other columns.

Files are invented; 68.2 °F is 20.11 °C and 86.2 °F is 30.11 °C by the definition of the degree.
"""

from zoneinfo import ZoneInfo

import pytest

from fairsmoke.intake import IntakeError, LoggerFile, read, recognise

LONDON = ZoneInfo("Europe/London")
BELOW = [(68, 86), (69, 87), (70, 88), (71, 89)]


def rows(hour: int, values: list[tuple[int, int]]) -> list[str]:
    return [f"2026-05-02 {hour}:{i:02d}:00,{a}.2,{b}.2" for i, (a, b) in enumerate(values)]


CELSIUS = rows(12, [(20, 30), (21, 31), (22, 32), (23, 33), (24, 34)])


def file_of(*lines: str) -> LoggerFile:
    data = "\n".join(lines).encode()
    found = read(data, recognise(data).answered({}), zone=LONDON)
    assert found.rows_read == found.rows_good + found.rows_bad + found.rows_blank
    return found


def units_of(found: LoggerFile) -> list[tuple[str, str, int]]:
    return [(one.probe, one.readings.unit, len(one.readings)) for one in found.series]


@pytest.mark.parametrize(
    ("first", "again"),
    [
        (["Time,A (°C),B (°C)"], ["Time,A (°F),B (°F)"]),
        (["Time,A (°C),B (°C)"], ["time,A [F],B [F]"]),
        (["Time,A (°C),B (°C)"], ["Local time,A (°F),B (°F)"]),
        (["Time,A_C,B_C"], ["Time,A_F,B_F"]),
        (["Time,A,B", ",°C,°C"], ["Time,A,B", ",°F,°F"]),
        (["Units: C", "Time,A,B"], ["", "Units: F", "Time,A,B"]),
    ],
)
def test_a_header_in_another_unit_switches_it(first: list[str], again: list[str]) -> None:
    found = file_of(*first, *CELSIUS, *again, *rows(13, BELOW))
    assert sorted(units_of(found)) == [
        ("A", "degC", 5), ("A", "degF", 4), ("B", "degC", 5), ("B", "degF", 4),
    ]  # fmt: skip
    warm = next(one for one in found.series if one.readings.unit == "degF")
    assert warm.readings.value_c[0] == pytest.approx((68.2 - 32) / 1.8, abs=1e-12)
    line = next(row.line for row in found.bad if "the header again" in row.reason)
    assert any(str(note).startswith(f"From line {line} on") for note in found.notes)
    assert any("A in °F, B in °F" in str(note) for note in found.notes)


def test_one_column_may_switch_and_switch_back() -> None:
    head, other = "Time,A (°C),B (°C)", "Time,A (°C),B (°F)"
    found = file_of(head, *CELSIUS, other, *rows(13, BELOW), head, *rows(14, [(20, 30)]))
    assert units_of(found) == [("A", "degC", 10), ("B", "degC", 6), ("B", "degF", 4)]
    assert len(found.notes) == 2


def test_values_with_their_unit_behind_follow_the_header() -> None:
    found = file_of(
        "Time,A (°C)",
        *(f"2026-05-02 12:0{i}:00,2{i} °C" for i in range(5)),
        "Time,A (°F)",
        *(f"2026-05-02 13:0{i}:00,7{i} °F" for i in range(3)),
    )
    assert units_of(found) == [("A", "degC", 5), ("A", "degF", 3)]
    assert found.rows_bad == 1


def test_the_same_header_again_keeps_what_a_person_said() -> None:
    data = "\n".join(["Time,A,B", *CELSIUS, "Time,A,B", *rows(13, BELOW)]).encode()
    found = read(data, recognise(data).answered({"unit": "degF"}), zone=LONDON)
    assert units_of(found) == [("A", "degF", 9), ("B", "degF", 9)]
    assert [row.reason for row in found.bad] == [
        "the header again; the logger was probably restarted"
    ]


@pytest.mark.parametrize(
    ("again", "said"),
    [
        ("Time,B (°C),A (°C)", r"line 7: .*other columns: 'Time', 'B .*split the file"),
        ("Time,A (°C),B (°C),C (°C)", r"line 7: .*other columns"),
        ("Time,A,B", r"line 7: .*no longer says the unit of 'A'"),
    ],
)
def test_a_header_with_other_columns_stops_the_reading(again: str, said: str) -> None:
    with pytest.raises(IntakeError, match=said):
        file_of("Time,A (°C),B (°C)", *CELSIUS, again, *rows(13, BELOW))


@pytest.mark.parametrize("torn", ["Time,A (°", "Time", "yesterday,72 °F,61 °F", "x,2o5 °F,"])
def test_a_damaged_line_is_only_a_bad_row(torn: str) -> None:
    found = file_of("Time,A (°C),B (°C)", *CELSIUS, torn, *rows(13, BELOW))
    assert units_of(found) == [("A", "degC", 9), ("B", "degC", 9)]
    assert found.rows_bad == 1
