"""Entries from the pit: one address for all kinds, each accepted exactly once; photos beside it."""

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, File, Form, Path, Response, UploadFile
from sqlalchemy import select

from fairsmoke.app.auth import Book, Recorder, Seer, Told
from fairsmoke.app.entries.accept import Accepted, AnyEntry, accept
from fairsmoke.app.entries.photo import PhotoEntry
from fairsmoke.app.problems import AppError, documented
from fairsmoke.app.security.rate_limiter import TooLargeError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import ATTACHMENT
from fairsmoke.notebook.photos import KINDS
from fairsmoke.trial.base import Id

router = APIRouter(prefix="/api", tags=["entries"])


@router.post("/entries", responses=documented(400, 401, 403, 409, 413, 422, 429, 503))
def record(entry: AnyEntry, person: Recorder, book: Book) -> Accepted:
    """Record one entry.

    It is on the disk when the answer comes. Send it again with the same id whenever no answer
    came: it is recorded once, and the answer is the same.
    """
    return accept(book, entry, person)


@router.post("/photos", responses=documented(400, 401, 403, 409, 413, 415, 422, 429, 503))
def add_photo(
    person: Recorder,
    book: Book,
    settings: Told,
    entry_id: Annotated[UUID, Form(alias="id", description="Made by whoever sends it.")],
    trial: Annotated[Id, Form()],
    photo: Annotated[UploadFile, File(description="JPEG, PNG or WebP.")],
    event: Annotated[Id | None, Form(description="The handle of the event.")] = None,
    of: Annotated[UUID | None, Form(description="Or the id of the entry that made it.")] = None,
) -> Accepted:
    """Record a photo of an event, exactly once as entries are."""
    content = photo.file.read(settings.limits.photo + 1)
    if len(content) > settings.limits.photo:
        raise TooLargeError(settings.limits.photo)
    return accept(
        book, PhotoEntry(id=entry_id, trial=trial, event=event, of=of, content=content), person
    )


@router.get(
    "/photos/{trial}/{sha256}",
    response_class=Response,
    responses={
        200: {"content": {kind: {} for kind in KINDS}, "description": "The picture."},
        **documented(400, 401, 403, 404, 413, 422, 429, 503),
    },
)
def photo(
    trial: Id,
    sha256: Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="Of its bytes.")],
    person: Seer,
    book: Book,
) -> Response:
    """Give a photo back, byte by byte as it was sent."""
    query = select(ATTACHMENT.c.media_type, ATTACHMENT.c.content).where(
        ATTACHMENT.c.trial_id == trial, ATTACHMENT.c.sha256 == sha256
    )
    with book.reading() as connection:
        found = connection.execute(query.limit(1)).one_or_none()
    if found is None:
        raise AppError(404, "no-photo", N_("There is no such photo."))
    kept = {"Cache-Control": "private, max-age=31536000, immutable"}
    return Response(found.content, media_type=found.media_type, headers=kept)
