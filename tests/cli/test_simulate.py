"""``fairsmoke simulate``: text, JSON, charts, errors with a mend, Ctrl-C and going on."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from fairsmoke.answers.demonstration import demonstrate
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE, STOPPED

PIECE = [
    *("--cut", "brisket", "--mass", "5.6 kg", "--length", "42 cm"),
    *("--width", "30 cm", "--thick", "7.5 cm"),
]
SHORT = ["--until", "60 °C", "--draws", "20", "--against", "pit=150 °C"]


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "fairsmoke"


def test_text_has_intervals_and_cautions(cache: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["simulate", *PIECE, *SHORT]) == DONE
    said = capsys.readouterr().out
    assert "Simulated, nothing was cooked" in said
    assert "  121 °C, bare" in said
    assert "What changes against “121 °C, bare”, draw by draw" in said
    assert "shorter in every draw" in " ".join(said.split())
    assert "they never show that food is safe" in " ".join(said.split())
    assert len(list(cache.rglob("draws.*.npz"))) == 1


def test_json_is_whole_and_repeats(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def told(*more: str) -> Any:
        capsys.readouterr()
        assert run(["simulate", *PIECE, *SHORT, "--json", *more]) == DONE
        return json.loads(capsys.readouterr().out)

    first = told("--workers", "1")
    assert first == told("--workers", "2", "--afresh")
    assert first["complete"]
    base, other = first["arms"]
    parts = ("yield", "evaporated", "dripped", "rendered", "in_wrap")
    assert sum(base["values"][part]["middle"] for part in parts) == pytest.approx(1.0, abs=0.02)
    assert other["values"]["cook_s"]["middle"] < base["values"]["cook_s"]["middle"]
    for arm in first["arms"]:
        for shown in arm["values"].values():
            assert shown["low"] is None or shown["low"] <= shown["middle"] <= shown["high"]
    assert first["differences"][0]["values"]["cook_s"]["chance_more"] == 0.0
    assert first["not_known"][0]["why"]
    assert told("--seed", "2") != first


@pytest.mark.parametrize(
    ("name", "begins"), [("a.png", b"\x89PNG"), ("a.svg", b"<svg"), ("a.pdf", b"%PDF")]
)
def test_charts(name: str, begins: bytes, tmp_path: Path) -> None:
    path = tmp_path / name
    assert run(["simulate", *PIECE, *SHORT, "--chart", str(path)]) == DONE
    assert path.read_bytes().startswith(begins)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (["--mass", "0 kg"], "0 kg; the model takes 0.05 to 40"),
        (["--pit", "900 °C"], "the model takes -1.5 to 280"),
        (["--until", "130 °C"], "never|no hotter than water boils"),
        (["--until", "90 °C", "--pit", "70 °C"], "Add a longest time"),
        (["--pit", "250"], "--pit"),
        (["--cut", "ham"], "--cut 'ham'"),
        (["--thick", ""], "say --thick as well, such as --thick '7.5 cm'"),
        (["--draws", "2"], "20 to 20,000"),
        (["--chart", "a.gif"], ".png, .svg or .pdf"),
        (["--trial", "x"], "say one thing to simulate"),
    ],
)
def test_errors_name_the_place_and_the_mend(
    more: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["simulate", *PIECE, *SHORT, *more]) == CANNOT
    said = capsys.readouterr().err
    assert any(one in said for one in message.split("|"))
    assert "Traceback" not in said


def test_a_trial_from_the_notebook(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = demonstrate(tmp_path / "demo")
    trial = ["--trial", made.trial, "-n", str(made.notebook), "--draws", "20"]
    one = ["--piece", "shoulder-1", "--measured"]
    assert run(["simulate", *trial, *one, "--json"]) == DONE
    told = json.loads(capsys.readouterr().out)
    assert [arm["id"] for arm in told["arms"]] == ["bare", "paper"]
    assert [piece["id"] for piece in told["pieces"]] == ["shoulder-1"]
    assert run(["simulate", *trial, "--piece", "nobody"]) == CANNOT
    assert "known: shoulder-1" in capsys.readouterr().err


def test_ctrl_c_keeps_what_is_done_and_the_same_command_goes_on(
    cache: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["simulate", *PIECE, "--until", "94 °C", "--draws", "5000", "--json"]
    command = [sys.executable, "-m", "fairsmoke", *arguments, "--workers", "1"]
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


def test_german_has_no_english_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FAIRSMOKE_LANGUAGE", "de")
    rivals = ["--against", "wrap=foil,wrap-at=50 °C,fat=60 g"]
    rivals += ["--against", "hold=66 °C,hold-for=1 h"]
    assert run(["simulate", *PIECE, *SHORT, *rivals, "--quick"]) == DONE
    said = " ".join(capsys.readouterr().out.split())
    for german in ("Simuliert, nichts wurde gegart", "150 °C, unverpackt", "Alufolie"):
        assert german in said
    for english in ("draws", "points", "core", "every", "yield", "bare", "foil", "hold"):
        assert english not in said


def test_fat_added_in_the_wrap_ends_there(capsys: pytest.CaptureFixture[str]) -> None:
    rival = ["--against", "fat=100 g", "--json", "--quick"]
    assert (
        run(["simulate", *PIECE, "--until", "85 °C", "--draws", "20", "--wrap", "foil", *rival])
        == DONE
    )
    base, other = json.loads(capsys.readouterr().out)["arms"]
    assert other["name"] == "121 °C, foil, fat 100 g"
    # 100 g of 5.6 kg raw: all of it stays in a tight wrap, beside what ran off.
    more = other["values"]["fat_in_wrap"]["middle"] - base["values"]["fat_in_wrap"]["middle"]
    assert more == pytest.approx(0.1 / 5.6, rel=0.1)
