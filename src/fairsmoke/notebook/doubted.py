"""What hardly can be true is asked about before it is written, whoever writes it.

A person may insist: then it is kept, and counts in no verdict until somebody confirms it, corrects
it, or leaves it out.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from fairsmoke.messages.message import N_, InputField, Message, Words, placed, stacked
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.kinds import KINDS, Key
from fairsmoke.notebook.trial_record import load_trial_record
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Weighing
from fairsmoke.weighing.doubt_words import asked, doubt_words, meant_words
from fairsmoke.weighing.meant import Meant
from fairsmoke.weighing.plausible import Doubt, doubts_of


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


class DoubtedError(NotebookError):
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


def weighings_asked_about(record: TrialRecord) -> dict[str, AskedAbout]:
    """Return what is asked about each doubted weighing of a trial, by handle."""
    own = {one.id: one for one in record.weighings}
    return {
        handle: _of_weighing(record, own[handle], doubt)
        for handle, doubt in doubts_of(record).items()
    }


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


def doubted_in(connection: Connection, trial: str) -> dict[str, AskedAbout]:
    """Return what is asked about the weighings of a trial as the notebook has them now."""
    if not trial:
        return {}
    return weighings_asked_about(load_trial_record(connection, trial, {}))


def refuse_doubted(before: Mapping[str, AskedAbout], after: Mapping[str, AskedAbout]) -> None:
    """Raise DoubtedError when a change put a weighing in doubt, or says another odd thing."""
    found = list(newly_doubted(before, after))
    if found:
        raise DoubtedError(found)


def newly_doubted(
    before: Mapping[str, AskedAbout], after: Mapping[str, AskedAbout]
) -> Iterator[AskedAbout]:
    """Yield what is asked about after a change and was not asked about before it."""
    for handle, one in after.items():
        if handle not in before or before[handle].claim != one.claim:
            yield one
