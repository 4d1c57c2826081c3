"""``take-in`` and ``look`` as a person meets them: at the keyboard, and from a script."""

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from fairsmoke.cli import recording
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE, NEEDS_ANSWER
from fairsmoke.demo import demo_trial
from fairsmoke.notebook import Notebook
from fairsmoke.trial.source import Source

TRIAL = "paper-or-bare"
Say = Callable[..., None]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    demo = demo_trial()
    with Notebook.create(tmp_path / "kitchen.fairsmoke", demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")
    return tmp_path


@pytest.fixture
def at_keyboard(monkeypatch: pytest.MonkeyPatch) -> Say:
    def say(*lines: str) -> None:
        monkeypatch.setattr(recording, "at_keyboard", lambda: True)
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(line + "\n" for line in lines)))

    return say


def log(path: Path, header: str = "Time,Ch1,Needle", stamp: str = "02/05/2026") -> Path:
    rows = [
        f"{stamp} {19 + (10 + i) // 60:02d}:{(10 + i) % 60:02d},{107 + i % 7}.0,{10 + i / 10:.1f}"
        for i in range(200)
    ]
    path.write_text("\n".join([header, *rows, ""]))
    return path


TAKE = ["take-in", "a.csv", "--cook", "may"]
LAID_OUT = ["--answer", "date_order=day first", "--answer", "unit=°C"]
PROBES = ["--probe", "Ch1=pit-left", "--probe", "Needle=core-1"]


def test_a_dialogue_goes_through_to_the_end(
    place: Path, at_keyboard: Say, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    at_keyboard("day first", "F?", "c", "p9", "Pit-Left", "needle 1", "Y")
    assert run(TAKE) == DONE
    said = capsys.readouterr().out
    assert said.count("In which order are the dates written?") == 1
    assert said.count("In which unit are the values") == 2  # asked again after "F?"
    assert "There is no probe 'p9'." in said
    assert "perhaps core-1 or core-2" in said
    assert "'02/05/2026 19:10', is read as Saturday 2 May 2026, 19:10:00." in said
    assert "107.0 °C (225 °F), Saturday 2 May 2026" in said
    assert "clocks of Europe/London, the cook's time zone" in said
    assert said.index("Which probe is 'Needle'?") < said.index("laid out like that?")
    assert "Wrong? fairsmoke strike source file-" in said


def test_one_probe_twice_is_refused_in_the_dialogue(
    place: Path, at_keyboard: Say, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    at_keyboard("pit-left", "pit-left", "", "yes")
    assert run([*TAKE, *LAID_OUT]) == DONE
    assert "two channels are two probes" in capsys.readouterr().out
    with Notebook.open(place / "kitchen.fairsmoke") as book:
        assert {span.probe for span in book.spans(TRIAL)} == {"pit-left"}


def test_no_writes_what_was_found_to_be_mended(
    place: Path, at_keyboard: Say, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    at_keyboard("n")
    take = [*TAKE, *LAID_OUT, *PROBES]
    assert run([*take, "--mapping-out", "m.yaml"]) == NEEDS_ANSWER
    assert "m.yaml: mend it" in capsys.readouterr().out
    assert run([*take, "--mapping-out", "m.yaml"]) == CANNOT
    assert "m.yaml is there already" in capsys.readouterr().err
    at_keyboard()
    assert run([*TAKE, "--mapping", "m.yaml"]) == DONE


def test_look_writes_a_mapping_that_tells_what_is_open(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    assert run(["look", "a.csv", "--mapping-out", "m.yaml"]) == DONE
    text = (place / "m.yaml").read_text()
    assert "# Still to be said: date_order" in text
    assert "# Still to be said: unit: Ch1" in text
    capsys.readouterr()
    mended = text.replace("probe: Ch1", "probe: pit-left\n  unit: C")
    mended = mended.replace("probe: Needle", "probe: core-1\n  unit: °C") + "date_order: dmy\n"
    (place / "m.yaml").write_text(mended)
    assert run([*TAKE, "--mapping", "m.yaml"]) == DONE


def test_a_script_is_told_all_that_is_missing_at_once(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    assert run(TAKE) == NEEDS_ANSWER
    said = capsys.readouterr().err
    for needed in (
        "--answer 'date_order=…'",
        "--answer 'unit=…'",
        "--probe 'Ch1=…'",
        "--probe 'Needle=…'",
        "--yes",
    ):
        assert needed in said
    assert run([*TAKE, *LAID_OUT, *PROBES, "--yes"]) == DONE


def test_a_log_without_dates_asks_for_its_start(
    place: Path, at_keyboard: Say, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [f"{i}.0,{107 + i % 7}.0" for i in range(200)]
    (place / "a.csv").write_text("\n".join(["Elapsed (min),Ch1 (°C)", *rows, ""]))
    take = [*TAKE, "--probe", "Ch1 (°C)=pit-left"]
    assert run([*take, "--yes"]) == NEEDS_ANSWER
    assert "--start '2026-05-02 18:30'" in capsys.readouterr().err
    at_keyboard("this evening", "2026-05-02 19:10", "ok")
    assert run(take) == DONE
    with Notebook.open(place / "kitchen.fairsmoke") as book:
        # 19:10 in London in May is 18:10 UTC.
        assert book.readings(TRIAL, "may", "pit-left").time_ms[0] == 1_777_745_400_000


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (
            ["--answer", "units=degF"],
            "'units' is not asked here; asked are: date_order, zone, unit",
        ),
        (["--answer", "unit=Rankine"], "unit: 'Rankine' is not one of degC, degF, K"),
        (["--probe", "Meat=core-2"], "no probe named 'Meat'; it names: Ch1, Needle"),
        (["--probe", "Ch1=p7"], "there is no probe 'p7'; known: core-1"),
        (["--cook", "mai"], "did you mean 'may'?"),
        (["--trial", "paper"], "there is no trial 'paper'"),
    ],
)
def test_mistyped_words_are_named_before_anything_is_asked(
    more: list[str],
    said: str,
    place: Path,
    at_keyboard: Say,
    capsys: pytest.CaptureFixture[str],
) -> None:
    log(place / "a.csv")
    at_keyboard()
    told = [] if "--answer" in more else LAID_OUT
    assert run([*TAKE, *told, "--yes", *more]) == CANNOT
    assert said in capsys.readouterr().err


def test_errors_name_the_file(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (place / "a.csv").write_text("nothing of the kind\n")
    assert run(["look", "a.csv"]) == CANNOT
    assert "a.csv: line 1: no readings found" in capsys.readouterr().err
    assert run(TAKE) == CANNOT
    assert "a.csv: line 1: no readings found" in capsys.readouterr().err
    (place / "m.yaml").write_text(
        "columns:\n  - {header: Time, use: time}\n  - {header: Ch1, use: value, unit: warm}\n"
    )
    assert run([*TAKE, "--mapping", "m.yaml"]) == CANNOT
    assert "m.yaml: the mapping of a logger's file is wrong: column 2, unit" in (
        capsys.readouterr().err
    )


def test_a_file_of_another_month_needs_insisting(
    place: Path, at_keyboard: Say, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv", stamp="05/02/2026")
    take = [*TAKE, *LAID_OUT, *PROBES, "--yes"]
    assert run(take) == CANNOT
    assert "400 of 400 readings lie outside cook may" in capsys.readouterr().err
    at_keyboard("n")
    assert run(take) == NEEDS_ANSWER
    with Notebook.open(place / "kitchen.fairsmoke") as book:
        assert book.list(Source, trial=TRIAL) == ()
    at_keyboard("y")
    assert run(take) == DONE
    capsys.readouterr()


def test_a_wrong_file_is_undone_as_its_output_says(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    take = [*TAKE, *LAID_OUT, "--yes"]
    swapped = ["--probe", "Ch1=pit-right", "--probe", "Needle=core-2"]
    assert run([*take, *swapped, "--json"]) == DONE
    source = json.loads(capsys.readouterr().out)["source"]
    assert run(["strike", "source", source["id"], "--why", "the wrong probes"]) == DONE
    strike = ["strike", "known_layout", source["layout"], "--why", "the wrong probes"]
    assert run(strike) == DONE
    assert run([*take, *PROBES]) == CANNOT
    assert "with a reason (--why)" in " ".join(capsys.readouterr().err.split())
    assert run([*take, *PROBES, "--why", "plugs mixed up", "--by", "Ann"]) == DONE
    assert f"{source['id']}-2" in capsys.readouterr().out
    with Notebook.open(place / "kitchen.fairsmoke") as book:
        assert {span.probe for span in book.spans(TRIAL)} == {"pit-left", "core-1"}


@pytest.mark.parametrize("name", ["[/x]", "[red]", "x :fire: y", "back\\"])
def test_names_that_look_like_markup_are_shown_as_they_are(
    name: str, place: Path, at_keyboard: Say, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv", header=f"Time,{name},Needle")
    assert run(["look", "a.csv"]) == DONE
    assert name in capsys.readouterr().out
    probes = ["--probe", f"{name}=pit-left", "--probe", "Needle=core-1"]
    at_keyboard("y")
    assert run([*TAKE, *LAID_OUT, *probes]) == DONE
    assert capsys.readouterr().out.count(name) >= 3


def test_json_is_json_whatever_happens(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log(place / "a.csv", header="Time,[/x],Needle")
    with (place / "a.csv").open("a") as stream:
        stream.write("02/05/2026 23:59,hot,12.0\n")
    take = [*TAKE, *LAID_OUT, "--yes", "--json", "--probe", "[/x]=", "--probe", "Needle=core-1"]
    assert run(take) == DONE
    taken = json.loads(capsys.readouterr().out)
    assert taken["source"]["bad_rows"][0]["text"] == "02/05/2026 23:59,hot,12.0"
    assert (taken["already"], taken["left"]) == (False, {})
    assert run(take) == DONE
    assert json.loads(capsys.readouterr().out)["already"]


def test_a_left_out_name_is_added_and_readings_of_other_cooks_are_told(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = log(place / "a.csv")
    path.write_text(path.read_text() + "11/07/2026 19:30,108.0,12.0\n")
    take = [*TAKE, *LAID_OUT, "--yes", "--probe", "Needle=core-1"]
    assert run([*take, "--probe", "Ch1="]) == DONE
    said = capsys.readouterr().out
    assert "1 of the file's readings lie in cook july and outside cook may" in said
    assert "take the file in for july too with --cook july" in said
    assert run([*take, "--probe", "Ch1=pit-left"]) == DONE
    assert "nothing was added" not in capsys.readouterr().out
    assert run([*take, "--probe", "Ch1=pit-left"]) == DONE
    assert "was taken in before, as file-" in capsys.readouterr().out
    with Notebook.open(place / "kitchen.fairsmoke") as book:
        assert {span.probe: span.n for span in book.spans(TRIAL)} == {
            "core-1": 200,
            "pit-left": 200,
        }


@pytest.mark.parametrize("content", [b"\xff\xfec\x00o\x00l\x00", b"columns: \xe9\n", b"\x00"])
def test_a_mapping_that_is_not_text_is_refused(
    content: bytes, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log(place / "a.csv")
    (place / "m.yaml").write_bytes(content)
    assert run([*TAKE, "--mapping", "m.yaml"]) == CANNOT
    said = capsys.readouterr().err
    assert ("m.yaml is not YAML" if content == b"\x00" else "m.yaml is not text in UTF-8") in said
