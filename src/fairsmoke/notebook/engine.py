"""How a notebook's file is connected to: what SQLite is told, and how transactions begin."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_, OnFace
from fairsmoke.notebook.errors import NotebookError, StorageError

BUSY_TIMEOUT_S = 15
"""How long a write waits for another program that is writing to the same notebook."""

_PRAGMAS = (
    f"PRAGMA busy_timeout = {BUSY_TIMEOUT_S * 1000}",
    "PRAGMA journal_mode = WAL",
    "PRAGMA foreign_keys = ON",
    # FULL flushes the log to the disk before a commit returns: what was acknowledged survives a
    # killed process and, as far as the disk keeps its word, a power cut. NORMAL would survive the
    # first but could lose the last commits in the second.
    "PRAGMA synchronous = FULL",
    # The only way to make a Mac's disk flush.
    "PRAGMA fullfsync = ON",
    "PRAGMA trusted_schema = OFF",
)


def _on_connect(connection: sqlite3.Connection, _: Any) -> None:
    # Transactions are begun by the statements below, never by the driver's own guess.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in _PRAGMAS:
        cursor.execute(pragma)
    cursor.close()


def _on_begin(connection: Connection) -> None:
    immediate = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")


def url_of(path: Path) -> URL:
    """Return the address of a file, whatever characters its name has."""
    return URL.create("sqlite+pysqlite", database=str(path))


def engine_on(path: Path) -> Engine:
    """Return an engine on a notebook's file; nothing is connected yet."""
    engine = create_engine(
        url_of(path),
        connect_args={"check_same_thread": False},
        # Every page of an app may read at once; a connection is cheap and closes with the engine.
        pool_size=8,
        max_overflow=56,
    )
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection that sees one state of the notebook, whatever is written meanwhile."""
    with engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give the one connection that may write; commits at the end, or undoes everything."""
    with engine.connect() as connection:
        connection = connection.execution_options(writes=True)
        with connection.begin():
            yield connection


def settled(connection: Connection, wait_s: float) -> bool:
    """Move the whole log into the file; tell whether that was possible within the time."""
    driver = connection.connection.driver_connection
    assert driver is not None
    driver.execute(f"PRAGMA busy_timeout = {int(wait_s * 1000)}")
    try:
        busy, *_ = driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    finally:
        driver.execute(_PRAGMAS[0])
    return not busy


@dataclass(frozen=True)
class FileIdentity:
    """Which file lies at a path: its device and its inode."""

    path: Path
    device: int
    inode: int

    @classmethod
    def of(cls, path: Path) -> Self:
        """Return which file lies there now. Raises OSError when there is none."""
        found = path.stat()
        return cls(path, found.st_dev, found.st_ino)

    def check(self) -> None:
        """Raise StorageError when another file, or none, lies at the path.

        SQLite goes on writing into a file whatever becomes of its name: what is acknowledged
        then is in no notebook that anybody finds again.
        """
        try:
            same = FileIdentity.of(self.path) == self
        except OSError:
            same = False
        if not same:
            raise StorageError(
                N_(
                    "%(path)s was moved, removed or replaced while it was open: nothing more is "
                    "written. Stop the program, put the file back, or restore a "
                    "copy%(how)s, and start again",
                    path=self.path,
                    how=OnFace(" with 'fairsmoke restore'", ""),
                )
            )


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn the database's errors into a NotebookError that says what to do."""
    try:
        yield
    except DBAPIError as error:
        raise _plain(path, str(error.orig)) from error
    except sqlite3.Error as error:
        raise _plain(path, str(error)) from error
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise _plain(path, f"malformed ({error})") from error
    except OverflowError as error:
        raise NotebookError(
            N_(
                "%(path)s: a number is too large to be kept: %(error)s",
                path=path,
                error=message_of(error),
            )
        ) from error


_STORAGE = (
    (
        ("locked", "busy"),
        N_("another program has been writing to it; close it, try again"),
    ),
    (
        ("malformed", "not a database"),
        N_("the file is damaged; keep it, and go on from a backup copy"),
    ),
    (
        ("readonly", "unable to open"),
        N_("it cannot be opened for writing; check the permissions of the file and its folder"),
    ),
    (("full",), N_("the disk is full; make room, nothing was written")),
    (("i/o error",), N_("the disk cannot be read or written; nothing was written")),
)
"""What SQLite says of the disk or of other programs, and what to do about it."""


def _plain(path: Path, said: str) -> NotebookError:
    """Return the error for what SQLite said: StorageError when the writer is not at fault."""
    low = said.lower()
    for signs, mend in _STORAGE:
        if any(sign in low for sign in signs):
            return StorageError(N_("%(path)s: %(mend)s", path=path, mend=mend))
    if "foreign key" in low:
        mend = N_("a record points at what is not there; nothing was written")
        return NotebookError(N_("%(path)s: %(mend)s", path=path, mend=mend))
    return NotebookError(N_("%(path)s: %(mend)s", path=path, mend=said))
