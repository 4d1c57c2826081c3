"""Taking a folder's content into a notebook: all of it or nothing."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection

from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import CorrectionError
from fairsmoke.notebook.folder.content import FolderContent, Records, TrialContent
from fairsmoke.notebook.folder.handles import with_known_handles
from fairsmoke.notebook.folder.photos import take_in_photos
from fairsmoke.notebook.kinds import KINDS, KITCHEN_KINDS, Key, Kind
from fairsmoke.notebook.mapper import record_of_body
from fairsmoke.notebook.readings import Series, add_blocks, all_series
from fairsmoke.notebook.rows import Revision, load_history, load_kept
from fairsmoke.notebook.writer import RecordState, Stamp, append, write
from fairsmoke.trial.reading import Readings


@dataclass(frozen=True)
class Imported:
    """What came of an import: how many records were new or changed, how many readings and photos
    new.
    """

    records: int
    readings: int
    trials: tuple[str, ...]
    photos: int = 0


def take_in_folder(
    connection: Connection, content: FolderContent, folder: Path, stamp: Stamp
) -> Imported:
    """Bring the notebook to what the folder says, with the folder's own history where it has one.

    The notebook's own kitchen stays. Raises CorrectionError when something recorded would change
    and ``stamp`` has no reason, and NotebookError when something does not fit.
    """
    shared = dict(content.shared)
    history = content.history
    if load_kept(connection, KINDS["kitchen"], ""):
        shared.pop(KINDS["kitchen"], None)
        history = tuple(one for one in history if one.key.kind != "kitchen")
    records = _take_in(connection, "", _shared_changes(shared), history, stamp)
    readings = photos = 0
    for trial in content.trials:
        trial = with_known_handles(connection, trial)
        changes = list(_trial_changes(trial))
        records += _take_in(connection, trial.trial.id, changes, trial.history, stamp)
        readings += _take_in_series(connection, trial.trial.id, trial.series)
        photos += take_in_photos(connection, trial.trial.id, trial.photos, folder)
    names = tuple(trial.trial.id for trial in content.trials)
    return Imported(records, readings, names, photos)


def _shared_changes(shared: Records) -> list[RecordState]:
    return [
        RecordState(kind.key("", kind.handle_of(record)), record)
        for kind in KITCHEN_KINDS
        for record in shared.get(kind, ())
    ]


def _trial_changes(trial: TrialContent) -> Iterator[RecordState]:
    own = trial.trial.id
    if not trial.struck:
        yield RecordState(KINDS["trial"].key(own, own), trial.trial)
    for kind, records in trial.records.items():
        for record in records:
            yield RecordState(kind.key(own, kind.handle_of(record)), record)


def _take_in(
    connection: Connection,
    trial_id: str,
    changes: Sequence[RecordState],
    history: Sequence[Revision],
    stamp: Stamp,
) -> int:
    """Take in records with their history; ``trial_id`` "" means the kitchen's own."""
    ours = _by_key(load_history(connection, trial_id=trial_id))
    theirs = _by_key(history)
    behind, ahead = [], set()
    for key, whole in theirs.items():
        known = ours.get(key, [])
        if whole[: len(known)] == known:
            behind += whole[len(known) :]
        elif known[: len(whole)] == whole:
            ahead.add(key)
    order = {id(revision): number for number, revision in enumerate(history)}
    append(connection, sorted(behind, key=lambda revision: order[id(revision)]))
    edited = [
        change
        for change in changes
        if change.key not in ahead or _edited(change, theirs[change.key])
    ]
    changed = write(connection, [*edited, *_removed(changes, theirs)], stamp)
    return len({revision.key for revision in behind}) + changed


def _by_key(history: Sequence[Revision]) -> dict[Key, list[Revision]]:
    found: dict[Key, list[Revision]] = {}
    for revision in history:
        found.setdefault(revision.key, []).append(revision)
    return found


def _edited(change: RecordState, history: Sequence[Revision]) -> bool:
    """Tell whether a file says something else than its own history says last."""
    last = history[-1]
    return last.struck or record_of_body(change.kind, change.key, last.body) != change.record


def _removed(
    changes: Sequence[RecordState], history: dict[Key, list[Revision]]
) -> Iterator[RecordState]:
    """Yield the striking out of what a person took out of an exported folder's files."""
    there = {change.key for change in changes}
    for key, revisions in history.items():
        last = revisions[-1]
        if key not in there and not last.struck and key.kind != "kitchen":
            kind: Kind = KINDS[key.kind]
            yield RecordState(key, record_of_body(kind, key, last.body), struck=True)


def _take_in_series(connection: Connection, trial_id: str, series: Sequence[Series]) -> int:
    there = {_place(one): one.readings for one in all_series(connection, trial_id)}
    added = 0
    for one in series:
        known = there.get(_place(one))
        if known is None:
            added += add_blocks(
                connection, trial_id, one.cook, one.source, {one.probe: one.readings}
            )
        elif not _same_values(known, one.readings):
            raise CorrectionError(
                N_(
                    "trial '%(trial_id)s', cook '%(cook)s': the readings of probe "
                    "'%(probe)s' in the folder differ from those in the notebook; readings "
                    "are never changed: leave some out with an exclusion, or strike out "
                    "their source and take it in anew",
                    trial_id=trial_id,
                    cook=one.cook,
                    probe=one.probe,
                )
            )
    return added


def _place(one: Series) -> tuple[str, str, str | None, str]:
    return one.cook, one.probe, one.source, one.readings.unit


def _same_values(ours: Readings, theirs: Readings) -> bool:
    decimals = max(ours.decimals, theirs.decimals)
    return ours.with_decimals(decimals).same_as(theirs.with_decimals(decimals))
