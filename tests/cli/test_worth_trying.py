"""``fairsmoke worth-trying``: JSON, text, chart, errors with a mend, Ctrl-C and going on."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE, STOPPED

PIECE = [
    *("--cut", "pork shoulder", "--mass", "2 kg", "--length", "20 cm"),
    *("--width", "14 cm", "--thick", "9 cm"),
]
SMALL = [
    *("--wraps", "bare,foil", "--pan", "without", "--hold-for", "1 h to 3 h", "--methods", "4"),
    *("--draws", "20", "--whole-draws", "1", "--most", "2", "--base", "wrap=foil,hold-for=2 h"),
]


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "fairsmoke"


def test_answers_in_text_json_and_a_chart(
    tmp_path: Path, cache: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chart = tmp_path / "front.svg"
    assert (
        run(["worth-trying", *PIECE, *SMALL, "--chart", str(chart), "--units", "us", "--details"])
        == DONE
    )
    said = capsys.readouterr().out
    assert "Simulated, nothing was cooked" in said
    assert "°F" in said
    assert "°C" not in said
    assert chart.read_text(encoding="utf-8").startswith("<svg")
    assert len(list(cache.rglob("draws.*.npz"))) == 1
    assert run(["worth-trying", *PIECE, *SMALL, "--json"]) == DONE
    told = json.loads(capsys.readouterr().out)
    assert len(told["methods"]) == 4
    assert told["draws_on_whole_body"] == 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--pit", "warm"], "--pit 'warm'"),
        (["--goals", "yield,smoke"], "no goal 'smoke'"),
        (["--sure", "0.3"], "above 0.5"),
        (["--hold", "50 °C"], "57 °C"),
        (["--chart", "front.gif"], ".png, .svg or .pdf"),
        (["--worthwhile", "2 points"], "write two"),
        (["--base", "wrap=leaf"], "no wrap 'leaf'"),
        (["--mass", "20 kg"], "Measure again"),
        (["--methods", "1"], "2 to 20,000"),
    ],
)
def test_bad_input_says_what_to_mend(
    more: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["worth-trying", *PIECE, *SMALL, *more]) == CANNOT
    assert words in " ".join(capsys.readouterr().err.split())


def test_ctrl_c_keeps_what_is_done_and_the_same_command_goes_on(cache: Path) -> None:
    many = [*SMALL, "--methods", "400"]
    command = [sys.executable, "-m", "fairsmoke", "worth-trying", *PIECE, *many, "--workers", "1"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=dict(os.environ)
    ) as running:
        until = time.monotonic() + 120
        # It saves every five seconds, so that once a file is there it is in the middle of it.
        while not list(cache.rglob("draws.*.npz")) and time.monotonic() < until:
            time.sleep(0.1)
        running.send_signal(signal.SIGINT)
        _, said = running.communicate(timeout=120)
    assert running.returncode == STOPPED, said
    assert b"goes on from there" in said
