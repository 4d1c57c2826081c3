"""Reading records and their history from the tables."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Table, func, select

from fairsmoke.notebook.kinds import KINDS, Key, Kind
from fairsmoke.notebook.mapper import record_of
from fairsmoke.notebook.tables import LINKS, REVISION, TABLES
from fairsmoke.trial.base import Record

_AT_ONCE = 500
"""SQLite takes a bounded number of values in one statement."""


@dataclass(frozen=True)
class Revision:
    """One state that a record had: what it was, since when, who recorded it, and why.

    ``number`` counts from 1. ``struck``: the record was struck out. ``body`` is the whole record
    by field name, in SI units and UTC.
    """

    key: Key
    number: int
    recorded_at: datetime
    by: str
    why: str
    struck: bool
    body: dict[str, Any]

    def changes_from(self, earlier: "Revision") -> dict[str, tuple[Any, Any]]:
        """Return each field that differs from an earlier revision, with its old and new value."""
        names = dict.fromkeys((*earlier.body, *self.body))
        pairs = {name: (earlier.body.get(name), self.body.get(name)) for name in names}
        return {name: (old, new) for name, (old, new) in pairs.items() if old != new}


@dataclass(frozen=True)
class StoredRecord:
    """A record as its row has it now."""

    key: Key
    record: Record
    first_revision: int
    last_revision: int
    struck: bool


def _chunks(handles: Iterable[str]) -> Iterator[list[str]]:
    unique = list(dict.fromkeys(handles))
    for start in range(0, len(unique), _AT_ONCE):
        yield unique[start : start + _AT_ONCE]


def _of_owner(kind: Kind, table: Table, trial_id: str) -> list[ColumnElement[bool]]:
    return [table.c.trial_id == trial_id] if kind.of_trial else []


def load_kept(
    connection: Connection,
    kind: Kind,
    trial_id: str,
    handles: Collection[str] | None = None,
    *,
    struck: bool = False,
    cook: str = "",
) -> list[StoredRecord]:
    """Return the records of a kind in the order in which they were first recorded.

    Only those with the given handles, or of the given cook, if any are given; struck-out ones
    only when asked for.
    """
    table = TABLES[kind.name]
    query = select(table).where(*_of_owner(kind, table, trial_id)).order_by(table.c.first_revision)
    if not struck:
        query = query.where(~table.c.struck)
    if cook:
        query = query.where(table.c.cook == cook)
    if handles is None:
        rows = list(connection.execute(query).mappings())
    else:
        rows = [
            row
            for chunk in _chunks(handles)
            for row in connection.execute(query.where(table.c.id.in_(chunk))).mappings()
        ]
    if cook:
        handles = [row["id"] for row in rows]
    links = _load_links(connection, kind, trial_id, handles)
    found = []
    for row in rows:
        key = kind.key(trial_id, row["id"])
        record = record_of(kind, key, row, links.get(row["id"], {}))
        found.append(
            StoredRecord(key, record, row["first_revision"], row["last_revision"], row["struck"])
        )
    return found


def _load_links(
    connection: Connection, kind: Kind, trial_id: str, handles: Collection[str] | None
) -> dict[str, dict[str, tuple[str, ...]]]:
    found: dict[str, dict[str, tuple[str, ...]]] = {}
    for field, table in LINKS[kind.name].items():
        query = (
            select(table.c.id, table.c.handle)
            .where(table.c.trial_id == trial_id)
            .order_by(table.c.id, table.c.place)
        )
        queries = (
            [query]
            if handles is None
            else [query.where(table.c.id.in_(chunk)) for chunk in _chunks(handles)]
        )
        for one in queries:
            for record_id, handle in connection.execute(one):
                of_record = found.setdefault(record_id, {})
                of_record[field] = (*of_record.get(field, ()), handle)
    return found


def load_records(
    connection: Connection, kind: Kind, trial_id: str, *, cook: str = ""
) -> tuple[Record, ...]:
    """Return the records of a kind that were not struck out, in the order of recording."""
    return tuple(kept.record for kept in load_kept(connection, kind, trial_id, cook=cook))


def load_by_trial(connection: Connection, kind: Kind) -> dict[str, tuple[Record, ...]]:
    """Return the records of a kind of all trials, by trial, as ``load_records`` does of one."""
    table = TABLES[kind.name]
    links: dict[tuple[str, str], dict[str, tuple[str, ...]]] = {}
    for field, link in LINKS[kind.name].items():
        columns = (link.c.trial_id, link.c.id, link.c.handle)
        for trial_id, record_id, handle in connection.execute(
            select(*columns).order_by(link.c.trial_id, link.c.id, link.c.place)
        ):
            of_record = links.setdefault((trial_id, record_id), {})
            of_record[field] = (*of_record.get(field, ()), handle)
    found: dict[str, list[Record]] = {}
    query = select(table).where(~table.c.struck).order_by(table.c.first_revision)
    for row in connection.execute(query).mappings():
        trial_id, record_id = row["trial_id"], row["id"]
        key = kind.key(trial_id, record_id)
        record = record_of(kind, key, row, links.get((trial_id, record_id), {}))
        found.setdefault(trial_id, []).append(record)
    return {trial_id: tuple(records) for trial_id, records in found.items()}


def count_by_cook(connection: Connection, trial_id: str) -> dict[str, dict[str, int]]:
    """Return {cook: {kind: n}} of a trial's records that were not struck out, "" for no cook."""
    found: dict[str, dict[str, int]] = {}
    for kind in KINDS.values():
        columns = TABLES[kind.name].c
        if not kind.of_trial or "cook" not in columns:
            continue
        query = (
            select(columns.cook, func.count())
            .where(columns.trial_id == trial_id, ~columns.struck)
            .group_by(columns.cook)
        )
        for cook, n in connection.execute(query):
            found.setdefault(cook or "", {})[kind.name] = n
    return found


def known_handles(
    connection: Connection, kind: Kind, trial_id: str, handles: Collection[str] | None = None
) -> set[str]:
    """Return which handles of a kind are recorded and not struck out."""
    table = TABLES[kind.name]
    query = select(table.c.id).where(~table.c.struck, *_of_owner(kind, table, trial_id))
    if handles is None:
        return set(connection.scalars(query))
    return {
        handle
        for chunk in _chunks(handles)
        for handle in connection.scalars(query.where(table.c.id.in_(chunk)))
    }


def load_history(
    connection: Connection,
    kind: str | None = None,
    trial_id: str | None = None,
    handle: str | None = None,
) -> tuple[Revision, ...]:
    """Return revisions in the order of recording, narrowed by what is given.

    ``trial_id`` "" means what belongs to the kitchen.
    """
    query = select(REVISION).order_by(REVISION.c.id)
    for column, value in (
        (REVISION.c.kind, kind),
        (REVISION.c.trial_id, trial_id),
        (REVISION.c.record_id, handle),
    ):
        if value is not None:
            query = query.where(column == value)
    return tuple(_revision(row) for row in connection.execute(query).mappings())


def _revision(row: RowMapping) -> Revision:
    return Revision(
        Key(row["kind"], row["trial_id"], row["record_id"]),
        row["number"],
        row["recorded_at"],
        row["by"],
        row["why"],
        row["struck"],
        row["body"],
    )


@dataclass(frozen=True)
class StateChange:
    """A state that a record got, with the state before it, None when it was new.

    ``place`` says where in the history it stands: what was recorded later has a higher one.
    """

    place: int
    now: Revision
    before: Revision | None


def load_latest(
    connection: Connection,
    trial_id: str,
    kind: str | None = None,
    *,
    before: int | None = None,
    limit: int = 50,
    changed: bool = False,
) -> tuple[StateChange, ...]:
    """Return the latest changes of a trial's records, newest first, below the place ``before``.

    ``changed`` leaves out what was recorded for the first time and never touched again.
    """
    columns = REVISION.c
    query = select(REVISION).where(columns.trial_id == trial_id).order_by(columns.id.desc())
    if kind is not None:
        query = query.where(columns.kind == kind)
    if before is not None:
        query = query.where(columns.id < before)
    if changed:
        query = query.where(columns.number > 1)
    found = []
    for row in connection.execute(query.limit(limit)).mappings():
        earlier = select(REVISION).where(
            columns.kind == row["kind"],
            columns.trial_id == trial_id,
            columns.record_id == row["record_id"],
            columns.number == row["number"] - 1,
        )
        old = connection.execute(earlier).mappings().first() if row["number"] > 1 else None
        now = _revision(row)
        found.append(StateChange(row["id"], now, None if old is None else _revision(old)))
    return tuple(found)


def last_numbers(connection: Connection, ids: Iterable[int]) -> dict[int, int]:
    """Return the number of each revision of those ids."""
    wanted = list(dict.fromkeys(ids))
    found: dict[int, int] = {}
    for start in range(0, len(wanted), _AT_ONCE):
        query = select(REVISION.c.id, REVISION.c.number).where(
            REVISION.c.id.in_(wanted[start : start + _AT_ONCE])
        )
        found |= {row[0]: row[1] for row in connection.execute(query)}
    return found


def kinds_pointing_at(target: Kind) -> Iterator[tuple[Kind, str]]:
    """Yield (kind, path) of every field that holds handles of a kind."""
    for kind in KINDS.values():
        for path, name in kind.points_at.items():
            if name == target.name:
                yield kind, path
