"""Photos of events: which kinds of picture are kept, and reading and writing them one at a time."""

import hashlib
from collections.abc import Iterator
from datetime import datetime
from typing import Annotated

from pydantic import Field
from sqlalchemy import Connection, insert, select

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import ATTACHMENT
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.trial.base import Id, Instant, Record, Text

KINDS = {
    "image/jpeg": (b"\xff\xd8\xff", 0),
    "image/png": (b"\x89PNG\r\n\x1a\n", 0),
    "image/webp": (b"WEBP", 8),
}
"""Each kind of picture that is taken, and the bytes that tell it, with where they stand."""

ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}

LARGEST = 50_000_000
"""Bytes of a photo that is taken in from a folder."""


def kind_of(content: bytes) -> str | None:
    """Return what kind of picture bytes are, whatever their name says; None for none."""
    found = (k for k, (mark, at) in KINDS.items() if content[at : at + len(mark)] == mark)
    return next(found, None)


def file_of(sha256: str, media_type: str) -> str:
    """Return how the file of a picture is called."""
    return f"{sha256[:16]}{ENDINGS[media_type]}"


class Photo(Record):
    """A photo of an event, without its bytes: those have the SHA-256."""

    event: Id
    file: Text
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    # As it came: a name that a record would refuse must still go out and come back.
    by: str = ""
    added_at: Instant


def photo_of(event: str, content: bytes, by: str, at: datetime) -> Photo:
    """Return what is to be said of a picture that is added to an event; it must be one."""
    sha256 = hashlib.sha256(content).hexdigest()
    kind = kind_of(content)
    if kind is None:
        raise InputError(N_("is no picture: JPEG, PNG or WebP"))
    return Photo(event=event, file=file_of(sha256, kind), sha256=sha256, by=by, added_at=at)


def photos_of(connection: Connection, trial_id: str) -> tuple[Photo, ...]:
    """Return what photos a trial has, in the order in which they came."""
    columns = (getattr(ATTACHMENT.c, n) for n in ("event", "sha256", "media_type", "by"))
    query = select(*columns, ATTACHMENT.c.added_at)
    rows = connection.execute(query.where(ATTACHMENT.c.trial_id == trial_id).order_by("id"))
    return tuple(
        Photo(
            event=row.event,
            file=file_of(row.sha256, row.media_type),
            sha256=row.sha256,
            by=row.by,
            added_at=row.added_at,
        )
        for row in rows
    )


def pictures_of(connection: Connection, trial_id: str) -> Iterator[tuple[str, bytes]]:
    """Yield each picture of a trial once, its file and its bytes, never two at a time.

    Raises NotebookError when the bytes are not those that came.
    """
    for sha256, file in {one.sha256: one.file for one in photos_of(connection, trial_id)}.items():
        query = select(ATTACHMENT.c.content, ATTACHMENT.c.event).where(
            ATTACHMENT.c.trial_id == trial_id, ATTACHMENT.c.sha256 == sha256
        )
        content, event = connection.execute(query.limit(1)).one()
        wrong = _damage(content, trial_id, event, sha256)
        if wrong:
            raise NotebookError(
                N_("%(wrong)s; keep the file, and go on from a backup copy", wrong=wrong)
            )
        yield file, content


def damaged(connection: Connection) -> Iterator[str]:
    """Yield what is to be said of each photo of the notebook that is not as it came."""
    columns = ATTACHMENT.c
    for number in connection.scalars(select(columns.id).order_by(columns.id)).all():
        query = select(columns.content, columns.trial_id, columns.event, columns.sha256)
        wrong = _damage(*connection.execute(query.where(columns.id == number)).one())
        if wrong:
            yield wrong


def _damage(content: bytes, trial_id: str, event: str, sha256: str) -> str:
    if hashlib.sha256(content).hexdigest() == sha256:
        return ""
    return (
        f"the photo {sha256[:16]} of event '{event}' in trial '{trial_id}' is damaged in the "
        "notebook"
    )


def photos_digest(connection: Connection, trial_id: str) -> str:
    """Return a digest of which photos a trial has; "" when it has none."""
    found = sorted((one.event, one.sha256) for one in photos_of(connection, trial_id))
    return hashlib.sha256(repr(found).encode()).hexdigest() if found else ""


def added_before(connection: Connection, trial_id: str, photo: Photo) -> Photo | None:
    """Return what is said of that picture of that event in the notebook; None for nothing."""
    columns = ATTACHMENT.c
    query = select(columns.by, columns.added_at).where(
        columns.trial_id == trial_id,
        columns.event == photo.event,
        columns.sha256 == photo.sha256,
    )
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    return photo.model_copy(update={"by": row.by, "added_at": row.added_at})


def add_photo(connection: Connection, trial_id: str, photo: Photo, content: bytes) -> bool:
    """Keep a photo; return whether it was new. The same picture of the same event is kept once.

    Raises ValueError for what is no picture, or has other bytes than the photo says.
    """
    kind = kind_of(content)
    if kind is None:
        raise InputError(N_("is no picture: JPEG, PNG or WebP"))
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        raise InputError(N_("is another picture than its SHA-256 says"))
    if added_before(connection, trial_id, photo) is not None:
        return False
    connection.execute(
        insert(ATTACHMENT).values(
            trial_id=trial_id,
            event=photo.event,
            sha256=photo.sha256,
            media_type=kind,
            size=len(content),
            by=photo.by,
            added_at=photo.added_at,
            content=content,
        )
    )
    return True


__all__ = [
    "ENDINGS",
    "KINDS",
    "LARGEST",
    "Photo",
    "add_photo",
    "added_before",
    "damaged",
    "file_of",
    "kind_of",
    "photo_of",
    "photos_digest",
    "photos_of",
    "pictures_of",
]
