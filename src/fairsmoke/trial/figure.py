"""Numbers measured on a piece directly, and what was left out of the judging and why."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import Id, Instant, Record, Text


class Figure(Record):
    """A value of one measure found on one piece (shear force, pH), in the measure's unit.

    ``uncertainty`` is its standard uncertainty in the same unit.
    """

    id: Id
    piece: Id
    measure: Id
    value: Annotated[float, Field(allow_inf_nan=False)]
    uncertainty: Annotated[float, Field(ge=0, allow_inf_nan=False)] = 0.0
    at: Instant | None = None
    note: Text = ""


class Exclusion(Record):
    """Something that was recorded but is left out of the judging, and why.

    A piece (of every measure, or of one), or the readings of a probe during a stretch.
    """

    id: Id
    why: Annotated[Text, Field(min_length=1)]
    piece: Id | None = None
    measure: Id | None = None
    probe: Id | None = None
    cook: Id | None = None
    since: Instant | None = None
    until: Instant | None = None
    decided: Instant | None = None
    by: Text = ""

    @model_validator(mode="after")
    def _leaves_out_one_thing(self) -> Self:
        if (self.piece is None) == (self.probe is None):
            raise InputError(N_("leave out either a piece or a probe's readings"))
        if self.probe is not None:
            if self.cook is None or self.since is None or self.until is None:
                raise InputError(N_("leaving out readings needs 'cook', 'since' and 'until'"))
            if self.until <= self.since:
                raise InputError(N_("the stretch left out must end after it starts"))
        return self
