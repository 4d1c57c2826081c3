"""A trial's photos in a folder: a list that names each one's event, and the pictures beside it.

One picture at a time is in memory, whether it is written, checked or taken in. A file in the
folder of pictures that the list does not name is somebody's own and is left alone.
"""

import hashlib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import StringConstraints, ValidationError
from sqlalchemy import Connection

from fairsmoke.notebook import folder_layout as layout
from fairsmoke.notebook.errors import CorrectionError, FolderError
from fairsmoke.notebook.folder_content import FolderPhoto
from fairsmoke.notebook.folder_files import FolderFiles
from fairsmoke.notebook.folder_problems import record_problems
from fairsmoke.notebook.folder_yaml import Marked, Place, write_yaml
from fairsmoke.notebook.photos import (
    LARGEST_PHOTO_BYTES,
    PICTURE_ENDINGS,
    Photo,
    keep_photo,
    known_photo,
    photo_content,
    photos_of,
    picture_type,
)
from fairsmoke.notebook.writer import Stamp
from fairsmoke.trial.base import Id, Instant, Record
from fairsmoke.trial.clock import show_instant

_LEAVE_IT = "or take this entry out"


class PhotoEntry(Record):
    """One entry of the list. Only ``event`` and ``file`` must be written by hand."""

    event: Id
    file: str
    sha256: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")] | None = None
    media_type: Literal["image/jpeg", "image/png", "image/webp"] | None = None
    by: str | None = None
    added: Instant | None = None


def photo_files(connection: Connection, trial: str, zone: ZoneInfo) -> Iterator[tuple[str, bytes]]:
    """Yield the list of a trial's photos and each picture once; nothing when there are none.

    Raises NotebookError when a photo is damaged in the notebook.
    """
    photos = photos_of(connection, trial)
    if not photos:
        return
    names = _names(photos)
    entries = [
        PhotoEntry(
            event=one.event,
            file=names[one.sha256],
            sha256=one.sha256,
            media_type=one.media_type,
            by=one.by,
            added=one.added_at,
        ).to_file(zone)
        for one in photos
    ]
    yield f"{trial}/{layout.PHOTOS_FILE}", write_yaml({"photos": entries})
    for one in {photo.sha256: photo for photo in photos}.values():
        yield f"{trial}/{names[one.sha256]}", photo_content(connection, one)


def _names(photos: Sequence[Photo]) -> dict[str, str]:
    """Return where each picture lies, by its SHA-256: called by as much of it as tells it."""
    names: dict[str, str] = {}
    for one in photos:
        ending = PICTURE_ENDINGS[one.media_type]
        short = f"{layout.PHOTOS}/{one.sha256[:16]}.{ending}"
        taken = short in (name for sha256, name in names.items() if sha256 != one.sha256)
        names[one.sha256] = f"{layout.PHOTOS}/{one.sha256}.{ending}" if taken else short
    return names


def read_photos(files: FolderFiles, trial: str, zone: ZoneInfo | None) -> tuple[FolderPhoto, ...]:
    """Return the photos that a trial's list names, each looked at; problems join ``files``.

    Whether their events are there is told by ``FolderPhoto.problem`` once all else is read.
    """
    marked = files.load(f"{trial}/{layout.PHOTOS_FILE}")
    if marked is None:
        return ()
    files.unknown_keys(marked, ("photos",))
    entries = marked.value.get("photos", [])
    if not isinstance(entries, list):
        message = "must be a list: a line beginning with '-' for each"
        files.problems.append(marked.problem(("photos",), message))
        return ()
    reader = _PhotoReader(files, trial, marked, zone)
    found = (reader.read(number, content) for number, content in enumerate(entries))
    return tuple(one for one in found if one is not None)


class _UnsoundError(Exception):
    """What is wrong with an entry, and at which of its keys ("" for the whole)."""

    def __init__(self, key: str, message: str) -> None:
        super().__init__(message)
        self.key = key


class _PhotoReader:
    def __init__(
        self, files: FolderFiles, trial: str, marked: Marked, zone: ZoneInfo | None
    ) -> None:
        self._problems = files.problems
        self._root = files.root / trial
        self._marked = marked
        self._zone = zone
        self._first: dict[tuple[str, str], Place] = {}

    def read(self, number: int, content: object) -> FolderPhoto | None:
        place = ("photos", number)
        try:
            entry = PhotoEntry.from_file(content, self._zone)
            sha256 = _looked_at(self._root, entry)
            self._refuse_again(place, entry, sha256)
        except ValidationError as error:
            self._problems += record_problems(self._marked, place, PhotoEntry, error)
            return None
        except _UnsoundError as error:
            where = (*place, error.key) if error.key else place
            self._problems.append(self._marked.problem(where, str(error)))
            return None
        at = self._marked.problem((*place, "event"), "")
        path = self._root / entry.file
        return FolderPhoto(entry.event, path, sha256, entry.by, entry.added, at)

    def _refuse_again(self, place: Place, entry: PhotoEntry, sha256: str) -> None:
        first = self._first.setdefault((entry.event, sha256), place)
        if first != place:
            line = self._marked.line_of(first)
            message = f"this picture of event '{entry.event}' is there already (line {line})"
            raise _UnsoundError("", f"{message}; take one of them out")


def _looked_at(root: Path, entry: PhotoEntry) -> str:
    """Return the SHA-256 of the picture that an entry names; raises _UnsoundError."""
    named, path = f"'{entry.file}'", root / entry.file
    folder, _, name = entry.file.partition("/")
    if folder != layout.PHOTOS or name in ("", ".", "..") or set("/\\\0") & set(name):
        example = f"'{layout.PHOTOS}/wrapped.jpg'"
        raise _UnsoundError("file", f"{named} must lie in {layout.PHOTOS}/, as in {example}")
    try:
        if not path.is_file():
            raise _UnsoundError("file", f"there is no file {named}; put it back, {_LEAVE_IT}")
        size = path.stat().st_size
        if size > LARGEST_PHOTO_BYTES:
            most = f"a photo has {LARGEST_PHOTO_BYTES:,} at most"
            mend = f"make it smaller and take 'sha256' out, {_LEAVE_IT}"
            raise _UnsoundError("file", f"{named} has {size:,} bytes, and {most}; {mend}")
        content = path.read_bytes()
    except OSError as error:
        raise _UnsoundError("file", f"{named} cannot be read: {error.strerror}") from error
    sha256 = hashlib.sha256(content).hexdigest()
    if entry.sha256 not in (None, sha256):
        mend = "put it back as it was; another picture gets an entry of its own, without sha256"
        raise _UnsoundError("file", f"{named} was changed: its SHA-256 is {sha256}; {mend}")
    media_type = picture_type(content)
    if media_type is None:
        mend = f"save it as one, {_LEAVE_IT}"
        raise _UnsoundError("file", f"{named} is no JPEG, PNG or WebP picture; {mend}")
    if entry.media_type not in (None, media_type):
        mend = "write that, or take 'media_type' out"
        raise _UnsoundError("media_type", f"{named} is {media_type}; {mend}")
    return sha256


def take_in_photos(
    connection: Connection, trial: str, photos: Sequence[FolderPhoto], stamp: Stamp
) -> int:
    """Keep a folder's photos, each once; return how many are new.

    Raises CorrectionError when the notebook has one with another sender or time, and FolderError
    when a file is no longer what was read.
    """
    added = 0
    for one in photos:
        known = known_photo(connection, trial, one.event, one.sha256)
        if known is not None:
            _same_or_refused(one, *known)
            continue
        by = stamp.by if one.by is None else one.by
        content = _content_again(one)
        added += keep_photo(connection, trial, one.event, content, by, one.added_at or stamp.at)
    return added


def _same_or_refused(photo: FolderPhoto, by: str, at: datetime) -> None:
    if photo.by in (None, by) and photo.added_at in (None, at):
        return
    there = f"the notebook has this picture of event '{photo.event}', added by '{by}' at "
    mend = "photos are never changed: write that, or take 'by' and 'added' out here"
    raise CorrectionError(str(photo.problem(f"{there}{show_instant(at, UTC)}; {mend}")))


def _content_again(photo: FolderPhoto) -> bytes:
    try:
        content = photo.path.read_bytes()
    except OSError as error:
        reason = f"'{_shown(photo.path)}' cannot be read any more: {error.strerror}; read it again"
        raise FolderError([photo.problem(reason)]) from error
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        reason = f"'{_shown(photo.path)}' was changed while the folder was read; read it again"
        raise FolderError([photo.problem(reason)])
    return content


def _shown(path: Path) -> str:
    return f"{path.parent.name}/{path.name}"
