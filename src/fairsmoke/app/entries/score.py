"""Scores that were said: one taster's numbers for one measure, written down by who cooks."""

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field
from sqlalchemy import Connection

from fairsmoke.app.entries.base import Entry, Made, Remark, next_handle
from fairsmoke.app.people.person import Person
from fairsmoke.app.set_up.fields import free_handle
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField, chained
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.notebook.trial_record import load_trial_record
from fairsmoke.trial.base import Id, Name
from fairsmoke.trial.question import MeasureKind, Trial
from fairsmoke.trial.tasting import Ballot, Sample, Score, Taster


class ScoreEntry(Entry):
    """What one taster gave the pieces of a cook for one measure.

    It counts as not blind: who hands out named pieces and writes down what is said names them. A
    taster is named by handle or, as a new one, by name.
    """

    kind: Literal["score"]
    cook: Id
    at: AwareDatetime
    measure: Id
    taster: Id | None = None
    taster_name: Name | None = None
    cooked: bool = Field(default=False, description="Whether the taster had a hand in the cook.")
    scores: dict[Id, Annotated[float, Field(allow_inf_nan=False)]] = Field(
        min_length=1, max_length=100, description="The score of each piece, by its handle."
    )
    note: Remark = ""

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the ballot, and the taster and the samples where they are new."""
        return self.write(transaction)

    def write(self, transaction: Transaction) -> Made:
        """Write it in whoever's transaction this is.

        Raises JobError for a score off its scale and for a piece that the taster scored before.
        """
        _check_scores(transaction, self)
        taster = self.taster or _taster(transaction, self.taster_name)
        pieces = _sampled(transaction.connection, self.trial)
        _check_new(transaction.connection, self, taster, pieces)
        samples = {piece: self._sample(transaction, piece, pieces) for piece in self.scores}
        handle = next_handle(transaction.connection, self.trial, self.cook, "ballot")
        ballot = Ballot(
            id=handle,
            taster=taster,
            cook=self.cook,
            measure=self.measure,
            at=self.at,
            scores=tuple(
                Score(sample=samples[piece], value=value) for piece, value in self.scores.items()
            ),
            blind=False,
            cooked=self.cooked,
            comment=self.note,
        )
        transaction.save(ballot, trial=self.trial)
        problems = load_trial_record(transaction.connection, self.trial, {}).problems()
        wrong = [one for one in problems if f"'{handle}'" in str(one)]
        if wrong:
            raise JobError(chained(wrong))
        return Made("ballot", handle)

    def _sample(self, transaction: Transaction, piece: str, pieces: Mapping[str, Sample]) -> str:
        """Return the sample without a code that a piece has, which is made where there is none."""
        for one in pieces.values():
            if one.piece == piece and one.code is None:
                return one.id
        handle = free_handle(transaction.connection, "sample", self.trial, f"{piece}-named")
        transaction.save(Sample(id=handle, piece=piece), trial=self.trial)
        return handle


def _check_scores(transaction: Transaction, entry: ScoreEntry) -> None:
    trial = transaction.get(Trial, entry.trial)
    assert isinstance(trial, Trial)
    measure = next((one for one in trial.measures if one.id == entry.measure), None)
    if measure is None or measure.kind is not MeasureKind.SCORE:
        scored = [one.id for one in trial.measures if one.kind is MeasureKind.SCORE]
        known = ", ".join(scored) or N_("none")
        message = N_(
            "“%(said)s” is not scored in this trial; scored: %(known)s",
            said=entry.measure,
            known=known,
        )
        raise JobError(message, field="measure")
    low, high = measure.scale_low, measure.scale_high
    assert low is not None
    assert high is not None
    off = [value for value in entry.scores.values() if not low <= value <= high]
    if off:
        message = N_(
            "%(value)s is off the scale of “%(measure)s”, which goes from %(low)s to %(high)s",
            value=f"{off[0]:g}",
            measure=measure.name,
            low=f"{low:g}",
            high=f"{high:g}",
        )
        raise JobError(message, field="score")


def _taster(transaction: Transaction, name: str | None) -> str:
    """Return the handle of a taster of that name, who is made where there is none."""
    if not name:
        raise JobError(N_("say who tasted (%(field)s)", field=InputField("taster")), field="taster")
    for one in load_records(transaction.connection, KINDS["taster"], ""):
        if isinstance(one, Taster) and one.name.casefold() == name.strip().casefold():
            return one.id
    handle = free_handle(transaction.connection, "taster", "", name)
    transaction.save(Taster(id=handle, name=name))
    return handle


def _sampled(connection: Connection, trial: str) -> dict[str, Sample]:
    found = load_records(connection, KINDS["sample"], trial)
    return {one.id: one for one in found if isinstance(one, Sample)}


def _check_new(
    connection: Connection, entry: ScoreEntry, taster: str, samples: Mapping[str, Sample]
) -> None:
    """Raise JobError when a taster's score of a piece is there already: it would count twice."""
    for one in load_records(connection, KINDS["ballot"], entry.trial):
        assert isinstance(one, Ballot)
        if (one.taster, one.measure, one.cook) != (taster, entry.measure, entry.cook):
            continue
        for score in one.scores:
            piece = samples[score.sample].piece if score.sample in samples else ""
            if piece in entry.scores:
                message = N_(
                    "%(taster)s has scored %(piece)s for this already: it is %(value)s (ballot "
                    "%(ballot)s). Correct that one instead of scoring again.",
                    taster=taster,
                    piece=piece,
                    value=f"{score.value:g}",
                    ballot=one.id,
                )
                raise JobError(message, field="score")
