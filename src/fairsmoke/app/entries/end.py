"""Ending a cook: from then on it counts as done."""

from typing import Literal

from fairsmoke.app.entries.base import Entry, Instant, Made
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.cook import Cook, Event


class EndEntry(Entry):
    """Ends a cook at a moment."""

    kind: Literal["end"]
    cook: Id
    at: Instant

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write when it ended. Raises AppError when something of it was recorded for later."""
        cook = transaction.get(Cook, self.cook, trial=self.trial)
        assert isinstance(cook, Cook)
        if cook.ends is not None:
            raise AppError(422, "refused", N_("This cook has ended already."))
        events = load_records(transaction.connection, KINDS["event"], self.trial, cook=self.cook)
        if any(isinstance(one, Event) and one.at > self.at for one in events):
            message = N_("Something of this cook happened later than that; choose a later time.")
            raise AppError(422, "refused", message)
        ended = Cook.model_validate({**cook.model_dump(), "ends": self.at})
        transaction.save(ended, trial=self.trial, why="the cook ended")
        return Made("cook", self.cook)


def reopen(transaction: Transaction, trial: str, handle: str, why: str) -> None:
    """Take the end of a cook back."""
    cook = transaction.get(Cook, handle, trial=trial)
    assert isinstance(cook, Cook)
    transaction.save(cook.model_copy(update={"ends": None}), trial=trial, why=why)
