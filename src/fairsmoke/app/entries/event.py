"""Something done or seen at the pit; a note is one too."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from fairsmoke.app.entries.base import Entry, Instant, Made, Remark, Written, next_handle
from fairsmoke.app.entries.consistency import refuse_unsound
from fairsmoke.app.people.person import Person
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.cook import Event, EventKind


class Where(BaseModel):
    """A position in a cooker."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    cooker: Id
    position: Id


class EventEntry(Entry):
    """An event: what was done or seen, when, and to which pieces or cooker."""

    kind: Literal["event"]
    cook: Id
    at: Instant
    event: EventKind
    pieces: tuple[Id, ...] = Field(default=(), max_length=100)
    cooker: Id | None = None
    probe: Id | None = None
    to: Where | None = None
    set: Written | None = Field(default=None, description='A temperature: "250 °F".')
    amount: Written | None = Field(default=None, description='A mass: "1.5 kg".')
    note: Remark = ""

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the event."""
        handle = next_handle(transaction.connection, self.trial, self.cook, "event")
        content = self.model_dump(exclude={"id", "trial", "kind", "event"}, exclude_none=True)
        known = {"id": handle, "kind": self.event, "by": person.name}
        event = Event.model_validate({**content, **known})
        transaction.save(event, trial=self.trial)
        refuse_unsound(transaction, self.trial, self.cook, handle)
        return Made("event", handle)
