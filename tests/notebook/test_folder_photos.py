"""Photos in a folder: out and back byte for byte, once, and what is said when one is not sound."""

import hashlib
import random
import shutil
import sqlite3
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fairsmoke.notebook import CorrectionError, FolderError, Notebook, NotebookError
from fairsmoke.notebook.folder import (
    export_notebook,
    export_trial,
    import_folder,
    notebook_of_folder,
    read_folder,
)
from fairsmoke.notebook.photos import (
    LARGEST_PHOTO_BYTES,
    keep_photo,
    photo_content,
    photos_digest,
    photos_of,
)
from fairsmoke.trial.cook import Event

BY_HAND = Path(__file__).parent / "data" / "by-hand"
TRIAL = "paper-or-bare"
WRAP, RAISE = "first-fire-event-2", "first-fire-event-3"
AT = datetime(2026, 5, 3, 4, 12, 3, 456789, tzinfo=UTC)
# The first bytes of a JPEG (ITU-T T.81), a PNG (ISO/IEC 15948) and a WebP (RFC 9649).
JPEG = b"\xff\xd8\xff\xe0" + bytes(range(200))
PNG = b"\x89PNG\r\n\x1a\n" + b"\r\n\0" * 50
WEBP = b"RIFF\x10\0\0\0WEBPVP8 " + bytes(9)

Kept = tuple[str, bytes, str, str, datetime]


def add(notebook: Notebook, event: str, content: bytes, by: str = "Ada") -> None:
    with notebook.writing() as connection:
        keep_photo(connection, TRIAL, event, content, by, AT)


def photos(notebook: Notebook) -> list[Kept]:
    with notebook.reading() as connection:
        return [
            (one.event, photo_content(connection, one), one.media_type, one.by, one.added_at)
            for one in photos_of(connection, TRIAL)
        ]


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("once") / "hall.db"
    with notebook_of_folder(path, BY_HAND, by="Ada") as made:
        add(made, WRAP, JPEG)
        add(made, WRAP, PNG, "Ben: the other")
        add(made, RAISE, WEBP, "")
        # One picture may show two events.
        add(made, RAISE, JPEG)
    return path


@pytest.fixture
def notebook(made_once: Path, tmp_path: Path) -> Iterator[Notebook]:
    with Notebook.open(Path(shutil.copy(made_once, tmp_path))) as made:
        yield made
        assert made.check() == ()


@pytest.fixture
def out(notebook: Notebook, tmp_path: Path) -> Path:
    return export_notebook(notebook, tmp_path / "out")


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def complaints(folder: Path) -> list[str]:
    with pytest.raises(FolderError) as caught:
        read_folder(folder)
    return [str(one) for one in caught.value.problems]


def file_of(content: bytes, ending: str) -> str:
    return f"photos/{hashlib.sha256(content).hexdigest()[:16]}.{ending}"


def test_photos_lie_beside_their_list_and_come_back_once(
    notebook: Notebook, out: Path, tmp_path: Path
) -> None:
    pictures = {file_of(JPEG, "jpg"): JPEG, file_of(PNG, "png"): PNG, file_of(WEBP, "webp"): WEBP}
    found = {f"photos/{one.name}": one.read_bytes() for one in (out / TRIAL / "photos").iterdir()}
    assert found == pictures
    listed = (out / TRIAL / "photos.yaml").read_text(encoding="utf-8")
    assert listed.count("- event:") == 4
    # British Summer Time is UTC+1.
    assert "added: '2026-05-03 05:12:03.456789+01:00'" in listed
    assert f"sha256: {hashlib.sha256(PNG).hexdigest()}" in listed.replace("'", "")
    with notebook_of_folder(tmp_path / "b.db", out) as again:
        assert photos(again) == photos(notebook)
        assert again.digest() == notebook.digest()
        assert import_folder(again, out).photos == 0
        assert len(photos(again)) == 4
        assert again.check() == ()


def test_one_trial_goes_out_with_its_photos(notebook: Notebook, tmp_path: Path) -> None:
    one = export_trial(notebook, TRIAL, tmp_path / "one")
    with Notebook.create(tmp_path / "b.db") as other:
        assert import_folder(other, one).photos == 4
        assert photos(other) == photos(notebook)


def test_photos_of_what_was_struck_out_come_back_too(notebook: Notebook, tmp_path: Path) -> None:
    notebook.strike("event", RAISE, why="it was not raised", trial=TRIAL)
    out = export_notebook(notebook, tmp_path / "event")
    with notebook_of_folder(tmp_path / "b.db", out) as again:
        assert photos(again) == photos(notebook)
    notebook.strike("trial", TRIAL, why="never mind")
    out = export_notebook(notebook, tmp_path / "trial")
    with notebook_of_folder(tmp_path / "c.db", out) as again:
        assert photos(again) == photos(notebook)
        assert again.digest() == notebook.digest()


def test_a_digest_tells_whether_photos_are_the_same(notebook: Notebook) -> None:
    def seen() -> tuple[str, str]:
        with notebook.reading() as connection:
            return notebook.digest(), photos_digest(connection, TRIAL)

    before = seen()
    add(notebook, WRAP, JPEG)
    assert seen() == before
    add(notebook, WRAP, JPEG + b"!")
    assert all(new != old for new, old in zip(seen(), before, strict=True))
    with notebook.reading() as connection:
        assert photos_digest(connection, "none") == ""


def test_a_folder_without_photos_takes_none_away(notebook: Notebook, out: Path) -> None:
    """An export of before photos were in it has neither the list nor the pictures."""
    before = photos(notebook)
    (out / TRIAL / "photos.yaml").unlink()
    shutil.rmtree(out / TRIAL / "photos")
    assert import_folder(notebook, out).photos == 0
    assert photos(notebook) == before


def test_what_the_list_does_not_name_stays_in_the_notebook(notebook: Notebook, out: Path) -> None:
    before = photos(notebook)
    (out / TRIAL / "photos.yaml").write_text("photos:\n")
    assert import_folder(notebook, out).photos == 0
    assert photos(notebook) == before


def test_files_that_the_list_does_not_name_are_left_alone(notebook: Notebook, out: Path) -> None:
    own = out / TRIAL / "photos" / "hall.jpg"
    own.write_bytes(b"not even a picture")
    (out / TRIAL / "photos" / "list.yaml").write_text("mine: [")
    assert import_folder(notebook, out).photos == 0
    export_notebook(notebook, out)
    assert own.read_bytes() == b"not even a picture"


def test_a_second_export_adds_what_is_new_and_rewrites_nothing(
    notebook: Notebook, out: Path
) -> None:
    first = out / TRIAL / file_of(JPEG, "jpg")
    before = first.stat().st_mtime_ns
    add(notebook, WRAP, JPEG + b"more")
    export_notebook(notebook, out)
    assert first.stat().st_mtime_ns == before
    assert (out / TRIAL / file_of(JPEG + b"more", "jpg")).read_bytes() == JPEG + b"more"
    for line in (out / "checksums.txt").read_text().splitlines():
        digest, name = line.split("  ")
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest


def test_a_second_export_of_a_notebook_without_them_takes_them_away(
    out: Path, tmp_path: Path
) -> None:
    own = out / TRIAL / "photos" / "hall.jpg"
    own.write_bytes(b"mine")
    with notebook_of_folder(tmp_path / "b.db", BY_HAND) as other:
        export_notebook(other, out)
    assert [one.name for one in (out / TRIAL / "photos").iterdir()] == ["hall.jpg"]
    assert not (out / TRIAL / "photos.yaml").exists()


def test_a_picture_that_was_changed_by_hand_is_not_written_over(
    notebook: Notebook, out: Path
) -> None:
    picture = out / TRIAL / file_of(PNG, "png")
    picture.write_bytes(PNG + b"cropped")
    with pytest.raises(FolderError, match=r"photos/[0-9a-f]{16}\.png: was changed since it was"):
        export_notebook(notebook, out)
    assert picture.read_bytes() == PNG + b"cropped"


def _remove(path: Path) -> None:
    path.unlink()


def _turn_into_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _change(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"!")


def _too_large(path: Path) -> None:
    path.write_bytes(JPEG + bytes(LARGEST_PHOTO_BYTES))


@pytest.mark.parametrize(
    ("spoil", "complaint"),
    [
        (_remove, "there is no file '{file}'; put it back, or take this entry out"),
        (_turn_into_folder, "there is no file '{file}'; put it back"),
        (_change, "'{file}' was changed: its SHA-256 is {sha256}; put it back as it was;"),
        (
            _too_large,
            "'{file}' has 12,000,204 bytes, and a photo has 12,000,000 at most; make it smaller",
        ),
    ],
)
def test_a_spoilt_picture_is_named_with_its_mend(
    notebook: Notebook, out: Path, spoil: Callable[[Path], None], complaint: str
) -> None:
    before, file = notebook.digest(), file_of(JPEG, "jpg")
    spoil(out / TRIAL / file)
    path = out / TRIAL / file
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
    # Both entries that name the file are listed, each with its line.
    lines = (out / TRIAL / "photos.yaml").read_text().splitlines()
    places = [number for number, line in enumerate(lines, 1) if file in line]
    found = complaints(out)
    assert len(places) == len(found) == 2
    for place, entry, one in zip(places, (1, 4), found, strict=True):
        assert one.startswith(f"{TRIAL}/photos.yaml, line {place}: photos {entry}, file: ")
        assert complaint.format(file=file, sha256=sha256) in one
    with pytest.raises(FolderError):
        import_folder(notebook, out)
    assert notebook.digest() == before


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    mine = Path(shutil.copytree(BY_HAND, tmp_path / "mine"))
    cook = mine / TRIAL / "cooks/first-fire.yaml"
    edit(cook, "    kind: wrap\n", "    kind: wrap\n    id: wrapped\n")
    (mine / TRIAL / "photos").mkdir()
    (mine / TRIAL / "photos" / "Wrapped at five.png").write_bytes(PNG)
    (mine / TRIAL / "photos.yaml").write_text(
        "photos:\n  - event: wrapped\n    file: photos/Wrapped at five.png\n"
    )
    return mine


def test_by_hand_an_event_and_a_file_are_enough(folder: Path, tmp_path: Path) -> None:
    with notebook_of_folder(tmp_path / "a.db", folder, by="Ada") as made:
        ((event, content, media_type, by, at),) = photos(made)
        assert (event, content, media_type, by) == ("wrapped", PNG, "image/png", "Ada")
        assert abs((datetime.now(UTC) - at).total_seconds()) < 600
        # Read again, at another time and by another hand, it is there once and as it was.
        assert import_folder(made, folder, by="Ben").photos == 0
        assert photos(made) == [(event, content, media_type, by, at)]
        # Who added it and when is never changed, so other words are refused and can be mended.
        with (folder / TRIAL / "photos.yaml").open("a") as file:
            file.write("    by: Cleo\n")
        with pytest.raises(
            CorrectionError,
            match=r"photos\.yaml, line 2: photos 1, event: .*added by 'Ada' at .*take 'by'",
        ):
            import_folder(made, folder, why="it was Cleo")
        assert photos(made) == [(event, content, media_type, by, at)]


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        (
            "event: wrapped",
            "event: warpped",
            "line 2: photos 1, event: there is no event 'warpped'",
        ),
        ("event: wrapped", "event: first-fire-event-1", "got this handle by its place; write 'id'"),
        ("event: wrapped", "event: On it", "photos 1, event: 'On it' is not a handle"),
        ("- event: wrapped\n    file", "- file", "photos 1, event: is missing"),
        ("    file: photos/Wrapped at five.png\n", "", "photos 1, file: is missing"),
        ("photos:\n", "photo:\n", "photo: unknown key; did you mean 'photos'?"),
        ("photos/Wrapped", "../photos/Wrapped", "must lie in photos/, as in 'photos/wrapped.jpg'"),
        ("photos/Wrapped", "photos/../photos/Wrapped", "must lie in photos/"),
        ("photos/Wrapped", "/Wrapped", "must lie in photos/"),
        ("photos/Wrapped at five.png", "photos/", "must lie in photos/"),
        ("five.png\n", "five.png\n    sha: 3\n", "photos 1, sha: unknown key; did you mean"),
        ("five.png\n", "five.png\n    sha256: 3\n", "'3' must be 64 digits of 0-9 and a-f"),
        ("five.png\n", "five.png\n    media_type: image/gif\n", "'image/gif' is not one of the"),
        (
            "five.png\n",
            "five.png\n    media_type: image/jpeg\n",
            "photos 1, media_type: 'photos/Wrapped at five.png' is image/png; write that, or take",
        ),
        ("five.png\n", "five.png\n    added: 5:10\n", "photos 1, added: '5:10' has no date"),
        ("photos:\n", "photos: none\nmore:\n", "photos: must be a list"),
        (
            "five.png\n",
            "five.png\n  - event: wrapped\n    file: photos/again.png\n",
            "line 4: photos 2: this picture of event 'wrapped' is there already (line 2)",
        ),
    ],
)
def test_one_fault_of_the_list_is_one_clear_complaint(
    folder: Path, old: str, new: str, complaint: str
) -> None:
    shutil.copy(folder / TRIAL / "photos/Wrapped at five.png", folder / TRIAL / "photos/again.png")
    edit(folder / TRIAL / "photos.yaml", old, new)
    found = complaints(folder)
    assert any(complaint in one for one in found), found
    assert all(one.startswith(f"{TRIAL}/photos.yaml, line ") for one in found)


@pytest.mark.parametrize("content", [b"", b"<svg/>", b"GIF89a", JPEG[1:]])
def test_what_is_no_picture_is_refused(folder: Path, content: bytes) -> None:
    (folder / TRIAL / "photos/Wrapped at five.png").write_bytes(content)
    (found,) = complaints(folder)
    assert "'photos/Wrapped at five.png' is no JPEG, PNG or WebP picture; save it as one" in found


def test_a_list_called_otherwise_is_not_passed_over(folder: Path) -> None:
    (folder / TRIAL / "photos.yaml").rename(folder / TRIAL / "photo.yaml")
    assert complaints(folder) == [f"{TRIAL}/photo.yaml: unknown file; did you mean 'photos.yaml'?"]


def test_a_picture_that_changes_while_it_is_read_makes_no_notebook(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fairsmoke.notebook import folder as room

    def read_then_changed(path: Path) -> object:
        content = read_folder(path)
        (folder / TRIAL / "photos/Wrapped at five.png").write_bytes(PNG + b"!")
        return content

    monkeypatch.setattr(room, "read_folder", read_then_changed)
    with pytest.raises(FolderError, match=r"five\.png' was changed while the folder was read"):
        notebook_of_folder(tmp_path / "a.db", folder)
    assert not (tmp_path / "a.db").exists()


def test_pictures_whose_digests_begin_alike_have_names_of_their_own() -> None:
    # Two such pictures cannot be made; two such digests can be written down.
    from fairsmoke.notebook.folder_photos import _names
    from fairsmoke.notebook.photos import Photo

    one, other = "a" * 16 + "0" * 48, "a" * 16 + "1" * 48
    found = _names([Photo(n, "e", s, "image/png", 1, "", AT) for n, s in enumerate([one, other])])
    assert found == {one: f"photos/{'a' * 16}.png", other: f"photos/{other}.png"}


def test_a_damaged_photo_is_told_and_not_given_out(made_once: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(made_once, tmp_path))
    with closing(sqlite3.connect(path)) as raw:
        (guard,) = raw.execute(
            "SELECT sql FROM sqlite_master WHERE name = 'keep_attachment_update'"
        )
        raw.execute("DROP TRIGGER keep_attachment_update")
        raw.execute("UPDATE attachment SET content = zeroblob(9) WHERE media_type = 'image/png'")
        raw.execute(guard[0])
        raw.commit()
    with Notebook.open(path) as spoilt:
        (found,) = spoilt.check()
        assert f"of event '{WRAP}' is damaged in the notebook" in found
        with pytest.raises(NotebookError, match="damaged in the notebook; keep the file"):
            export_notebook(spoilt, tmp_path / "out")


def test_what_is_too_large_or_no_picture_is_never_kept(notebook: Notebook) -> None:
    for content, complaint in ((b"text", "no JPEG, PNG or WebP"), (_large(), "at most")):
        with pytest.raises(NotebookError, match=complaint):
            add(notebook, WRAP, content)


def _large() -> bytes:
    return JPEG + bytes(LARGEST_PHOTO_BYTES)


def test_hundreds_of_photos_are_never_in_memory_together(tmp_path: Path) -> None:
    many, each = 300, 200_000
    drawn = random.Random(3)
    with notebook_of_folder(tmp_path / "a.db", BY_HAND) as made:
        events = [event.id for event in made.list(Event, trial=TRIAL)]
        with made.writing() as connection:
            for number in range(many):
                picture = JPEG + drawn.randbytes(each)
                keep_photo(connection, TRIAL, events[number % len(events)], picture, "Ada", AT)
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
