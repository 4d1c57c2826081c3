"""A day's reminders as an iCalendar file (RFC 5545), for any calendar."""

import hashlib
from datetime import UTC, datetime, timedelta

from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.steps import StepKind
from fairsmoke.telling.when import day_rows

ALARM_BEFORE = timedelta(minutes=5)
_MAKER = "-//Fairsmoke//Reminders of a cook//EN"


def calendar_of(told: DayPlan, made: datetime, *, clock: str = "24") -> bytes:
    """Return the day as an iCalendar file: an event with an alarm for every hands-on step.

    `made` is when it was made (DTSTAMP); `clock` how intervals are written ("24", "12" hours). All
    times are in UTC, so that no time zone's rules need be carried. The same plan and `made` give
    the same bytes. Folding and line ends are those of the library icalendar.
    """
    from icalendar import Alarm, Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", _MAKER)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    minutes = told.plan.asked.minutes
    rows = [
        (at, words, interval, minutes.of(kind))
        for at, words, interval, kind in day_rows(told, clock)
    ]
    rows += [
        (one.at_s, f"{one.cooker}: {one.kind}", "", minutes.of(one.kind))
        for one in told.plan.reminders
        if one.kind is not StepKind.LIGHT
    ]
    rows.append((0.0, "Serve", "", 900.0))
    for at, words, interval, lasts in sorted(rows, key=lambda row: (row[0], row[1])):
        event = Event()
        starts = told.at(at).astimezone(UTC)
        event.add("uid", _uid(told, words, starts))
        event.add("dtstamp", made.astimezone(UTC).replace(microsecond=0))
        event.add("dtstart", starts)
        event.add("dtend", starts + timedelta(seconds=lasts))
        event.add("summary", words)
        if interval:
            event.add("description", f"90 % of simulated days: {interval}")
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", words)
        alarm.add("trigger", -ALARM_BEFORE)
        event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _uid(told: DayPlan, words: str, starts: datetime) -> str:
    name = f"{told.day.sides.title}\n{told.day.serve.isoformat()}\n{words}\n{starts.isoformat()}"
    return f"{hashlib.sha256(name.encode()).hexdigest()[:32]}@fairsmoke.invalid"


__all__ = ["ALARM_BEFORE", "calendar_of"]
