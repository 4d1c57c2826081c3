"""The simulator's speed: single cooks, ensembles, the first call; and what holds it.

``python -m benchmarks cooking`` prints the figures; ``python -m benchmarks.cooking`` also tells
how near the solver is to what this machine can do. docs/speed-simulator.md explains both.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from fairsmoke.cooking import tables
from fairsmoke.cooking.body import MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.changes import CHANGES
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import DEFAULT
from fairsmoke.cooking.ensemble import run_ensemble
from fairsmoke.cooking.run import simulate
from fairsmoke.cooking.stepping import make_room
from fairsmoke.trial.protocol import (
    Cover,
    EndCondition,
    Humidity,
    Place,
    Protocol,
    Stage,
    Wrap,
)

HOUR_S = 3600.0
THIRTY_H_S = 30 * HOUR_S
BRISKET = MeasuredPiece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)
MEMBERS, CORES = 1000, 2


def thirty_hours() -> Protocol:
    """Return a cook of 30 h that uses most of what the model has."""
    smoke = Stage(
        id="smoke",
        name="Smoke",
        surround_c=121.0,
        humidity=Humidity.WATER_PAN,
        ends=(EndCondition(core_c=77.0), EndCondition(elapsed_s=12 * HOUR_S)),
    )
    finish = Stage(
        id="finish",
        name="Finish",
        surround_c=149.0,
        wrap=Wrap(above=Cover.BARE, below=Cover.FOIL),
        ends=(EndCondition(core_c=90.0), EndCondition(elapsed_s=6 * HOUR_S)),
    )
    tight = Wrap(above=Cover.FILM_UNDER_FOIL, below=Cover.FILM_UNDER_FOIL)
    hold = Stage(
        id="hold",
        name="Hold",
        place=Place.CABINET,
        surround_c=66.0,
        wrap=tight,
        ends=(EndCondition(elapsed_s=18 * HOUR_S),),
    )
    return Protocol(stages=(smoke, finish, hold))


def _until_thirty(whole_body: bool) -> Protocol:
    """Return that protocol with the length of the hold set so that the middle cook takes 30 h."""
    first = Protocol(stages=thirty_hours().stages[:2])
    cooked_s = simulate(BRISKET, first, whole_body=whole_body).end_s
    hold = (
        thirty_hours()
        .stages[2]
        .model_copy(update={"ends": (EndCondition(elapsed_s=THIRTY_H_S - cooked_s),)})
    )
    return Protocol(stages=(*first.stages, hold))


def fastest_s(what: Callable[[], object], runs: int) -> tuple[float, float]:
    """Return the fastest and the median seconds of a call, after one that is not counted."""
    what()
    taken = []
    for _ in range(runs):
        begin = time.perf_counter()
        what()
        taken.append(time.perf_counter() - begin)
    return min(taken), float(np.median(taken))


_FIRST = """
import time
begin = time.perf_counter()
from fairsmoke.cooking.body import MeasuredPiece
from fairsmoke.cooking.run import simulate
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
stage = Stage(id="s", name="s", surround_c=121.0, ends=(EndCondition(elapsed_s=36000.0),))
simulate(MeasuredPiece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04), Protocol(stages=(stage,)))
print(time.perf_counter() - begin)
"""


def first_calls_s() -> dict[str, float]:
    """Return seconds of the first cook in new processes: nothing compiled yet, and after set-up.

    Set-up is what `make` does once: `python -m fairsmoke.cooking.warm`, in an empty cache.
    """
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "NUMBA_CACHE_DIR": cache}

        def run(*command: str) -> str:
            done = subprocess.run(
                [sys.executable, *command],
                env=environment,
                check=True,
                capture_output=True,
                text=True,
            )
            return done.stdout

        begin = time.perf_counter()
        run("-m", "fairsmoke.cooking.warm")
        set_up = time.perf_counter() - begin
        warm = [float(run("-c", _FIRST)) for _ in range(3)]
        shutil.rmtree(cache)
        Path(cache).mkdir()
        cold = float(run("-c", _FIRST))
    return {
        "cooking_set_up_once_s": set_up,
        "cooking_first_call_after_set_up_s": float(np.median(warm)),
        "cooking_first_call_without_set_up_s": cold,
    }


def measure() -> dict[str, float]:
    """Return the speed bars' figures; see docs/speed-simulator.md for what they are held to."""
    whole, reduced = _until_thirty(True), _until_thirty(False)
    figures: dict[str, float] = {}
    for name, protocol, whole_body, runs in (
        ("two_dimensional", whole, True, 7),
        ("one_column", reduced, False, 25),
    ):
        best, middle = fastest_s(
            lambda p=protocol, w=whole_body: simulate(BRISKET, p, whole_body=w),  # type: ignore[misc]
            runs,
        )
        figures[f"cooking_{name}_30h_s"] = best
        figures[f"cooking_{name}_30h_median_s"] = middle
    best, middle = fastest_s(
        lambda: run_ensemble(BRISKET, reduced, members=MEMBERS, workers=CORES), 3
    )
    figures["cooking_1000_one_column_30h_s"] = best
    figures["cooking_1000_one_column_30h_median_s"] = middle
    return figures | first_calls_s()


def bound() -> dict[str, float]:
    """Return what holds the solver: its time per cell and step, and this core's arithmetic."""
    protocol = _until_thirty(False)
    outcome = simulate(BRISKET, protocol, whole_body=False)
    taken, _ = fastest_s(lambda: simulate(BRISKET, protocol, whole_body=False), 25)
    cells = one_column(BRISKET).state.shape[2]
    steps = outcome.steps + outcome.refused
    body = two_dimensional(BRISKET)
    column_bytes = sum(a.nbytes for a in make_room(1, cells, 4.0)) + 8 * cells * (4 + CHANGES + 5)
    return {
        "steps_taken": float(outcome.steps),
        "steps_refused": float(outcome.refused),
        "ns_per_cell_and_step": 1e9 * taken / steps / cells,
        "working_set_of_a_column_kb": column_bytes / 1e3,
        "columns_of_the_whole_body": float(body.shape.plan_m2.size),
        "table_kb": tables.build(DEFAULT).nbytes / 1e3,
        "ns_of_an_exponential": 1e9 * _exponential_s(),
        "gflops_scalar_core": _chained_gflops(),
    }


@kernel
def _exponentials(count: int) -> float:
    total = 0.0
    for k in range(count):
        total += np.exp(-1e-9 * k - 1e-3 * total)
    return total


@kernel
def _multiply_adds(count: int) -> float:
    a, b, c, d = 1.0, 1.1, 1.2, 1.3
    for _ in range(count):
        a = a * 0.999999 + 1e-7
        b = b * 0.999999 + 1e-7
        c = c * 0.999999 + 1e-7
        d = d * 0.999999 + 1e-7
    return a + b + c + d


def _exponential_s(count: int = 3_000_000) -> float:
    return fastest_s(lambda: _exponentials(count), 3)[0] / count


def _chained_gflops(count: int = 20_000_000) -> float:
    return 8e-9 * count / fastest_s(lambda: _multiply_adds(count), 3)[0]


if __name__ == "__main__":
    for figure, value in {**measure(), **bound()}.items():
        print(f"{figure:44}{value:12.4g}", flush=True)
