"""Probes, and where each of them was from when to when."""

from datetime import UTC
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import Id, Instant, LengthM, Name, Record, TemperatureDifferenceK, Text
from fairsmoke.trial.clock import show_instant
from fairsmoke.trial.cook import Spot


class Probe(Record):
    """A temperature probe.

    ``accuracy_k``  half-width within which its error lies
    ``offset_k``    what it reads too much; taken off every reading in computations
    ``unit``        what its display shows; a bare number read off it is in that
    """

    id: Id
    name: Name
    accuracy_k: Annotated[TemperatureDifferenceK, Field(ge=0)] = 0.0
    offset_k: TemperatureDifferenceK = 0.0
    unit: Literal["°C", "°F"] | None = None
    note: Text = ""


class Placement(Record):
    """Where one probe was during a stretch of a cook: in a piece, or in the air of a spot.

    ``until`` missing means to the end of the cook. ``checked`` is what somebody confirmed when
    readings contradicted it (``claim``).
    """

    id: Id
    cook: Id
    probe: Id
    since: Instant
    until: Instant | None = None
    measures: Literal["core", "surface", "pit", "cabinet", "wet bulb", "room"]
    piece: Id | None = None
    where: Text = ""
    depth_m: LengthM | None = None
    spot: Spot | None = None
    checked: Text = ""
    checked_by: Text = ""
    checked_at: Instant | None = None

    @property
    def claim(self) -> str:
        """What it says, in one line: what is confirmed when readings contradict it."""
        where = self.piece or (self.spot.text if self.spot else "")
        since = show_instant(self.since, UTC)
        return f"{self.probe}: {self.measures} {where}".rstrip() + f" from {since}"

    @model_validator(mode="after")
    def _is_somewhere(self) -> Self:
        if self.measures in ("core", "surface") and self.piece is None:
            raise InputError(
                N_(
                    "a probe that measures the %(measures)s needs its 'piece'",
                    measures=self.measures,
                )
            )
        if self.measures in ("pit", "cabinet", "wet bulb", "room") and self.piece is not None:
            raise InputError(
                N_("a probe that measures the %(measures)s is in no piece", measures=self.measures)
            )
        if self.until is not None and self.until <= self.since:
            raise InputError(N_("a placement must end after it starts"))
        return self


MEASURED = {
    "core": N_("core"),
    "surface": N_("surface"),
    "pit": N_("pit"),
    "cabinet": N_("holding cabinet"),
    "wet bulb": N_("wet bulb"),
    "room": N_("room"),
}
"""What a probe measures."""
