"""An estimate of a part that was not weighed, within limits and with the reason for them."""

from typing import Literal

from pydantic import Field

from fairsmoke.app.entries.base import Entry, Made, Remark, Written
from fairsmoke.app.people.person import Person
from fairsmoke.app.set_up.fields import free_handle
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.weighing import PartEstimate


class EstimateEntry(Entry):
    """Fat that was left on, trim that went into the bin, drip that nobody caught: from, to, why."""

    kind: Literal["estimate"]
    cook: Id | None = None
    piece: Id
    part: Written = Field(description='What was not weighed: "clinging fat", "trim", "drippings".')
    low: Written = Field(description='At least: "20 g".')
    high: Written = Field(description='At most: "60 g".')
    best: Written | None = Field(default=None, description="Most likely, where one can tell.")
    why: Remark = Field(min_length=1, description="What the limits rest on.")

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the estimate."""
        return self.write(transaction)

    def write(self, transaction: Transaction) -> Made:
        """Write it in whoever's transaction this is.

        Raises JobError when the part of the piece is estimated already, and for limits out of
        order.
        """
        piece = transaction.get(Piece, self.piece, trial=self.trial)
        assert isinstance(piece, Piece)
        name = f"{self.piece}-{self.part}"
        handle = free_handle(transaction.connection, "estimate", self.trial, name)
        estimate = PartEstimate.model_validate(
            {
                "id": handle,
                "piece": self.piece,
                "part": self.part,
                "low_kg": self.low,
                "high_kg": self.high,
                "best_kg": self.best,
                "shape": "triangular" if self.best else "rectangular",
                "why": self.why.strip(),
            }
        )
        for one in load_records(transaction.connection, KINDS["estimate"], self.trial):
            assert isinstance(one, PartEstimate)
            if (one.piece, one.part) == (estimate.piece, estimate.part):
                message = N_(
                    "the %(part)s of %(piece)s is estimated already (%(estimate)s); correct that "
                    "one instead",
                    part=one.part.words,
                    piece=piece.name,
                    estimate=one.id,
                )
                raise JobError(message, field="part")
        transaction.save(estimate, trial=self.trial)
        return Made("estimate", handle)
