"""Dated copies beside a notebook, and putting a copy back in its place."""

import os
import sqlite3
from contextlib import closing, suppress
from datetime import date, datetime
from pathlib import Path

from fairsmoke.messages.message import N_, stacked
from fairsmoke.notebook.errors import NotebookError, StorageError
from fairsmoke.notebook.schema import copy_file, free_name, version_of

KEPT = 14
"""Dated copies that are kept: two weeks of them, the oldest goes first."""
_BESIDE = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a file: its log belongs to that file and to no copy put in its place."""


def copies_of(path: Path) -> Path:
    """Return the folder of a notebook's dated copies."""
    return path.with_name(f"{path.name}.copies")


def dated_copies(path: Path) -> list[Path]:
    """Return a notebook's dated copies, the newest first."""
    found = copies_of(path).glob(f"*{path.suffix}")
    return sorted((one for one in found if _day_of(one)), key=lambda one: one.name, reverse=True)


def keep_dated_copy(path: Path, day: date, kept: int = KEPT) -> Path | None:
    """Copy a notebook, which may be in use, under a day's date; remove what is over the limit.

    Returns the copy, None when that day has one. Raises NotebookError when it cannot be written;
    then nothing older was removed.
    """
    folder = copies_of(path)
    target = folder / f"{day.isoformat()}{path.suffix}"
    if target.exists():
        return None
    try:
        folder.mkdir(exist_ok=True)
        copy_file(path, target)
    except OSError as error:
        raise StorageError(
            N_("%(folder)s: cannot be written (%(why)s)", folder=folder, why=error.strerror)
        ) from error
    for old in dated_copies(path)[max(kept, 1) :]:
        old.unlink(missing_ok=True)
    return target


def _day_of(copy: Path) -> date | None:
    with suppress(ValueError):
        return date.fromisoformat(copy.stem)
    return None


def restore(copy: Path, path: Path, now: datetime) -> Path | None:
    """Put a copy in the place of a notebook, and what lay there aside; return where that is now.

    The log of what lay there goes aside with it: left behind, it would undo or spoil the copy.
    None when nothing lay there. Raises NotebookError, and changes nothing, when the copy is no
    notebook or not whole, or the notebook is in use.
    """
    if copy.exists() and path.exists() and copy.samefile(path):
        raise NotebookError(N_("%(copy)s is the notebook itself; name a copy", copy=copy))
    version_of(copy)
    fresh = free_name(path.with_name(f"{path.stem}.restoring{path.suffix}"))
    copy_file(copy, fresh)
    try:
        _check_whole(copy, fresh)
        _check_unused(path)
        aside = _put_aside(path, now)
        fresh.rename(path)
        _flush_folder(path.parent)
    finally:
        fresh.unlink(missing_ok=True)
    return aside


def _check_unused(path: Path) -> None:
    """Raise StorageError when another program has the notebook open, as far as that can be told."""
    if not path.exists():
        return
    try:
        with closing(sqlite3.connect(path, timeout=0.5)) as connection:
            # Only who has a file alone may leave its write-ahead log.
            connection.execute("PRAGMA journal_mode = DELETE").fetchone()
    except sqlite3.DatabaseError as error:
        low = str(error).lower()
        if "locked" in low or "busy" in low:
            raise StorageError(
                N_("%(path)s is open in another program; stop it first", path=path)
            ) from error
        # Damaged: that is why somebody restores a copy.


def _check_whole(copy: Path, fresh: Path) -> None:
    from fairsmoke.notebook.store import Notebook

    with Notebook.open(fresh) as book:
        problems = book.check()
    if problems:
        wrong = stacked(list(problems[:5]))
        raise NotebookError(N_("%(copy)s is not whole: %(wrong)s", copy=copy, wrong=wrong))


def _put_aside(path: Path, now: datetime) -> Path | None:
    if not path.exists():
        return None
    aside = free_name(path.with_name(f"{path.stem}.replaced-{now:%Y-%m-%d-%H%M%S}{path.suffix}"))
    for ending in _BESIDE:
        beside = path.with_name(path.name + ending)
        if beside.exists():
            beside.rename(aside.with_name(aside.name + ending))
    path.rename(aside)
    return aside


def _flush_folder(folder: Path) -> None:
    # A rename is on the disk when its folder is; not every system can open one.
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
