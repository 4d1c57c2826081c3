"""Several writes as one: all of them happen, or none."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, select
from sqlalchemy.dialects.sqlite import insert

from fairsmoke.messages.message import N_, InputField, Message, stacked
from fairsmoke.notebook import arrivals
from fairsmoke.notebook.app_tables import SETTING
from fairsmoke.notebook.corrections import corrected
from fairsmoke.notebook.errors import CorrectionError, NotebookError, did_you_mean
from fairsmoke.notebook.kinds import KINDS, Kind, kind_of
from fairsmoke.notebook.mapper import record_of_body
from fairsmoke.notebook.rows import StoredRecord, load_history, load_kept, load_records
from fairsmoke.notebook.trial_record import load_trial_record, record_handles
from fairsmoke.notebook.writer import RecordState, Stamp, write
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.reading import Readings

R = TypeVar("R", bound=Record)


class Transaction:
    """What ``Notebook.transaction`` gives: writes of one person at one moment.

    ``connection`` is for what lies beside the record (``beside``), to be written with it.
    """

    def __init__(self, connection: Connection, by: str = "") -> None:
        self.connection = connection
        self.by = by
        self.at = datetime.now(UTC)

    def save(self, records: Record | Iterable[Record], *, trial: str = "", why: str = "") -> int:
        """Do as ``Notebook.save``."""
        given = (records,) if isinstance(records, Record) else tuple(records)
        changes = [_change(record, trial) for record in given]
        return write(self.connection, changes, self._stamp(why))

    def correct(
        self,
        kind: str | type[Record],
        handle: str,
        changes: Mapping[str, Any],
        *,
        why: str,
        trial: str = "",
    ) -> Record:
        """Do as ``Notebook.correct``."""
        if not why.strip():
            message = N_(
                "say why it is corrected (%(why)s); the old value is kept", why=InputField("why")
            )
            raise CorrectionError(message, field="why")
        kept = found_record(self.connection, kind_of(kind), handle, trial)
        record = corrected(kept.key, kept.record, changes, _zone(self.connection, kept))
        whose = handle if kept.key.kind == "trial" else trial
        before = _problems(self.connection, whose)
        write(self.connection, [RecordState(kept.key, record)], self._stamp(why))
        _refuse_new_problems(before, _problems(self.connection, whose))
        return record

    def confirm(self, kind: str | type[Record], handle: str, *, why: str, trial: str) -> Record:
        """Do as ``Notebook.confirm``."""
        kept = found_record(self.connection, kind_of(kind), handle, trial)
        claim = getattr(kept.record, "claim", None)
        if claim is None:
            raise CorrectionError(
                N_("only weighings, events and where probes were can be confirmed")
            )
        if not why.strip():
            message = N_(
                "say why it is right as it stands (%(why)s); that is kept too",
                why=InputField("why"),
            )
            raise CorrectionError(message, field="why")
        said = {"checked": claim, "checked_by": self.by, "checked_at": self.at}
        record = kept.record.model_copy(update=said)
        write(self.connection, [RecordState(kept.key, record)], self._stamp(why))
        return record

    def strike(self, kind: str | type[Record], handle: str, *, why: str, trial: str = "") -> None:
        """Do as ``Notebook.strike``."""
        if not why.strip():
            message = N_(
                "say why it is struck out (%(why)s); it stays in the history", why=InputField("why")
            )
            raise CorrectionError(message, field="why")
        if kind_of(kind).name == "kitchen":
            raise CorrectionError(N_("a notebook needs its kitchen; correct it instead"))
        kept = found_record(self.connection, kind_of(kind), handle, trial)
        write(self.connection, [RecordState(kept.key, kept.record, struck=True)], self._stamp(why))

    def bring_back(
        self, kind: str | type[Record], handle: str, *, why: str, trial: str = ""
    ) -> Record:
        """Do as ``Notebook.bring_back``."""
        found = kind_of(kind)
        states = load_history(self.connection, found.name, trial, handle)
        if not states or not states[-1].struck:
            raise CorrectionError(
                N_("%(found)s '%(handle)s' was not struck out", found=found.name, handle=handle)
            )
        if not why.strip():
            message = N_(
                "say why it is brought back (%(why)s); that is kept too", why=InputField("why")
            )
            raise CorrectionError(message, field="why")
        record = record_of_body(found, states[-1].key, states[-1].body)
        self.save(record, trial=trial, why=why)
        return record

    def append_readings(
        self,
        trial: str,
        cook: str,
        readings: Mapping[str, Readings | Sequence[Readings]],
        *,
        source: str | None = None,
    ) -> int:
        """Do as ``Notebook.append_readings``."""
        return arrivals.append(self.connection, trial, cook, readings, source)

    def get(self, kind: str | type[Record], handle: str, *, trial: str = "") -> Record:
        """Do as ``Notebook.get``, seeing what this transaction wrote."""
        return found_record(self.connection, kind_of(kind), handle, trial).record

    def list(self, kind: type[R], *, trial: str = "") -> tuple[R, ...]:
        """Do as ``Notebook.list``, seeing what this transaction wrote."""
        found = kind_of(kind)
        check_owner(found, trial)
        return load_records(self.connection, found, trial)  # type: ignore[return-value]

    def _stamp(self, why: str) -> Stamp:
        return Stamp(self.at, self.by, why)


def found_record(connection: Connection, kind: Kind, handle: str, trial: str) -> StoredRecord:
    """Return a record that is there; raises NotebookError that says what else is known."""
    check_owner(kind, trial)
    kept = load_kept(connection, kind, trial, [handle])
    if kept:
        return kept[0]
    key = kind.key(trial, handle)
    if load_kept(connection, kind, trial, [handle], struck=True):
        raise NotebookError(N_("%(key)s was struck out; its history has it", key=key.words))
    known = record_handles(connection, kind, trial)
    raise NotebookError(
        N_("there is no %(key)s%(hint)s", key=key.words, hint=did_you_mean(handle, known))
    )


def check_owner(kind: Kind, trial: str) -> None:
    """Raise NotebookError when a record of a trial comes without its trial."""
    if kind.of_trial and not trial:
        raise NotebookError(N_("say of which trial the %(kind)s is (trial='...')", kind=kind.name))


def _change(record: Record, trial: str) -> RecordState:
    kind = kind_of(record)
    check_owner(kind, trial)
    return RecordState(kind.key(trial, kind.handle_of(record)), record)


def _problems(connection: Connection, trial: str) -> set[Message]:
    return set(load_trial_record(connection, trial, {}).problems()) if trial else set()


def _refuse_new_problems(before: set[Message], after: set[Message]) -> None:
    """What no longer fits together could not be exported and read back."""
    if after - before:
        raise CorrectionError(stacked(sorted(after - before, key=str)))


def _zone(connection: Connection, kept: StoredRecord) -> ZoneInfo | None:
    """Return the zone of the clocks that a record's times were read from."""
    cook_id = getattr(kept.record, "cook", None)
    if isinstance(kept.record, Cook):
        return time_zone(kept.record.time_zone)
    if cook_id is not None:
        cook = found_record(connection, KINDS["cook"], cook_id, kept.key.trial).record
        assert isinstance(cook, Cook)
        return time_zone(cook.time_zone)
    for kitchen in load_kept(connection, KINDS["kitchen"], ""):
        assert isinstance(kitchen.record, Kitchen)
        return time_zone(kitchen.record.time_zone)
    return None


def setting(connection: Connection, name: str) -> Any:
    """Return what was set under a name, as JSON has it; None when nothing was."""
    return connection.scalar(select(SETTING.c.content).where(SETTING.c.name == name))


def set_to(transaction: Transaction, name: str, content: Any) -> None:
    """Set what stands under a name, in place of what stood there."""
    said = {"content": content, "by": transaction.by, "changed_at": transaction.at}
    query = insert(SETTING).values(name=name, **said)
    transaction.connection.execute(query.on_conflict_do_update(index_elements=["name"], set_=said))
