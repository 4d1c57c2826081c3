"""A photo of an event, as the bytes that the phone sent."""

import hashlib
from typing import Literal
from uuid import UUID

from pydantic import Field

from fairsmoke.app.entries.base import Entry, Made
from fairsmoke.app.entries.mend import event_named
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.app.text.messages import N_
from fairsmoke.notebook.photos import ENDINGS, Photo, add_photo, kind_of
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id


def media_type_of(content: bytes) -> str:
    """Return what kind of picture bytes are, whatever their name says. Raises AppError for none."""
    kind = kind_of(content)
    if kind is None:
        raise AppError(415, "not-a-picture", N_("This is no picture: send JPEG, PNG or WebP."))
    return kind


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
        # The same picture of the same event, sent with another id, is the same picture.
        photo = Photo(
            event=event,
            file=f"{sha256[:16]}{ENDINGS[media_type]}",
            sha256=sha256,
            by=person.name,
            added_at=transaction.at,
        )
        add_photo(transaction.connection, self.trial, photo, self.content)
        return Made("photo", sha256)
