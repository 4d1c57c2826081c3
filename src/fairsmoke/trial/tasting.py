"""Samples, their codes, and the ballots that tasters hand in."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import Id, Instant, Name, Record, Text

Code = Annotated[int, Field(ge=100, le=999)]
"""The three-digit code on a sample."""


class Taster(Record):
    """A person who tastes."""

    id: Id
    name: Name
    note: Text = ""


class Sample(Record):
    """What a taster is handed: a bit of one piece, with its code when the tasting was blind."""

    id: Id
    piece: Id
    code: Code | None = None
    at: Instant | None = None
    note: Text = ""


class Score(Record):
    """One sample's score for one measure, on the measure's scale."""

    sample: Id
    value: Annotated[float, Field(allow_inf_nan=False)]


class Ballot(Record):
    """What one taster answered about one measure: scores, or a choice among the samples handed.

    ``presented`` is the order of serving; ``chosen`` the sample picked out. ``blind`` says whether
    the taster did not know which sample was which; None: as the samples' codes have it. ``cooked``
    where the taster had a hand in the cook.
    """

    id: Id
    taster: Id
    cook: Id
    measure: Id
    at: Instant | None = None
    presented: tuple[Id, ...] = ()
    scores: tuple[Score, ...] = ()
    chosen: Id | None = None
    blind: bool | None = None
    cooked: bool | None = None
    comment: Text = ""

    @model_validator(mode="after")
    def _answers_something(self) -> Self:
        if not self.scores and self.chosen is None:
            raise InputError(N_("a ballot needs 'scores' or 'chosen'"))
        samples = [score.sample for score in self.scores]
        for sample in samples:
            if samples.count(sample) > 1:
                raise InputError(
                    N_("sample '%(sample)s' is scored twice on one ballot", sample=sample)
                )
        if self.presented:
            for sample in (*samples, *((self.chosen,) if self.chosen else ())):
                if sample not in self.presented:
                    raise InputError(
                        N_("sample '%(sample)s' was not among those presented", sample=sample)
                    )
        return self
