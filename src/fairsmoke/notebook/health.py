"""Whether a notebook is whole: the file, its references, its readings, its history, its photos."""

from collections.abc import Iterator

from sqlalchemy import Connection, select, text

from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.kinds import KINDS, Key
from fairsmoke.notebook.mapper import record_of_body
from fairsmoke.notebook.photos import damaged
from fairsmoke.notebook.readings import unpacked
from fairsmoke.notebook.rows import Revision, load_history, load_kept
from fairsmoke.notebook.tables import READING_BLOCK, TABLES
from fairsmoke.notebook.triggers import statements


def problems(connection: Connection) -> Iterator[str]:
    """Yield everything that is not as it should be; nothing when the notebook is whole."""
    for (message,) in connection.execute(text("PRAGMA integrity_check")):
        if message != "ok":
            yield f"the file is damaged: {message}"
    for table, row, target, _ in connection.execute(text("PRAGMA foreign_key_check")):
        yield f"{table}, row {row}: points at a {target} that is not there"
    yield from _missing_triggers(connection)
    yield from _block_problems(connection)
    yield from _history_problems(connection)
    yield from damaged(connection)


def _missing_triggers(connection: Connection) -> Iterator[str]:
    query = text("SELECT sql FROM sqlite_master WHERE type = 'trigger'")
    there = set(connection.scalars(query))
    if any(statement not in there for statement in statements()):
        yield "the guards against changing the past were taken away or altered"


def _block_problems(connection: Connection) -> Iterator[str]:
    block = READING_BLOCK.c
    following: dict[tuple[str, str, str, str], int] = {}
    query = select(READING_BLOCK).order_by(block.id)
    for row in connection.execute(query).mappings():
        place = (row["trial_id"], row["cook"], row["probe"], row["source"] or "")
        expected = following.get(place, 1)
        if row["number"] != expected:
            yield (
                f"readings of probe '{row['probe']}' in cook '{row['cook']}' of trial "
                f"'{row['trial_id']}': block {expected} is missing"
            )
        following[place] = row["number"] + 1
        try:
            unpacked(row)
        except NotebookError as error:
            yield str(error)


def _history_problems(connection: Connection) -> Iterator[str]:
    last: dict[Key, Revision] = {}
    for revision in load_history(connection):
        number = last[revision.key].number + 1 if revision.key in last else 1
        if revision.number != number:
            yield f"{revision.key}: revision {number} is missing from its history"
        last[revision.key] = revision
    trials = list(connection.scalars(select(TABLES["trial"].c.id)))
    for kind in KINDS.values():
        for owner in trials if kind.of_trial else [""]:
            for kept in load_kept(connection, kind, owner, struck=True):
                said = last.pop(kept.key, None)
                if said is None:
                    yield f"{kept.key}: it has no history"
                elif record_of_body(kind, kept.key, said.body) != kept.record:
                    yield f"{kept.key}: it is not what its history says last"
    for key in last:
        yield f"{key}: its history is there, but not the record"
