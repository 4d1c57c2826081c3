"""Whether a notebook is whole: the file, its references, its readings, its history, its photos."""

from collections.abc import Iterator

from sqlalchemy import Connection, select, text

from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.chain import broken_links
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.kinds import KINDS, Key
from fairsmoke.notebook.mapper import record_of_body
from fairsmoke.notebook.photos import damaged
from fairsmoke.notebook.readings import unpacked
from fairsmoke.notebook.rows import Revision, load_history, load_kept
from fairsmoke.notebook.tables import READING_BLOCK, TABLES
from fairsmoke.notebook.triggers import statements


def problems(connection: Connection) -> Iterator[Words]:
    """Yield everything that is not as it should be; nothing when the notebook is whole."""
    for (message,) in connection.execute(text("PRAGMA integrity_check")):
        if message != "ok":
            yield N_("the file is damaged: %(message)s", message=message)
    for table, row, target, _ in connection.execute(text("PRAGMA foreign_key_check")):
        yield N_(
            "%(table)s, row %(row)s: points at a %(target)s that is not there",
            table=table,
            row=row,
            target=target,
        )
    yield from _missing_triggers(connection)
    yield from _block_problems(connection)
    yield from broken_links(connection)
    yield from _history_problems(connection)
    yield from damaged(connection)


def _missing_triggers(connection: Connection) -> Iterator[Words]:
    query = text("SELECT sql FROM sqlite_master WHERE type = 'trigger'")
    there = set(connection.scalars(query))
    if any(statement not in there for statement in statements()):
        yield N_("the guards against changing the past were taken away or altered")


def _block_problems(connection: Connection) -> Iterator[Words]:
    block = READING_BLOCK.c
    following: dict[tuple[str, str, str, str], int] = {}
    query = select(READING_BLOCK).order_by(block.id)
    for row in connection.execute(query).mappings():
        place = (row["trial_id"], row["cook"], row["probe"], row["source"] or "")
        expected = following.get(place, 1)
        if row["number"] != expected:
            yield (
                N_(
                    "readings of probe '%(probe)s' in cook '%(cook)s' of trial '%(trial)s': "
                    "block %(expected)s is missing",
                    probe=row["probe"],
                    cook=row["cook"],
                    trial=row["trial_id"],
                    expected=expected,
                )
            )
        following[place] = row["number"] + 1
        try:
            unpacked(row)
        except NotebookError as error:
            yield error.message


def _history_problems(connection: Connection) -> Iterator[Words]:
    last: dict[Key, Revision] = {}
    for revision in load_history(connection):
        number = last[revision.key].number + 1 if revision.key in last else 1
        if revision.number != number:
            yield N_(
                "%(revision)s: revision %(number)s is missing from its history",
                revision=revision.key,
                number=number,
            )
        last[revision.key] = revision
    trials = list(connection.scalars(select(TABLES["trial"].c.id)))
    for kind in KINDS.values():
        for owner in trials if kind.of_trial else [""]:
            for kept in load_kept(connection, kind, owner, struck=True):
                said = last.pop(kept.key, None)
                if said is None:
                    yield N_("%(kept)s: it has no history", kept=kept.key)
                elif record_of_body(kind, kept.key, said.body) != kept.record:
                    yield N_("%(kept)s: it is not what its history says last", kept=kept.key)
    for key in last:
        yield N_("%(key)s: its history is there, but not the record", key=key.words)
