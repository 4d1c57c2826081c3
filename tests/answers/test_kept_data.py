"""A trial's whole record as a zip: kept while nothing changes, and with its photos."""

import zipfile
from datetime import UTC, datetime
from pathlib import Path

from fairsmoke.answers.finding import kept_data
from fairsmoke.answers.store import Store
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.notebook.photos import add_photo, photo_of, photos_of

BY_HAND = Path(__file__).parents[1] / "notebook" / "data" / "by-hand"
TRIAL, EVENT = "paper-or-bare", "first-fire-event-2"
# The first bytes of a JPEG (ITU-T T.81).
JPEG = b"\xff\xd8\xff\xe0" + bytes(5000)


def test_a_photo_that_was_added_is_in_the_next_zip(tmp_path: Path) -> None:
    with notebook_of_folder(tmp_path / "a.db", BY_HAND) as book:
        before = kept_data(book, TRIAL, Store(tmp_path / "kept"))
        assert kept_data(book, TRIAL, Store(tmp_path / "kept")) == before
        with book.writing() as connection:
            photo = photo_of(EVENT, JPEG, "Ada", datetime.now(UTC))
            add_photo(connection, TRIAL, photo, JPEG)
        after = kept_data(book, TRIAL, Store(tmp_path / "kept"))
        assert after != before
        with zipfile.ZipFile(after) as packed:
            packed.extractall(tmp_path / "out")
            (picture,) = (one for one in packed.infolist() if one.filename.endswith(".jpg"))
        assert (picture.file_size, picture.compress_size) == (len(JPEG), len(JPEG))
        with (
            notebook_of_folder(tmp_path / "b.db", tmp_path / "out" / TRIAL) as again,
            again.reading() as connection,
        ):
            assert [one.event for one in photos_of(connection, TRIAL)] == [EVENT]
