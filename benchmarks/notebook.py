"""A notebook of 200 cooks and 5 million readings: how large, how fast to write and to read.

``FAIRSMOKE_BENCH_READINGS=100000000`` makes it ten years of a busy kitchen instead (half a minute).
"""

import os
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from sqlalchemy import func, select

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.tables import READING_BLOCK
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, Piece, Position
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.question import Arm, Draw, Measure, Trial
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.source import Source
from fairsmoke.trial.weighing import Scale, Weighing

READINGS = int(os.environ.get("FAIRSMOKE_BENCH_READINGS", "5000000"))
TRIALS, COOKS_EACH, PROBES, EVENTS_EACH = 20, 10, 5, 60
REPEATS = 15
START = datetime(2016, 5, 1, 18, tzinfo=UTC)
PIECES = ("left", "right")


def invented_trial(handle: str) -> Trial:
    """Return a small question of two arms."""
    smoke = Stage(id="smoke", name="Smoke", surround_c=121.0, ends=(EndCondition(core_c=95),))
    return Trial(
        id=handle,
        title="Invented",
        question="Does it matter?",
        invented=True,
        differs="nothing",
        protocol=Protocol(stages=(smoke,)),
        arms=(Arm(id="one", name="One"), Arm(id="other", name="Other")),
        measures=(
            Measure(id="yield", name="Yield", kind="yield", better="higher", worthwhile=0.02),
        ),
        draw=Draw(how="drawn", within="cook"),
    )


def records_of_cook(handle: str, number: int) -> Iterator[Record]:
    """Yield what a person records about one cook: two pieces, 60 events, four weighings."""
    starts = START + timedelta(days=number)
    ends = starts + timedelta(hours=11)
    yield Cook(
        id=handle,
        name="Cook",
        time_zone="Europe/London",
        starts=starts,
        ends=ends,
        cookers=("pit",),
    )
    pieces = [f"{handle}-{side}" for side in PIECES]
    for piece, arm in zip(pieces, ("one", "other"), strict=True):
        yield Piece(id=piece, name="P", cut="shoulder", species="pork", cook=handle, arm=arm)
        for state, mass_kg in (("trimmed", 3.4), ("cooked", 2.1)):
            parts = (f"{state} meat",)
            yield Weighing(
                id=f"{piece}-{state}",
                cook=handle,
                piece=piece,
                scale="bench",
                reading_kg=mass_kg,
                sum=parts,
            )
    for event in range(EVENTS_EACH):
        at = starts + timedelta(minutes=10 * event)
        yield Event(id=f"{handle}-{event}", cook=handle, at=at, kind="fuel", note="a split")


def logged(rng: np.random.Generator, start: datetime, n: int) -> Readings:
    """Return what a logger writes each second: tenths of a degree that wander and jitter."""
    drift = np.cumsum(rng.normal(0, 0.3, n))
    raw = np.rint(900 + drift + rng.normal(0, 1.0, n)).astype(np.int64)
    time_ms = epoch_ms(start) + 1000 * np.arange(n, dtype=np.int64)
    return Readings(time_ms, raw, 1, "degC", np.zeros(n, dtype=np.uint8))


def source_of(cook: str, n: int) -> Source:
    """Return the logger file that a cook's readings came from."""
    sha256 = cook.encode().hex().rjust(64, "0")
    return Source(
        id=f"log-{cook}",
        cook=cook,
        file_name="log.csv",
        sha256=sha256,
        taken_in=START,
        layout="invented",
        rows_read=n,
        rows_good=n,
        rows_bad=0,
    )


def filled(path: Path) -> tuple[Notebook, float]:
    """Return a notebook with everything in it, and the seconds that its readings took."""
    rng = np.random.default_rng(5)
    each = READINGS // (TRIALS * COOKS_EACH * PROBES)
    probes = [f"probe-{n}" for n in range(PROBES)]
    notebook = Notebook.create(path, Kitchen(name="Invented hall", invented=True))
    places = (Position(id="left", name="L"), Position(id="right", name="R"))
    notebook.save(
        [
            Cooker(id="pit", name="Pit", positions=places),
            Scale(id="bench", name="Bench", resolution_kg=0.005),
            *(Probe(id=probe, name=probe) for probe in probes),
        ]
    )
    writing_s = 0.0
    for trial in range(TRIALS):
        own = f"trial-{trial}"
        notebook.save(invented_trial(own))
        for number in range(COOKS_EACH):
            cook, day = f"cook-{number}", trial * COOKS_EACH + number
            notebook.save(records_of_cook(cook, day), trial=own)
            start = START + timedelta(days=day)
            readings = {probe: logged(rng, start, each) for probe in probes}
            begin = time.perf_counter()
            notebook.add_source(own, source_of(cook, each), readings)
            writing_s += time.perf_counter() - begin
    notebook.settle()
    return notebook, writing_s


def median_s(what: Callable[[int], object]) -> float:
    """Return the median seconds of a call, after one that is not counted."""
    taken = []
    for number in range(REPEATS + 1):
        begin = time.perf_counter()
        what(number)
        taken.append(time.perf_counter() - begin)
    return float(np.median(taken[1:]))


def measure() -> dict[str, float]:
    """Return sizes in bytes and MB, rates in readings a second, and median seconds."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "notebook.db"
        notebook, writing_s = filled(path)
        with notebook.reading() as connection:
            payload = func.sum(func.length(READING_BLOCK.c.payload))
            n, size = connection.execute(select(func.sum(READING_BLOCK.c.n), payload)).one()
        event = Event(id="new", cook="cook-0", at=START, kind="note")
        hour_ms = epoch_ms(START + timedelta(hours=1))
        figures = {
            "notebook_readings": float(n),
            "notebook_packed_bytes_per_reading": size / n,
            "notebook_file_mb": path.stat().st_size / 1e6,
            "notebook_readings_written_per_s": n / writing_s,
            "notebook_open_s": median_s(lambda _: Notebook.open(path).trials()),
            "notebook_one_probe_of_a_cook_s": median_s(
                lambda k: notebook.readings(f"trial-{k}", "cook-3", "probe-2")
            ),
            "notebook_one_hour_of_a_probe_s": median_s(
                lambda _: notebook.readings(
                    "trial-0", "cook-0", "probe-2", hour_ms, hour_ms + 3_600_000
                )
            ),
            "notebook_trial_without_readings_s": median_s(
                lambda k: notebook.load_trial(f"trial-{k}", lazy=True)
            ),
            "notebook_trial_with_readings_s": median_s(
                lambda k: notebook.load_trial(f"trial-{k % 3}")
            ),
            "notebook_what_was_read_when_s": median_s(lambda k: notebook.spans(f"trial-{k}")),
            "notebook_list_of_trials_s": median_s(lambda _: notebook.trials()),
            "notebook_save_an_event_s": median_s(
                lambda k: notebook.save(
                    event.model_copy(update={"id": f"new-{k}"}), trial="trial-0"
                )
            ),
        }
        notebook.close()
    return figures


if __name__ == "__main__":
    for figure, value in measure().items():
        print(f"{figure:44}{value:14.5g}")
