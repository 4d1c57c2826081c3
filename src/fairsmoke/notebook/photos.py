"""Photos of events: which kinds of picture are kept, and reading and writing them one at a time."""

import hashlib
from collections.abc import Iterator
from typing import Annotated

from pydantic import Field
from sqlalchemy import Connection, insert, select

from fairsmoke.notebook.beside import ATTACHMENT
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


class Photo(Record):
    """A photo of an event, without its bytes: those have the SHA-256."""

    event: Id
    file: Text
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    by: Text = ""
    added_at: Instant


def photos_of(connection: Connection, trial_id: str) -> tuple[Photo, ...]:
    """Return what photos a trial has, in the order in which they came."""
    columns = (getattr(ATTACHMENT.c, n) for n in ("event", "sha256", "media_type", "by"))
    query = select(*columns, ATTACHMENT.c.added_at)
    rows = connection.execute(query.where(ATTACHMENT.c.trial_id == trial_id).order_by("id"))
    return tuple(
        Photo(
            event=row.event,
            file=f"{row.sha256[:16]}{ENDINGS[row.media_type]}",
            sha256=row.sha256,
            by=row.by,
            added_at=row.added_at,
        )
        for row in rows
    )


def pictures_of(connection: Connection, trial_id: str) -> Iterator[tuple[str, bytes]]:
    """Yield each picture of a trial once, its file and its bytes, never two at a time."""
    for sha256, file in {one.sha256: one.file for one in photos_of(connection, trial_id)}.items():
        query = select(ATTACHMENT.c.content).where(
            ATTACHMENT.c.trial_id == trial_id, ATTACHMENT.c.sha256 == sha256
        )
        yield file, connection.execute(query.limit(1)).scalar_one()


def add_photo(connection: Connection, trial_id: str, photo: Photo, content: bytes) -> bool:
    """Keep a photo; return whether it was new. The same picture of the same event is kept once.

    Raises ValueError for what is no picture, or has other bytes than the photo says.
    """
    kind = kind_of(content)
    if kind is None:
        raise ValueError("is no picture: JPEG, PNG or WebP")
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        raise ValueError("is another picture than its SHA-256 says")
    there = select(ATTACHMENT.c.id).where(
        ATTACHMENT.c.trial_id == trial_id,
        ATTACHMENT.c.event == photo.event,
        ATTACHMENT.c.sha256 == photo.sha256,
    )
    if connection.scalar(there) is not None:
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
    "kind_of",
    "photos_of",
    "pictures_of",
]
