"""Reminders against RFC 5545 (iCalendar): its rules by section, and two libraries' readers.

Sections from memory of the standard: 3.1 (lines end in CRLF, folded at 75 octets), 3.3.5 (UTC
time), 3.6 (PRODID and VERSION once), 3.6.1 (UID and DTSTAMP in each event), 3.6.6 (alarm).
"""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import icalendar
import pytest
import vobject
from tests.planning.when_days import ZONE, shoulders_day

from fairsmoke.answers.when import plan_day
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.quantity import METRIC
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.reminders import calendar_content, calendar_of
from fairsmoke.telling.when import day_steps

MADE = datetime(2026, 4, 30, 9, 0, tzinfo=UTC)
READER = Reader(METRIC, "en", "24", ZONE)


@pytest.fixture(scope="module")
def told() -> DayPlan:
    day = shoulders_day(40)
    long = "Schulter für die ältere Köchin; mit Öl, Rauch und sehr langem Namen \\ und noch mehr"
    object.__setattr__(day.sides.pieces[0], "name", long)
    found = plan_day(day, DayConstraints(), with_adjustments=False)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def written(told: DayPlan) -> bytes:
    return calendar_of(calendar_content(told), MADE, READER)


def unfolded(written: bytes) -> list[str]:
    """3.1: a line that begins with a space or tab goes on the one before it."""
    return re.sub(rb"\r\n[ \t]", b"", written).decode().removesuffix("\r\n").split("\r\n")


def test_lines_end_in_crlf_and_hold_75_octets_at_most(written: bytes) -> None:
    assert written.endswith(b"\r\n")
    assert b"\n" not in written.replace(b"\r\n", b"")
    lines = written.split(b"\r\n")
    assert max(len(line) for line in lines) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode()  # 3.1: a fold inside a character would not be read.


def test_what_must_stand_once_does(written: bytes) -> None:
    lines = unfolded(written)
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    events = lines.count("BEGIN:VEVENT")
    assert events == lines.count("END:VEVENT") == lines.count("BEGIN:VALARM")
    for name in ("UID:", "DTSTAMP:", "DTSTART:", "DTEND:", "SUMMARY:"):
        assert sum(line.startswith(name) for line in lines) == events
    uids = [line for line in lines if line.startswith("UID:")]
    assert len(set(uids)) == events


def test_every_time_is_utc(written: bytes) -> None:
    times = [line for line in unfolded(written) if line.startswith("DT")]
    assert times
    for line in times:
        assert re.fullmatch(r"DT(START|END|STAMP):\d{8}T\d{6}Z", line), line
    # 3.8.7.2: the stamp is when the calendar was made, which is given and not the clock's.
    assert {line for line in times if "STAMP" in line} == {"DTSTAMP:20260430T090000Z"}


def test_text_is_escaped(written: bytes) -> None:
    """3.3.11: backslash, semicolon and comma carry a backslash."""
    text = "\n".join(unfolded(written))
    assert r"Köchin\; mit Öl\, Rauch" in text
    assert r"Namen \\ und" in text


Read = tuple[set[tuple[datetime, str]], list[timedelta]]
"""The instant (UTC) and summary of every event, and how far from it each alarm sounds."""


def by_icalendar(written: bytes) -> Read:
    events = icalendar.Calendar.from_ical(written).events
    assert all(not event.errors for event in events)
    found: set[tuple[datetime, str]] = set()
    alarms: list[timedelta] = []
    for event in events:
        assert isinstance(event.start, datetime)
        found.add((event.start.astimezone(UTC), str(event["SUMMARY"])))
        (alarm,) = event.walk("VALARM")
        trigger = alarm.decoded("TRIGGER")
        assert isinstance(trigger, timedelta)
        alarms.append(trigger)
    return found, alarms


def by_vobject(written: bytes) -> Read:
    events = vobject.readOne(written.decode()).vevent_list
    found = {(e.dtstart.value.astimezone(UTC), e.summary.value) for e in events}
    return found, [event.valarm.trigger.value for event in events]


@pytest.mark.parametrize("read", [by_icalendar, by_vobject])
def test_two_readers_find_every_step(
    told: DayPlan, written: bytes, read: Callable[[bytes], Read]
) -> None:
    rows = {(told.at(one.at_s).astimezone(UTC), str(one.line)) for one in day_steps(told)}
    assert (told.day.serve.astimezone(UTC), "Serve") in rows
    rows |= {
        (told.at(one.at_s).astimezone(UTC), f"{one.cooker}: {one.kind}")
        for one in told.plan.reminders
        if one.kind != "light"
    }
    found, alarms = read(written)
    assert found == rows
    assert len(alarms) == unfolded(written).count("BEGIN:VEVENT")
    assert set(alarms) == {timedelta(minutes=-5)}


def test_same_plan_same_bytes(told: DayPlan, written: bytes) -> None:
    assert calendar_of(calendar_content(told), MADE, READER) == written
