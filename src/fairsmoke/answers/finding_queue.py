"""The findings of trials for pages: what is kept, of which record, and what is worked out."""

import json
import threading
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fairsmoke.answers.earlier import state_with_past
from fairsmoke.answers.finding import document_of
from fairsmoke.answers.queue import Job, JobQueue, JobStage
from fairsmoke.answers.store import Store, StoredResult
from fairsmoke.messages.message import Words
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.trial_state import TrialState

if TYPE_CHECKING:
    from fairsmoke.telling.finding import FindingDocument

_NOT_AGAIN_WITHIN = timedelta(seconds=60)
"""While readings come in the record changes all the time: a finding then stands so long."""


@dataclass(frozen=True)
class FindingState:
    """What there is of a trial's finding.

    ``entry`` where the newest is kept, None when there is none; ``fresh`` whether it is of the
    record as it is now; ``work`` what is being worked out; ``problem`` why it cannot be judged.
    """

    entry: StoredResult | None
    fresh: bool
    work: Job | None
    problem: Words = ""

    @property
    def document(self) -> "FindingDocument | None":
        """The finding as it is told; None when there is none."""
        return None if self.entry is None else document_of(self.entry)


@dataclass(frozen=True)
class _Last:
    digest: str
    state: TrialState
    at: datetime


class Findings:
    """Looks findings up and has them worked out, each trial once for everybody."""

    def __init__(self, book: Notebook, jobs: JobQueue, store: Store) -> None:
        self._book, self._jobs, self._store = book, jobs, store
        self._lock = threading.Lock()
        self._last: dict[str, _Last] = {}

    def look(self, trial: str, *, start: bool = True, again: bool = False) -> FindingState:
        """Return what there is; unless it is of the present record, have it worked out.

        ``start`` False only looks. ``again`` works a finding out that is younger than a minute.
        """
        state = state_with_past(self._book, trial)
        with self._lock:
            last = self._last.get(trial)
        entry = None if last is None else self._store.find("finding", last.digest)
        if entry is None or document_of(entry) is None:
            entry = last = None
        if last is not None and last.state == state:
            return FindingState(entry, True, None)
        key = json.dumps(["finding", trial])
        work = self._jobs.find(key)
        if work is not None and work.going:
            return FindingState(entry, False, work)
        failed = work is not None and work.stage is JobStage.FAILED
        if work is not None and failed and work.content["seen"] == asdict(state) and not again:
            return FindingState(entry, False, work, work.problem)
        young = last is not None and datetime.now(UTC) - last.at < _NOT_AGAIN_WITHIN
        if not start or (young and not again):
            return FindingState(entry, False, None)
        content = {"trial": trial, "seen": asdict(state)}
        taken = self._jobs_of(trial).submit(key, "finding", content, when_done=self._done)
        return FindingState(entry, False, taken)

    def wait(self, trial: str, seconds: float, *, again: bool = False) -> FindingState:
        """Do as ``look``, and wait a little for what is being worked out."""
        seen = self.look(trial, again=again)
        if seen.work is None or not seen.work.going or not seen.work.ended.wait(seconds):
            return seen
        return self.look(trial)

    def ask(self, kind: str, trial: str, content: dict[str, Any]) -> Job:
        """Have a report or the data of a trial made, as it is now."""
        state = state_with_past(self._book, trial)
        content = {"trial": trial, **content}
        key = json.dumps([kind, content, asdict(state)], sort_keys=True)
        there = self._jobs.find(key)
        if there is not None and (there.going or Path(there.result.get("file", "")).is_file()):
            return there
        return self._jobs_of(trial).submit(key, kind, content)

    def _jobs_of(self, trial: str) -> JobQueue:
        # Trials take turns, and not people: a finding is for everybody who looks at the trial.
        return self._jobs.for_owner(f"trial {trial}")

    def _done(self, work: Job) -> None:
        state = TrialState(**work.result["state"])
        with self._lock:
            self._last[work.content["trial"]] = _Last(
                work.result["digest"], state, datetime.now(UTC)
            )
