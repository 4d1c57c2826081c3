"""How long the demo takes from start to end in a process of its own, and how much memory."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

RUNS = 3


def measure() -> dict[str, float]:
    """Run the demo several times; median seconds, and the peak memory in MB."""
    taken: list[float] = []
    peak = 0
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "fairsmoke", "demo", "--out", str(Path(folder) / "demo")]
        for _ in range(RUNS):
            begin = time.perf_counter()
            with subprocess.Popen(command, stdout=subprocess.DEVNULL) as running:
                watched = psutil.Process(running.pid)
                while running.poll() is None:
                    try:
                        peak = max(peak, watched.memory_info().rss)
                    except psutil.NoSuchProcess:
                        break
                    time.sleep(0.02)
            if running.returncode:
                raise RuntimeError(f"the demo ended with {running.returncode}")
            taken.append(time.perf_counter() - begin)
    return {"demo_s": sorted(taken)[RUNS // 2], "demo_peak_mb": peak / 1e6}
