"""A program that records without end and says what it was told is on the disk.

Run by test_killed.py, which kills it. For each round it starts a writer of its own (a fork, so that
nothing needs to be imported again), kills it soon after a random one of its
acknowledgements and looks at what is there.
Prints one line a round: acknowledged events, acknowledged readings, problems found.
"""

import os
import signal
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Event
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.source import Source

TRIAL, COOK = "paper-or-bare", "first-fire"
ARRIVE_MS = 1_800_000_000_000
START = datetime(2026, 5, 2, 22, tzinfo=UTC)


def event(name: str, number: int) -> Event:
    at = START + timedelta(seconds=number)
    return Event(id=f"{name}-{number}", cook=COOK, at=at, kind="note", note="x" * (number % 700))


def readings(number: int) -> Readings:
    values = np.arange(5000, dtype=np.int64) + number
    return Readings(values * 1000, values, 1, "degC", np.zeros(5000, dtype=np.uint8))


def arriving(name: str, number: int) -> Readings:
    at = int(name.removeprefix("round")) * 1_000_000 + number + ARRIVE_MS
    time_ms, raw = np.array([at], dtype=np.int64), np.array([number], dtype=np.int64)
    return Readings(time_ms, raw, 1, "degF", np.zeros(1, dtype=np.uint8))


def source(name: str, number: int) -> Source:
    sha256 = f"{name}-{number}".encode().hex().rjust(64, "0")
    return Source(
        id=f"{name}-log-{number}",
        cook=COOK,
        file_name="log.csv",
        sha256=sha256,
        taken_in=START,
        layout="l",
        rows_read=5000,
        rows_good=5000,
        rows_bad=0,
    )


def record_without_end(path: Path, name: str, said: int) -> None:
    notebook = Notebook.open(path)
    number = 0
    while True:
        notebook.save(event(name, number), trial=TRIAL, by=name)
        os.write(said, b"e")
        # One at a time, and packed every so often: at no moment may one be lost or there twice.
        notebook.append_readings(TRIAL, COOK, {"pit-1": arriving(name, number)})
        os.write(said, b"a")
        if number % 5 == 4:
            notebook.fold(3)
        if number % 4 == 0:
            notebook.add_source(TRIAL, source(name, number), {"core-1": readings(number)})
            os.write(said, b"r")
        number += 1


def one_round(path: Path, name: str, after: int, pause_s: float) -> str:
    """Kill a writer a moment after it has acknowledged so many things, and look at what is there.

    Counting what it said, not the time that it had, a slow machine tests as much as a fast one.
    """
    heard, said = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(heard)
        try:
            record_without_end(path, name, said)
        finally:
            os._exit(1)
    os.close(said)
    acknowledged = b""
    while len(acknowledged) < after and (more := os.read(heard, after - len(acknowledged))):
        acknowledged += more
    time.sleep(pause_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while more := os.read(heard, 65536):
        acknowledged += more
    os.close(heard)
    if not os.WIFSIGNALED(status):
        return f"the writer of {name} ended by itself after {acknowledged!r}"
    return found(path, name, *(acknowledged.count(what) for what in (b"e", b"r", b"a")))


def found(path: Path, name: str, events: int, logs: int, arrived: int) -> str:
    problems: list[str] = []
    with Notebook.open(path) as notebook:
        problems += map(str, notebook.check())
        there = {one.id: one for one in notebook.list(Event, trial=TRIAL)}
        lost = [n for n in range(events) if there.get(f"{name}-{n}") != event(name, n)]
        problems += [f"event {number} was acknowledged and is lost" for number in lost]
        from_ms = int(arriving(name, 0).time_ms[0])
        came = notebook.readings(TRIAL, COOK, "pit-1", from_ms, from_ms + 1_000_000).raw.tolist()
        # One more may have been written and not yet said.
        if came != list(range(len(came))) or len(came) - arrived not in (0, 1):
            problems.append(f"{arrived} single readings were acknowledged, there are {came}")
        spans = {span.source: span.n for span in notebook.spans(TRIAL)}
        for number in range(0, 4 * logs, 4):
            if spans.get(f"{name}-log-{number}") != 5000:
                problems.append(f"readings {number} were acknowledged and are not whole")
        # What was being written when it was killed is either whole or not there.
        problems += [f"{one} is half there" for one, n in spans.items() if one and n != 5000]
    return f"{events} {logs} {'; '.join(problems)}".strip()


def main() -> None:
    path, rounds, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    rng = np.random.default_rng(seed)
    # Into the middle of whatever it does next: an event, single readings, a fold or a whole log.
    for number, (after, pause_s) in enumerate(
        zip(rng.integers(4, 60, rounds), rng.uniform(0, 0.01, rounds), strict=True)
    ):
        print(one_round(path, f"round{number}", int(after), float(pause_s)), flush=True)


if __name__ == "__main__":
    main()
