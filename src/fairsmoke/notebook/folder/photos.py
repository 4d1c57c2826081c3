"""The photos of a trial in its folder: a list of them, and the pictures beside it.

They are read one at a time, when they are checked and again when they are taken in.
"""

import hashlib
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.errors import CorrectionError, FolderError, FolderProblem
from fairsmoke.notebook.folder import layout
from fairsmoke.notebook.folder.content import ListedPhoto
from fairsmoke.notebook.folder.files import FolderFiles
from fairsmoke.notebook.folder.yaml_text import write_yaml
from fairsmoke.notebook.photos import (
    LARGEST,
    Photo,
    add_photo,
    added_before,
    kind_of,
    photos_of,
    pictures_of,
)
from fairsmoke.trial.clock import show_instant

_KEY = "photos"


def photo_files(
    connection: Connection, trial_id: str, zone: ZoneInfo
) -> Iterator[tuple[str, bytes]]:
    """Yield the list of a trial's photos and the pictures; nothing where there are none."""
    photos = photos_of(connection, trial_id)
    if photos:
        content = {_KEY: [one.to_file(zone) for one in photos]}
        yield f"{trial_id}/{layout.PHOTOS_FILE}", write_yaml(content)
    for file, picture in pictures_of(connection, trial_id):
        yield f"{trial_id}/{layout.PHOTOS}/{file}", picture


def read_photos(files: FolderFiles, folder: str, zone: ZoneInfo | None) -> tuple[ListedPhoto, ...]:
    """Return what photos a trial's folder lists; what is wrong with them joins the problems."""
    marked = files.load(f"{folder}/{layout.PHOTOS_FILE}")
    if marked is None:
        return ()
    files.unknown_keys(marked, (_KEY,))
    found = []
    for number, photo in files.beside(marked, _KEY, Photo, zone):
        wrong = _wrong(files.root / folder / layout.PHOTOS, photo)
        if wrong:
            files.problems.append(marked.problem((_KEY, number, "file"), wrong))
        else:
            at = marked.problem((_KEY, number, "event"), "")
            found.append(ListedPhoto(photo, at))
    return tuple(found)


def _wrong(folder: Path, photo: Photo) -> Words:
    """Return what is wrong with the picture of a photo; "" for nothing."""
    if Path(photo.file).name != photo.file or photo.file in ("", ".", ".."):
        return N_(
            "'%(file)s' is no file of the folder %(folder)s",
            file=photo.file,
            folder=f"{layout.PHOTOS}/",
        )
    path = folder / photo.file
    # A link may lead out of the folder, a device or a pipe never ends.
    if folder.is_symlink() or path.is_symlink() or (path.exists() and not path.is_file()):
        return N_(
            "'%(file)s' is no plain file of the folder; put the picture itself there",
            file=photo.file,
        )
    try:
        if path.stat().st_size > LARGEST:
            return N_(
                "'%(file)s' has more than %(megabytes)s MB; make it smaller",
                file=photo.file,
                megabytes=LARGEST // 1_000_000,
            )
        content = path.read_bytes()
    except OSError:
        return N_(
            "there is no file %(file)s; put it back, or take the photo off the list",
            file=f"{layout.PHOTOS}/{photo.file}",
        )
    if kind_of(content) is None:
        return N_("'%(file)s' is no picture: JPEG, PNG or WebP", file=photo.file)
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        return N_(
            "'%(file)s' was changed since it was exported; put the old one back, or write the "
            "SHA-256 of the new one (sha256sum shows it)",
            file=photo.file,
        )
    return ""


def take_in_photos(
    connection: Connection, trial_id: str, photos: tuple[ListedPhoto, ...], root: Path
) -> int:
    """Keep the photos of a folder that the notebook has not; return how many were new.

    Raises FolderError where a picture has changed since the folder was read, and CorrectionError
    where the notebook says otherwise who added it or when: a photo is never changed.
    """
    new = 0
    for listed in photos:
        photo = listed.photo
        before = added_before(connection, trial_id, photo)
        if before is not None:
            if (before.by, before.added_at) != (photo.by, photo.added_at):
                raise CorrectionError(listed.problem(_said_before(before)).words)
            continue
        name = f"{trial_id}/{layout.PHOTOS}/{photo.file}"
        try:
            new += add_photo(connection, trial_id, photo, (root / name).read_bytes())
        except (OSError, ValueError) as error:
            raise FolderError(
                [
                    FolderProblem(
                        name, None, "", N_("%(error)s; read it again", error=message_of(error))
                    )
                ]
            ) from error
    return new


def _said_before(photo: Photo) -> str:
    return (
        f"the notebook has this picture of event '{photo.event}', added by '{photo.by}' at "
        f"{show_instant(photo.added_at, UTC)}; photos are never changed: write that here"
    )


__all__ = ["photo_files", "read_photos", "take_in_photos"]
