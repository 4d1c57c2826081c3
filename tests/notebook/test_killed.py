"""Killed at any moment, a notebook has everything that it said it had, and opens."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from fairsmoke.notebook.folder.transfer import notebook_of_folder

HERE = Path(__file__).parent
ROUNDS = int(os.environ.get("FAIRSMOKE_KILL_ROUNDS", "20"))


@pytest.mark.skipif(
    not hasattr(os, "fork"), reason="killing a fork needs an operating system with forks"
)
def test_a_killed_writer_loses_nothing_that_it_acknowledged(tmp_path: Path) -> None:
    path = tmp_path / "hall.db"
    notebook_of_folder(path, HERE / "data" / "by-hand").close()
    done = subprocess.run(
        [sys.executable, HERE / "killed_writer.py", path, str(ROUNDS), "20260502"],
        capture_output=True,
        text=True,
        timeout=600 + 60 * ROUNDS,  # A hang fails; slowness does not.
        check=False,
    )
    assert done.stderr == ""
    rounds = done.stdout.splitlines()
    assert len(rounds) == ROUNDS
    assert [line for line in rounds if not re.fullmatch(r"[0-9]+ [0-9]+", line)] == []
    # The test is only worth something when there was something to lose: of four things that were
    # acknowledged at least one was an event and one a log, however slow the machine.
    assert all(int(number) >= 1 for line in rounds for number in line.split())
