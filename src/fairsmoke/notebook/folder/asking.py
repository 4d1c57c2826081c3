"""Asking about rows of a folder that hardly can be true, before they are taken in."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection

from fairsmoke.notebook.doubted import AskedAbout, doubted_in, newly_doubted
from fairsmoke.notebook.errors import FolderProblem
from fairsmoke.notebook.folder.content import FolderContent, TrialContent, key_of
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import known_handles
from fairsmoke.trial.weighing import Weighing


@dataclass(frozen=True)
class RowAskedAbout:
    """A row of a folder that hardly can be true: what is asked, and where the row stands."""

    asked: AskedAbout
    at: FolderProblem


AskAboutFolder = Callable[[Sequence[RowAskedAbout]], None]
"""Is given the rows that hardly can be true; raises to leave the whole folder."""


@contextmanager
def asking_about(
    connection: Connection, content: FolderContent, ask: AskAboutFolder | None
) -> Iterator[None]:
    """Ask about what hardly can be true once it is written, in time to undo all of it.

    What is recorded here already, or was in the folder's own history, was asked about before.
    """
    if ask is None:
        yield
        return
    known = known_handles(connection, KINDS["trial"], "")
    own = {one.trial.id: one for one in content.trials if not one.struck}
    before = {trial: doubted_in(connection, trial) if trial in known else {} for trial in own}
    yield
    rows = [
        RowAskedAbout(one, _place(content, trial, one))
        for handle, trial in own.items()
        for one in newly_doubted(before[handle], doubted_in(connection, handle))
        if one.claim not in _recorded_before(trial)
    ]
    if rows:
        ask(rows)


def _recorded_before(trial: TrialContent) -> set[str]:
    return {
        Weighing.model_validate(one.body).claim
        for one in trial.history
        if one.key.kind == "weighing"
    }


def _place(content: FolderContent, trial: TrialContent, asked: AskedAbout) -> FolderProblem:
    """Return where a row stands: its handle may have been a number of the folder's own."""
    kind = KINDS["weighing"]
    found = next(
        (
            key_of(kind, trial.trial.id, one)
            for one in trial.records.get(kind, ())
            if isinstance(one, Weighing) and one.claim == asked.claim
        ),
        asked.key,
    )
    assert content.problem_at is not None
    return content.problem_at(found, asked.question)
