"""How long a logger's file of a million rows takes, and how much memory.

Each figure is measured in a process of its own, so that the peak is that of the import alone.
"""

import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from fairsmoke.intake import flag_readings, new_only, read, recognise

ROWS = 1_000_000
FORMS = {"iso": "%Y-%m-%dT%H:%M:%S", "us": "%m/%d/%Y %I:%M:%S %p"}
ZONE = ZoneInfo("America/Chicago")
T = TypeVar("T")
PROBES = ("Pit", "Shoulder 1", "Shoulder 2", "Shoulder 3")


def write_file(path: Path, form: str, rows: int = ROWS) -> None:
    """Write an invented log: a time and four probes a row, one row a second, in °F."""
    header = ",".join(["Time", *(f"{probe} (°F)" for probe in PROBES)])
    start = datetime(2026, 5, 2)
    with path.open("w", encoding="utf-8") as file:
        file.write(header + "\n")
        for i in range(rows):
            when = (start + timedelta(seconds=i)).strftime(FORMS[form])
            meat = 40 + i % 50_000 / 320
            file.write(f"{when},{225 + i % 97 / 10:.1f},{meat:.1f},{meat + 1:.1f},{meat - 1:.1f}\n")


def measure_file(path: str) -> dict[str, float]:
    """Recognise, read, flag and merge one file; seconds of each, and the peak in MB."""
    figures: dict[str, float] = {}

    def timed(name: str, work: Callable[[], T]) -> T:
        begin = time.perf_counter()
        result = work()
        figures[name] = time.perf_counter() - begin
        return result

    data = Path(path).read_bytes()
    found = timed("recognise_s", lambda: recognise(data))
    asked = {"date_order": "month-day-year", "zone": ZONE.key}
    mapping = found.answered({q.about: asked[q.about] for q in found.questions})
    file = timed("read_s", lambda: read(data, mapping, progress=lambda done, of: None))
    if file.rows_good != ROWS:
        raise RuntimeError(f"read {file.rows_good} good rows of {ROWS}")
    kinds = {"Pit": "air"}
    timed(
        "flag_s",
        lambda: [
            flag_readings(s.readings, "air" if s.probe in kinds else "meat") for s in file.series
        ],
    )
    timed("merge_again_s", lambda: [new_only(s.readings, s.readings) for s in file.series])
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    figures["peak_mb"] = peak / (1e6 if sys.platform == "darwin" else 1e3)
    return figures


def measure() -> dict[str, float]:
    """Import a million rows with ISO and with US dates: seconds of each step, and peak memory."""
    results: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        for form in FORMS:
            path = Path(folder) / f"{form}.csv"
            write_file(path, form)
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                figures = pool.apply(measure_file, (str(path),))
            results |= {f"intake_{form}_{name}": value for name, value in figures.items()}
    return results


if __name__ == "__main__":
    for name, value in measure().items():
        print(f"{name:32} {value:8.2f}")
