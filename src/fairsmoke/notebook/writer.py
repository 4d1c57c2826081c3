"""The one place that writes records: every change goes in together with its revision.

All functions run inside a write transaction that their caller holds; when they raise, the caller
undoes it.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from fairsmoke.messages.message import NN_, InputField, Listed
from fairsmoke.notebook.chain import last_seal, link
from fairsmoke.notebook.corrections import check_frozen
from fairsmoke.notebook.errors import CorrectionError
from fairsmoke.notebook.kinds import KINDS, Key, Kind
from fairsmoke.notebook.mapper import body_of, microseconds_of, record_of_body, row_of
from fairsmoke.notebook.references import check_references, check_unused
from fairsmoke.notebook.rows import Revision, StoredRecord, last_numbers, load_kept
from fairsmoke.notebook.tables import LINKS, REVISION, TABLES
from fairsmoke.trial.base import Record


@dataclass(frozen=True)
class Stamp:
    """Who records something, when and why. ``why`` may be empty only for what is new."""

    at: datetime
    by: str = ""
    why: str = ""


@dataclass(frozen=True)
class RecordState:
    """A record in the state that it shall have."""

    key: Key
    record: Record
    struck: bool = False

    @property
    def kind(self) -> Kind:
        """The kind of the record."""
        return KINDS[self.key.kind]


def write(connection: Connection, changes: Sequence[RecordState], stamp: Stamp) -> int:
    """Bring records into the given states; return how many were new or changed.

    What is already so is left alone. Raises CorrectionError when something recorded would change
    without a reason, and NotebookError when a record points at what is not there.
    """
    kept = _kept_now(connection, changes)
    needed = [change for change in changes if not _is_so(change, kept.get(change.key))]
    for change in needed:
        if change.key in kept:
            check_frozen(kept[change.key].record, change.record, struck=change.struck)
    if not stamp.why.strip():
        _refuse_without_reason(change for change in needed if change.key in kept)
    numbers = last_numbers(connection, (one.last_revision for one in kept.values()))
    revisions = []
    for change in needed:
        before = kept.get(change.key)
        revisions.append(
            Revision(
                change.key,
                1 if before is None else numbers[before.last_revision] + 1,
                stamp.at,
                stamp.by.strip(),
                stamp.why.strip(),
                change.struck,
                body_of(change.record),
            )
        )
    _put(connection, needed, revisions, kept)
    check_references(connection, [(c.key, c.record) for c in needed if not c.struck])
    check_unused(connection, [c.key for c in needed if c.struck])
    return len(needed)


def append(connection: Connection, revisions: Sequence[Revision]) -> None:
    """Write revisions as another notebook kept them, behind those that are here.

    Each record ends in the state of its last revision. References are not checked: the caller
    does that when everything is in.
    """
    last: dict[Key, RecordState] = {}
    for revision in revisions:
        kind = KINDS[revision.key.kind]
        record = record_of_body(kind, revision.key, revision.body)
        last[revision.key] = RecordState(revision.key, record, revision.struck)
    changes = list(last.values())
    _put(connection, changes, revisions, _kept_now(connection, changes))


def _kept_now(connection: Connection, changes: Sequence[RecordState]) -> dict[Key, StoredRecord]:
    handles: dict[tuple[str, str], list[str]] = {}
    for change in changes:
        owner = change.key.trial if change.kind.of_trial else ""
        handles.setdefault((change.key.kind, owner), []).append(change.key.handle)
    return {
        kept.key: kept
        for (kind, owner), wanted in handles.items()
        for kept in load_kept(connection, KINDS[kind], owner, wanted, struck=True)
    }


def _is_so(change: RecordState, kept: StoredRecord | None) -> bool:
    if kept is None or kept.struck != change.struck:
        return False
    return kept.record == change.record


def _refuse_without_reason(changes: Iterable[RecordState]) -> None:
    names = [change.key.words for change in changes]
    if names:
        message = NN_(
            "%(names)s is already recorded and would change; say why it is corrected (%(why)s); "
            "the "
            "old value is kept in the history",
            "%(names)s are already recorded and would change; say why it is corrected (%(why)s); "
            "the old value is kept in the history",
            len(names),
            names=Listed([*names[:5], *(["…"] if len(names) > 5 else [])]),
            why=InputField("why"),
        )
        raise CorrectionError(message, field="why")


def _put(
    connection: Connection,
    changes: Sequence[RecordState],
    revisions: Sequence[Revision],
    kept: dict[Key, StoredRecord],
) -> None:
    if not revisions:
        return
    first_free = int(connection.scalar(select(func.max(REVISION.c.id))) or 0) + 1
    first_id: dict[Key, int] = {}
    last_id: dict[Key, int] = {}
    rows = []
    seal = last_seal(connection)
    for revision_id, revision in enumerate(revisions, first_free):
        first_id.setdefault(revision.key, revision_id)
        last_id[revision.key] = revision_id
        row = _revision_row(revision_id, revision)
        # As it comes back: what is sealed is what the file says.
        row["body"] = json.loads(json.dumps(row["body"]))
        seal = row["seal"] = link(seal, row, microseconds_of(revision.recorded_at))
        rows.append(row)
    connection.execute(insert(REVISION), rows)
    for kind in KINDS.values():
        of_kind = [change for change in changes if change.key.kind == kind.name]
        _put_rows(connection, kind, of_kind, kept, first_id, last_id)


def _revision_row(revision_id: int, revision: Revision) -> dict[str, Any]:
    return {
        "id": revision_id,
        "kind": revision.key.kind,
        "trial_id": revision.key.trial,
        "record_id": revision.key.handle,
        "number": revision.number,
        "recorded_at": revision.recorded_at,
        "by": revision.by,
        "why": revision.why,
        "struck": revision.struck,
        "body": revision.body,
    }


def _put_rows(
    connection: Connection,
    kind: Kind,
    changes: Sequence[RecordState],
    kept: dict[Key, StoredRecord],
    first_id: dict[Key, int],
    last_id: dict[Key, int],
) -> None:
    table = TABLES[kind.name]
    new_rows = []
    for change in changes:
        before = kept.get(change.key)
        owner = {"trial_id": change.key.trial} if kind.of_trial else {}
        row = owner | {"id": change.key.handle} | row_of(kind, change.record)
        row |= {"last_revision": last_id[change.key], "struck": change.struck}
        if before is None:
            new_rows.append(row | {"first_revision": first_id[change.key]})
        else:
            where = [table.c[name] == row[name] for name in (*owner, "id")]
            connection.execute(update(table).where(*where).values(row))
    if new_rows:
        connection.execute(insert(table), new_rows)
    for name, links in LINKS[kind.name].items():
        for change in changes:
            if change.key in kept:
                connection.execute(
                    delete(links).where(
                        links.c.trial_id == change.key.trial, links.c.id == change.key.handle
                    )
                )
        link_rows = [
            {"trial_id": c.key.trial, "id": c.key.handle, "place": place, "handle": handle}
            for c in changes
            for place, handle in enumerate(getattr(c.record, name))
        ]
        if link_rows:
            connection.execute(insert(links), link_rows)
