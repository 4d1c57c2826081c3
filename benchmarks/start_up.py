"""How long verbs take that do not simulate, as multiples of an empty Python.

Processor time, so that other work on the machine counts little; the least of five runs each.
"""

import resource
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

RUNS = 5


def cpu_s(arguments: Sequence[str]) -> float:
    """Return the least processor time (s) of a few runs of this Python with arguments."""
    taken = []
    for _ in range(RUNS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(taken)


def measure() -> dict[str, float]:
    """Return the processor time of an empty Python, and of verbs as multiples of it."""
    with tempfile.TemporaryDirectory() as folder:
        book = str(Path(folder) / "hall.fairsmoke")
        start = ["-m", "fairsmoke", "start", "Hall", "--time-zone", "Europe/London", "-n", book]
        subprocess.run([sys.executable, *start], capture_output=True, check=True)
        verbs = {
            "help": ["--help"],
            "ask_help": ["ask", "--help"],
            "when_help": ["when", "--help"],
            "list": ["list", "trial", "-n", book],
            "show": ["show", "-n", book],
            "check": ["check", "-n", book],
        }
        empty = cpu_s(["-c", "pass"])
        found = {"start_up.empty_python_s": empty}
        for name, verb in verbs.items():
            taken = cpu_s(["-m", "fairsmoke", *verb])
            found[f"start_up.{name}_s"] = taken
            found[f"start_up.{name}_per_empty_python"] = taken / empty
    return found
