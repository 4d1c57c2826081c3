"""A whole trial out of the notebook, and what of the kitchen it uses."""

from collections.abc import Iterable, Mapping
from typing import Any, cast

from sqlalchemy import Connection

from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.kinds import KINDS, TRIAL_KINDS, Kind, references
from fairsmoke.notebook.rows import load_kept, load_records
from fairsmoke.trial.base import Record
from fairsmoke.trial.question import Trial
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import ReadingKey, TrialRecord

_SHARED = tuple(KINDS[name] for name in ("cooker", "scale", "probe", "taster"))


def load_trial_record(
    connection: Connection, trial_id: str, readings: Mapping[ReadingKey, Readings]
) -> TrialRecord:
    """Return everything recorded for a trial; of the kitchen's things, those that it uses.

    Raises NotebookError when there is no such trial.
    """
    kept = load_kept(connection, KINDS["trial"], "", [trial_id])
    if not kept:
        known = ", ".join(record_handles(connection, KINDS["trial"])) or "none recorded yet"
        raise NotebookError(
            N_(
                "there is no trial '%(trial_id)s' (known: %(known)s)",
                trial_id=trial_id,
                known=known,
            )
        )
    own = {kind: load_records(connection, kind, trial_id) for kind in TRIAL_KINDS}
    used = used_handles(own, readings)
    shared = {
        kind: tuple(one.record for one in load_kept(connection, kind, "", used[kind.name]))
        for kind in _SHARED
    }
    return assembled(cast(Trial, kept[0].record), {**own, **shared}, readings)


def record_handles(connection: Connection, kind: Kind, trial_id: str = "") -> list[str]:
    """Return the handles of a kind in the order of recording."""
    return [kept.key.handle for kept in load_kept(connection, kind, trial_id)]


def used_handles(
    own: Mapping[Kind, Iterable[Record]], readings: Iterable[ReadingKey]
) -> dict[str, list[str]]:
    """Return, for each kind of the kitchen's things, the handles that a trial's records use."""
    found: dict[str, dict[str, None]] = {kind.name: {} for kind in _SHARED}
    for kind, records in own.items():
        for record in records:
            for _, target, handle in references(kind, record):
                if target in found:
                    found[target][handle] = None
    found["probe"].update((probe, None) for _, probe in readings)
    return {name: list(handles) for name, handles in found.items()}


def assembled(
    trial: Trial,
    records: Mapping[Kind, tuple[Record, ...]],
    readings: Mapping[ReadingKey, Readings],
) -> TrialRecord:
    """Return a trial's records as one TrialRecord."""
    fields: dict[str, Any] = {
        kind.plural: found for kind, found in records.items() if not kind.only_one
    }
    for kind in KINDS.values():
        if kind.of_trial and kind.only_one:
            found = records.get(kind, ())
            fields[kind.plural] = found[0] if found else None
    return TrialRecord(trial=trial, readings=readings, **fields)


def parts_of(record: TrialRecord) -> list[tuple[Kind, Record]]:
    """Return every record of a trial with its kind, each behind what it points at."""
    found: list[tuple[Kind, Record]] = []
    for kind in KINDS.values():
        if kind.name == "trial":
            found.append((kind, record.trial))
        elif kind.of_trial and kind.only_one:
            one = getattr(record, kind.plural)
            found += [(kind, one)] if one is not None else []
        elif kind.of_trial or kind in _SHARED:
            found += [(kind, one) for one in getattr(record, kind.plural)]
    return found
