"""Photos of events in exported folders: back byte for byte, each once, and what is wrong named."""

import hashlib
import shutil
import struct
import zlib
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fairsmoke.demo import demo_trial
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.errors import FolderError
from fairsmoke.notebook.folder import (
    export_notebook,
    export_trial,
    import_folder,
    notebook_of_folder,
)
from fairsmoke.notebook.photos import Photo, add_photo, photos_of, pictures_of

TRIAL = "paper-or-bare"
TAKEN = datetime(2026, 5, 2, 20, 15, 7, 123456, tzinfo=UTC)


def png(shade: int) -> bytes:
    """A picture of one pixel, by hand from the PNG specification (ISO/IEC 15948)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        whole = kind + body
        return struct.pack(">I", len(body)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    body = zlib.compress(bytes([0, shade]))
    mark = b"\x89PNG\r\n\x1a\n"
    return mark + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def keep(notebook: Notebook, event: str, picture: bytes) -> None:
    sha256 = hashlib.sha256(picture).hexdigest()
    photo = Photo(event=event, file=f"{sha256[:16]}.png", sha256=sha256, by="Cook", added_at=TAKEN)
    with notebook.writing() as connection:
        add_photo(connection, TRIAL, photo, picture)


def shown(notebook: Notebook) -> tuple[tuple[Photo, ...], dict[str, bytes]]:
    with notebook.reading() as connection:
        return photos_of(connection, TRIAL), dict(pictures_of(connection, TRIAL))


@pytest.fixture
def hall(tmp_path: Path) -> Notebook:
    """The invented hall's notebook with three photos: two of one event, one of both events."""
    made = demo_trial(2026)
    notebook = Notebook.create(tmp_path / "hall.fairsmoke", made.kitchen)
    notebook.save_trial(made.record)
    first, second = (event.id for event in made.record.events[:2])
    for event, shade in ((first, 1), (first, 2), (second, 2)):
        keep(notebook, event, png(shade))
    return notebook


def test_photos_come_back_byte_for_byte_and_once(hall: Notebook, tmp_path: Path) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    assert len(list((folder / TRIAL / "photos").iterdir())) == 2
    back = notebook_of_folder(tmp_path / "back.fairsmoke", folder)
    assert shown(back) == shown(hall)
    assert len(shown(back)[0]) == 3
    again = import_folder(back, folder)
    assert (again.photos, again.records) == (0, 0)
    other = export_notebook(back, tmp_path / "again")
    for path in sorted((folder / TRIAL).rglob("*")):
        if path.is_file():
            assert (other / path.relative_to(folder)).read_bytes() == path.read_bytes()


def test_a_folder_of_one_trial_has_them_and_one_exported_before_still_reads(
    hall: Notebook, tmp_path: Path
) -> None:
    folder = export_trial(hall, TRIAL, tmp_path / "one")
    assert (folder / TRIAL / "photos.yaml").is_file()
    # As folders were written before photos stood in them.
    shutil.rmtree(folder / TRIAL / "photos")
    (folder / TRIAL / "photos.yaml").unlink()
    back = notebook_of_folder(tmp_path / "back.fairsmoke", folder)
    assert shown(back) == ((), {})
    # What a folder does not mention stays.
    assert import_folder(hall, folder).photos == 0
    assert len(shown(hall)[0]) == 3


def test_an_export_over_an_earlier_one_takes_up_what_is_new(hall: Notebook, tmp_path: Path) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    with hall.reading() as connection:
        event = photos_of(connection, TRIAL)[0].event
    keep(hall, event, png(3))
    export_notebook(hall, folder)
    assert len(list((folder / TRIAL / "photos").iterdir())) == 3
    next((folder / TRIAL / "photos").iterdir()).write_bytes(png(9))
    with pytest.raises(FolderError, match=r"photos/.*was changed since it was exported"):
        export_notebook(hall, folder)


def test_other_files_beside_the_list_are_left_alone(hall: Notebook, tmp_path: Path) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    (folder / TRIAL / "photos" / "mine.jpg").write_bytes(b"anything")
    back = notebook_of_folder(tmp_path / "back.fairsmoke", folder)
    assert len(shown(back)[0]) == 3
    export_notebook(hall, folder)
    assert (folder / TRIAL / "photos" / "mine.jpg").exists()


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("event: ", "event: no-", r"photos 1, event: there is no event 'no-.*known: "),
        ("file: ", "file: ../", "is no file of the folder photos/"),
        ("file: ", "file: x", "there is no file photos/x.*put it back"),
        ("sha256: ", "sha256: x", r"line \d+: photos 1, sha256"),
        ("photos:", "fotos:", "unknown key"),
        ("by: ", "buy: ", "did you mean 'by'"),
    ],
)
def test_a_wrong_list_names_the_place(
    hall: Notebook, tmp_path: Path, was: str, now: str, words: str
) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    path = folder / TRIAL / "photos.yaml"
    path.write_text(path.read_text("utf-8").replace(was, now, 1), encoding="utf-8")
    with pytest.raises(FolderError, match=words):
        import_folder(hall, folder)
    assert len(shown(hall)[0]) == 3


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (png(9), "was changed since it was exported"),
        (b"%PDF-1.7", "is no picture: JPEG, PNG or WebP"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50_000_000), "more than 50 MB"),
    ],
)
def test_a_wrong_picture_is_named(
    hall: Notebook, tmp_path: Path, content: bytes, words: str
) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    next((folder / TRIAL / "photos").iterdir()).write_bytes(content)
    with pytest.raises(FolderError, match=rf"photos\.yaml, line \d+: photos \d, file: .*{words}"):
        notebook_of_folder(tmp_path / "back.fairsmoke", folder)
    assert not (tmp_path / "back.fairsmoke").exists()


def test_photos_of_an_event_that_was_struck_out_are_kept(hall: Notebook, tmp_path: Path) -> None:
    with hall.reading() as connection:
        event = photos_of(connection, TRIAL)[0].event
    hall.strike("event", event, trial=TRIAL, why="a slip of the thumb")
    folder = export_notebook(hall, tmp_path / "out")
    back = notebook_of_folder(tmp_path / "back.fairsmoke", folder)
    assert shown(back) == shown(hall)
