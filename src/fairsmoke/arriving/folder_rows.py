"""Asking about rows of a folder that hardly can be true, before they are taken in."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial

from sqlalchemy import Connection

from fairsmoke.arriving.doubted import AskedAbout, doubted_in, newly_doubted
from fairsmoke.notebook.errors import FolderProblem
from fairsmoke.notebook.folder.content import FolderContent, TrialContent, key_of
from fairsmoke.notebook.folder.transfer import AroundImport
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import known_handles

DOUBTED = ("weighing", "event", "placement")
"""Kinds of record that may be doubted, and confirmed."""


@dataclass(frozen=True)
class RowAskedAbout:
    """A row of a folder that hardly can be true: what is asked, and where the row stands."""

    asked: AskedAbout
    at: FolderProblem


AskAboutFolder = Callable[[Sequence[RowAskedAbout]], None]
"""Is given the rows that hardly can be true; raises to leave the whole folder."""


def asking_about(ask: AskAboutFolder) -> AroundImport:
    """Return what an import is done in, so that what hardly can be true is asked about.

    ``ask`` is given such rows before anything is settled; when it raises, nothing is taken in.
    """
    return partial(_asking, ask)


@contextmanager
def _asking(ask: AskAboutFolder, connection: Connection, content: FolderContent) -> Iterator[None]:
    """Ask about what hardly can be true once it is written, in time to undo all of it.

    What is recorded here already was asked about before, and so was what stands in the history of
    a folder in which nothing was changed by hand.
    """
    known = known_handles(connection, KINDS["trial"], "")
    own = {one.trial.id: one for one in content.trials if not one.struck}
    before = {
        trial: doubted_in(connection, trial, "event") if trial in known else {} for trial in own
    }
    yield
    rows = [
        RowAskedAbout(one, _place(content, trial, one))
        for handle, trial in own.items()
        for one in newly_doubted(before[handle], doubted_in(connection, handle, "event"))
        if _edited(trial) or (one.key.handle, one.claim) not in _recorded_before(trial)
    ]
    if rows:
        ask(rows)


def _edited(trial: TrialContent) -> bool:
    """Tell whether a row that may be doubted says something that its history does not."""
    claims = _recorded_before(trial)
    rows = (
        (kind.handle_of(one), getattr(one, "claim", ""))
        for kind in (KINDS[name] for name in DOUBTED)
        for one in trial.records.get(kind, ())
    )
    return any(row not in claims for row in rows)


def _recorded_before(trial: TrialContent) -> set[tuple[str, str]]:
    return {
        (
            one.key.handle,
            str(getattr(KINDS[one.key.kind].model.model_validate(one.body), "claim", "")),
        )
        for one in trial.history
        if one.key.kind in DOUBTED
    }


def _place(content: FolderContent, trial: TrialContent, asked: AskedAbout) -> FolderProblem:
    """Return where a row stands: its handle may have been a number of the folder's own."""
    kind = KINDS[asked.key.kind]
    found = next(
        (
            key_of(kind, trial.trial.id, one)
            for one in trial.records.get(kind, ())
            if getattr(one, "claim", None) == asked.claim
        ),
        asked.key,
    )
    assert content.problem_at is not None
    return content.problem_at(found, asked.question)
