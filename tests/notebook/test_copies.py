"""A file moved under the program, dated copies, and a copy put back where a log still lies."""

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fairsmoke.notebook import Notebook, NotebookError
from fairsmoke.notebook.copies import copies_of, dated_copies, keep_dated_copy, restore
from fairsmoke.notebook.errors import StorageError
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.trial.probe import Probe

DATA = Path(__file__).parent / "data" / "by-hand"
NOW = datetime(2026, 5, 3, 4, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("copies") / "hall.db"
    notebook_of_folder(path, DATA).close()
    return path


@pytest.fixture
def path(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path / "hall.db"))


def probes(path: Path) -> set[str]:
    with Notebook.open(path) as book:
        assert book.check() == ()
        return {one.id for one in book.list(Probe)}


@pytest.mark.parametrize("how", ["moved", "removed", "replaced"])
def test_nothing_is_acknowledged_once_the_file_is_another(
    path: Path, made: Path, tmp_path: Path, how: str
) -> None:
    book = Notebook.open(path)
    book.save(Probe(id="before", name="Before"))
    if how == "removed":
        path.unlink()
    else:
        path.rename(tmp_path / "elsewhere.db")
    if how == "replaced":
        shutil.copy(made, path)
    with pytest.raises(StorageError, match="moved, removed or replaced"):
        book.save(Probe(id="after", name="After"))
    book._engine.dispose()


def test_a_log_left_by_a_killed_program_does_not_touch_the_copy_put_back(path: Path) -> None:
    first = probes(path)
    with Notebook.open(path) as book:
        copy = book.backup(path.with_name("copy.db"))
    # A program is killed with entries in its log that are not in the file yet.
    child = os.fork()
    if child == 0:
        killed = Notebook.open(path)
        killed.save(Probe(id="late", name="In the log"))
        os._exit(0)
    os.waitpid(child, 0)
    assert path.with_name("hall.db-wal").stat().st_size > 0
    aside = restore(copy, path, NOW)
    assert probes(path) == first
    assert aside is not None
    # What lay there has all that was acknowledged.
    assert probes(aside) == first | {"late"}


def test_a_damaged_notebook_is_replaced_and_kept(path: Path) -> None:
    copy = Path(shutil.copy(path, path.with_name("copy.db")))
    whole = path.read_bytes()
    path.write_bytes(whole[:2000] + b"\xff" * 3000 + whole[5000:])
    with pytest.raises(NotebookError):
        probes(path)
    aside = restore(copy, path, NOW)
    assert probes(path) == probes(copy)
    assert aside == path.with_name("hall.replaced-2026-05-03-040000.db")


@pytest.mark.parametrize("wrong", ["none", "text", "damaged", "itself"])
def test_what_is_no_whole_copy_changes_nothing(path: Path, wrong: str) -> None:
    before = path.read_bytes()
    copy = path.with_name("copy.db")
    if wrong == "text":
        copy.write_text("not a notebook")
    elif wrong == "damaged":
        # Who recorded something was changed behind the program's back.
        shutil.copy(path, copy)
        with closing(sqlite3.connect(copy)) as connection:
            connection.execute("DROP TRIGGER keep_revision_update")
            connection.execute("UPDATE revision SET by = 'nobody' WHERE id = 3")
            connection.commit()
    elif wrong == "itself":
        copy = path
    with pytest.raises(NotebookError):
        restore(copy, path, NOW)
    assert path.read_bytes() == before
    assert sorted(one.name for one in path.parent.iterdir() if "restoring" in one.name) == []


def test_a_notebook_in_use_is_not_replaced(path: Path) -> None:
    copy = Path(shutil.copy(path, path.with_name("copy.db")))
    with Notebook.open(path) as book:
        book.save(Probe(id="open", name="Open"))
        with pytest.raises(StorageError, match="open in another program"):
            restore(copy, path, NOW)


def test_a_copy_for_each_day_and_the_oldest_goes(path: Path) -> None:
    days = [date(2026, 5, 1) + timedelta(days=number) for number in range(5)]
    for day in days:
        assert keep_dated_copy(path, day, kept=3) is not None
        assert keep_dated_copy(path, day, kept=3) is None
    mine = copies_of(path) / "my own.db"
    mine.write_bytes(b"")
    assert [one.stem for one in dated_copies(path)] == ["2026-05-05", "2026-05-04", "2026-05-03"]
    assert probes(dated_copies(path)[0]) == probes(path)
    # Another's file in that folder is nobody's to remove.
    keep_dated_copy(path, date(2026, 5, 6), kept=1)
    assert mine.exists()
    assert [one.stem for one in dated_copies(path)] == ["2026-05-06"]
