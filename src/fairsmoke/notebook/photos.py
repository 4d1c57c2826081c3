"""Photos of events: what counts as one, keeping each once, and giving it back byte for byte."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from sqlalchemy import Connection, insert, select

from fairsmoke.notebook.beside import ATTACHMENT
from fairsmoke.notebook.errors import NotebookError

LARGEST_PHOTO_BYTES = 12_000_000
"""No photo has more: the app takes none that is larger, and a folder may hold none."""

PICTURES: Mapping[str, tuple[bytes, int]] = MappingProxyType(
    {
        "image/jpeg": (b"\xff\xd8\xff", 0),
        "image/png": (b"\x89PNG\r\n\x1a\n", 0),
        "image/webp": (b"WEBP", 8),
    }
)
"""Each kind of picture that is taken, and the bytes that tell it, with where they stand."""

PICTURE_ENDINGS: Mapping[str, str] = MappingProxyType(
    {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
)
"""How a file of each kind of picture is called behind its dot."""


@dataclass(frozen=True)
class Photo:
    """What is known of a photo, without its bytes; ``number`` is its row."""

    number: int
    event: str
    sha256: str
    media_type: str
    size: int
    by: str
    added_at: datetime


def picture_type(content: bytes) -> str | None:
    """Return what kind of picture bytes are, whatever their name says; None when they are none."""
    for media_type, (mark, at) in PICTURES.items():
        if content[at : at + len(mark)] == mark:
            return media_type
    return None


def photos_of(connection: Connection, trial: str) -> tuple[Photo, ...]:
    """Return the photos of a trial's events, struck-out events too, in the order of adding."""
    columns = ATTACHMENT.c
    query = select(
        columns.id,
        columns.event,
        columns.sha256,
        columns.media_type,
        columns.size,
        columns.by,
        columns.added_at,
    )
    rows = connection.execute(query.where(columns.trial_id == trial).order_by(columns.id))
    return tuple(Photo(*row) for row in rows)


def photo_content(connection: Connection, photo: Photo) -> bytes:
    """Return the bytes of a photo; raises NotebookError when they are not those that came."""
    query = select(ATTACHMENT.c.content).where(ATTACHMENT.c.id == photo.number)
    content = bytes(connection.execute(query).scalar_one())
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        raise NotebookError(
            f"the photo {photo.sha256[:16]} of event '{photo.event}' is damaged in the notebook; "
            "keep the file, and go on from a backup copy"
        )
    return content


def keep_photo(
    connection: Connection, trial: str, event: str, content: bytes, by: str, at: datetime
) -> bool:
    """Keep a photo of an event; return False when that event has this very picture already.

    Raises NotebookError when it is too large or no picture.
    """
    if len(content) > LARGEST_PHOTO_BYTES:
        raise NotebookError(f"a photo has {LARGEST_PHOTO_BYTES:,} bytes at most; make it smaller")
    media_type = picture_type(content)
    if media_type is None:
        raise NotebookError("this is no JPEG, PNG or WebP picture; save it as one")
    sha256 = hashlib.sha256(content).hexdigest()
    if known_photo(connection, trial, event, sha256) is not None:
        return False
    connection.execute(
        insert(ATTACHMENT).values(
            trial_id=trial,
            event=event,
            sha256=sha256,
            media_type=media_type,
            size=len(content),
            by=by,
            added_at=at,
            content=content,
        )
    )
    return True


def known_photo(
    connection: Connection, trial: str, event: str, sha256: str
) -> tuple[str, datetime] | None:
    """Return who added a picture of an event and when; None when it is not there."""
    columns = ATTACHMENT.c
    query = select(columns.by, columns.added_at).where(
        columns.trial_id == trial, columns.event == event, columns.sha256 == sha256
    )
    row = connection.execute(query).one_or_none()
    return None if row is None else (row[0], row[1])


def photos_digest(connection: Connection, trial: str) -> str:
    """Return a digest of which photos a trial has; "" when it has none."""
    found = sorted((one.event, one.sha256) for one in photos_of(connection, trial))
    return hashlib.sha256(repr(found).encode()).hexdigest() if found else ""
