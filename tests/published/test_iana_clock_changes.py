"""IANA time zone database, rules EU and US (seen in its release 2026f as packed by tzdata):

EU from 1996: back on the last Sunday of October at 01:00 UTC, forward on the last Sunday of March.
US from 2007: back on the first Sunday of November at 02:00 local time, forward on the second Sunday
of March at 02:00. London is at UTC and UTC+1 in summer, Chicago at UTC-6 and UTC-5.
"""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from fairsmoke.intake import FileColumn, Mapping, read

MAPPING = Mapping(
    columns=(FileColumn(header="t", use="time"), FileColumn(header="p", use="value", unit="degC")),
    time_form="date and clock",
    date_order="year-month-day",
)


def _file(*times: str) -> bytes:
    return "\n".join(["t,p", *(f"{time},{20 + n}" for n, time in enumerate(times))]).encode()


def _utc(ms: int) -> str:
    return datetime.fromtimestamp(ms / 1000, UTC).strftime("%Y-%m-%d %H:%M")


@pytest.mark.parametrize(
    ("zone", "local", "utc"),
    [
        (
            "Europe/London",
            ["2026-10-25 00:30", "2026-10-25 01:30", "2026-10-25 01:29", "2026-10-25 02:30"],
            ["2026-10-24 23:30", "2026-10-25 00:30", "2026-10-25 01:29", "2026-10-25 02:30"],
        ),
        (
            "America/Chicago",
            ["2026-11-01 00:30", "2026-11-01 01:30", "2026-11-01 01:10", "2026-11-01 02:30"],
            ["2026-11-01 05:30", "2026-11-01 06:30", "2026-11-01 07:10", "2026-11-01 08:30"],
        ),
    ],
)
def test_the_repeated_hour_is_told_apart_by_the_order_of_rows(
    zone: str, local: list[str], utc: list[str]
) -> None:
    found = read(_file(*local), MAPPING, zone=ZoneInfo(zone))
    assert [_utc(ms) for ms in found.series[0].readings.time_ms.tolist()] == utc
    assert found.series[0].readings.raw.tolist() == [20, 21, 22, 23]
    assert not found.series[0].readings.flags.any()
    assert "2 readings lie in the hour" in str(found.notes[0])


@pytest.mark.parametrize(
    ("zone", "before", "skipped", "after"),
    [
        ("Europe/London", "2026-03-29 00:59", "2026-03-29 01:30", "2026-03-29 02:00"),
        ("America/Chicago", "2026-03-08 01:59", "2026-03-08 02:30", "2026-03-08 03:00"),
    ],
)
def test_a_time_in_the_skipped_hour_is_a_bad_row(
    zone: str, before: str, skipped: str, after: str
) -> None:
    found = read(_file(before, skipped, after), MAPPING, zone=ZoneInfo(zone))
    times = found.series[0].readings.time_ms
    assert int(times[1] - times[0]) == 60_000
    assert [(row.line, "went forward over it" in row.reason) for row in found.bad] == [(3, True)]


def test_one_hour_of_the_two_is_taken_to_follow_on() -> None:
    # A log that ends in the repeated hour is of the first time round, one that begins there of the
    # second.
    zone = ZoneInfo("Europe/London")
    ends = read(_file("2026-10-25 00:50", "2026-10-25 01:10"), MAPPING, zone=zone)
    begins = read(_file("2026-10-25 01:50", "2026-10-25 02:10"), MAPPING, zone=zone)
    assert _utc(int(ends.series[0].readings.time_ms[1])) == "2026-10-25 00:10"
    assert _utc(int(begins.series[0].readings.time_ms[0])) == "2026-10-25 01:50"
