"""The notebook: one file with everything that a kitchen has recorded."""

import threading
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar, cast, overload

from sqlalchemy import Connection

from fairsmoke.messages.message import N_, Words, stacked
from fairsmoke.notebook import arrivals, health, intake, schema
from fairsmoke.notebook.chain import last_seal
from fairsmoke.notebook.digest import content_digest
from fairsmoke.notebook.engine import (
    FileIdentity,
    engine_on,
    plain_errors,
    reading,
    settled,
    writing,
)
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.kinds import kind_of
from fairsmoke.notebook.readings import (
    BLOCK_READINGS,
    LazyReadings,
    Span,
    load_all_readings,
    load_readings,
    spans,
)
from fairsmoke.notebook.rows import (
    Revision,
    count_by_cook,
    load_by_trial,
    load_history,
    load_records,
)
from fairsmoke.notebook.transaction import Transaction, check_owner, found_record
from fairsmoke.notebook.trial_record import load_trial_record, parts_of
from fairsmoke.notebook.writer import Stamp
from fairsmoke.trial.base import Record
from fairsmoke.trial.kitchen import Kitchen, KnownLayout
from fairsmoke.trial.question import Trial
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.source import Source

R = TypeVar("R", bound=Record)


class Notebook:
    """An open notebook. Use it as a context manager, or call ``close`` at the end.

    It may be used from several threads and several programs at once: each reads one state of it
    while at most one writes. When a write returns, it is on the disk. Kinds are given by their
    class or by name ("event"); ``trial`` is needed for what belongs to a trial.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine = engine_on(path)
        self._one_writer = threading.Lock()
        self._file = FileIdentity.of(path)

    @classmethod
    def create(cls, path: Path | str, kitchen: Kitchen | None = None, *, by: str = "") -> Self:
        """Make a new notebook and open it. Raises NotebookError when the file exists."""
        place = Path(path)
        schema.make_file(place)
        notebook = cls(place)
        if kitchen is not None:
            notebook.save(kitchen, by=by)
        return notebook

    @classmethod
    def open(cls, path: Path | str) -> Self:
        """Open a notebook; an older one is copied beside itself and brought forward.

        Raises NotebookError when there is none, it is something else, or it is from a later
        Fairsmoke.
        """
        place = Path(path)
        schema.bring_forward(place)
        return cls(place)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Write everything into the one file and let go of it.

        Nothing is left beside the file, unless another program still has it open.
        """
        try:
            self.settle()
        finally:
            self._engine.dispose()

    def settle(self, wait_s: float = 1.0) -> bool:
        """Bring what lies in the log beside the file into the file, so that it can be copied.

        Returns False when someone was reading or writing all the while that it waited; try again,
        or use ``backup``.
        """
        with plain_errors(self.path), self._engine.connect() as connection:
            return settled(connection, wait_s)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the notebook."""
        with plain_errors(self.path), reading(self._engine) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give the one connection that writes; everything in it happens, or nothing."""
        with self._one_writer, plain_errors(self.path):
            self._file.check()
            with writing(self._engine) as connection:
                yield connection
                # Once more, as late as can be: what is committed is acknowledged.
                self._file.check()

    @contextmanager
    def transaction(self, *, by: str = "") -> Iterator[Transaction]:
        """Give one transaction for several writes: all of them happen, or none.

        ``by`` is who records. What is written is on the disk when the block has been left.
        """
        with self.writing() as connection:
            yield Transaction(connection, by)

    @property
    def kitchen(self) -> Kitchen:
        """Whose notebook it is; raises NotebookError when that was not recorded."""
        return self.get(Kitchen, "kitchen")

    def save(
        self, records: Record | Iterable[Record], *, trial: str = "", by: str = "", why: str = ""
    ) -> int:
        """Record something new, or correct what is there; return how many were new or changed.

        What is already recorded exactly so is left alone. Raises CorrectionError when something
        would change and no ``why`` is given, NotebookError when a record points at nothing.
        """
        with self.transaction(by=by) as transaction:
            return transaction.save(records, trial=trial, why=why)

    def correct(
        self,
        kind: str | type[Record],
        handle: str,
        changes: Mapping[str, Any],
        *,
        why: str,
        by: str = "",
        trial: str = "",
    ) -> Record:
        """Change fields of a record and return it as it is then.

        A text is read as in a file ("250 °F", local times of its cook), other values are SI.
        Raises CorrectionError when no reason is given or the outcome is not sound.
        """
        with self.transaction(by=by) as transaction:
            return transaction.correct(kind, handle, changes, why=why, trial=trial)

    def confirm(
        self, kind: str | type[Record], handle: str, *, why: str, by: str = "", trial: str
    ) -> Record:
        """Confirm what a doubted weighing, event or placement says; return it as it is then.

        It counts again, until what was confirmed is changed. Raises CorrectionError when no reason
        is given or the kind of record is never doubted.
        """
        with self.transaction(by=by) as transaction:
            return transaction.confirm(kind, handle, why=why, trial=trial)

    def strike(
        self, kind: str | type[Record], handle: str, *, why: str, by: str = "", trial: str = ""
    ) -> None:
        """Strike a record out: it is no longer shown or counted, but stays in the history.

        Saving it again, with a reason, brings it back. Raises CorrectionError when no reason is
        given or something that stays points at it.
        """
        with self.transaction(by=by) as transaction:
            transaction.strike(kind, handle, why=why, trial=trial)

    def bring_back(
        self, kind: str | type[Record], handle: str, *, why: str, by: str = "", trial: str = ""
    ) -> Record:
        """Bring back a record that was struck out, as it was then, and return it.

        Raises CorrectionError when no reason is given or it was not struck out.
        """
        with self.transaction(by=by) as transaction:
            return transaction.bring_back(kind, handle, why=why, trial=trial)

    @overload
    def get(self, kind: type[R], handle: str, *, trial: str = "") -> R: ...

    @overload
    def get(self, kind: str, handle: str, *, trial: str = "") -> Record: ...

    def get(self, kind: str | type[Record], handle: str, *, trial: str = "") -> Record:
        """Return one record; raises NotebookError when it is not there or was struck out."""
        with self.reading() as connection:
            return found_record(connection, kind_of(kind), handle, trial).record

    def history(
        self,
        kind: str | type[Record] | None = None,
        handle: str | None = None,
        *,
        trial: str | None = None,
    ) -> tuple[Revision, ...]:
        """Return every state that records had, in the order of recording, narrowed as given."""
        name = None if kind is None else kind_of(kind).name
        with self.reading() as connection:
            return load_history(connection, name, trial, handle)

    def trials(self) -> tuple[Trial, ...]:
        """Return every trial that was not struck out, in the order of recording."""
        return self.list(Trial)

    def load_trial(self, trial: str, *, lazy: bool = False) -> TrialRecord:
        """Return everything recorded for a trial; of the kitchen's things, those that it uses.

        ``lazy``: readings are unpacked only when looked at, while the notebook is open.
        Raises NotebookError when there is no such trial.
        """
        with self.reading() as connection:
            if not lazy:
                return load_trial_record(connection, trial, load_all_readings(connection, trial))
            keys = sorted({(span.cook, span.probe) for span in spans(connection, trial)})
            readings = LazyReadings(keys, lambda cook, probe: self.readings(trial, cook, probe))
            return load_trial_record(connection, trial, readings)

    def save_trial(self, record: TrialRecord, *, by: str = "", why: str = "") -> int:
        """Record a whole trial at once, wholly or not at all; return how much was new or changed.

        Records that the notebook has and ``record`` lacks stay. Readings that the notebook lacks
        are added without a source; those that it has cannot change.
        Raises NotebookError with all of ``record.problems()``.
        """
        problems = record.problems()
        if problems:
            raise NotebookError(stacked(problems))
        with self.transaction(by=by) as transaction:
            parts = [one for _, one in parts_of(record)]
            changed = transaction.save(parts, trial=record.trial.id, why=why)
            added = intake.add_missing(transaction.connection, record.trial.id, record.readings)
        return changed + added

    def add_source(
        self,
        trial: str,
        source: Source,
        readings: Mapping[str, Readings | Sequence[Readings]],
        *,
        by: str = "",
        why: str = "",
        beside: Collection[str] = (),
        layout: KnownLayout | None = None,
    ) -> bool:
        """Take in a logger file's readings, by probe, with its source, wholly or not at all.

        A probe may have several stretches, as when its logger's unit was switched in between.
        ``layout`` is recorded with them; ``why`` is needed when it was known otherwise.
        Returns False, and writes nothing, when that file (by its SHA-256) was taken in before
        for that cook, other than by the sources ``beside``, to which the readings add.
        Raises NotebookError when its cook or a probe is not there.
        """
        stamp = Stamp(datetime.now(UTC), by, why)
        with self.writing() as connection:
            return intake.take_in(
                connection, trial, source, readings, stamp, beside=beside, layout=layout
            )

    def add_readings(
        self,
        trial: str,
        cook: str,
        readings: Mapping[str, Readings | Sequence[Readings]],
        *,
        source: str | None = None,
    ) -> int:
        """Add readings, by probe, that came from no file or from a file that grows.

        Returns how many. Hand over many at a time: each call packs its own blocks.
        """
        with self.writing() as connection:
            return intake.add(connection, trial, cook, readings, source)

    def append_readings(
        self,
        trial: str,
        cook: str,
        readings: Mapping[str, Readings | Sequence[Readings]],
        *,
        source: str | None = None,
    ) -> int:
        """Add readings, by probe, as they arrive, one or a few at a time; return how many are new.

        What was sent before is left alone. ``fold`` packs them later.
        """
        with self.writing() as connection:
            return arrivals.append(connection, trial, cook, readings, source)

    def fold(self, at_least: int = BLOCK_READINGS) -> int:
        """Pack readings that were appended where there are so many; return how many were packed.

        What anyone reads stays the same. Call it now and then, and with 1 when a cook has ended.
        """
        with self.writing() as connection:
            return arrivals.fold(connection, at_least)

    def readings(
        self,
        trial: str,
        cook: str,
        probe: str,
        start_ms: int | None = None,
        end_ms: int | None = None,
    ) -> Readings:
        """Return what a probe read in a cook, with start_ms <= time < end_ms where given.

        No readings when there are none. Sources in different units come out in one that holds
        every value exactly. Raises NotebookError when a block is damaged.
        """
        with self.reading() as connection:
            return load_readings(connection, trial, cook, probe, start_ms, end_ms)

    def spans(self, trial: str, cook: str = "") -> tuple[Span, ...]:
        """Return how many readings there are of what, from when to when, at little cost."""
        with self.reading() as connection:
            return spans(connection, trial, cook)

    def counts(self, trial: str) -> Mapping[str, Mapping[str, int]]:
        """Return how many records of each kind each cook of a trial has: {cook: {kind: n}}.

        Without unpacking a record. What names no cook stands under "".
        """
        with self.reading() as connection:
            return count_by_cook(connection, trial)

    def source_of_file(self, trial: str, cook: str, sha256: str) -> str | None:
        """Return the handle of the source that took that file in for that cook, if one did."""
        with self.reading() as connection:
            return intake.file_taken_in(connection, trial, cook, sha256)

    def backup(self, target: Path | str) -> Path:
        """Copy the notebook, as it is at one moment, into one new file; it may be in use.

        Raises NotebookError when the target exists.
        """
        place = Path(target)
        schema.copy_file(self.path, place)
        return place

    @property
    def seal(self) -> str:
        """The seal of the last revision, which stands for the whole history; "" without any."""
        with self.reading() as connection:
            return last_seal(connection)

    def check(self) -> tuple[Words, ...]:
        """Return everything about the notebook that is not whole; empty when all is well."""
        try:
            with self.reading() as connection:
                return tuple(health.problems(connection))
        except NotebookError as error:
            return (error.message,)

    def digest(self) -> str:
        """Return the SHA-256 of all that the notebook holds, wherever it lies in the file."""
        with self.reading() as connection:
            return content_digest(connection)

    @overload
    def list(self, kind: type[R], *, trial: str = "", cook: str = "") -> tuple[R, ...]: ...

    @overload
    def list(self, kind: str, *, trial: str = "", cook: str = "") -> tuple[Record, ...]: ...

    def list(
        self, kind: str | type[Record], *, trial: str = "", cook: str = ""
    ) -> tuple[Record, ...]:
        """Return the records of a kind that were not struck out, in the order of recording.

        ``cook`` narrows to those of one cook, for kinds that name their cook.
        """
        found = kind_of(kind)
        check_owner(found, trial)
        if cook and "cook" not in found.model.model_fields:
            raise NotebookError(
                N_("a %(found)s does not name a cook; leave 'cook' out", found=found.name)
            )
        with self.reading() as connection:
            return load_records(connection, found, trial, cook=cook)

    def list_by_trial(self, kind: type[R]) -> Mapping[str, tuple[R, ...]]:
        """Return the records of a kind of every trial, by trial; trials without any are left out.

        Costs one query however many trials there are. Raises NotebookError for what is the
        kitchen's own.
        """
        found = kind_of(kind)
        if not found.of_trial:
            raise NotebookError(
                N_("a %(found)s belongs to no trial; list it without one", found=found.name)
            )
        with self.reading() as connection:
            return cast(Mapping[str, tuple[R, ...]], load_by_trial(connection, found))
