"""The desk: takes work, has it done by child processes, tells how far it is, and can stop it.

A process and not a thread: what it computes then holds up no page and no reading that comes in.
"""

import contextlib
import json
import logging
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_

_log = logging.getLogger("fairsmoke.app")

MOST_WAITING = 12
"""Pieces of work that may wait in a lane."""

_STOP_WITHIN_S = 3.0
_REMEMBERED = 200


class Stage(StrEnum):
    """How far a piece of work is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass(eq=False)
class Work:
    """A piece of work. ``done`` of ``of`` steps when it says so; ``problem`` is for a person."""

    key: str
    kind: str
    lane: str
    content: dict[str, Any]
    stage: Stage = Stage.WAITING
    done: int = 0
    of: int = 0
    result: dict[str, Any] = field(default_factory=dict)
    problem: str = ""
    stopping: bool = False
    ended: threading.Event = field(default_factory=threading.Event)
    process: "subprocess.Popen[str] | None" = None

    @property
    def going(self) -> bool:
        """Whether it waits or runs."""
        return self.stage in (Stage.WAITING, Stage.RUNNING)


WhenDone = Callable[[Work], None]


class Desk:
    """Has work done, one piece at a time in each lane; the same key is never done twice at once."""

    def __init__(self, notebook: Path, folder: Path) -> None:
        self.folder = folder
        self._notebook = notebook
        self._lock = threading.Lock()
        self._works: dict[str, Work] = {}
        self._lanes: dict[str, queue.SimpleQueue[tuple[Work, WhenDone | None] | None]] = {}
        self._closed = False

    def take(
        self,
        key: str,
        kind: str,
        content: dict[str, Any],
        *,
        lane: str,
        when_done: WhenDone | None = None,
    ) -> Work:
        """Take work in and return it, or what is going on under its key.

        Raises InputError when too much waits in the lane.
        """
        with self._lock:
            there = self._works.get(key)
            if there is not None and there.going:
                return there
            waiting = sum(w.lane == lane and w.stage is Stage.WAITING for w in self._works.values())
            if waiting >= MOST_WAITING or self._closed:
                message = N_("Too much is being worked out already. Try again later.")
                raise InputError(message, code="busy", kind="busy", retry_after_s=30.0)
            work = Work(key, kind, lane, content)
            self._works.pop(key, None)
            self._works[key] = work
            self._forget()
            if lane not in self._lanes:
                self._lanes[lane] = queue.SimpleQueue()
                worker = threading.Thread(
                    target=self._do_all, args=(self._lanes[lane],), name=f"desk-{lane}", daemon=True
                )
                worker.start()
            self._lanes[lane].put((work, when_done))
        return work

    def look(self, key: str) -> Work | None:
        """Return the last work under a key, if it is remembered."""
        with self._lock:
            return self._works.get(key)

    def stop(self, key: str) -> None:
        """Stop work that waits or runs; what it has kept so far stays kept."""
        with self._lock:
            work = self._works.get(key)
            if work is None or not work.going:
                return
            work.stopping = True
            if work.process is not None:
                work.process.send_signal(signal.SIGINT)

    def close(self) -> None:
        """Stop everything; no process of ours is left when this returns."""
        with self._lock:
            self._closed = True
            going = [work for work in self._works.values() if work.going]
            for work in going:
                work.stopping = True
                if work.process is not None:
                    work.process.terminate()
            for lane in self._lanes.values():
                lane.put(None)
        for work in going:
            if work.stage is Stage.RUNNING and not work.ended.wait(_STOP_WITHIN_S):
                with self._lock:
                    if work.process is not None:
                        work.process.kill()

    def _forget(self) -> None:
        old = [key for key, work in self._works.items() if not work.going]
        for key in old[: max(0, len(self._works) - _REMEMBERED)]:
            del self._works[key]

    def _do_all(self, lane: "queue.SimpleQueue[tuple[Work, WhenDone | None] | None]") -> None:
        while (taken := lane.get()) is not None:
            work, when_done = taken
            outcome = Stage.FAILED
            try:
                outcome = self._do(work)
                if outcome is Stage.DONE and when_done is not None:
                    when_done(work)
            except Exception:
                _log.exception("Work %s failed", work.kind)
                outcome = Stage.FAILED
            finally:
                # Last, so that who sees it done also sees what came of it.
                work.stage = outcome
                work.ended.set()

    def _do(self, work: Work) -> Stage:
        task = {
            "kind": work.kind,
            "notebook": str(self._notebook),
            "folder": str(self.folder),
            "content": work.content,
        }
        with self._lock:
            if work.stopping:
                return Stage.STOPPED
            work.process = subprocess.Popen(
                [sys.executable, "-m", "fairsmoke.answers.child"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                # Ctrl-C in the terminal is for the app, which stops its children itself.
                start_new_session=True,
            )
            work.stage = Stage.RUNNING
        with work.process as process:
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
                outcome = _heard(work, json.loads(line)) or outcome
            process.wait()
            errors.join(1.0)
        with self._lock:
            work.process = None
        if outcome is None:
            outcome = Stage.STOPPED if work.stopping else Stage.FAILED
        if outcome is Stage.FAILED and not work.problem:
            _log.error("Work %s ended with %s: %s", work.kind, process.returncode, "".join(said))
        return outcome


def _gather(stream: Any, into: list[str]) -> None:
    for line in stream:
        into.append(line)
        del into[:-60]


def _heard(work: Work, told: dict[str, Any]) -> Stage | None:
    """Take in what the child says; return how it ended, when it says so."""
    if "done" in told:
        work.done, work.of = int(told["done"]), int(told["of"])
    if "problem" in told:
        work.problem = str(told["problem"])
        return Stage.FAILED
    if "result" in told:
        work.result = told["result"]
        return Stage.DONE
    return Stage.STOPPED if "stopped" in told else None
