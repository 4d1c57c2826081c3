"""Whether what an entry wrote fits with the rest of its cook; else it is refused and not written.

A record that does not fit together could not be exported and read back.
"""

from typing import Any

from fairsmoke.messages.errors import JobError
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.question import Trial
from fairsmoke.trial.record import TrialRecord


def refuse_unsound(transaction: Transaction, trial: str, cook: str, handle: str) -> None:
    """Raise JobError with the problems that name a record of a cook, if it has any."""

    def of_cook(kind: str) -> Any:
        return load_records(transaction.connection, KINDS[kind], trial, cook=cook)

    found, whole = transaction.get(Cook, cook, trial=trial), transaction.get(Trial, trial)
    assert isinstance(found, Cook)
    assert isinstance(whole, Trial)
    record = TrialRecord(
        trial=whole,
        cooks=(found,),
        cookers=load_records(transaction.connection, KINDS["cooker"], ""),  # type: ignore[arg-type]
        probes=load_records(transaction.connection, KINDS["probe"], ""),  # type: ignore[arg-type]
        pieces=of_cook("piece"),
        placements=of_cook("placement"),
        events=of_cook("event"),
    )
    problems = [one for one in record.problems() if f"'{handle}'" in one or f"({handle})" in one]
    if problems:
        raise JobError("; ".join(problems))
