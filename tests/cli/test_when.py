"""``fairsmoke when`` and ``run-sheet``: text, JSON, the sheet, reminders, errors with a mend."""

import json
import re
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pypdfium2
import pytest

from fairsmoke.answers import when as jobs_when
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
    assert "SERVED SUNDAY, 3 MAY 2026, 13:00" in said
    assert "All times are those of Europe/London." in said
    # Order of a cook: common practice, no source.
    steps = ["light the fire", "put on", "wrap (paper)", "pull", "open it", "slice", "13:00 Serve"]
    assert "put on (the cooker), pit at 121 °C" in said
    assert "wrap (paper) (due at core 71 °C" in said
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


def test_an_earlier_sheet_is_replaced_whole_on_the_paper_that_was_asked(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet, calendar = tmp_path / "sheet.pdf", tmp_path / "sheet.ics"
    asked = ["run-sheet", day, *DAY, *FEW, "-o", str(sheet)]
    # ISO 216: 210 by 297 mm. Letter: 8.5 by 11 inches (ANSI Y14.1, from memory).
    for more, points in (
        ([], (595.3, 841.9)),
        (["--paper", "us-letter", "--calendar", str(calendar)], (612.0, 792.0)),
    ):
        assert run([*asked, *more, "--json"]) == DONE
        told = json.loads(capsys.readouterr().out)
        assert told["form"] == 1
        with pypdfium2.PdfDocument(sheet) as document:
            assert document[0].get_size() == pytest.approx(points, abs=0.5)
    assert told["written"] == [str(sheet), str(calendar)]
    # Nothing half written is left beside them.
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["day.yaml", "sheet.ics", "sheet.pdf"]


def test_what_cannot_be_written_is_said_before_anything_is_simulated(
    day: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def simulated(*_: object, **__: object) -> None:
        raise AssertionError("somebody waited for nothing")

    monkeypatch.setattr(jobs_when, "plan_day", simulated)
    other = tmp_path / "other.ics"
    other.write_text("the parish feast", encoding="utf-8")
    asked = ["run-sheet", day, *DAY, *FEW, "-o", str(tmp_path / "sheet.pdf")]
    assert run([*asked, "--calendar", str(other)]) == CANNOT
    assert "holds something else" in " ".join(capsys.readouterr().err.split())


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


def test_a_cook_of_the_plan_by_its_number(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = ["-n", str(tmp_path / "new.fairsmoke")]
    pieces = ("a: 4.1 kg, 12 cm", "b: 4.1 kg, 12 cm", "c: 4.2 kg, 12 cm", "d: 4.2 kg")
    ask = [
        *("ask", "--title", "Paper or bare", "--arm", "Bare", "--arm", "In paper: wrap=paper"),
        *("--measure", "yield: 2 points", "--cut", "pork shoulder", "--species", "pork"),
        *(word for piece in pieces for word in ("--piece", piece)),
        *("--cooker", "Barrel: left, right", "--cooks", "2"),
    ]
    assert run(["start", "Hall", "--time-zone", "Europe/London", *book]) == DONE
    assert run([*ask, *book]) == DONE
    assert run(["draw", *book, "--seed", "9"]) == DONE
    capsys.readouterr()
    came: dict[str, list[str]] = {}
    for number in ("1", "2"):
        # No --zone: the notebook's own.
        code = run(["when", *book, "--cook", number, *DAY[:2], *DAY[4:], *FEW, "--json"])
        said = capsys.readouterr()
        if code == CANNOT:
            assert "Piece “d”: the plan does not say how thick it is" in " ".join(said.err.split())
            continue
        told = json.loads(said.out)
        assert told["serve"] == "2026-05-03T13:00:00+01:00"
        assert sorted(one["arm"] for one in told["pieces"]) == ["bare", "in-paper"]
        came[number] = sorted(one["id"] for one in told["pieces"])
    # Alike in weight, they are a set; the cook with d lacks a thickness.
    assert list(came.values()) == [["a", "b"]]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--serve", ""], "Say --serve, such as '2026-05-03 13:00'"),
        (["--last-cooks", "late"], "--last-cooks is said, and --scatter"),
        (["--hold", "66 °C"], "--hold: every arm's protocol has its hold already"),
        (["--serve", "tomorrow"], "tomorrow"),
        (["--zone", "Europe/Smoketown"], "Europe/Smoketown"),
        (["--zone", ""], "Say --zone, such as 'Europe/London'"),
        (["--cook", "1"], "one thing to plan"),
        (["--scatter", "wide"], "two standard deviations"),
        (["--scatter", "0.1,9"], "0 to 2"),
        (["--certainty", "1.2"], "--certainty of 1.2"),
        (["--hold-longest", "soon"], "soon"),
        (
            ["--hold-shortest", "5 h", "--hold-longest", "1 h"],
            "--hold-shortest of 5 h is above --hold-longest of 1 h",
        ),
        (["--draws", "1"], "draws"),
        (["--rest", "40 h"], "--rest of 40 h: give 0 s to 4 h"),
        (["--fuel-every", "1 s"], "--fuel-every of 1 s: give 15 min to 24 h"),
        # Now is later than the serving time: the earliest that can be, and why.
        (["--not-before", "2026-05-03 09:00"], "The earliest possible is"),
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
        ([], "Say which cook with --cook"),
        (["--cook", "9"], "There is no cook “9”"),
        (["--cook", "july", "-t", "nothing"], "there is no trial 'nothing'; known: paper-or-bare"),
    ],
)
def test_a_notebook_without_that_cook_says_what_there_is(
    hall: str, more: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["when", "-n", hall, "--serve", "2099-07-05 13:00", *FEW, *more]) == CANNOT
    assert words in " ".join(capsys.readouterr().err.split())


def test_a_serving_time_that_is_past_or_too_soon_is_told_apart(
    day: str, capsys: pytest.CaptureFixture[str]
) -> None:
    now = datetime.now(ZoneInfo("Europe/London"))
    assert run(["when", day, "--serve", "2026-01-03 13:00", *DAY[2:4], *FEW]) == CANNOT
    said = " ".join(capsys.readouterr().err.split())
    assert "--serve 2026-01-03 13:00 is past: say a time that is still to come" in said
    soon = f"{now + timedelta(minutes=5):%Y-%m-%d %H:%M%z}"
    assert run(["when", day, "--serve", soon, *DAY[2:4], *FEW]) == CANNOT
    said = " ".join(capsys.readouterr().err.split())
    found = re.search(r"The earliest possible is (\d+ \w{3})\w* (\d{4}, \d\d:\d\d)", said)
    assert found is not None
    when = f"{found[1]} {found[2]}"
    earliest = datetime.strptime(when, "%d %b %Y, %H:%M").replace(tzinfo=now.tzinfo)
    # A shoulder of 4 kg at 121 °C takes 6 to 20 h, with heating up and hold: common practice, no
    # source.
    assert timedelta(hours=8) < earliest - now < timedelta(hours=48)
    assert re.search(r"must be on [\d. hmin]+ before its hold", said)


def test_all_on_at_once_and_no_reminders(day: str, capsys: pytest.CaptureFixture[str]) -> None:
    never = ["--fuel-every", "never", "--water-every", "never"]
    told = []
    for more in ([], ["--together", *never]):
        assert run(["when", day, *DAY, *FEW, *more, "--json"]) == DONE
        told.append(json.loads(capsys.readouterr().out))
    apart, together = (
        abs(datetime.fromisoformat(a["on"]) - datetime.fromisoformat(b["on"]))
        for a, b in (one["pieces"] for one in told)
    )
    # One pair of hands: five minutes for a piece.
    assert together == timedelta(minutes=5)
    assert apart > together
    assert {one["kind"] for one in told[0]["reminders"]} == {"light", "fuel"}
    assert {one["kind"] for one in told[1]["reminders"]} == {"light"}


def test_a_file_that_is_wrong_names_the_place(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text(FILE.replace("mass: 4.2 kg", "mass: 4.2 stone"), encoding="utf-8")
    assert run(["when", str(wrong), *DAY, *FEW]) == CANNOT
    said = " ".join(capsys.readouterr().err.split())
    assert "line 6" in said
    assert "stone" in said
    assert run(["when", str(tmp_path / "none.yaml"), *DAY, *FEW]) == CANNOT
    assert "none.yaml" in capsys.readouterr().err


def test_one_piece_is_told_of_as_one(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alone = tmp_path / "alone.yaml"
    lines = FILE.splitlines()
    alone.write_text("\n".join(line for line in lines if "{id: b," not in line), encoding="utf-8")
    assert run(["when", str(alone), *DAY, *FEW]) == DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "1 piece is ready in time in" in said


def test_a_german_shell_speaks_german(
    day: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FAIRSMOKE_LANGUAGE", "de")
    assert run(["when", day, *DAY, *FEW, "--units", "us"]) == DONE
    said = " ".join(capsys.readouterr().out.split())
    for words in (
        "anzünden",
        "auflegen (the cooker), Ofen auf 250 °F",
        "GEGESSEN WIRD SONNTAG",
        "Warnung",
    ):
        assert words in said
    for words in (" the core ", " is ", "of 100", "light the fire", "°C", "due at", "READY"):
        # The names of limits stay as they are published.
        assert words not in re.sub(r"\(hold [^)]*\)", "", said)
    assert run(["when", day, *DAY, *FEW, "--rest", "40 h"]) == CANNOT
    assert "--rest von 40 h: 0 s bis 4 h angeben." in " ".join(capsys.readouterr().err.split())


def test_sheet_and_calendar_in_the_language_units_and_clock_that_are_asked(
    day: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet, calendar = tmp_path / "sheet.pdf", tmp_path / "sheet.ics"
    asked = ["run-sheet", day, *DAY, *FEW, "-o", str(sheet), "--calendar", str(calendar)]
    assert run([*asked, "--language", "de", "--units", "us", "--clock", "12"]) == DONE
    capsys.readouterr()
    with pypdfium2.PdfDocument(sheet) as document:
        text = document[0].get_textpage().get_text_range()
    events = icalendar.Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    summaries = " ".join(str(event["SUMMARY"]) for event in events)
    for said in (text, summaries):
        assert "auflegen" in said
        assert "put on" not in said
        assert "250 °F" in said
        assert "°C" not in said
    # 13:00 on a clock of twelve hours (common practice).
    assert re.search(r"1:00\sPM", text)
