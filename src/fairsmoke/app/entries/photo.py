"""A photo of an event, as the bytes that the phone sent."""

import hashlib
from typing import Literal
from uuid import UUID

from pydantic import Field
from sqlalchemy import insert, select

from fairsmoke.app.entries.base import Entry, Made
from fairsmoke.app.entries.mend import event_named
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.app.text.messages import N_
from fairsmoke.notebook.beside import ATTACHMENT
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id

KINDS = {
    "image/jpeg": (b"\xff\xd8\xff", 0),
    "image/png": (b"\x89PNG\r\n\x1a\n", 0),
    "image/webp": (b"WEBP", 8),
}
"""Each kind of picture that is taken, and the bytes that tell it, with where they stand."""


def media_type_of(content: bytes) -> str:
    """Return what kind of picture bytes are, whatever their name says. Raises AppError for none."""
    for media_type, (mark, at) in KINDS.items():
        if content[at : at + len(mark)] == mark:
            return media_type
    raise AppError(415, "not-a-picture", N_("This is no picture: send JPEG, PNG or WebP."))


class PhotoEntry(Entry):
    """A photo of an event, which is named by its handle or by the id of the entry that made it."""

    kind: Literal["photo"] = "photo"
    event: Id | None = None
    of: UUID | None = None
    content: bytes = Field(repr=False)

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the photo."""
        media_type = media_type_of(self.content)
        event = event_named(transaction, self.trial, self.event, self.of)
        sha256 = hashlib.sha256(self.content).hexdigest()
        there = select(ATTACHMENT.c.id).where(
            ATTACHMENT.c.trial_id == self.trial,
            ATTACHMENT.c.event == event,
            ATTACHMENT.c.sha256 == sha256,
        )
        # The same picture of the same event, sent with another id, is the same picture.
        if transaction.connection.scalar(there) is None:
            transaction.connection.execute(
                insert(ATTACHMENT).values(
                    trial_id=self.trial,
                    event=event,
                    sha256=sha256,
                    media_type=media_type,
                    size=len(self.content),
                    by=person.name,
                    added_at=transaction.at,
                    content=self.content,
                )
            )
        return Made("photo", sha256)
