"""What was changed in a record, as files say it: for the pages of history and correction."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from fairsmoke.notebook import Notebook, Revision
from fairsmoke.notebook.kinds import KINDS, Key, kind_of
from fairsmoke.notebook.mapper import fields_of
from fairsmoke.notebook.rows import load_history, load_latest
from fairsmoke.telling.record_changes import changes_of, value_line
from fairsmoke.trial.base import file_key
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook


@dataclass(frozen=True)
class Field:
    """A field of a record: its name in files, what it says, and whether a page can change it."""

    name: str
    value: str
    open: bool
    several: bool = False


@dataclass(frozen=True)
class HistoryStep:
    """One state that a record got: what changed, as (field, old, new)."""

    place: int
    revision: Revision
    first: bool
    brought_back: bool
    changes: tuple[tuple[str, str, str], ...]


CONFIRMED = ("checked", "checked_by", "checked_at")
"""Fields that only a confirmation writes."""


def zone_of(book: Notebook, content: Mapping[str, Any], trial: str, kind: str) -> ZoneInfo:
    """Return the zone of a record's times: that of its cook, or the kitchen's."""
    if kind == "cook":
        return time_zone(str(content["time_zone"]))
    cook = content.get("cook")
    if isinstance(cook, str):
        for one in book.history(Cook, cook, trial=trial)[-1:]:
            return time_zone(str(one.body["time_zone"]))
    return time_zone(book.kitchen.time_zone)


def as_in_file(revision: Revision, zone: ZoneInfo) -> dict[str, Any]:
    """Return a state as it stands in a file."""
    return kind_of(revision.key.kind).model.model_validate(revision.body).to_file(zone)


def fields_shown(revision: Revision, zone: ZoneInfo) -> list[Field]:
    """Return every field that a record of this kind has, with what this one says."""
    content = as_in_file(revision, zone)
    found = []
    for field in fields_of(KINDS[revision.key.kind]):
        name = file_key(field.name)
        value = content.get(name)
        if name in ("id", "written") or (name in CONFIRMED and value is None):
            continue
        simple = value is None or isinstance(value, str | int | float | bool)
        texts = isinstance(value, list) and all(isinstance(one, str) for one in value)
        several = texts or (value is None and field.form == "links")
        editable = (simple or texts) and field.form != "json" and name not in CONFIRMED
        found.append(Field(name, value_line(value), editable or several, several))
    return found


def steps_of(book: Notebook, key: Key, zone: ZoneInfo) -> list[HistoryStep]:
    """Return every state of a record, newest first."""
    with book.reading() as connection:
        states = load_history(connection, key.kind, key.trial, key.handle)
    found = [_step(at, now, states[at - 1] if at else None, zone) for at, now in enumerate(states)]
    return found[::-1]


def latest(
    book: Notebook, trial: str, kind: str | None, before: int | None, limit: int, changed: bool
) -> list[HistoryStep]:
    """Return the latest changes of a trial, newest first."""
    with book.reading() as connection:
        found = load_latest(connection, trial, kind, before=before, limit=limit, changed=changed)
    zone = time_zone(book.kitchen.time_zone)
    return [_step(one.place, one.now, one.before, zone) for one in found]


def _step(place: int, now: Revision, before: Revision | None, zone: ZoneInfo) -> HistoryStep:
    back = before is not None and before.struck and not now.struck
    changes = () if before is None or now.struck else tuple(_changes(before, now, zone))
    return HistoryStep(place, now, before is None, back, changes)


def _changes(before: Revision, now: Revision, zone: ZoneInfo) -> Iterator[tuple[str, str, str]]:
    yield from changes_of(as_in_file(before, zone), as_in_file(now, zone))
