"""Whether a trial still fits together after its set-up was changed; else nothing is written."""

from collections.abc import Iterator
from contextlib import contextmanager

from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.notebook.trial_record import load_trial_record

WHY = "changed while it was set up"


@contextmanager
def set_up(book: Notebook, by: str, trial: str) -> Iterator[Transaction]:
    """Give a transaction; raise JobError, and write nothing, for problems that it would bring."""
    with book.transaction(by=by) as transaction:
        before = set(load_trial_record(transaction.connection, trial, {}).problems())
        yield transaction
        after = set(load_trial_record(transaction.connection, trial, {}).problems())
        if after - before:
            raise JobError("; ".join(sorted(after - before)))
