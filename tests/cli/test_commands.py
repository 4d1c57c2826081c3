"""The command line: verbs, exit codes, JSON, and errors a person can act on."""

import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from fairsmoke.answers.demonstration import demonstrate
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE, MISUSED, NEEDS_ANSWER
from fairsmoke.demo import demo_trial


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out: Path = tmp_path_factory.mktemp("cli") / "demo"
    demonstrate(out)
    return out


@pytest.fixture
def book(made: Path, tmp_path: Path) -> str:
    copy = tmp_path / "hall.fairsmoke"
    shutil.copy(made / "village-hall.fairsmoke", copy)
    return str(copy)


def test_demo_prints_the_finding_and_where_to_look(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["demo", "--out", str(tmp_path / "d")]) == DONE
    said = capsys.readouterr().out
    assert "not settled" in said
    assert "Invented" in said
    assert "To look further: " in said
    assert (tmp_path / "d" / "report.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "d" / "record" / "kitchen.yaml").exists()


def as_json(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> Any:
    capsys.readouterr()
    assert run([*arguments, "--json"]) == DONE
    return json.loads(capsys.readouterr().out)


def test_judge_as_json_adds_up(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = as_json(["judge", "-n", book], capsys)
    assert found["invented"] is True
    main = found["measures"][0]
    assert main["main"]
    assert main["size"] == "fraction"
    (difference,) = main["differences"]
    verdict = difference["verdict"]
    chances = [verdict[k] for k in ("better_by_enough", "no_difference", "worse_by_enough")]
    assert sum(chances) == pytest.approx(1.0)
    assert sum(difference["shares"].values()) == pytest.approx(1.0)
    for piece in found["ledger"]:
        for one in piece["yields"]:
            assert sum(one["shares"].values()) == pytest.approx(1.0)


def test_show_lists_trials_and_pieces(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    whole = as_json(["show", "-n", book], capsys)
    assert [trial["trial"] for trial in whole["trials"]] == ["paper-or-bare"]
    one = as_json(["show", "paper-or-bare", "-n", book], capsys)
    assert len(one["pieces"]) == 6
    assert one["problems"] == []
    assert run(["show", "-n", book]) == DONE
    assert run(["show", "paper-or-bare", "-n", book]) == DONE
    assert "shoulder-6" in capsys.readouterr().out


def test_units_are_as_the_person_prefers(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["judge", "-n", book, "--units", "us"]) == DONE
    assert "°F" in capsys.readouterr().out
    assert run(["judge", "-n", book, "--units", "metric"]) == DONE
    assert "°F" not in capsys.readouterr().out


def test_a_correction_keeps_the_old_value(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = as_json(["show", "paper-or-bare", "-n", book], capsys)["pieces"][0]
    events = as_json(["history", "event", "-n", book], capsys)
    event = next(
        e
        for e in events
        if e["body"]["kind"] == "pull" and e["body"]["pieces"] == [before["piece"]]
    )
    handle = event["key"]["handle"]
    # Two minutes later than it was written, and still before it went into the hold.
    why = ["--why", "the clock on the wall was slow", "--by", "the cook"]
    assert run(["correct", "event", handle, "at=2026-05-03 09:36", "-n", book, *why]) == DONE
    after = as_json(["show", "paper-or-bare", "-n", book], capsys)["pieces"][0]
    assert after["off"].startswith("2026-05-03 09:36")
    states = as_json(["history", "event", handle, "-n", book], capsys)
    assert [state["number"] for state in states] == [1, 2]
    assert states[1]["why"] == "the clock on the wall was slow"
    assert states[0]["body"]["at"] != states[1]["body"]["at"]


def test_history_and_correct_tell_old_and_new(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    handle = "shoulder-5-trimmed"
    correct = ["correct", "weighing", handle, "-n", book, "--why", "misread"]
    assert run([*correct, "reading=9 lb 11 oz"]) == DONE
    assert "reading: 9 lb 12 oz → 9 lb 11 oz" in capsys.readouterr().out
    assert run([*correct, "reading=9 lb 11 oz"]) == DONE
    assert "nothing was changed" in capsys.readouterr().out
    assert run([*correct, "sum=trimmed meat + blue tray"]) == DONE
    assert run(["history", "weighing", handle, "-n", book]) == DONE
    said = capsys.readouterr().out
    assert "9 lb 12 oz → 9 lb 11 oz" in said
    assert "green tray" in said
    assert run(["history", "weighing", "zz", "-n", book]) == CANNOT
    listed = as_json(["list", "weighing", "-n", book], capsys)
    assert {one["id"] for one in listed} >= {handle, "green-tray"}


def test_a_correction_that_upsets_the_record_is_refused(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    events = as_json(["list", "event", "-n", book], capsys)
    pull = next(e for e in events if e["kind"] == "pull" and e["pieces"] == ["shoulder-1"])
    correct = ["correct", "event", pull["id"], "at=2026-05-02 18:30", "-n", book, "--why", "x"]
    assert run(correct) == CANNOT
    assert "piece 'shoulder-1': pulled" in capsys.readouterr().err
    assert as_json(["list", "event", "-n", book], capsys) == events


def test_the_demo_does_not_touch_a_folder_of_ones_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "kitchen.yaml").write_text("kitchen: {}")
    assert run(["demo", "--out", str(mine)]) == CANNOT
    assert [p.name for p in mine.iterdir()] == ["kitchen.yaml"]
    assert "holds something else" in capsys.readouterr().err


def test_a_correction_needs_its_reason(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["correct", "piece", "shoulder-1", "note=x", "-n", book]) == MISUSED
    assert "--why" in capsys.readouterr().err
    assert run(["correct", "piece", "shoulder-1", "note=x", "-n", book, "--why", " "]) == CANNOT
    assert run(["correct", "piece", "shoulder-1", "note", "-n", book, "--why", "y"]) == CANNOT
    assert "KEY=VALUE" in capsys.readouterr().err


def test_strike_out_and_history(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    ballots = as_json(["history", "ballot", "-n", book], capsys)
    handle = ballots[0]["key"]["handle"]
    assert run(["strike", "ballot", handle, "-n", book, "--why", "filled in for a friend"]) == DONE
    assert run(["history", "ballot", handle, "-n", book]) == DONE
    assert "struck out" in capsys.readouterr().out
    back = ["bring-back", "ballot", handle, "-n", book, "--why", "it was hers after all"]
    assert run(back) == DONE
    assert run(back) == CANNOT
    assert as_json(["history", "ballot", "-n", book], capsys)[-1]["body"] == ballots[0]["body"]
    assert run(["strike", "kitchen", "kitchen", "-n", book, "--why", "x"]) == CANNOT


def test_brackets_in_what_people_write_are_letters(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    correct = ["correct", "piece", "shoulder-1", "note=[red]a[/red]", "-n", book]
    assert run([*correct, "--why", "typo [/foo] x"]) == DONE
    assert run(["history", "piece", "shoulder-1", "-n", book]) == DONE
    said = capsys.readouterr().out
    assert "typo [/foo] x" in said
    assert "[red]a[/red]" in said


def test_a_damaged_notebook_is_said_to_be_so(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    content = bytearray(Path(book).read_bytes())
    at = content.index(b'"kind"')
    content[at : at + 6] = b"\xff\xfe\x00\x01\x02\x03"
    Path(book).write_bytes(content)
    assert run(["check", "-n", book]) == CANNOT
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    assert "damaged" in said.out + said.err


def test_write_and_read_give_the_same(
    book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, again = tmp_path / "out", tmp_path / "again.fairsmoke"
    assert run(["write", str(folder), "-n", book]) == DONE
    assert run(["read", str(folder), "-n", str(again)]) == DONE
    one = as_json(["judge", "-n", book], capsys)
    two = as_json(["judge", "-n", str(again)], capsys)
    assert {k: v for k, v in one.items() if k != "made"} == {
        k: v for k, v in two.items() if k != "made"
    }
    # Reading it again changes nothing and needs no reason.
    assert run(["read", str(folder), "-n", str(again)]) == DONE
    assert "0 photos are new" in capsys.readouterr().out


def test_read_tells_photos_and_what_is_wrong_with_one(
    book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    assert run(["write", str(folder), "-n", book]) == DONE
    (trial,) = (one.parent for one in folder.glob("*/trial.yaml"))
    event = next(
        line.split("id: ")[1]
        for cook in trial.glob("cooks/*.yaml")
        for line in cook.read_text(encoding="utf-8").split("\nevents:\n")[1].splitlines()
        if "id: " in line
    )
    (trial / "photos").mkdir()
    # The first bytes of a JPEG (ITU-T T.81).
    picture = b"\xff\xd8\xff\xe0" + bytes(100)
    sha256 = hashlib.sha256(picture).hexdigest()
    (trial / "photos.yaml").write_text(
        f"photos:\n  - event: {event}\n    file: bark.jpg\n    sha256: '{sha256}'\n"
        "    added_at: 2026-05-03 06:00\n"
    )
    assert run(["read", str(folder), "-n", book]) == CANNOT
    assert "photos.yaml, line 3: photos 1, file: there is no file" in " ".join(
        capsys.readouterr().err.split()
    )
    (trial / "photos" / "bark.jpg").write_bytes(picture)
    assert run(["read", str(folder), "-n", book]) == DONE
    assert "1 photos are new" in capsys.readouterr().out


def test_a_logger_file_is_looked_at_then_taken_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from fairsmoke.notebook import Notebook

    demo = demo_trial()
    book = tmp_path / "n.fairsmoke"
    with Notebook.create(book, demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
    july = next(file for file in demo.logger_files if file.cook_id == "july")
    path = tmp_path / july.file_name
    path.write_bytes(july.content)
    assert run(["look", str(path)]) == DONE
    assert "In which order are the dates written?" in capsys.readouterr().out
    take = ["take-in", str(path), "--cook", "july", "-n", str(book)]
    # Nobody is at the keyboard: what must be asked is told, and nothing is taken in.
    assert run(take) == NEEDS_ANSWER
    assert "--answer 'date_order=…'" in capsys.readouterr().err
    told = [*take, "--answer", "date_order=day-month-year"]
    assert run(told) == NEEDS_ANSWER
    probes = july.answers["probes"]
    named = [part for probe, name in probes.items() for part in ("--probe", f"{name}={probe}")]
    assert run([*told, "--yes", *named]) == DONE
    said = capsys.readouterr().out
    assert "line" in said
    assert "gap" in said
    # Known now: no answer, no confirmation; and the same file adds nothing.
    assert run(take) == DONE
    assert "taken in before" in capsys.readouterr().out


def test_a_mapping_can_be_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from ruamel.yaml import YAML

    from fairsmoke.answers.demonstration import answer_for
    from fairsmoke.notebook import Notebook

    demo = demo_trial()
    book = tmp_path / "n.fairsmoke"
    with Notebook.create(book, demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
    file = demo.logger_files[0]
    answer = answer_for(file)
    path, mapping = tmp_path / file.file_name, tmp_path / "mapping.yaml"
    path.write_bytes(file.content)
    with mapping.open("w", encoding="utf-8") as stream:
        YAML(typ="safe", pure=True).dump(answer.layout.to_dict(), stream)
    named = [p for name, probe in answer.probes.items() for p in ("--probe", f"{name}={probe}")]
    take = ["take-in", str(path), "--cook", file.cook_id, "-n", str(book)]
    assert run([*take, "--mapping", str(mapping), *named]) == DONE
    mapping.write_text("columns: 3\n")
    assert run([*take, "--mapping", str(mapping)]) == CANNOT
    assert "columns" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["jugde"], MISUSED, "judge"),
        (
            ["judge", "-n", "nowhere.fairsmoke"],
            CANNOT,
            "there is no notebook nowhere.fairsmoke; name yours with -n",
        ),
        (["read", "nowhere"], CANNOT, "nowhere"),
        (["look", "nowhere.csv"], CANNOT, "nowhere.csv"),
        (["start", "Hall", "--time-zone", "Village/Hall", "-n", "x"], CANNOT, "Europe/London"),
        (["tell", "--paper", "papyrus"], MISUSED, "papyrus"),
        (["tell", "report.docx", "-n", "x"], CANNOT, "report.pdf"),
    ],
)
def test_mistakes_get_a_sentence_not_a_traceback(
    arguments: list[str],
    code: int,
    said: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(arguments) == code
    error = capsys.readouterr().err
    assert said in error
    assert "Traceback" not in error


def test_start_check_copy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = str(tmp_path / "n.fairsmoke")
    start = ["start", "Hall kitchen", "--time-zone", "Europe/London", "-n", book]
    assert run(start) == DONE
    assert run(start) == CANNOT
    assert run(["check", "-n", book]) == DONE
    assert run(["copy", str(tmp_path / "copy"), "-n", book]) == DONE
    assert run(["check", "-n", str(tmp_path / "copy")]) == DONE
    assert run(["judge", "-n", book]) == CANNOT
    assert "no trial yet" in capsys.readouterr().err


def test_a_report_is_not_written_over(book: str, tmp_path: Path) -> None:
    report = tmp_path / "r.pdf"
    report.write_text("mine")
    assert run(["tell", str(report), "-n", book]) == CANNOT
    assert report.read_text() == "mine"
    assert run(["tell", str(report), "-n", book, "--replace", "--units", "us"]) == DONE
    assert report.read_bytes().startswith(b"%PDF")
