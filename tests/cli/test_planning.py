"""The verbs of planning: exit codes, JSON, and the questions at the keyboard."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fairsmoke.cli import ask as asking
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE, NEEDS_ANSWER

ASK = [
    *("ask", "--title", "Paper or bare", "--arm", "Bare", "--arm", "In paper: wrap=paper"),
    *("--measure", "cook time: 30 min", "--cut", "chuck roast", "--species", "beef"),
    *("--piece", "a: 1.5 kg", "--piece", "b: 1.5 kg", "--piece", "c: 1.9 kg", "--piece", "d: 2 kg"),
    *("--cooker", "Barrel: left, right", "--cooks", "2"),
]


@pytest.fixture
def book(tmp_path: Path) -> str:
    path = str(tmp_path / "hall.fairsmoke")
    assert run(["start", "Hall", "--time-zone", "Europe/London", "-n", path]) == DONE
    return path


def as_json(arguments: list[str], capsys: pytest.CaptureFixture[str], code: int = DONE) -> Any:
    capsys.readouterr()
    assert run([*arguments, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_from_the_question_to_the_fire(
    book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert as_json([*ASK, "-n", book], capsys)["remarks"] == []
    drawn = as_json(["draw", "-n", book, "--seed", "9"], capsys)
    assert drawn["layout"]["seed"] == 9
    assert drawn["draw"]["even"] is True
    assert as_json(["redraw", "-n", book], capsys)["same"] is True
    plan = tmp_path / "plan.json"
    registered = as_json(["register", "-n", book, "--out", str(plan)], capsys)
    assert as_json(["redraw", str(plan)], capsys)["digest"] == registered["digest"]
    plan.write_text(plan.read_text().replace('"seed":9', '"seed":8'))
    assert as_json(["redraw", str(plan)], capsys, CANNOT)["same"] is False
    begun = as_json(["begin", "1", "-n", book, "--start", "2030-05-02 18:30"], capsys)
    assert len(begun["pieces"]) == 2
    amended = as_json(["amend", "differs=paper", "--why", "clearer", "-n", book], capsys)
    assert amended["changes"][0]["place"] == "differs"
    shown = as_json(["register", "-n", book], capsys)
    assert [one["told"] for one in shown["deviations"]] == [True]
    assert run(["register", "-n", book]) == DONE
    assert "Amended" in capsys.readouterr().out


def test_only_looking_and_strictness_record_nothing(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*ASK, "-n", book, "--only-look"]) == DONE
    assert run([*ASK, "--tasters", "3", "--measure", "Bark 0-10: 1", "-n", book, "--strict"]) == (
        CANNOT
    )
    assert "[tasters-know]" in capsys.readouterr().out
    assert as_json(["show", "-n", book], capsys)["trials"] == []


def test_nobody_to_ask_is_its_own_exit_code(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ask", "-n", book]) == NEEDS_ANSWER
    assert "--title" in capsys.readouterr().err


def test_errors_say_what_to_do(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["draw", "-n", book]) == CANNOT
    assert run([*ASK, "-n", book]) == DONE
    assert run(["register", "-n", book]) == CANNOT
    assert "draw it first" in capsys.readouterr().err
    assert run(["amend", "-n", book, "--why", "x"]) == CANNOT
    assert "not registered" in capsys.readouterr().err
    assert run(["draw", "-n", book, "--kind", "halves"]) == CANNOT
    assert "no half of another" in capsys.readouterr().err


def test_the_questions_at_the_keyboard(
    book: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter(
        [
            *("Does paper keep more?", "Paper or bare", "the wrap"),
            *("121 °C", "", "71 °C", "94 °C", ""),
            *("Bare", "In paper: wrap=papyrus", "In paper: wrap=paper", ""),
            *("yield", "cook time: 30 min", ""),
            *("chuck roast", "ox", "beef"),
            *("a: 1.5 kg", "b: 1.5 kg", "c: 2 kg", "d: 2 kg", ""),
            *("Barrel: left, right", "", "2", "0", "", "", ""),
            "yes",
        ]
    )
    monkeypatch.setattr("typer.prompt", lambda *_, **__: next(answers))
    monkeypatch.setattr(asking, "at_keyboard", lambda: True)
    assert run(["ask", "-n", book]) == DONE
    said = capsys.readouterr().out
    assert "no such wrap" in said
    assert "write what it is" in said
    assert "Nothing was found that would spoil the answer." in said
    assert next(answers, None) is None
    assert as_json(["show", "-n", book], capsys)["trials"][0]["trial"] == "paper-or-bare"


def test_what_would_be_passed_over_is_refused(
    book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*ASK, "-n", book]) == DONE
    other = [*ASK, "--id", "other", "-n", book]
    file = tmp_path / "trial.yaml"
    file.write_text("title: x\n")
    for more, words in (
        (["--stand-in", "barrel", "--cooker", "Kettle: top"], "nothing would stand in “kettle”"),
        (["--hold-for", "1 h"], "--hold-for is said without --hold"),
        (["--currency", "EUR"], "--currency is said without --price-piece"),
        ([str(file)], "would be passed over"),
        (["--measure", "0-10: 1"], "name what is scored before the ends of its scale"),
        (["--measure", ": 1"], "name what is scored before the ends of its scale"),
        (["--measure", "Bark: 1"], "say the ends of its scale (“Bark 0-10: 1”)"),
        # What 1505 of a piece can be is grams; 3.4 is kilograms or centimetres.
        (["--piece", "s-9: 1505"], "“1505” has no unit; write “1505 g”"),
        (["--piece", "s-9: 3.4"], "write “3.4 kg” or “3.4 cm”"),
        (["--arm", "Same", "--arm", "Same too"], "nothing differs"),
    ):
        capsys.readouterr()
        assert run([*other, *more]) == CANNOT, more
        assert words in " ".join(capsys.readouterr().err.split())


def test_ask_reads_its_options_without_numba() -> None:
    code = (
        "import sys; from fairsmoke.cli.commands import run; run(sys.argv[1:]); print(*sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "ask", "--help"], capture_output=True, text=True, check=True
    )
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "fairsmoke.cli.ask" in loaded
    assert not loaded & {"numba", "numpy", "scipy", "sqlalchemy"}


def test_a_plan_in_german(
    book: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FAIRSMOKE_LANGUAGE", "de")
    for verb in (
        [*ASK, "--measure", "yield: 2 points"],
        ["draw", "--seed", "9"],
        ["redraw"],
        ["register"],
        ["begin", "1", "--start", "2030-05-02 18:30"],
        ["amend", "differs=Papier", "--why", "klarer"],
    ):
        assert run([*verb, "-n", book]) == DONE
    assert run(["draw", "-n", book]) == CANNOT
    said = capsys.readouterr()
    words = " ".join(f"{said.out} {said.err}".split())
    for german in ("DIE ANTWORT", "frei von dem", "Festgeschrieben", "Weiter:", "Nachgetragen"):
        assert german in words, german
    for english in (" the ", "Next", "Mend", "Recorded", "seed", "Registered", "free of"):
        assert english not in words.partition("Nachgetragen")[0], english
