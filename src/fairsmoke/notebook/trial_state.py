"""Telling cheaply whether a trial's record has changed, and naming its state by a digest."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, func, select

from fairsmoke.notebook.mapper import microseconds_of
from fairsmoke.notebook.readings import spans
from fairsmoke.notebook.tables import LOOSE_READING, READING_BLOCK, REVISION


@dataclass(frozen=True)
class TrialState:
    """A state of a trial within one notebook: two that are equal hold the same.

    Revisions are only ever added, and readings too, so that their last number and count tell.
    ``kitchen`` is the last revision of what belongs to the kitchen, which the trial may use;
    ``past`` counts revisions and readings of the trials before it, where they were asked for.
    """

    own: int
    kitchen: int
    readings: int
    past: int = 0


def trial_state(connection: Connection, trial_id: str, before: Sequence[str] = ()) -> TrialState:
    """Return the present state of a trial, and of those ``before`` it, without reading a record."""

    def last(owner: str) -> int:
        query = select(func.max(REVISION.c.id)).where(REVISION.c.trial_id == owner)
        return int(connection.scalar(query) or 0)

    def readings(owner: str) -> int:
        packed = select(func.sum(READING_BLOCK.c.n)).where(READING_BLOCK.c.trial_id == owner)
        loose = select(func.count()).where(LOOSE_READING.c.trial_id == owner)
        return int(connection.scalar(packed) or 0) + int(connection.scalar(loose) or 0)

    past = sum(last(one) + readings(one) for one in before)
    return TrialState(last(trial_id), last(""), readings(trial_id), past)


def trial_digest(connection: Connection, trial_id: str) -> str:
    """Return the SHA-256 of all that is recorded of a trial and of the kitchen.

    Every state of every record counts, with when it was recorded; of readings, how many there are
    of what, from when to when: what was read at a time never changes.
    """
    digest = hashlib.sha256()
    columns = REVISION.c
    query = (
        select(
            columns.kind,
            columns.trial_id,
            columns.record_id,
            columns.number,
            columns.recorded_at,
            columns.struck,
            columns.body,
        )
        .where(columns.trial_id.in_((trial_id, "")))
        .order_by(columns.kind, columns.trial_id, columns.record_id, columns.number)
    )
    for kind, owner, handle, number, at, struck, body in connection.execute(query):
        _add(digest, kind, owner, handle, number, microseconds_of(at), struck, body)
    found = [
        (s.cook, s.probe, s.source or "", s.n, s.start_ms, s.end_ms)
        for s in spans(connection, trial_id)
    ]
    for one in sorted(found):
        _add(digest, *one)
    return digest.hexdigest()


def _add(digest: "hashlib._Hash", *parts: object) -> None:
    digest.update(json.dumps(parts, sort_keys=True, ensure_ascii=False).encode() + b"\n")
