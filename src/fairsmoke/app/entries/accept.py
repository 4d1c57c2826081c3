"""Accepting an entry exactly once: its id, its record and the answer are written as one."""

import hashlib
from datetime import datetime
from typing import Annotated, Any
from uuid import UUID

from pydantic import BaseModel, Field
from sqlalchemy import Connection, insert, select

from fairsmoke.app.entries.base import Entry
from fairsmoke.app.entries.correct_event import MendEntry
from fairsmoke.app.entries.end import EndEntry
from fairsmoke.app.entries.estimate import EstimateEntry
from fairsmoke.app.entries.event import EventEntry
from fairsmoke.app.entries.omit import OmitEntry
from fairsmoke.app.entries.probe import ProbeEntry
from fairsmoke.app.entries.reading import ReadingEntry
from fairsmoke.app.entries.score import ScoreEntry
from fairsmoke.app.entries.undo import UndoEntry
from fairsmoke.app.entries.weighing import WeighingEntry
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import ENTRY
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import known_handles

AnyEntry = Annotated[
    EventEntry
    | MendEntry
    | ReadingEntry
    | OmitEntry
    | ProbeEntry
    | WeighingEntry
    | EstimateEntry
    | ScoreEntry
    | EndEntry
    | UndoEntry,
    Field(discriminator="kind"),
]
"""Every kind of entry that is sent as JSON; a new kind is added here."""


class Accepted(BaseModel):
    """What was recorded. Sending the same entry again gives the same answer."""

    id: UUID = Field(description="The entry's own id.")
    number: int = Field(description="Its place in the order in which entries were accepted.")
    accepted_at: datetime
    record: str | None = Field(description="The kind of record that it made, if any.")
    handle: str | None = Field(description="The handle of that record.")
    placed: bool = Field(
        default=True,
        description="False for a reading of a probe that has no place in the cook then: it is "
        "kept, and belongs to nothing until somebody says where the probe was.",
    )


def accept(book: Notebook, entry: Entry, person: Person) -> Accepted:
    """Record an entry, or find that it was recorded; it is on the disk when this returns.

    Raises AppError when its id was sent before with other content or the person may not, and
    ValueError for what has to be mended (DoubtedError for what a person may insist on); nothing is
    written then.
    """
    if not person.may(entry.needs):
        raise AppError(403, "not-allowed", N_("This is not open to you here."))
    digest = hashlib.sha256(entry.model_dump_json(exclude={"content", "insist"}).encode())
    digest.update(getattr(entry, "content", b""))
    said = digest.hexdigest()
    # Most repeats come after a lost answer: found without holding up who writes.
    with book.reading() as connection:
        before = _before(connection, entry.id, said)
    if before is not None:
        return before
    with book.transaction(by=person.name) as transaction:
        before = _before(transaction.connection, entry.id, said)
        if before is not None:
            return before
        if not known_handles(transaction.connection, KINDS["trial"], "", [entry.trial]):
            raise AppError(422, "refused", N_("There is no such trial."))
        made = entry.record(transaction, person)
        answer: dict[str, Any] = {"record": made.kind, "handle": made.handle}
        if not made.placed:
            answer["placed"] = False
        key = transaction.connection.execute(
            insert(ENTRY).values(
                id=str(entry.id),
                digest=said,
                kind=getattr(entry, "kind", ""),
                person=person.id,
                accepted_at=transaction.at,
                trial_id=entry.trial,
                record_kind=made.kind,
                record_id=made.handle,
                answer=answer,
            )
        ).inserted_primary_key
        assert key is not None
        return Accepted(id=entry.id, number=key[0], accepted_at=transaction.at, **answer)


def _before(connection: Connection, entry_id: UUID, said: str) -> Accepted | None:
    row = connection.execute(select(ENTRY).where(ENTRY.c.id == str(entry_id))).one_or_none()
    if row is None:
        return None
    if row.digest != said:
        message = N_("An entry of this id was recorded before with other content.")
        raise AppError(409, "other-content", message)
    return Accepted(id=entry_id, number=row.number, accepted_at=row.accepted_at, **row.answer)
