"""``fairsmoke when`` and ``run-sheet``: text, JSON, the sheet, reminders, errors with a mend."""

import json
from pathlib import Path

import icalendar
import pypdfium2
import pytest

from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE
from fairsmoke.demo import demo_trial
from fairsmoke.notebook import Notebook

FILE = """
title: Paper or bare
altitude: 60 m
pieces:
  - {id: a, cut: pork shoulder, mass: 4.1 kg, length: 26 cm, width: 19 cm, thick: 12 cm, arm: bare}
  - {id: b, cut: pork shoulder, mass: 4.2 kg, length: 26 cm, width: 19 cm, thick: 12 cm, arm: paper}
protocol:
  stages:
    - {id: smoke, name: Smoke, surround: 121 °C, ends: [{core: 71 °C}]}
    - {id: finish, name: Finish, surround: 121 °C, ends: [{core: 92 °C}, {elapsed: 16 h}]}
    - {id: hold, name: Hold, surround: 66 °C, place: holding cabinet, ends: [{elapsed: 2 h}]}
arms:
  - {id: bare, name: Bare}
  - {id: paper, name: Paper, changes: [{stage: finish, wrap: paper}]}
"""
DAY = ["--serve", "2026-05-03 13:00", "--zone", "Europe/London", "--not-before", "any"]
FEW = ["--draws", "40", "--scatter", "0.1,0.1"]


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What was simulated once serves every test here: the same day is asked for again."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def day(tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    path = tmp_path / "day.yaml"
    path.write_text(FILE, encoding="utf-8")
    return str(path)


@pytest.fixture
def hall(tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    path = tmp_path / "hall.fairsmoke"
    made = demo_trial(2026)
    with Notebook.create(path, made.kitchen) as notebook:
        notebook.save_trial(made.record)
    return str(path)


def test_a_day_in_text_is_in_order_and_says_what_it_rests_on(
    day: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["when", day, *DAY, *FEW]) == DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "Served Sun 3 May 2026, 13:00 (Europe/London)" in said
    # Order of a cook: common practice, no source.
    steps = ["light the fire", "put on", "wrap (paper)", "pull", "open", "slice", "13:00 serve"]
    assert "put on, pit 121 °C (250 °F)" in said
    assert "wrap (paper), at core 71 °C (160 °F)" in said
    places = [said.index(step) for step in steps]
    assert places == sorted(places)
    assert "AGAINST THE PUBLISHED TABLES" in said
    assert "0.10 for a cooker's day, 0.10 for a piece" in said


def test_json_tells_the_same_day_and_the_same_seed_the_same_plan(
    day: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = []
    for _ in range(2):
        assert run(["when", day, *DAY, *FEW, "--json"]) == DONE
        told.append(json.loads(capsys.readouterr().out))
    assert told[0] == told[1]
    assert told[0]["form"] == 1
    assert [one["id"] for one in told[0]["pieces"]] == ["a", "b"]
    assert 0.9 <= told[0]["ready"] <= 1.0


def test_a_surer_plan_begins_earlier(day: str, capsys: pytest.CaptureFixture[str]) -> None:
    begins = []
    for certainty in ("0.6", "0.95"):
        assert run(["when", day, *DAY, *FEW, "--certainty", certainty, "--json"]) == DONE
        told = json.loads(capsys.readouterr().out)
        begins.append(min(one["on"] for one in told["pieces"]))
    assert begins[1] < begins[0]


def test_the_sheet_and_its_reminders(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet, calendar = tmp_path / "sheet.pdf", tmp_path / "sheet.ics"
    asked = ["run-sheet", day, *DAY, *FEW, "-o", str(sheet), "--calendar", str(calendar)]
    assert run(asked) == DONE
    assert str(sheet) in capsys.readouterr().out
    with pypdfium2.PdfDocument(sheet) as document:
        assert len(document) == 1
        text = document[0].get_textpage().get_text_range()
    assert "Paper or bare" in text
    events = icalendar.Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    assert any("put on" in str(event["SUMMARY"]) for event in events)


def test_a_folder_that_is_not_there_is_named(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "none" / "sheet.pdf"
    assert run(["run-sheet", day, *DAY, *FEW, "-o", str(sheet)]) == CANNOT
    assert f"there is no folder {sheet.parent}" in " ".join(capsys.readouterr().err.split())


def test_nothing_else_is_ever_written_over(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "mine.pdf"
    other.write_bytes(b"something else")
    sheet = tmp_path / "sheet.pdf"
    for out, calendar, words in (
        (Path(day), None, "ends in .pdf"),
        (other, None, "holds something else"),
        (sheet, sheet, "ends in .ics"),
    ):
        more = [] if calendar is None else ["--calendar", str(calendar)]
        assert run(["run-sheet", day, *DAY, *FEW, "-o", str(out), *more]) == CANNOT
        assert words in " ".join(capsys.readouterr().err.split())
    assert other.read_bytes() == b"something else"
    assert Path(day).read_text("utf-8") == FILE
    assert not sheet.exists()


def test_a_begun_cook_of_a_notebook(hall: str, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["when", "-n", hall, "-t", "paper-or-bare", "--cook", "july", *FEW]
    assert run([*asked, "--serve", "2026-07-05 13:00", "--not-before", "any", "--json"]) == DONE
    told = json.loads(capsys.readouterr().out)
    assert [one["id"] for one in told["pieces"]] == ["shoulder-3", "shoulder-4"]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--serve", ""], "--serve '2026-05-03 13:00'"),
        (["--serve", "tomorrow"], "tomorrow"),
        (["--zone", "Europe/Smoketown"], "Europe/Smoketown"),
        (["--zone", ""], "--zone 'Europe/London'"),
        (["--cook", "1"], "one thing to plan"),
        (["--scatter", "wide"], "two standard deviations"),
        (["--scatter", "0.1,9"], "0 to 2"),
        (["--certainty", "1.2"], "certainty"),
        (["--hold-longest", "soon"], "soon"),
        (["--hold-shortest", "5 h", "--hold-longest", "1 h"], "above the longest"),
        (["--draws", "1"], "draws"),
        (["--rest", "40 h"], "give 0 to 4 h"),
        (["--fuel-every", "1 s"], "fuel every 1 s: give 15 min to 24 h"),
        # Now is later than the serving time: the earliest that can be, and why.
        (["--not-before", "2026-05-03 09:00"], "the earliest possible is 2026-05-0"),
    ],
)
def test_bad_input_says_what_to_mend(
    day: str, more: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["when", day, *DAY, *FEW, *more]) == CANNOT
    assert words in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ([], "say which cook with --cook"),
        (["--cook", "9"], "there is no cook '9'"),
        (["--cook", "july", "-t", "nothing"], "nothing"),
    ],
)
def test_a_notebook_without_that_cook_says_what_there_is(
    hall: str, more: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["when", "-n", hall, "--serve", "2026-07-05 13:00", *FEW, *more]) == CANNOT
    assert words in " ".join(capsys.readouterr().err.split())


def test_one_piece_is_told_of_as_one(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alone = tmp_path / "alone.yaml"
    lines = FILE.splitlines()
    alone.write_text("\n".join(line for line in lines if "{id: b," not in line), encoding="utf-8")
    assert run(["when", str(alone), *DAY, *FEW]) == DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "The piece is ready in time in" in said
