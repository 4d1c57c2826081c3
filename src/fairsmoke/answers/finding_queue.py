"""The findings of trials for pages: what is kept, of which record, and what is worked out."""

import json
import threading
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from fairsmoke.answers.queue import Job, JobQueue, Stage
from fairsmoke.messages.message import Words
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.trial_state import TrialState, trial_state
from fairsmoke.quantity import Units

_NOT_AGAIN_WITHIN = timedelta(seconds=60)
"""While readings come in the record changes all the time: a finding then stands so long."""


@dataclass(frozen=True)
class Seen:
    """What there is of a trial's finding.

    ``folder`` where the newest is kept, None when there is none; ``fresh`` whether it is of the
    record as it is now; ``work`` what is being worked out; ``problem`` why it cannot be judged.
    """

    folder: Path | None
    fresh: bool
    work: Job | None
    problem: Words = ""

    def part(self, name: str) -> Any:
        """Return a part of what is kept, as ``telling.told`` cut it up; None when there is none."""
        path = None if self.folder is None else self.folder / f"{name}.json"
        return None if path is None or not path.is_file() else _read(str(path))


@lru_cache(maxsize=64)
def _read(path: str) -> Any:
    # A folder is named by what it holds, so that its files never change.
    return json.loads(Path(path).read_text(encoding="utf-8"))


@dataclass
class _Last:
    folder: Path
    state: TrialState
    at: datetime


class Findings:
    """Looks findings up and has them worked out, each trial in each person's units."""

    def __init__(self, book: Notebook, jobs: JobQueue) -> None:
        self._book, self._jobs = book, jobs
        self._lock = threading.Lock()
        self._last: dict[tuple[str, Units], _Last] = {}

    def look(self, trial: str, units: Units, *, start: bool = True, again: bool = False) -> Seen:
        """Return what there is; unless it is of the present record, have it worked out.

        ``start`` False only looks. ``again`` works a finding out that is younger than a minute.
        """
        with self._book.reading() as connection:
            state = trial_state(connection, trial)
        with self._lock:
            last = self._last.get((trial, units))
        if last is not None and not last.folder.is_dir():
            last = None
        folder = last.folder if last is not None else None
        if last is not None and last.state == state:
            return Seen(folder, True, None)
        key = _key(trial, units)
        work = self._jobs.find(key)
        if work is not None and work.going:
            return Seen(folder, False, work)
        failed = work is not None and work.stage is Stage.FAILED
        if work is not None and failed and work.content["seen"] == asdict(state) and not again:
            return Seen(folder, False, work, work.problem)
        young = last is not None and datetime.now(UTC) - last.at < _NOT_AGAIN_WITHIN
        if not start or (young and not again):
            return Seen(folder, False, None)
        content = {"trial": trial, "units": asdict(units), "seen": asdict(state)}
        taken = self._jobs_of(trial).submit(key, "finding", content, when_done=self._done)
        return Seen(folder, False, taken)

    def wait(self, trial: str, units: Units, seconds: float, *, again: bool = False) -> Seen:
        """Do as ``look``, and wait a little for what is being worked out."""
        seen = self.look(trial, units, again=again)
        if seen.work is None or not seen.work.going or not seen.work.ended.wait(seconds):
            return seen
        return self.look(trial, units)

    def ask(self, kind: str, trial: str, content: dict[str, Any]) -> Job:
        """Have a report or the data of a trial made, as it is now."""
        with self._book.reading() as connection:
            state = trial_state(connection, trial)
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
        units = Units(**work.content["units"])
        last = _Last(
            Path(work.result["folder"]), TrialState(**work.result["state"]), datetime.now(UTC)
        )
        with self._lock:
            self._last[work.content["trial"], units] = last


def _key(trial: str, units: Units) -> str:
    return json.dumps(["finding", trial, asdict(units)])
