"""What a finding waits for: entries that hardly can be true, until somebody settles each of them.

A weighing that is doubted, an event that the readings contradict, probes that seem swapped. What
rests on them is left out, and nothing is settled without them.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from fairsmoke.judging.contradictions import contradictions_of
from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.trial.nouns import named
from fairsmoke.trial.question import TIMES, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import SHARED_KINDS, Weighing
from fairsmoke.weighing.doubt_words import asked
from fairsmoke.weighing.plausible import doubts_of


@dataclass(frozen=True)
class Waiting:
    """An entry that hardly can be true: which record, why, and what waits for it.

    ``also`` is a second record that is part of it (swapped probes). Nothing waits for an entry
    without ``measures``: it is only to be looked at.
    """

    kind: str
    handle: str
    pieces: tuple[str, ...]
    measures: tuple[MeasureKind, ...]
    why: Words
    also: str = ""

    @property
    def words(self) -> Message:
        """Which record it is, and why."""
        return N_("%(record)s: %(why)s", record=named(self.kind, self.handle), why=self.why)


def waiting_of(record: TrialRecord) -> tuple[Waiting, ...]:
    """Return what a trial's finding waits for, weighings first."""
    return (*_weighings(record), *_contradicted(record))


def waits_for(waiting: tuple[Waiting, ...], piece: str, measure: MeasureKind) -> Waiting | None:
    """Return the first entry that a piece's value of a measure waits for, None when none."""
    found = (one for one in waiting if measure in one.measures and piece in one.pieces)
    return next(found, None)


def _weighings(record: TrialRecord) -> Iterator[Waiting]:
    own = {one.id: one for one in record.weighings}
    for handle, doubt in doubts_of(record).items():
        pieces = tuple(dict.fromkeys(_resting_on(record, own[handle])))
        why = asked(record, doubt)
        yield Waiting("weighing", handle, pieces, (MeasureKind.YIELD,), why)


def _resting_on(record: TrialRecord, doubted: Weighing) -> Iterator[str]:
    """Yield the pieces whose masses rest on a weighing: its own, and all that lay on its tray."""
    if doubted.piece is not None:
        yield doubted.piece
    shared = {part.text for part in doubted.sum if part.kind in SHARED_KINDS}
    if doubted.piece is not None and len(shared) < len(doubted.sum):
        return
    for one in record.weighings:
        if one.piece is not None and shared & {part.text for part in one.sum}:
            yield one.piece


def _contradicted(record: TrialRecord) -> Iterator[Waiting]:
    for one in contradictions_of(record):
        measures = tuple(
            kind
            for kind in TIMES
            if one.doubts_times or (one.doubts_cores and kind is MeasureKind.TIME_TO_CORE)
        )
        also = one.also[1] if one.also is not None else ""
        yield Waiting(*one.record, one.pieces, measures, one.words, also)
