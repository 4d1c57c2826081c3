"""Something done or seen at the pit; a note is one too."""

from datetime import timedelta
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from fairsmoke.app.entries.base import Entry, Instant, Made, Remark, Written, next_handle
from fairsmoke.app.entries.consistency import refuse_unsound
from fairsmoke.app.people.person import Person
from fairsmoke.arriving.doubted import AskedAbout, DoubtedError, refuse_new
from fairsmoke.messages.message import N_
from fairsmoke.notebook.kinds import KINDS
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
    insist: bool = Field(
        default=False, description="It hardly can be true; keep it all the same, as doubted."
    )

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the event.

        Raises DoubtedError when readings or other events contradict it, or it lies in the future,
        and nobody insists.
        """
        handle = next_handle(transaction.connection, self.trial, self.cook, "event")
        content = self.model_dump(
            exclude={"id", "trial", "kind", "event", "insist"}, exclude_none=True
        )
        known = {"id": handle, "kind": self.event, "by": person.name}
        event = Event.model_validate({**content, **known})
        transaction.save(event, trial=self.trial)
        refuse_unsound(transaction, self.trial, self.cook, handle)
        if not self.insist:
            ask_about_event(transaction, self.trial, event)
        return Made("event", handle)


AHEAD = timedelta(minutes=15)
"""So far a phone's clock may be ahead; what lies further in the future was not done yet."""


def ask_about_event(transaction: Transaction, trial: str, event: Event) -> None:
    """Raise DoubtedError when an event that was just written hardly can be true."""
    if event.at > transaction.at + AHEAD:
        words = N_("That lies in the future. Is it the right time, the right date?")
        key = KINDS["event"].key(trial, event.id)
        raise DoubtedError([AskedAbout(key, event.claim, words, words)])
    if event.pieces:
        refuse_new(transaction.connection, trial, "event", event.id, event.pieces)
