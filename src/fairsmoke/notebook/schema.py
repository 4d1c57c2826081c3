"""A notebook's file: making one, telling whether a file is one, bringing an old one forward."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import (
    Column,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    create_engine,
    event,
    insert,
)

from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import METADATA
from fairsmoke.notebook.engine import plain_errors, url_of
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.triggers import create_triggers

APPLICATION_ID = 0x46534D4B
"""Stands in the header of every notebook ("FSMK"), so that other databases are told apart."""

VERSIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009")
"""Every version of the tables, oldest first, by the name of its migration."""

# The table in which Alembic keeps the version; made here so that Alembic is not needed to do it.
_VERSION_TABLE = Table(
    "alembic_version",
    MetaData(),
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)


def make_file(path: Path) -> None:
    """Make an empty notebook; there is either the whole of it or none.

    Raises NotebookError when something is there already or the folder cannot be written to.
    """
    if path.exists():
        raise NotebookError(
            N_("%(path)s is there already; open it, or choose another name", path=path)
        )
    unfinished = path.with_name(f"{path.name}.{os.getpid()}.new")
    unfinished.unlink(missing_ok=True)
    engine = create_engine(url_of(unfinished))
    event.listen(engine, "connect", lambda raw, _: setattr(raw, "isolation_level", None))
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    try:
        with plain_errors(path), engine.begin() as connection:
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
            METADATA.create_all(connection)
            create_triggers(connection)
            _VERSION_TABLE.create(connection)
            connection.execute(insert(_VERSION_TABLE), {"version_num": VERSIONS[-1]})
        engine.dispose()
        try:
            # A hard link, because renaming would replace a file that came up meanwhile.
            os.link(unfinished, path)
        except FileExistsError as error:
            raise NotebookError(
                N_("%(path)s is there already; choose another name", path=path)
            ) from error
        except OSError:
            unfinished.rename(path)
    finally:
        engine.dispose()
        unfinished.unlink(missing_ok=True)


def version_of(path: Path) -> str:
    """Return the version of the tables in a notebook.

    Raises NotebookError when the file is missing, is no notebook, or is from a later Fairsmoke.
    """
    if not path.exists():
        raise NotebookError(
            N_("there is no notebook at %(path)s; create one, or check the name", path=path)
        )
    if path.is_dir():
        raise NotebookError(
            N_("%(path)s is a folder; a notebook is one file (a folder is imported)", path=path)
        )
    with path.open("rb") as file:
        header = file.read(100)
    if header[:16] != b"SQLite format 3\0" or header[68:72] != APPLICATION_ID.to_bytes(4, "big"):
        raise NotebookError(
            N_("%(path)s is not a Fairsmoke notebook; nothing in it was touched", path=path)
        )
    with plain_errors(path), closing(sqlite3.connect(path)) as connection:
        found = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    version = str(found[0]) if found else ""
    if version not in VERSIONS:
        raise NotebookError(
            N_(
                "%(path)s was written by a later Fairsmoke (version %(version)s of the "
                "tables; this one knows up to %(versions)s); install a newer Fairsmoke "
                "to open it",
                path=path,
                version=version or "unknown",
                versions=VERSIONS[-1],
            )
        )
    return version


def bring_forward(path: Path) -> Path | None:
    """Bring an older notebook to the present version, after copying it beside itself.

    Returns the path of that copy, or None when nothing needed to be done. When it fails, the
    notebook is as it was.
    """
    version = version_of(path)
    if version == VERSIONS[-1]:
        return None
    copy = free_name(path.with_name(f"{path.stem}.version-{version}{path.suffix}"))
    copy_file(path, copy)
    # Only here: Alembic takes a while to import, and nearly every opening needs none of it.
    from fairsmoke.notebook.migrations.run import upgrade

    with plain_errors(path):
        upgrade(path, VERSIONS[-1])
    return copy


def free_name(path: Path) -> Path:
    """Return the path, or with a number behind its stem when something is there already."""
    candidate, number = path, 2
    while candidate.exists():
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        number += 1
    return candidate


def copy_file(path: Path, target: Path) -> None:
    """Copy a notebook into one file while it may be in use; the copy is of one moment.

    Raises NotebookError when something is there already.
    """
    if target.exists():
        raise NotebookError(
            N_("%(target)s is there already; choose another name for the copy", target=target)
        )
    unfinished = target.with_name(f"{target.name}.{os.getpid()}.new")
    unfinished.unlink(missing_ok=True)
    try:
        with (
            plain_errors(target),
            closing(sqlite3.connect(path, timeout=15)) as source,
            closing(sqlite3.connect(unfinished)) as copy,
        ):
            source.backup(copy)
            # Without a log beside it, so that the copy is this one file wherever it is taken.
            copy.execute("PRAGMA journal_mode = DELETE")
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        unfinished.rename(target)
    finally:
        unfinished.unlink(missing_ok=True)
