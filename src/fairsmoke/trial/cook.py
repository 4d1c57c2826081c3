"""Cookers, cooks, pieces and what was done or seen while they cooked."""

from datetime import UTC
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import (
    Id,
    Instant,
    LengthM,
    MassKg,
    Name,
    Record,
    TemperatureC,
    Text,
    ZoneName,
)
from fairsmoke.trial.clock import show_instant


class Position(Record):
    """A named place in a cooker."""

    id: Id
    name: Name
    note: Text = ""


class Cooker(Record):
    """The pit, smoker or oven, with its positions."""

    id: Id
    name: Name
    fuel: Text = ""
    positions: Annotated[tuple[Position, ...], Field(min_length=1)]
    note: Text = ""

    @model_validator(mode="after")
    def _positions_have_own_handles(self) -> Self:
        handles = [position.id for position in self.positions]
        for handle in handles:
            if handles.count(handle) > 1:
                raise InputError(
                    N_("two positions are called '%(handle)s'; give each its own id", handle=handle)
                )
        return self


Plated = Literal["by one who knew", "by one who did not know"]
"""Whether who plated the samples of a cook knew which piece was which."""


class Cook(Record):
    """One firing of one or more cookers: a block of the trial.

    ``plated`` says whether who plated its samples knew which was which, None where not recorded.
    """

    id: Id
    name: Name
    time_zone: ZoneName
    starts: Instant
    ends: Instant | None = None
    cookers: Annotated[tuple[Id, ...], Field(min_length=1)]
    plated: Plated | None = None
    weather: Text = ""
    note: Text = ""

    @model_validator(mode="after")
    def _ends_after_it_starts(self) -> Self:
        if self.ends is not None and self.ends <= self.starts:
            raise InputError(N_("a cook must end after it starts"))
        return self


class Spot(Record):
    """A position in a cooker."""

    cooker: Id
    position: Id

    @property
    def text(self) -> str:
        """The spot as one word: "barrel/left"."""
        return f"{self.cooker}/{self.position}"


class Piece(Record):
    """A piece of meat: the experimental unit, or the whole that such units were cut from.

    ``half_of`` names the piece that it was cut from; a whole that was cut up has no arm of its
    own. ``pair`` names the matched set inside which arms were drawn. ``animal`` is shared by
    pieces of one animal.
    """

    id: Id
    name: Name
    cut: Name
    species: Literal["beef", "pork", "lamb", "turkey", "chicken", "other"]
    grade: Text = ""
    animal: Id | None = None
    cook: Id | None = None
    arm: Id | None = None
    pair: Id | None = None
    half_of: Id | None = None
    side: Text = ""
    spot: Spot | None = None
    length_m: LengthM | None = None
    width_m: LengthM | None = None
    thick_m: LengthM | None = None
    thin_m: LengthM | None = None
    fat_cap_m: LengthM | None = None
    injected: bool = False
    note: Text = ""

    @model_validator(mode="after")
    def _a_unit_is_whole(self) -> Self:
        if self.arm is not None and self.cook is None:
            raise InputError(N_("a piece with an arm needs the cook in which it was cooked"))
        if self.half_of == self.id:
            raise InputError(N_("a piece cannot be a half of itself"))
        return self


class EventKind(StrEnum):
    """What was done or seen."""

    ON = "on"
    RAISE = "raise"
    LOWER = "lower"
    SPRITZ = "spritz"
    WRAP = "wrap"
    UNWRAP = "unwrap"
    PULL = "pull"
    HOLD = "hold"
    HOLD_END = "hold end"
    MOVED = "moved"
    FUEL = "fuel"
    WATER = "water"
    LID = "lid"
    PROBE_OUT = "probe out"
    PROBE_IN = "probe in"
    SLICE = "slice"
    SERVE = "serve"
    NOTE = "note"


_NEEDS_PIECE = {
    EventKind.ON,
    EventKind.WRAP,
    EventKind.UNWRAP,
    EventKind.PULL,
    EventKind.HOLD,
    EventKind.HOLD_END,
    EventKind.MOVED,
    EventKind.SLICE,
}


class Event(Record):
    """Something done or seen at a time, to pieces or to a cooker.

    ``set_c`` is the new set temperature of a raise or lower; ``to`` where pieces were moved.
    ``checked`` is what somebody confirmed when readings contradicted it (``claim``).
    """

    id: Id
    cook: Id
    at: Instant
    kind: EventKind
    pieces: tuple[Id, ...] = ()
    cooker: Id | None = None
    probe: Id | None = None
    to: Spot | None = None
    set_c: TemperatureC | None = None
    amount_kg: MassKg | None = None
    by: Text = ""
    note: Text = ""
    checked: Text = ""
    checked_by: Text = ""
    checked_at: Instant | None = None

    @property
    def claim(self) -> str:
        """What it says, in one line: what is confirmed when readings contradict it."""
        return f"{self.kind} at {show_instant(self.at, UTC)}: {' + '.join(self.pieces)}"

    @model_validator(mode="after")
    def _has_what_its_kind_needs(self) -> Self:
        if self.kind in _NEEDS_PIECE and not self.pieces:
            raise InputError(N_("'%(kind)s' needs 'pieces': which ones?", kind=self.kind))
        if self.kind is EventKind.MOVED and self.to is None:
            raise InputError(N_("'moved' needs 'to': the cooker and position"))
        if self.kind in (EventKind.RAISE, EventKind.LOWER) and self.set_c is None:
            raise InputError(N_("'%(kind)s' needs 'set': the new temperature", kind=self.kind))
        return self
