"""A folder written by hand: what may be left out, and what is said when something is wrong."""

import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fairsmoke.notebook import FolderError, Notebook
from fairsmoke.notebook.folder.transfer import import_folder, notebook_of_folder, read_folder
from fairsmoke.trial.cook import Event

BY_HAND = Path(__file__).parent / "data" / "by-hand"
DOCS = Path(__file__).parents[2] / "docs" / "recording-by-hand.md"
COOK = "paper-or-bare/cooks/first-fire.yaml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(BY_HAND, tmp_path / "mine"))


def complaints(folder: Path) -> list[str]:
    with pytest.raises(FolderError) as caught:
        read_folder(folder)
    assert str(caught.value).splitlines() == [str(one) for one in caught.value.problems]
    return [str(one) for one in caught.value.problems]


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def line_of(path: Path, text: str) -> int:
    lines = path.read_text(encoding="utf-8").splitlines()
    return next(number for number, line in enumerate(lines, 1) if text in line)


def test_the_example_in_the_docs_is_the_example_that_is_read() -> None:
    blocks = re.findall(r"^`([^`\n]+)`:\n\n```\w*\n(.*?)^```$", DOCS.read_text(), re.M | re.S)
    files = {p.relative_to(BY_HAND).as_posix(): p.read_text() for p in BY_HAND.rglob("*.*")}
    assert dict(blocks) == files


def test_what_is_not_written_is_filled_in() -> None:
    (record,) = read_folder(BY_HAND).trial_records()
    assert record.trial.id == "paper-or-bare"
    assert record.cooks[0].id == "first-fire"
    assert record.cooks[0].time_zone == "Europe/London"
    assert [event.id for event in record.events] == [f"first-fire-event-{n}" for n in (1, 2, 3, 4)]
    assert record.weighings[3].cook == "first-fire"
    # 22:40 by British Summer Time.
    assert record.events[0].at == datetime(2026, 5, 2, 21, 40, tzinfo=UTC)
    assert record.events[2].set_c == pytest.approx(121.1111, abs=1e-4)
    # 7 lb 6 oz = 7.375 × 0.45359237 kg (exact definition of the pound).
    assert record.weighings[1].reading_kg == pytest.approx(7.375 * 0.45359237, abs=1e-12)
    assert record.trial.measures[0].worthwhile == 0.02


def test_handles_are_numbered_around_those_that_are_written(folder: Path) -> None:
    edit(
        folder / COOK,
        "  - at: 2026-05-03 05:10\n",
        "  - id: first-fire-event-1\n    at: 2026-05-03 05:10\n",
    )
    (record,) = read_folder(folder).trial_records()
    handles = [event.id for event in record.events]
    assert handles == [f"first-fire-event-{n}" for n in (2, 1, 3, 4)]


def test_a_very_long_handle_leaves_room_for_the_number(folder: Path) -> None:
    long = "a" + "b" * 59
    (folder / COOK).rename(folder / f"paper-or-bare/cooks/{long}.yaml")
    (folder / "paper-or-bare/readings/first-fire").rename(folder / f"paper-or-bare/readings/{long}")
    pieces = folder / "paper-or-bare/pieces.yaml"
    pieces.write_text(pieces.read_text().replace("cook: first-fire", f"cook: {long}"))
    (record,) = read_folder(folder).trial_records()
    assert record.events[3].id == f"a{'b' * 51}-event-4"


def test_every_problem_is_named_at_once_with_its_place(folder: Path) -> None:
    cook = folder / COOK
    edit(cook, "kind: raise", "kind: raize")
    edit(cook, "set: 250 °F", "set: 250")
    edit(cook, "at: 2026-05-02 22:40", "at: 22:40")
    edit(cook, "estimates:", "estimate:")
    edit(folder / "kitchen.yaml", "resolution: 5 g", "resolution: 5 gallons")
    edit(folder / "paper-or-bare/trial.yaml", "question: Does", "qestion: Does")
    edit(folder / "paper-or-bare/readings/first-fire/core-1.csv", "48.0", "48,0")
    found = complaints(folder)

    def at(path: Path, text: str, rest: str) -> bool:
        place = f"{path.relative_to(folder).as_posix()}, line {line_of(path, text)}: "
        return any(one.startswith(place) and rest in one for one in found)

    assert at(
        cook, "raize", "events 3, kind: 'raize' is not one of the words here; did you mean 'raise'?"
    )
    assert at(cook, "set: 250", "events 3, set")
    assert at(cook, "at: 22:40", "events 1, at: '22:40' has no date")
    assert at(cook, "estimate:", "estimate: unknown key; did you mean 'estimates'?")
    assert at(folder / "kitchen.yaml", "gallons", "scales 1, resolution")
    trial = folder / "paper-or-bare/trial.yaml"
    assert at(trial, "qestion", "qestion: unknown key; did you mean 'question'?")
    assert any("trial.yaml, line 1: question: is missing" in one for one in found)
    assert at(
        folder / "paper-or-bare/readings/first-fire/core-1.csv", "48,0", "3 columns instead of 2"
    )


def test_what_does_not_fit_together_has_its_line(folder: Path) -> None:
    edit(folder / COOK, "pieces: [shoulder-2]", "pieces: [shoulder-3]")
    edit(folder / COOK, "scale: bench", "scale: bnech")
    edit(
        folder / COOK,
        "presented: [sample-2, sample-1]",
        "presented: [sample-2, sample-1, sample-9]",
    )
    edit(folder / COOK, "at: 2026-05-03 11:20", "at: 2026-05-02 22:30")
    edit(folder / COOK, "value: 6.5", "value: 65")
    found = complaints(folder)
    line = line_of(folder / COOK, "shoulder-3")
    expected = f"{COOK}, line {line}: events 2, pieces: there is no piece 'shoulder-3' (known: "
    assert any(one.startswith(expected) for one in found)
    assert any(
        "weighings 1, scale: there is no scale 'bnech' (known: bench)" in one for one in found
    )
    assert any("ballots 1, presented: there is no sample 'sample-9'" in one for one in found)
    assert any("pieces.yaml, line 2: pieces 1: pulled" in one for one in found)
    assert any("65 for 'sample-2' is off the scale" in one for one in found)
    assert len(found) == len(set(found))


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        (
            "piece: shoulder-1\n    at: 2026-05-02 20:50",
            "at: 2026-05-02 20:50",
            "weighings 1: say whose weighing",
        ),
        ("  - at: 2026-05-02 22:40\n", "  - note: no time\n", "events 1, at: is missing"),
        ("cookers: [barrel]", "cookers: barrel", "cook, cookers: must be a list"),
        ("cookers: [barrel]", "cookers: []", "cook, cookers: must have at least one"),
        ("  name: First fire\n", "  name:\n", "cook, name: is missing"),
        (
            "  starts: 2026-05-02 21:30\n",
            "  starts: 2026-05-02 21:30\n  id: other\n",
            "name of the file",
        ),
        (
            "    kind: wrap\n",
            "    kind: wrap\n    cook: other\n",
            "events 2, cook: must be 'first-fire'",
        ),
        (
            "    by: Ada",
            "    to: {cookr: barrel}",
            "events 2, to, cookr: unknown key; did you mean 'cooker'",
        ),
        ("    by: Ada", "    set_c: 3", "events 2, set_c: unknown key; did you mean 'set'"),
        ("code: 417", "code: many", "samples 1, code: 'many' is not a number"),
        ("id: sample-1", "id: Sample 1", "samples 1, id: 'Sample 1' is not a handle"),
        ("id: sample-2", "id: sample-1", "sample 'sample-1' is there already"),
        ("events:\n", "events: none\nmore:\n", "events: must be a list"),
        ("kind: wrap", "kind: wrap\n    kind: wrap", "events 2, kind: is written twice"),
        ("kind: wrap", "kind: &w wrap\n    note: *w", "write it out here"),
        ("[shoulder-1, shoulder-2]", "[shoulder-1, shoulder-2", "not YAML"),
        (
            "starts: 2026-05-02 21:30",
            "starts: 2026-03-29 01:30",
            "starts: 2026-03-29 01:30 never happened",
        ),
    ],
)
def test_one_fault_is_one_clear_complaint(folder: Path, old: str, new: str, complaint: str) -> None:
    edit(folder / COOK, old, new)
    found = complaints(folder)
    assert any(complaint in one for one in found), found
    assert all(one.startswith(f"{COOK}, line ") for one in found if complaint in one)


def test_files_and_folders_out_of_place_are_named(folder: Path, tmp_path: Path) -> None:
    trial = folder / "paper-or-bare"
    (trial / "pieces.yaml").rename(trial / "peices.yaml")
    (trial / "readings/first-fire/core-1.csv").rename(trial / "readings/core-1.csv")
    (folder / "Other Trial").mkdir()
    (folder / "Other Trial" / "trial.yaml").write_text("title: x")
    (folder / "photos").mkdir()
    found = "\n".join(complaints(folder))
    assert "paper-or-bare/peices.yaml: unknown file; did you mean 'pieces.yaml'?" in found
    assert "paper-or-bare/readings/core-1.csv: must lie in readings/<cook>/<probe>.csv" in found
    assert "Other Trial: a trial's folder is called by its handle" in found
    assert "photos" not in found
    (folder / "kitchen.yaml").unlink()
    assert "kitchen.yaml: is missing" in "\n".join(complaints(folder))
    assert "is one trial's folder; name the folder around it" in complaints(trial)[0]
    assert "is not a folder" in complaints(tmp_path / "nowhere")[0]


def test_readings_of_unknown_probes_and_sources_are_refused(folder: Path) -> None:
    readings = folder / "paper-or-bare/readings/first-fire"
    (readings / "core-1.csv").rename(readings / "core-9.csv")
    (readings / "pit-1.csv").write_text("time,°C,source\n2026-05-02 22:45,6.5,log-1\n")
    (readings / "pit-1.struck.csv").write_text("time,°C\n2026-05-02 22:45,6.5\n")
    found = "\n".join(complaints(folder))
    assert "core-9.csv: there is no probe 'core-9' (known: core-1, pit-1)" in found
    assert "pit-1.csv: there is no source 'log-1' (known: none recorded yet)" in found
    assert "pit-1.struck.csv: neither its cook nor its source was struck out" in found


def test_many_bad_rows_are_counted_not_all_listed(folder: Path) -> None:
    path = folder / "paper-or-bare/readings/first-fire/core-1.csv"
    path.write_text("time,°C\n" + "yesterday,1\n" * 50)
    found = complaints(folder)
    assert len(found) == 21
    assert found[-1].endswith("and 30 more problems")


def test_a_folder_written_further_is_imported_again(folder: Path, tmp_path: Path) -> None:
    with notebook_of_folder(tmp_path / "a.db", folder, by="Ada") as notebook:
        before = notebook.digest()
        assert import_folder(notebook, folder).records == 0
        assert notebook.digest() == before
        with (folder / COOK).open("a") as file:
            file.write("figures:\n  - piece: shoulder-1\n    measure: bark\n    value: 3\n")
        came = import_folder(notebook, folder, by="Ben")
        assert (came.records, came.readings, came.trials) == (1, 0, ("paper-or-bare",))
        edit(folder / COOK, "dry, light wind", "drizzle")
        with pytest.raises(ValueError, match="cook 'first-fire' is already recorded"):
            import_folder(notebook, folder)
        assert import_folder(notebook, folder, why="remembered wrongly").records == 1
        assert notebook.history("cook", "first-fire")[-1].why == "remembered wrongly"


def test_a_line_more_does_not_shift_the_others(folder: Path, tmp_path: Path) -> None:
    cook = (folder / COOK).read_text()
    start = cook.index("events:\n") + len("events:\n")
    forgotten = "  - at: 2026-05-02 21:45\n    kind: note\n    note: moths\n"
    with notebook_of_folder(tmp_path / "a.db", folder) as notebook:
        before = {e.id: e for e in notebook.list(Event, trial="paper-or-bare")}
        (folder / COOK).write_text(cook[:start] + forgotten + cook[start:])
        # One thing is new and nothing is corrected, so no reason is asked for.
        assert import_folder(notebook, folder).records == 1
        after = {e.id: e for e in notebook.list(Event, trial="paper-or-bare")}
        assert {handle: after[handle] for handle in before} == before
        # An edited line is a correction of the one that it was.
        edit(folder / COOK, "note: moths", "note: a bat")
        with pytest.raises(ValueError, match="already recorded"):
            import_folder(notebook, folder)
        assert import_folder(notebook, folder, why="looked again").records == 1
        assert len(notebook.list("event", trial="paper-or-bare")) == len(after)


def test_an_unsound_folder_makes_no_notebook(folder: Path, tmp_path: Path) -> None:
    edit(folder / COOK, "kind: wrap", "kind: warp")
    with pytest.raises(FolderError):
        notebook_of_folder(tmp_path / "a.db", folder)
    with Notebook.create(tmp_path / "b.db") as notebook:
        before = notebook.digest()
        with pytest.raises(FolderError):
            import_folder(notebook, folder)
        assert notebook.digest() == before
    assert [path.name for path in tmp_path.glob("*.db*")] == ["b.db"]
