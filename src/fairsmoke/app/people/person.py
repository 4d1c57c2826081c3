"""A person as the app knows them, with what they prefer, and the reader that pages are for."""

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict

from fairsmoke.app.people.permissions import May, Role, may
from fairsmoke.quantity import METRIC, US, Units
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.kitchen import Kitchen

Theme = Literal["auto", "light", "dark"]


class Preferences(BaseModel):
    """How a person wants things shown; None is the kitchen's or the browser's way."""

    model_config = ConfigDict(frozen=True)

    temperature: Literal["C", "F"] | None = None
    mass: Literal["kg", "lb"] | None = None
    clock: Literal["12", "24"] = "24"
    language: str | None = None
    theme: Theme = "auto"

    def units(self, kitchen: str) -> Units:
        """Return the units for a person in a kitchen whose own are "metric" or "us"."""
        base = Units.named(kitchen)
        mass = self.mass or base.mass
        return Units(
            temperature=self.temperature or base.temperature,
            mass=mass,
            length=(US if mass == "lb" else METRIC).length,
        )


@dataclass(frozen=True)
class Person:
    """Somebody who may sign in. ``taster`` is the handle of the taster that they are, if any."""

    id: int
    name: str
    role: Role
    preferences: Preferences
    taster: str | None = None
    has_pin: bool = False
    left: bool = False

    @property
    def owner(self) -> str:
        """Who they are to the job queue and to the store of results."""
        return f"person {self.id}"

    def may(self, what: May) -> bool:
        """Tell whether they may do something."""
        return not self.left and may(self.role, what)


def show_for(person: Person | None, kitchen: Kitchen | None, language: str) -> Reader:
    """Return the way of a person in a kitchen; ``language`` is what their browser would like."""
    preferences = person.preferences if person else Preferences()
    return Reader(
        units=preferences.units(kitchen.units if kitchen else "metric"),
        language=preferences.language or language,
        clock=preferences.clock,
        zone=time_zone(kitchen.time_zone) if kitchen else ZoneInfo("UTC"),
    )
