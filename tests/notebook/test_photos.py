"""Photos of events in exported folders: back byte for byte, each once, and what is wrong named."""

import hashlib
import os
import random
import shutil
import sqlite3
import struct
import tracemalloc
import zlib
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fairsmoke.demo import demo_trial
from fairsmoke.notebook import CorrectionError, FolderError, Notebook, NotebookError
from fairsmoke.notebook.folder.transfer import (
    export_notebook,
    export_trial,
    import_folder,
    notebook_of_folder,
)
from fairsmoke.notebook.photos import (
    Photo,
    add_photo,
    photo_of,
    photos_digest,
    photos_of,
    pictures_of,
)

BY_HAND = Path(__file__).parent / "data" / "by-hand"
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
        (
            "event: ",
            "event: no-",
            r"yaml, line 2: photos 1, event: there is no event 'no-.*known: ",
        ),
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


def test_a_link_or_a_pipe_is_no_picture(hall: Notebook, tmp_path: Path) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    picture = next((folder / TRIAL / "photos").iterdir())
    outside = tmp_path / "outside.png"
    outside.write_bytes(picture.read_bytes())
    picture.unlink()
    picture.symlink_to(outside)
    with pytest.raises(FolderError, match="no plain file"):
        import_folder(hall, folder)
    picture.unlink()
    os.mkfifo(picture)
    with pytest.raises(FolderError, match="no plain file"):
        import_folder(hall, folder)


def test_photos_of_an_event_that_was_struck_out_are_kept(hall: Notebook, tmp_path: Path) -> None:
    with hall.reading() as connection:
        event = photos_of(connection, TRIAL)[0].event
    hall.strike("event", event, trial=TRIAL, why="a slip of the thumb")
    folder = export_notebook(hall, tmp_path / "out")
    back = notebook_of_folder(tmp_path / "back.fairsmoke", folder)
    assert shown(back) == shown(hall)


def test_photos_of_a_trial_that_was_struck_out_are_kept(hall: Notebook, tmp_path: Path) -> None:
    hall.strike("trial", TRIAL, why="never mind")
    folder = export_notebook(hall, tmp_path / "out")
    with notebook_of_folder(tmp_path / "back.fairsmoke", folder) as back:
        assert shown(back) == shown(hall)
        assert (back.digest(), back.check()) == (hall.digest(), ())


def test_digests_tell_whether_photos_are_the_same(hall: Notebook) -> None:
    def seen() -> tuple[str, str]:
        with hall.reading() as connection:
            return hall.digest(), photos_digest(connection, TRIAL)

    before, event = seen(), shown(hall)[0][0].event
    keep(hall, event, png(1))
    assert seen() == before
    keep(hall, event, png(3))
    assert all(new != old for new, old in zip(seen(), before, strict=True))


# The hall is in England: British Summer Time is UTC+1.
@pytest.mark.parametrize(("was", "now"), [("by: Cook", "by: Cleo"), ("21:15:07", "21:25:07")])
def test_who_added_a_photo_and_when_is_never_changed_in_silence(
    hall: Notebook, tmp_path: Path, was: str, now: str
) -> None:
    folder = export_notebook(hall, tmp_path / "out")
    path = folder / TRIAL / "photos.yaml"
    text = path.read_text("utf-8")
    assert was in text
    path.write_text(text.replace(was, now, 1), encoding="utf-8")
    with pytest.raises(CorrectionError, match=r"line 2: photos 1, event: .*added by 'Cook' at "):
        import_folder(hall, folder, why="remembered otherwise")
    with notebook_of_folder(tmp_path / "new.fairsmoke", folder) as new:
        assert new.check() == ()


def test_an_event_that_was_numbered_by_its_place_cannot_be_named(tmp_path: Path) -> None:
    """Its number changes when a line is put before it, and the photo would be of another event."""
    folder = Path(shutil.copytree(BY_HAND, tmp_path / "mine"))
    (folder / TRIAL / "photos").mkdir()
    (folder / TRIAL / "photos" / "a.png").write_bytes(png(1))
    (folder / TRIAL / "photos.yaml").write_text(
        "photos:\n  - event: first-fire-event-2\n    file: a.png\n"
        f"    sha256: '{hashlib.sha256(png(1)).hexdigest()}'\n    added_at: 2026-05-03 06:00\n"
    )
    with pytest.raises(FolderError, match=r"line 2: photos 1, event: .*by its place; write 'id'"):
        notebook_of_folder(tmp_path / "a.db", folder)
    cook = folder / TRIAL / "cooks/first-fire.yaml"
    text = cook.read_text(encoding="utf-8")
    cook.write_text(
        text.replace("    kind: wrap\n", "    id: first-fire-event-2\n    kind: wrap\n")
    )
    with notebook_of_folder(tmp_path / "a.db", folder) as made:
        assert [one.event for one in shown(made)[0]] == ["first-fire-event-2"]


def test_a_damaged_photo_is_told_and_not_given_out(hall: Notebook, tmp_path: Path) -> None:
    assert hall.check() == ()
    hall.close()
    with closing(sqlite3.connect(hall.path)) as raw:
        (guard,) = raw.execute(
            "SELECT sql FROM sqlite_master WHERE name = 'keep_attachment_update'"
        )
        raw.execute("DROP TRIGGER keep_attachment_update")
        raw.execute("UPDATE attachment SET content = zeroblob(9) WHERE id = 2")
        raw.execute(guard[0])
        raw.commit()
    with Notebook.open(hall.path) as spoilt:
        (found,) = spoilt.check()
        assert "is damaged in the notebook" in str(found)
        with pytest.raises(NotebookError, match="is damaged in the notebook; keep the file"):
            export_notebook(spoilt, tmp_path / "out")


def test_hundreds_of_photos_are_never_in_memory_together(tmp_path: Path) -> None:
    many, each = 300, 200_000
    drawn = random.Random(3)
    with notebook_of_folder(tmp_path / "a.db", BY_HAND) as made:
        with made.writing() as connection:
            for number in range(many):
                # The first bytes of a JPEG (ITU-T T.81).
                picture = b"\xff\xd8\xff\xe0" + drawn.randbytes(each)
                photo = photo_of(f"first-fire-event-{number % 4 + 1}", picture, "Ada", TAKEN)
                add_photo(connection, TRIAL, photo, picture)
        tracemalloc.start()
        try:
            export_notebook(made, tmp_path / "out")
            _, writing = tracemalloc.get_traced_memory()
            tracemalloc.reset_peak()
            with notebook_of_folder(tmp_path / "b.db", tmp_path / "out") as again:
                _, reading = tracemalloc.get_traced_memory()
                tracemalloc.stop()
                assert again.digest() == made.digest()
        finally:
            tracemalloc.stop()
    # All together are 60 MB.
    assert max(writing, reading) < many * each / 3, (writing, reading)
