"""Putting right an event that was recorded: its time, its pieces, its note."""

from typing import Any, Literal
from uuid import UUID

from pydantic import Field
from sqlalchemy import select

from fairsmoke.app.entries.base import Entry, Instant, Made, Remark
from fairsmoke.app.entries.consistency import refuse_unsound
from fairsmoke.app.entries.event import ask_about_event
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import ENTRY
from fairsmoke.notebook.rows import load_history
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id
from fairsmoke.trial.cook import Event


class MendEntry(Entry):
    """Changes an event, named by its handle or by the id of the entry that made it.

    Only what is given changes; what stood there before is kept in the history.
    """

    kind: Literal["mend"]
    event: Id | None = None
    of: UUID | None = None
    at: Instant | None = None
    pieces: tuple[Id, ...] | None = Field(default=None, max_length=100)
    note: Remark | None = None
    why: Remark = ""
    insist: bool = Field(
        default=False, description="It hardly can be true; keep it all the same, as doubted."
    )
    made: Instant | None = Field(
        default=None, description="When it was written, which may be long before it is sent."
    )
    overrule: bool = Field(
        default=False, description="Also where somebody else put it right in the meantime."
    )

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the event as it should have been.

        Raises AppError when somebody else put it right since, unless that is to be overruled: it
        may have been written on a phone that had not heard of that.
        """
        handle = event_named(transaction, self.trial, self.event, self.of)
        before = transaction.get(Event, handle, trial=self.trial)
        assert isinstance(before, Event)
        whose = transaction.connection.scalar(
            select(ENTRY.c.person).where(
                ENTRY.c.trial_id == self.trial,
                ENTRY.c.record_kind == "event",
                ENTRY.c.record_id == handle,
            )
        )
        if whose != person.id and not person.may(May.MEND):
            raise AppError(403, "not-allowed", N_("Only a cook changes what others recorded."))
        last = load_history(transaction.connection, "event", self.trial, handle)[-1]
        unseen = self.made is not None and last.recorded_at > self.made
        if last.number > 1 and last.by != person.name and unseen and not self.overrule:
            message = N_(
                "%(name)s put this right in the meantime: %(theirs)s. Look at it, then send yours "
                "all the same, or remove it.",
                name=last.by or N_("Somebody"),
                theirs=last.why or N_("no reason was given"),
            )
            raise AppError(409, "changed", message)
        given = {"at": self.at, "pieces": self.pieces, "note": self.note}
        changes: dict[str, Any] = {name: one for name, one in given.items() if one is not None}
        event = Event.model_validate({**before.model_dump(), **changes})
        # A note that is added changes nothing that was said.
        why = self.why.strip() or ", ".join(f"{name} put right at once" for name in changes)
        transaction.save(event, trial=self.trial, why=why or "put right")
        refuse_unsound(transaction, self.trial, event.cook, handle)
        if not self.insist and event.claim != before.claim:
            ask_about_event(transaction, self.trial, event)
        return Made("event", handle)


def event_named(transaction: Transaction, trial: str, handle: str | None, of: UUID | None) -> str:
    """Return the handle of an event that is there; raises AppError when none is named."""
    if of is not None:
        handle = transaction.connection.scalar(
            select(ENTRY.c.record_id).where(
                ENTRY.c.id == str(of), ENTRY.c.trial_id == trial, ENTRY.c.record_kind == "event"
            )
        )
    if handle is None:
        raise AppError(422, "refused", N_("Say which event is meant."))
    transaction.get("event", handle, trial=trial)
    return handle
