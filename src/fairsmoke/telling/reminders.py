"""A day's reminders as an iCalendar file (RFC 5545), for any calendar."""

import hashlib
from datetime import UTC, datetime, timedelta
from typing import Any

from fairsmoke.messages.message import N_, Message
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.when import TENDING, DayStep, day_steps

ALARM_BEFORE = timedelta(minutes=5)
_MAKER = "-//Fairsmoke//Reminders of a cook//"


def calendar_content(plan: DayPlan) -> list[dict[str, Any]]:
    """Return the day's events, as messages and quantities: when, how long, what, and the interval.

    Each has an id that does not hang on its reader: told anew, it replaces the one before.
    """
    minutes = plan.plan.asked.minutes
    steps = [
        DayStep(
            one.at_s,
            N_("%(cooker)s: %(what)s", cooker=one.cooker, what=Message(one.kind)),
            minutes.of(one.kind),
        )
        for one in plan.plan.reminders
        if one.kind in TENDING
    ]
    found = []
    for step in sorted([*day_steps(plan), *steps], key=lambda one: (one.at_s, str(one.line))):
        starts = plan.at(step.at_s).astimezone(UTC)
        days = None
        if step.between is not None:
            days = N_("90 %% of simulated days: %(between)s", between=step.between)
        found.append(
            {
                "uid": _uid(plan, str(step.what), starts),
                "starts": starts,
                "lasts_s": step.lasts_s,
                "what": step.line,
                "days": days,
            }
        )
    return found


def calendar_of(content: list[dict[str, Any]], made: datetime, reader: Reader) -> bytes:
    """Return the day as an iCalendar file: an event with an alarm for every hands-on step.

    ``content`` is what `calendar_content` returned, ``made`` when it was planned (DTSTAMP). All
    times are in UTC, so that no time zone's rules need be carried. The same content, ``made`` and
    reader give the same bytes. Folding and line ends are those of the library icalendar.
    """
    from icalendar import Alarm, Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", _MAKER + reader.language.upper())
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for one in content:
        event, words = Event(), reader.say(one["what"])
        event.add("uid", one["uid"])
        event.add("dtstamp", made.astimezone(UTC).replace(microsecond=0))
        event.add("dtstart", one["starts"])
        event.add("dtend", one["starts"] + timedelta(seconds=one["lasts_s"]))
        event.add("summary", words)
        if one["days"] is not None:
            event.add("description", reader.say(one["days"]))
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", words)
        alarm.add("trigger", -ALARM_BEFORE)
        event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _uid(plan: DayPlan, words: str, starts: datetime) -> str:
    name = f"{plan.day.sides.title}\n{plan.day.serve.isoformat()}\n{words}\n{starts.isoformat()}"
    return f"{hashlib.sha256(name.encode()).hexdigest()[:32]}@fairsmoke.invalid"
