"""What hardly can be true is asked about before it is written, whoever writes it.

A person may insist: then it is kept, and counts in no verdict until somebody confirms it, corrects
it, or leaves it out.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from fairsmoke.judging.contradictions import Contradiction, contradictions_of
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField, Message, Words, alone, placed, stacked
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.kinds import KINDS, Key
from fairsmoke.notebook.readings import LazyReadings, load_readings, spans
from fairsmoke.notebook.rows import known_handles
from fairsmoke.notebook.trial_record import load_trial_record
from fairsmoke.quantity.values import Instant as MessageInstant
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import show_instant, time_zone
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Weighing
from fairsmoke.weighing.doubt_words import asked, doubt_words, meant_words
from fairsmoke.weighing.meant import Meant
from fairsmoke.weighing.plausible import Doubt, doubt_in_record, doubts_of


@dataclass(frozen=True)
class LikelyValue:
    """What may have been meant: how it is said, and the fields that it changes, as in a file."""

    says: Words
    changes: Mapping[str, str]


@dataclass(frozen=True)
class AskedAbout:
    """A record that hardly can be true: why, and what may have been meant.

    ``claim`` is what it says; ``question`` says why it is odd and asks for the likely values.
    """

    key: Key
    claim: str
    odd: Message
    question: Message
    likely: tuple[LikelyValue, ...] = ()

    @property
    def words(self) -> Message:
        """Which record it is, and the question."""
        return placed(self.key.words, self.question)


class DoubtedError(JobError):
    """Something that hardly can be true, and nobody insisted. ``asked`` has what to ask."""

    def __init__(self, found: Sequence[AskedAbout]) -> None:
        insist = N_(
            "Say it as it should be. Or insist (%(insist)s): it is kept, marked as doubted, and "
            "counts in no verdict until somebody confirms it, corrects it or leaves it out.",
            insist=InputField("insist"),
        )
        super().__init__(
            stacked([*(one.words for one in found), insist]), code="doubted", kind="conflict"
        )
        self.asked = tuple(found)


def weighings_asked_about(record: TrialRecord) -> dict[Key, AskedAbout]:
    """Return what is asked about each doubted weighing of a trial."""
    own = {one.id: one for one in record.weighings}
    found = (_of_weighing(record, own[one], doubt) for one, doubt in doubts_of(record).items())
    return {one.key: one for one in found}


def _of_weighing(record: TrialRecord, weighing: Weighing, doubt: Doubt) -> AskedAbout:
    key = KINDS["weighing"].key(record.trial.id, weighing.id)
    likely = tuple(LikelyValue(meant_words(record, m), changes_of(m)) for m in doubt.meant)
    return AskedAbout(key, weighing.claim, doubt_words(doubt), asked(record, doubt), likely)


def changes_of(meant: Meant) -> dict[str, str]:
    """Return the fields of a weighing as they would stand in a file had that been meant."""
    if meant.piece is not None:
        return {"piece": meant.piece}
    if meant.sum is not None:
        return {"sum": " + ".join(part.text for part in meant.sum)}
    return {"reading": meant.written}


def events_asked_about(
    record: TrialRecord, pieces: Iterable[str] | None = None
) -> dict[Key, AskedAbout]:
    """Return what is asked about events and probes that readings or other events contradict.

    Perhaps only what concerns some pieces. What has no place yet is told, never refused.
    """
    claims = {
        (kind, one.id): one.claim
        for kind, records in (("event", record.events), ("placement", record.placements))
        for one in records
    }
    found: dict[Key, AskedAbout] = {}
    for one in contradictions_of(record, pieces):
        if one.record not in claims:
            continue
        kind, handle = one.record
        key = KINDS[kind].key(record.trial.id, handle)
        likely: tuple[LikelyValue, ...] = ()
        if one.meant is not None:
            zone = _zone_of(record, one)
            says = alone(MessageInstant(one.meant, "moment", zone))
            likely = (LikelyValue(says, {"at": show_instant(one.meant, zone)}),)
        found.setdefault(key, AskedAbout(key, claims[one.record], one.words, one.words, likely))
    return found


def _zone_of(record: TrialRecord, one: Contradiction) -> ZoneInfo:
    cook = record.piece(one.pieces[0]).cook or ""
    return time_zone(record.cook(cook).time_zone)


def doubted_in(
    connection: Connection, trial: str, kind: str = "weighing", pieces: Iterable[str] | None = None
) -> dict[Key, AskedAbout]:
    """Return what is asked about a trial as the notebook has it now.

    What a record of a ``kind`` can put in doubt: weighings, and for events, cooks and placements
    what readings contradict too, perhaps only for some pieces.
    """
    if not trial or not known_handles(connection, KINDS["trial"], "", [trial]):
        return {}
    if kind not in CURVES:
        return weighings_asked_about(load_trial_record(connection, trial, {}))
    keys = sorted({(span.cook, span.probe) for span in spans(connection, trial)})
    readings = LazyReadings(keys, lambda cook, probe: load_readings(connection, trial, cook, probe))
    record = load_trial_record(connection, trial, readings)
    return weighings_asked_about(record) | events_asked_about(record, pieces)


CURVES = ("event", "placement", "cook")
"""Kinds of record that are held against readings."""


def refuse_doubted(before: Mapping[Key, AskedAbout], after: Mapping[Key, AskedAbout]) -> None:
    """Raise DoubtedError when a change put a record in doubt, or says another odd thing."""
    found = list(newly_doubted(before, after))
    if found:
        raise DoubtedError(found)


def refuse_new(
    connection: Connection,
    trial: str,
    kind: str,
    handle: str,
    pieces: Iterable[str] | None = None,
) -> None:
    """Raise DoubtedError when the record that was just written is doubted."""
    key = KINDS[kind].key(trial, handle)
    asked = doubted_in(connection, trial, kind, pieces)
    if key in asked:
        raise DoubtedError([asked[key]])


def correct(
    book: Notebook,
    kind: str,
    handle: str,
    changes: Mapping[str, Any],
    *,
    why: str,
    by: str = "",
    trial: str = "",
    insist: bool = False,
) -> Record:
    """Correct a record as ``Notebook.correct`` does, and ask when it then hardly can be true.

    Raises DoubtedError, and changes nothing, unless somebody insists.
    """
    whose = handle if kind == "trial" else trial
    with book.transaction(by=by) as transaction:
        before = doubted_in(transaction.connection, whose, kind)
        record = transaction.correct(kind, handle, changes, why=why, trial=trial)
        if not insist:
            after = doubted_in(transaction.connection, whose, kind)
            if isinstance(record, Weighing) and list(newly_doubted(before, after)):
                _refuse_corrected(load_trial_record(transaction.connection, whose, {}), record)
            refuse_doubted(before, after)
    return record


def _refuse_corrected(record: TrialRecord, weighing: Weighing) -> None:
    """Raise DoubtedError about a corrected weighing itself, if it is odd beside all the others.

    In the order of recording it may be one after it that looks odd.
    """
    others = tuple(one for one in record.weighings if one.id != weighing.id)
    doubted = doubts_of(replace(record, weighings=others))
    sound = [one for one in others if one.id not in doubted]
    doubt = doubt_in_record(record, sound, weighing)
    if doubt is not None:
        raise DoubtedError([_of_weighing(record, weighing, doubt)])


def bring_back(
    book: Notebook,
    kind: str,
    handle: str,
    *,
    why: str,
    by: str = "",
    trial: str = "",
    insist: bool = False,
) -> Record:
    """Bring a record back as ``Notebook.bring_back`` does, and ask when it hardly can be true.

    Raises DoubtedError, and changes nothing, unless somebody insists.
    """
    with book.transaction(by=by) as transaction:
        before = doubted_in(transaction.connection, trial, kind)
        record = transaction.bring_back(kind, handle, why=why, trial=trial)
        if not insist:
            refuse_doubted(before, doubted_in(transaction.connection, trial, kind))
    return record


def newly_doubted(
    before: Mapping[Key, AskedAbout], after: Mapping[Key, AskedAbout]
) -> Iterator[AskedAbout]:
    """Yield what is asked about after a change and was not asked about before it."""
    for key, one in after.items():
        if key not in before or before[key].claim != one.claim:
            yield one
