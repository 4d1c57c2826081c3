"""Job queue: runs tasks in child processes, reports progress, cancels them.

A process and not a thread: what it computes then holds up no page and no reading that comes in.

Each task belongs to a queue (``fairsmoke.answers.tasks``), so that long ones never stand before
short ones. In a queue the owners, the people who ask, take turns: the jobs of one wait for each
other, those of another start beside or between them.

    jobs = JobQueue(notebook, folder).for_owner("ann")
    job = jobs.submit(key, "when", asdict(request))
    job.ended.wait(0.02)
    jobs.stop(key)
"""

import contextlib
import hashlib
import json
import logging
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from fairsmoke.answers.tasks import queue_of
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Words
from fairsmoke.telling.document import from_json

_log = logging.getLogger("fairsmoke.app")

MOST_WAITING = 12
"""Jobs of one owner that may wait in a queue."""
AT_ONCE = 2
"""Jobs of a queue that run at the same time, each of another owner."""

_STOP_WITHIN_S = 3.0
_REMEMBERED = 200


class JobStage(StrEnum):
    """How far a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass(eq=False)
class Job:
    """A task that was asked for. ``done`` of ``of`` steps when it says so.

    ``problem`` is a message for a person, "" where there is none.
    """

    key: str
    kind: str
    queue: str
    owner: str
    content: dict[str, Any]
    stage: JobStage = JobStage.WAITING
    done: int = 0
    of: int = 0
    result: dict[str, Any] = field(default_factory=dict)
    problem: Words = ""
    stopping: bool = False
    ended: threading.Event = field(default_factory=threading.Event)
    when_done: "WhenDone | None" = None
    process: "subprocess.Popen[str] | None" = None

    @property
    def handle(self) -> str:
        """A short name for pages: a key may be as long as a plan."""
        return hashlib.sha256(self.key.encode()).hexdigest()[:24]

    @property
    def going(self) -> bool:
        """Whether it waits or runs."""
        return self.stage in (JobStage.WAITING, JobStage.RUNNING)


WhenDone = Callable[[Job], None]


class JobQueue:
    """Runs jobs in turn, as one owner asks for them; the same key never runs twice at once."""

    def __init__(self, notebook: Path, folder: Path, owner: str = "") -> None:
        self.folder = folder
        self.owner = owner
        self._notebook = notebook
        self._lock = threading.Lock()
        self._jobs: dict[str, Job] = {}
        self._turns: dict[str, int] = {}
        """When each owner last had a turn, counted from 1."""
        self._closed = threading.Event()

    def for_owner(self, owner: str) -> "JobQueue":
        """Return this same queue as somebody else asks of it."""
        found = copy(self)
        found.owner = owner
        return found

    def submit(
        self,
        key: str,
        kind: str,
        content: dict[str, Any],
        when_done: WhenDone | None = None,
    ) -> Job:
        """Take a job in and return it, or the one that is going on under its key.

        ``when_done`` is called before it is seen to be done. Raises InputError when too much of
        the owner's waits already.
        """
        with self._lock:
            there = self._jobs.get(key)
            if there is not None and there.going:
                return there
            job = Job(key, kind, queue_of(kind), self.owner, content, when_done=when_done)
            waiting = sum(
                one.queue == job.queue and one.owner == self.owner and one.stage is JobStage.WAITING
                for one in self._jobs.values()
            )
            if waiting >= MOST_WAITING or self._closed.is_set():
                message = N_("Too much is being worked out already. Try again later.")
                raise InputError(message, code="busy", kind="busy", retry_after_s=30.0)
            # At the end, behind what was asked for before it.
            self._jobs.pop(key, None)
            self._jobs[key] = job
            self._forget()
            self._start_next(job.queue)
        return job

    def find(self, key: str) -> Job | None:
        """Return the last job under a key, if it is remembered."""
        with self._lock:
            return self._jobs.get(key)

    def named(self, handle: str) -> Job | None:
        """Find the last job of a handle, if it is remembered."""
        with self._lock:
            return next((job for job in self._jobs.values() if job.handle == handle), None)

    def stop(self, key: str) -> None:
        """Stop a job that waits or runs; what it has kept so far stays kept."""
        with self._lock:
            job = self._jobs.get(key)
            if job is None or not job.going:
                return
            job.stopping = True
            if job.process is not None:
                job.process.send_signal(signal.SIGINT)
            elif job.stage is JobStage.WAITING:
                job.stage = JobStage.STOPPED
                job.ended.set()

    def close(self) -> None:
        """Stop everything; no process of ours is left when this returns."""
        with self._lock:
            self._closed.set()
            running = [job for job in self._jobs.values() if job.stage is JobStage.RUNNING]
            for job in self._jobs.values():
                if job.stage is JobStage.WAITING:
                    job.stage = JobStage.STOPPED
                    job.ended.set()
            for job in running:
                job.stopping = True
                if job.process is not None:
                    job.process.terminate()
        for job in running:
            if not job.ended.wait(_STOP_WITHIN_S):
                with self._lock:
                    if job.process is not None:
                        job.process.kill()

    def _forget(self) -> None:
        old = [key for key, job in self._jobs.items() if not job.going]
        for key in old[: max(0, len(self._jobs) - _REMEMBERED)]:
            del self._jobs[key]

    def _start_next(self, queue: str) -> None:
        """Start what may run now, the owner first whose last turn is longest ago.

        To be called with the lock held.
        """
        while not self._closed.is_set():
            running = [
                job
                for job in self._jobs.values()
                if job.queue == queue and job.stage is JobStage.RUNNING
            ]
            busy = {job.owner for job in running}
            waiting = [
                job
                for job in self._jobs.values()
                if job.queue == queue and job.stage is JobStage.WAITING and job.owner not in busy
            ]
            if not waiting or len(running) >= AT_ONCE:
                return
            # The first of equals is the one that was asked for first.
            job = min(waiting, key=lambda one: self._turns.get(one.owner, 0))
            self._turns[job.owner] = 1 + max(self._turns.values(), default=0)
            job.stage = JobStage.RUNNING
            threading.Thread(
                target=self._see_through, args=(job,), name=f"job-{job.kind}", daemon=True
            ).start()

    def _see_through(self, job: Job) -> None:
        """Run a job to its end, whatever that is, and start the next one."""
        outcome = JobStage.FAILED
        try:
            outcome = self._run(job)
            if outcome is JobStage.DONE and job.when_done is not None:
                job.when_done(job)
        except Exception:
            _log.exception("Job %s failed", job.kind)
            outcome = JobStage.FAILED
        finally:
            with self._lock:
                # Last, so that who sees it done also sees what came of it.
                job.stage = outcome
                job.ended.set()
                self._start_next(job.queue)

    def _run(self, job: Job) -> JobStage:
        task = {
            "kind": job.kind,
            "notebook": str(self._notebook),
            "folder": str(self.folder),
            "owner": job.owner,
            "content": job.content,
        }
        with self._lock:
            if job.stopping or self._closed.is_set():
                return JobStage.STOPPED
            job.process = subprocess.Popen(
                [sys.executable, "-m", "fairsmoke.answers.child"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                # Ctrl-C in the terminal is for the app, which stops its children itself.
                start_new_session=True,
            )
        with job.process as process:
            assert process.stdin is not None
            assert process.stdout is not None
            assert process.stderr is not None
            said: list[str] = []
            errors = threading.Thread(target=_gather, args=(process.stderr, said), daemon=True)
            errors.start()
            # The pipe stays open: the child ends itself when it closes, as when the app is killed.
            with contextlib.suppress(BrokenPipeError):
                process.stdin.write(json.dumps(task) + "\n")
                process.stdin.flush()
            outcome = None
            for line in process.stdout:
                outcome = _heard(job, json.loads(line)) or outcome
            process.wait()
            errors.join(1.0)
        with self._lock:
            job.process = None
        if outcome is None:
            outcome = JobStage.STOPPED if job.stopping else JobStage.FAILED
        if outcome is JobStage.FAILED and not job.problem:
            _log.error("Job %s ended with %s: %s", job.kind, process.returncode, "".join(said))
        return outcome


def _gather(stream: Any, into: list[str]) -> None:
    for line in stream:
        into.append(line)
        del into[:-60]


def _heard(job: Job, told: dict[str, Any]) -> JobStage | None:
    """Take in what the child says; return how it ended, when it says so."""
    if "done" in told:
        job.done, job.of = int(told["done"]), int(told["of"])
    if "problem" in told:
        job.problem = from_json(told["problem"])
        return JobStage.FAILED
    if "result" in told:
        job.result = told["result"]
        return JobStage.DONE
    return JobStage.STOPPED if "stopped" in told else None
