"""One number for all that a notebook holds, to tell whether two hold the same."""

import hashlib
import json
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, select

from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.mapper import body_of, microseconds_of
from fairsmoke.notebook.photos import photos_of
from fairsmoke.notebook.readings import all_series
from fairsmoke.notebook.rows import load_history, load_kept
from fairsmoke.notebook.tables import TABLES


def _line(*parts: Any) -> bytes:
    return json.dumps(parts, sort_keys=True, ensure_ascii=False).encode() + b"\n"


def content_lines(connection: Connection) -> Iterator[bytes]:
    """Yield the content in a fixed order: records, history, readings, photos.

    Where things lie in the file has no part in it, nor in how many blocks readings came.
    """
    trials = sorted(connection.scalars(select(TABLES["trial"].c.id)))
    for kind in KINDS.values():
        for owner in trials if kind.of_trial else [""]:
            found = load_kept(connection, kind, owner, struck=True)
            if kind.name == "trial":
                # A folder keeps the order of recording inside a trial, not that of trials.
                found.sort(key=lambda kept: kept.key)
            for kept in found:
                name = (kept.key.kind, kept.key.trial, kept.key.handle)
                yield _line("record", *name, kept.struck, _plain(body_of(kept.record)))
    for trial in ["", *trials]:
        for revision in load_history(connection, trial_id=trial):
            key = revision.key
            when = microseconds_of(revision.recorded_at)
            said = (when, revision.by, revision.why, revision.struck)
            yield _line("revision", key.kind, key.trial, key.handle, revision.number, *said)
            yield _line(revision.body)
    for trial in trials:
        for series in all_series(connection, trial):
            one = series.readings
            place = (trial, series.cook, series.probe, series.source, series.hidden)
            yield _line("readings", *place, one.unit, one.decimals, len(one))
            for column in (one.time_ms.astype("<i8"), one.raw.astype("<i8"), one.flags):
                yield column.tobytes()
    for trial in trials:
        for photo in sorted(photos_of(connection, trial), key=lambda one: (one.event, one.sha256)):
            what = (photo.sha256, photo.by, microseconds_of(photo.added_at))
            yield _line("photo", trial, photo.event, *what)


def _plain(value: Any) -> Any:
    # SQLite does not keep the sign of a zero.
    if isinstance(value, float):
        return value + 0.0
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, list) else value


def content_digest(connection: Connection) -> str:
    """Return the SHA-256 of the content, as 64 hexadecimal digits."""
    digest = hashlib.sha256()
    for line in content_lines(connection):
        digest.update(line)
    return digest.hexdigest()
