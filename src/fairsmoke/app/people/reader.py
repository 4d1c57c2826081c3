"""The reader that a page is written for: by their preferences, the kitchen and the browser."""

from zoneinfo import ZoneInfo

from fairsmoke.app.people.person import Person, Preferences
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.kitchen import Kitchen


def show_for(person: Person | None, kitchen: Kitchen | None, language: str) -> Reader:
    """Return the way of a person in a kitchen; ``language`` is what their browser would like."""
    preferences = person.preferences if person else Preferences()
    return Reader(
        units=preferences.units(kitchen.units if kitchen else "metric"),
        language=preferences.language or language,
        clock=preferences.clock,
        zone=time_zone(kitchen.time_zone) if kitchen else ZoneInfo("UTC"),
    )
