"""A photo of an event, as the bytes that the phone sent."""

from typing import Literal
from uuid import UUID

from pydantic import Field

from fairsmoke.app.entries.base import Entry, Made
from fairsmoke.app.entries.correct_event import event_named
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.photos import add_photo, kind_of, photo_of
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.base import Id


def check_picture(content: bytes) -> None:
    """Raise AppError when bytes are no picture, whatever their name says."""
    if kind_of(content) is None:
        raise AppError(415, "not-a-picture", N_("This is no picture: send JPEG, PNG or WebP."))


class PhotoEntry(Entry):
    """A photo of an event, which is named by its handle or by the id of the entry that made it."""

    kind: Literal["photo"] = "photo"
    event: Id | None = None
    of: UUID | None = None
    content: bytes = Field(repr=False)

    def record(self, transaction: Transaction, person: Person) -> Made:
        """Write the photo."""
        check_picture(self.content)
        event = event_named(transaction, self.trial, self.event, self.of)
        # The same picture of the same event, sent with another id, is the same picture.
        photo = photo_of(event, self.content, person.name, transaction.at)
        add_photo(transaction.connection, self.trial, photo, self.content)
        return Made("photo", photo.sha256)
