"""Which libraries a verb loads: who waits for a list or for a page of help waits for no simulator.

Loading takes most of the time of a verb that only reads or writes the record. What is loaded is the
same on every machine, which the time is not; benchmarks/start_up.py has the time.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from fairsmoke.cli.commands import app

RUN = """
import contextlib, io, json, sys
from fairsmoke.cli import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
    codes = []
    for arguments in json.loads(sys.argv[1]):
        sys.argv = ["fairsmoke", *arguments]
        try:
            main()
        except SystemExit as end:
            codes.append(end.code)
loaded = {name for name, module in sys.modules.items() if module is not None}
print(json.dumps({"codes": codes, "loaded": sorted(loaded)}))
"""
SIMULATING = {"numba", "scipy.optimize", "scipy.stats", "polars", "altair", "fastapi", "typst"}
RECORD = {"numpy", "sqlalchemy", "scipy", "ruamel.yaml"}


def loaded(*verbs: list[str]) -> tuple[list[int], set[str]]:
    """Run verbs one after the other in one new process; return exit codes and what is loaded."""
    run = subprocess.run(
        [sys.executable, "-c", RUN, json.dumps(verbs)], capture_output=True, text=True, check=True
    )
    said = json.loads(run.stdout)
    return said["codes"], set(said["loaded"])


def test_the_help_of_every_verb_loads_no_record_and_no_simulator() -> None:
    verbs = typer.main.get_group(app).commands
    assert len(verbs) > 25
    codes, modules = loaded(["--help"], *([verb, "--help"] for verb in verbs))
    assert set(codes) == {0}
    assert modules & (SIMULATING | RECORD) == set()


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("start") / "hall.fairsmoke"


def test_verbs_of_the_record_load_no_simulator(book: Path, tmp_path: Path) -> None:
    at = ["-n", str(book)]
    ask = [
        *("ask", "--title", "Paper or bare", "--arm", "Bare", "--arm", "In paper: wrap=paper"),
        *("--measure", "cook time: 30 min", "--piece", "a: 1.5 kg", "--piece", "b: 1.5 kg"),
        *("--cut", "chuck roast", "--cooker", "Barrel: left, right", "--cooks", "1"),
    ]
    codes, modules = loaded(["start", "Hall", "--time-zone", "Europe/London", *at], [*ask, *at])
    assert codes == [0, 0]
    # What is asked is drawn once on paper, to say what would spoil it: sets are matched.
    assert modules & SIMULATING <= {"scipy.optimize"}
    codes, modules = loaded(
        ["list", "trial", *at],
        ["show", *at],
        ["correct", "trial", "paper-or-bare", "title=Paper", "--why", "shorter", *at],
        ["register", *at],
        ["check", *at],
        ["copy", str(tmp_path / "copy.fairsmoke"), *at],
    )
    # Nothing is drawn yet, so nothing can be registered: that is said, and costs no more.
    assert codes == [0, 0, 0, 1, 0, 0]
    assert modules & SIMULATING == set()


def test_judging_loads_no_compiler(book: Path) -> None:
    _, modules = loaded(["judge", "-n", str(book.with_name("none.fairsmoke"))])
    assert "numba" not in modules
