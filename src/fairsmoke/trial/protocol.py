"""Protocols: the stages that a piece goes through and what ends each of them."""

from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, StringConstraints, model_validator

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import DurationS, Id, MassKg, Name, Record, TemperatureC, Text


class Place(StrEnum):
    """Where a stage happens."""

    COOKER = "cooker"
    CABINET = "holding cabinet"
    COOLER = "dry cooler"
    COUNTER = "counter"
    FRIDGE = "fridge"


class Cover(StrEnum):
    """What covers one side of a piece."""

    BARE = "bare"
    PAPER = "paper"
    FOIL = "foil"
    FILM = "film"
    FILM_UNDER_FOIL = "film under foil"
    TRAY = "tray"


class Wrap(Record):
    """What covers a piece above and below; a foil boat is foil below and bare above."""

    above: Cover = Cover.BARE
    below: Cover = Cover.BARE

    @property
    def text(self) -> str:
        """The wrap in words: "paper", or "bare above, foil below"."""
        if self.above == self.below:
            return str(self.above)
        return f"{self.above} above, {self.below} below"


def _wrap_from_word(value: Any) -> Any:
    return {"above": value, "below": value} if isinstance(value, str) else value


WrapState = Annotated[Wrap, BeforeValidator(_wrap_from_word)]
"""A wrap; one word in a file means the same above and below."""


class Humidity(StrEnum):
    """Where the moisture in the air around a piece comes from, besides fuel and meat."""

    NONE = "none"
    WATER_PAN = "water pan"
    STEAM = "steam"
    SPRITZ = "spritz"
    SEALED_WRAP = "sealed wrap"


class Addition(Record):
    """Fat or liquid put on or in with the piece during a stage."""

    what: Literal["fat", "liquid", "rub", "slather"]
    name: Name
    mass_kg: MassKg | None = None


ClockOfDay = Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


class EndCondition(Record):
    """One thing that ends a stage. Exactly one of the fields is given.

    ``core_c``     the coldest part of the core reaches this temperature
    ``elapsed_s``  so long after the stage began
    ``clock``      the next time that clocks show this, "06:30"
    ``feel``       a judgement of the cook, in words ("probe tender everywhere")
    """

    core_c: TemperatureC | None = None
    elapsed_s: DurationS | None = None
    clock: ClockOfDay | None = None
    feel: Name | None = None

    @model_validator(mode="after")
    def _exactly_one(self) -> Self:
        given = [x for x in (self.core_c, self.elapsed_s, self.clock, self.feel) if x is not None]
        if len(given) != 1:
            raise InputError(
                N_("give exactly one of core, elapsed, clock, feel; list others beside it")
            )
        return self


class Stage(Record):
    """One stage of a protocol; it ends at whichever of its conditions comes first.

    ``surround_c`` is the temperature of the air meant for it: pit, cabinet or room.
    """

    id: Id
    name: Name
    place: Place = Place.COOKER
    surround_c: TemperatureC | None = None
    humidity: Humidity = Humidity.NONE
    wrap: WrapState = Wrap()
    adds: tuple[Addition, ...] = ()
    ends: Annotated[tuple[EndCondition, ...], Field(min_length=1)]
    note: Text = ""


class StageChange(Record):
    """What an arm does otherwise in one stage of the shared protocol; only what is given changes.

    ``leave_out`` drops the stage; ``put_after`` adds ``stage`` as a new one behind the named one.
    """

    stage: Id
    surround_c: TemperatureC | None = None
    place: Place | None = None
    humidity: Humidity | None = None
    wrap: WrapState | None = None
    adds: tuple[Addition, ...] | None = None
    ends: Annotated[tuple[EndCondition, ...], Field(min_length=1)] | None = None
    note: Text | None = None
    leave_out: bool = False
    put_after: Stage | None = None

    @model_validator(mode="after")
    def _one_kind_of_change(self) -> Self:
        if self.leave_out and (self.put_after or self.changed):
            raise InputError(
                N_("stage '%(stage)s' cannot be both left out and changed", stage=self.stage)
            )
        if not (self.leave_out or self.put_after or self.changed):
            raise InputError(
                N_("the change to stage '%(stage)s' changes nothing", stage=self.stage)
            )
        return self

    @property
    def changed(self) -> dict[str, Any]:
        """The fields of the stage that get another value."""
        fields = ("surround_c", "place", "humidity", "wrap", "adds", "ends", "note")
        return {name: getattr(self, name) for name in fields if getattr(self, name) is not None}


class Protocol(Record):
    """The stages in order. Raises ValueError when two stages share a handle."""

    stages: Annotated[tuple[Stage, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _stages_have_own_handles(self) -> Self:
        ids = [stage.id for stage in self.stages]
        for handle in ids:
            if ids.count(handle) > 1:
                raise InputError(
                    N_("two stages are called '%(handle)s'; give each its own id", handle=handle)
                )
        return self

    def changed_by(self, changes: tuple[StageChange, ...]) -> "Protocol":
        """Return the protocol that an arm with these changes follows.

        Raises ValueError when a change names a stage that is not there.
        """
        stages = list(self.stages)
        for change in changes:
            at = next((i for i, stage in enumerate(stages) if stage.id == change.stage), None)
            if at is None:
                known = ", ".join(stage.id for stage in stages)
                raise InputError(
                    N_(
                        "there is no stage '%(stage)s' to change; known: %(known)s",
                        stage=change.stage,
                        known=known,
                    )
                )
            if change.changed:
                stages[at] = stages[at].model_copy(update=change.changed)
            if change.put_after is not None:
                stages.insert(at + 1, change.put_after)
            if change.leave_out:
                del stages[at]
        return Protocol(stages=tuple(stages))
