"""What a folder holds, as plain data: between the files and the notebook."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import cast

from sqlalchemy import Connection

from fairsmoke.messages.message import Words
from fairsmoke.notebook.errors import FolderProblem
from fairsmoke.notebook.kinds import KINDS, KITCHEN_KINDS, TRIAL_KINDS, Key, Kind
from fairsmoke.notebook.photos import Photo
from fairsmoke.notebook.readings import Series, all_series, joined
from fairsmoke.notebook.rows import Revision, load_history, load_kept, load_records
from fairsmoke.notebook.trial_record import assembled, used_handles
from fairsmoke.trial.base import Record
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.question import Trial
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import ReadingKey, TrialRecord

Records = Mapping[Kind, tuple[Record, ...]]
"""Records that were not struck out, by kind."""


@dataclass(frozen=True)
class ListedPhoto:
    """A photo that a folder lists; ``at`` says where, for what may be wrong with its event."""

    photo: Photo
    at: FolderProblem

    def problem(self, message: Words) -> FolderProblem:
        """Return a problem with the photo, at its place in the list."""
        return replace(self.at, message=message)


@dataclass(frozen=True)
class TrialContent:
    """One trial: its records, its readings by source, and its history.

    ``struck`` when the whole trial was struck out. ``numbered`` are the handles that nobody wrote.
    ``photos`` are only listed here; their pictures stay in the folder.
    """

    trial: Trial
    records: Records
    series: tuple[Series, ...] = ()
    history: tuple[Revision, ...] = ()
    struck: bool = False
    numbered: Mapping[Kind, frozenset[str]] = field(default_factory=dict)
    photos: tuple[ListedPhoto, ...] = ()

    def readings(self) -> dict[ReadingKey, Readings]:
        """Return the readings that count, by cook and probe, all sources together."""
        parts: dict[ReadingKey, list[Readings]] = {}
        for one in self.series:
            if not one.hidden:
                parts.setdefault((one.cook, one.probe), []).append(one.readings)
        return {key: joined(found) for key, found in sorted(parts.items())}


@dataclass(frozen=True)
class FolderContent:
    """A whole folder: the kitchen's things and the trials.

    ``problem_at`` says where in the folder's files a record stands, for what is asked about it.
    """

    shared: Records = field(default_factory=dict)
    history: tuple[Revision, ...] = ()
    trials: tuple[TrialContent, ...] = ()
    problem_at: Callable[[Key, Words], FolderProblem] | None = field(default=None, compare=False)

    @property
    def kitchen(self) -> Kitchen | None:
        """Whose folder it is, where that is said."""
        return kitchen_of(self.shared)

    def trial_records(self) -> tuple[TrialRecord, ...]:
        """Return each trial that was not struck out, as the computations take it."""
        return tuple(
            trial_record(self.shared, trial, trial.readings())
            for trial in self.trials
            if not trial.struck
        )


def kitchen_of(shared: Records) -> Kitchen | None:
    """Return the kitchen among the kitchen's records, where there is one."""
    return next((cast(Kitchen, one) for one in shared.get(KINDS["kitchen"], ())), None)


def trial_record(
    shared: Records, trial: TrialContent, readings: Mapping[ReadingKey, Readings]
) -> TrialRecord:
    """Return a trial with what it uses of the kitchen's things."""
    used = used_handles(trial.records, readings)
    needed = {
        KINDS[name]: tuple(
            one for one in shared.get(KINDS[name], ()) if KINDS[name].handle_of(one) in handles
        )
        for name, handles in used.items()
    }
    return assembled(trial.trial, {**trial.records, **needed}, readings)


def trial_among_all(shared: Records, trial: TrialContent) -> TrialRecord:
    """Return a trial, without its readings, with everything that the kitchen has."""
    every = {KINDS[name]: shared.get(KINDS[name], ()) for name in used_handles({}, ())}
    return assembled(trial.trial, {**trial.records, **every}, {})


def load_shared(
    connection: Connection, used: Mapping[str, Iterable[str]] | None = None
) -> tuple[Records, tuple[Revision, ...]]:
    """Return the kitchen's records and their history; only the used handles where given."""
    found: dict[Kind, tuple[Record, ...]] = {}
    history = load_history(connection, trial_id="")
    for kind in KITCHEN_KINDS:
        records = load_records(connection, kind, "")
        if used is not None and kind.name != "kitchen":
            wanted = set(used.get(kind.name, ()))
            records = tuple(one for one in records if kind.handle_of(one) in wanted)
            history = tuple(
                one for one in history if one.key.kind != kind.name or one.key.handle in wanted
            )
        found[kind] = records
    return found, history


def load_trials(connection: Connection, trial_id: str | None = None) -> Iterator[TrialContent]:
    """Yield one trial, or all of a notebook, the struck-out ones too, one at a time."""
    handles = None if trial_id is None else [trial_id]
    for kept in load_kept(connection, KINDS["trial"], "", handles, struck=True):
        own = kept.key.handle
        yield TrialContent(
            cast(Trial, kept.record),
            {kind: load_records(connection, kind, own) for kind in TRIAL_KINDS},
            tuple(all_series(connection, own)),
            load_history(connection, trial_id=own),
            kept.struck,
        )


def used_by(trial: TrialContent) -> dict[str, list[str]]:
    """Return the handles of the kitchen's things that a trial uses, its struck records too."""
    keys = [(one.cook, one.probe) for one in trial.series]
    used = used_handles(trial.records, keys)
    for revision in trial.history:
        for target, handle in _handles_in(revision):
            if target in used and handle not in used[target]:
                used[target].append(handle)
    return used


def _handles_in(revision: Revision) -> Iterator[tuple[str, str]]:
    kind = KINDS[revision.key.kind]
    for path, target in kind.points_at.items():
        yield from ((target, handle) for handle in _values_in(revision.body, path))


def _values_in(thing: object, path: str) -> Iterator[str]:
    if isinstance(thing, list):
        for item in thing:
            yield from _values_in(item, path)
    elif isinstance(thing, dict):
        first, _, rest = path.partition(".")
        yield from _values_in(thing.get(first), rest)
    elif isinstance(thing, str) and not path:
        yield thing


def key_of(kind: Kind, trial_id: str, record: Record) -> Key:
    """Return the key of a record in a folder."""
    return kind.key(trial_id, kind.handle_of(record))
