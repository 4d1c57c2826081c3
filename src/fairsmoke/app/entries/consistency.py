"""Whether what an entry wrote fits with the rest of its cook; else it is refused and not written.

A record that does not fit together could not be exported and read back.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import chained
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.notebook.trial_record import load_trial_record
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
    names = (f"'{handle}'", f"({handle})")
    problems = [one for one in record.problems() if any(name in str(one) for name in names)]
    if problems:
        raise JobError(chained(problems))


WHY = "changed while it was set up"


@contextmanager
def set_up(book: Notebook, by: str, trial: str) -> Iterator[Transaction]:
    """Give a transaction; raise JobError, and write nothing, for problems that it would bring."""
    with book.transaction(by=by) as transaction:
        before = set(load_trial_record(transaction.connection, trial, {}).problems())
        yield transaction
        after = set(load_trial_record(transaction.connection, trial, {}).problems())
        if after - before:
            raise JobError(chained(sorted(after - before, key=str)))
