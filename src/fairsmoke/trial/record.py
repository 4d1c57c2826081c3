"""A whole trial as it was recorded, with the checks that span several records."""

from dataclasses import dataclass

from fairsmoke.messages.message import Message
from fairsmoke.trial.record_checks import problems_of
from fairsmoke.trial.record_parts import FAR_FUTURE_MS, ReadingKey, RecordParts
from fairsmoke.trial.record_remarks import remarks_of


@dataclass(frozen=True)
class TrialRecord(RecordParts):
    """Everything recorded for one trial, as plain data, and what is to be said of it."""

    def problems(self) -> list[Message]:
        """Return what does not fit together, each with its place and the mend; empty when sound."""
        return list(problems_of(self))

    def remarks(self) -> list[Message]:
        """Return what is no fault but leaves a value open (trays never weighed), with the mend."""
        return list(remarks_of(self))


__all__ = ["FAR_FUTURE_MS", "ReadingKey", "TrialRecord"]
