"""Taking back what was just recorded. It is struck out and stays in the history."""

from typing import Any, Literal
from uuid import UUID

from pydantic import Field
from sqlalchemy import select

from fairsmoke.app.entries.base import Entry, Made, Remark
from fairsmoke.app.entries.end import reopen
from fairsmoke.app.entries.probe import undo_move
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import ENTRY
from fairsmoke.notebook.transaction import Transaction


class UndoEntry(Entry):
    """Takes back an earlier entry, named by the id that it was sent with."""

    kind: Literal["undo"]
    of: UUID = Field(description="The id of the entry that is taken back.")
    why: Remark = ""

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Strike out what the earlier entry made."""
        query = select(ENTRY).where(ENTRY.c.id == str(self.of), ENTRY.c.trial_id == self.trial)
        earlier = transaction.connection.execute(query).one_or_none()
        if earlier is None:
            raise AppError(422, "refused", N_("What is to be taken back was not recorded here."))
        if earlier.person != person.id and not person.may(May.MEND):
            raise AppError(403, "not-allowed", N_("Only a cook takes back what others recorded."))
        if earlier.record_kind is None:
            message = N_("This cannot be taken back; leave it out with a reason instead.")
            raise AppError(422, "refused", message)
        self._take_back(transaction, earlier)
        return Made()

    def _take_back(self, transaction: Transaction, earlier: Any) -> None:
        why = self.why.strip() or "taken back at once"
        if earlier.kind == "mend":
            message = N_("What was put right cannot be taken back; put it right once more.")
            raise AppError(422, "refused", message)
        if earlier.kind == "probe":
            undo_move(transaction, self.trial, earlier.record_id, why)
        elif earlier.kind == "end":
            reopen(transaction, self.trial, earlier.record_id, why)
        else:
            transaction.strike(earlier.record_kind, earlier.record_id, why=why, trial=self.trial)
