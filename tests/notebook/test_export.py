"""Exporting: what is written, what is refused, and editing an exported folder."""

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from fairsmoke.notebook import CorrectionError, FolderError, Notebook, NotebookError
from fairsmoke.notebook.folder.transfer import (
    export_notebook,
    export_trial,
    import_folder,
    notebook_of_folder,
    read_folder,
)
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.tasting import Taster

BY_HAND = Path(__file__).parent / "data" / "by-hand"
TRIAL = "paper-or-bare"


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("once") / "hall.db"
    with notebook_of_folder(path, BY_HAND, by="Ada") as made:
        made.correct("event", "first-fire-event-2", {"note": "late"}, why="was late", trial=TRIAL)
    return path


@pytest.fixture
def notebook(made_once: Path, tmp_path: Path) -> Iterator[Notebook]:
    path = Path(shutil.copy(made_once, tmp_path))
    with Notebook.open(path) as made:
        yield made


@pytest.fixture
def out(notebook: Notebook, tmp_path: Path) -> Path:
    return export_notebook(notebook, tmp_path / "out")


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_an_export_says_what_it_is_and_adds_up(out: Path) -> None:
    names = sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())
    assert names == [
        "README.txt",
        "checksums.txt",
        "history.yaml",
        "kitchen.yaml",
        "paper-or-bare/cooks/first-fire.yaml",
        "paper-or-bare/history.yaml",
        "paper-or-bare/pieces.yaml",
        "paper-or-bare/readings/first-fire/core-1.csv",
        "paper-or-bare/readings/first-fire/pit-1.csv",
        "paper-or-bare/trial.yaml",
    ]
    for line in (out / "checksums.txt").read_text().splitlines():
        digest, name = line.split("  ")
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest
    cook = (out / "paper-or-bare/cooks/first-fire.yaml").read_text(encoding="utf-8")
    assert "at: 2026-05-03 11:20+01:00" in cook
    assert "reading: 3.410 kg" in cook
    assert "reading: 7 lb 6 oz" in cook
    readings = (out / "paper-or-bare/readings/first-fire/pit-1.csv").read_text(encoding="utf-8")
    assert readings.splitlines()[0] == "time,°F,flags"
    assert readings.splitlines()[-1] == "2026-05-03T07:00:00+01:00,999,open probe"


def test_a_second_export_follows_the_notebook(notebook: Notebook, out: Path) -> None:
    (out / "report.pdf").write_bytes(b"kept")
    before = (out / "kitchen.yaml").stat().st_mtime_ns
    notebook.strike("ballot", "first-fire-ballot-1", why="not blind", trial=TRIAL)
    notebook.strike("exclusion", "first-fire-exclusion-1", why="it counts", trial=TRIAL)
    for kind in ("estimate", "weighing", "event", "placement", "sample"):
        for record in notebook.list(kind, trial=TRIAL):
            notebook.strike(kind, record.model_dump()["id"], why="x", trial=TRIAL)
    for handle in ("shoulder-1", "shoulder-2"):
        notebook.strike("piece", handle, why="x", trial=TRIAL)
    notebook.strike("cook", "first-fire", why="x", trial=TRIAL)
    export_notebook(notebook, out)
    assert (out / "report.pdf").exists()
    assert (out / "kitchen.yaml").stat().st_mtime_ns == before
    assert not (out / "paper-or-bare/cooks").exists()
    assert (out / "paper-or-bare/readings/first-fire/core-1.struck.csv").exists()
    assert not (out / "paper-or-bare/readings/first-fire/core-1.csv").exists()
    with notebook_of_folder(out.with_name("b.db"), out) as again:
        assert again.digest() == notebook.digest()


def test_other_folders_are_not_written_over(notebook: Notebook, tmp_path: Path) -> None:
    with pytest.raises(FolderError, match="is not empty and was not written by an earlier export"):
        export_notebook(notebook, BY_HAND)
    (tmp_path / "file").write_text("x")
    with pytest.raises(FolderError, match="is a file; name a folder"):
        export_notebook(notebook, tmp_path / "file")
    (tmp_path / "empty").mkdir()
    assert export_notebook(notebook, tmp_path / "empty") == tmp_path / "empty"


def test_a_folder_that_was_edited_is_not_written_over(notebook: Notebook, out: Path) -> None:
    edit(out / "paper-or-bare/pieces.yaml", "The squarer", "The rounder")
    with pytest.raises(
        FolderError, match=r"pieces.yaml: was changed since it was exported; import"
    ):
        export_notebook(notebook, out)
    assert import_folder(notebook, out, why="looked again").records == 1
    export_notebook(notebook, out, overwrite=True)
    assert read_folder(out).trial_records()[0].pieces[0].name == "The rounder shoulder"


def test_checksums_cannot_lead_out_of_the_folder(notebook: Notebook, out: Path) -> None:
    outside = out.with_name("mine.txt")
    outside.write_text("mine")
    digest = hashlib.sha256(b"mine").hexdigest()
    with (out / "checksums.txt").open("a") as file:
        file.write(f"{digest}  ../mine.txt\n{digest}  {outside}\n")
    export_notebook(notebook, out)
    assert outside.read_text() == "mine"


def test_an_edited_export_is_a_correction_with_its_reason(
    notebook: Notebook, out: Path, tmp_path: Path
) -> None:
    cook = out / "paper-or-bare/cooks/first-fire.yaml"
    edit(cook, "at: 2026-05-03 11:20+01:00", "at: 2026-05-03 11:25+01:00")
    ballots = cook.read_text().index("ballots:")
    cook.write_text(cook.read_text()[:ballots] + "exclusions: []\n")
    for target in (notebook, Notebook.create(tmp_path / "fresh.db")):
        before = target.digest()
        with pytest.raises(CorrectionError, match=r"event 'first-fire-event-4', .*why"):
            import_folder(target, out)
        assert target.digest() == before
        assert import_folder(target, out, by="Ben", why="from the paper").records >= 3
        last = target.history("event", "first-fire-event-4", trial=TRIAL)[-1]
        assert (last.number, last.by, last.why) == (2, "Ben", "from the paper")
        assert target.history("ballot", trial=TRIAL)[-1].struck
        assert target.history("exclusion", trial=TRIAL)[-1].struck
        assert target.check() == ()
    target.close()


def test_an_older_export_does_not_turn_the_notebook_back(notebook: Notebook, out: Path) -> None:
    notebook.correct("event", "first-fire-event-2", {"note": "very late"}, why="more", trial=TRIAL)
    before = notebook.digest()
    assert import_folder(notebook, out).records == 0
    assert notebook.digest() == before


def test_a_newer_export_brings_its_history_along(
    notebook: Notebook, out: Path, tmp_path: Path
) -> None:
    with notebook_of_folder(tmp_path / "laptop.db", out) as laptop:
        laptop.correct("event", "first-fire-event-2", {"note": "on time"}, why="asked", trial=TRIAL)
        laptop.save(Taster(id="taster-2", name="T2"), by="Cleo")
        export_notebook(laptop, tmp_path / "back")
        assert import_folder(notebook, tmp_path / "back").records == 2
        assert notebook.digest() == laptop.digest()


def test_one_trial_goes_out_with_what_it_uses(notebook: Notebook, tmp_path: Path) -> None:
    notebook.save([Taster(id="taster-9", name="Not in it"), Probe(id="probe-9", name="Neither")])
    out = export_trial(notebook, TRIAL, tmp_path / "one")
    content = read_folder(out)
    assert [taster.id for taster in content.trial_records()[0].tasters] == ["taster-1"]
    assert "Not in it" not in "".join(path.read_text() for path in out.rglob("*.yaml"))
    with Notebook.create(tmp_path / "b.db") as other:
        import_folder(other, out)
        assert other.history(trial=TRIAL) == notebook.history(trial=TRIAL)
    with pytest.raises(NotebookError, match="no trial 'none'"):
        export_trial(notebook, "none", tmp_path / "none")
    assert not (tmp_path / "none").exists()


def test_a_spoilt_history_is_refused(out: Path) -> None:
    history = out / "paper-or-bare/history.yaml"
    lines = history.read_text(encoding="utf-8").splitlines(keepends=True)
    late = next(number for number, line in enumerate(lines) if "was late" in line)
    history.write_text("".join(lines[:late] + lines[late + 1 :]).replace("- {", "- {", 1))
    # Without its second revision the file says something else than the history.
    assert read_folder(out).trials[0].history[-1].why == ""
    history.write_text("".join(lines[1:]) + "- nonsense\n", encoding="utf-8")
    with pytest.raises(FolderError, match="not an entry as Fairsmoke writes it"):
        read_folder(out)
    edit(out / "history.yaml", '"number": 1', '"number": 3')
    with pytest.raises(FolderError, match=r"history.yaml, line 1: .*revision 3 where 1 should be"):
        read_folder(out)


def test_readings_that_differ_are_refused(notebook: Notebook, out: Path) -> None:
    edit(out / "paper-or-bare/readings/first-fire/pit-1.csv", ",243,", ",244,")
    with pytest.raises(CorrectionError, match="probe 'pit-1' in the folder differ"):
        import_folder(notebook, out, why="x")
