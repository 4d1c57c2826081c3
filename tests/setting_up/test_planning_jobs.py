"""From the question to a registered plan in a notebook, and what others can check of it."""

import json
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.planning.asked_examples import SOUND

from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import CorrectionError, Notebook
from fairsmoke.notebook.errors import FolderError
from fairsmoke.notebook.folder.transfer import export_notebook, notebook_of_folder
from fairsmoke.setting_up.ask import ask
from fairsmoke.setting_up.ask_answers import asked_of_answers, asked_of_file
from fairsmoke.setting_up.begin import begin
from fairsmoke.setting_up.draw import draw, redraw, redraw_file
from fairsmoke.setting_up.register import amend, deviations, register, write_registered
from fairsmoke.trial.canonical import canonical_form
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.plan import LayoutKind

TRIAL = "a-pit-run-cooler"
NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)


@pytest.fixture
def book(tmp_path: Path) -> Notebook:
    made = Notebook.create(tmp_path / "hall.db", Kitchen(name="Hall", time_zone="Europe/London"))
    ask(made, asked_of_answers(SOUND), by="Ada")
    return made


def test_a_registered_plan_is_checked_with_sha256sum(book: Notebook, tmp_path: Path) -> None:
    draw(book, TRIAL, seed=5)
    registration = register(book, TRIAL, now=NOW)
    file = tmp_path / "plan.json"
    assert write_registered(book, TRIAL, file) == registration.digest
    export_notebook(book, tmp_path / "out")
    for path in (file, tmp_path / "out" / TRIAL / "registered-plan.json"):
        done = subprocess.run(["sha256sum", path], capture_output=True, text=True, check=True)
        assert done.stdout.split()[0] == registration.digest
    content = json.loads(file.read_text())
    assert canonical_form(content) == file.read_text()
    trial, plan = content["trial"], content["plan"]
    assert trial["question"] == SOUND.question
    assert trial["measures"][0]["worthwhile"] == "2 points"
    assert trial["verdict"] == {"sure": 0.95}
    assert plan["layout"]["seed"] == trial["draw"]["seed"] == 5
    assert len(plan["layout"]["slots"]) == 4
    assert plan["leave_out"] == []


def test_the_layout_can_be_drawn_again_from_the_file_alone(book: Notebook, tmp_path: Path) -> None:
    draw(book, TRIAL)
    register(book, TRIAL)
    file = tmp_path / "plan.json"
    write_registered(book, TRIAL, file)
    assert redraw(book, TRIAL).same
    assert redraw_file(file).same
    swapped = file.read_text().replace('"arm":"hotter"', '"arm":"x"')
    swapped = swapped.replace('"arm":"cooler"', '"arm":"hotter"').replace('"x"', '"cooler"')
    other = tmp_path / "other.json"
    other.write_text(swapped)
    found = redraw_file(other)
    assert not found.same
    assert set(found.differs) == {"s-1", "s-2", "s-3", "s-4"}


def test_sets_that_were_matched_worse_are_found_out(book: Notebook, tmp_path: Path) -> None:
    draw(book, TRIAL)
    register(book, TRIAL)
    file = tmp_path / "plan.json"
    write_registered(book, TRIAL, file)
    content = json.loads(file.read_text())
    masses = {"s-1": "3 kg", "s-2": "5 kg", "s-3": "3 kg", "s-4": "5 kg"}
    for piece in content["plan"]["at_hand"]["pieces"]:
        piece["mass"] = masses[piece["id"]]
        del piece["thick"]
    file.write_text(json.dumps(content))
    assert redraw_file(file).best_matched is False


def test_drawing_again_needs_a_reason_and_is_counted(book: Notebook) -> None:
    first = draw(book, TRIAL, seed=1)
    assert first.trial.draw.even
    with pytest.raises(JobError, match="drawing until one likes it"):
        draw(book, TRIAL)
    second = draw(book, TRIAL, why="a piece was dropped")
    assert second.layout.drawn_before == 1
    assert len(book.history("plan", "plan", trial=TRIAL)) == 3


def test_what_is_drawn_and_registered_stays(book: Notebook) -> None:
    with pytest.raises(JobError, match="not drawn yet"):
        register(book, TRIAL)
    draw(book, TRIAL)
    registration = register(book, TRIAL)
    for attempt in (
        lambda: draw(book, TRIAL, why="another"),
        lambda: register(book, TRIAL),
        lambda: ask(book, asked_of_answers(SOUND), why="another"),
    ):
        with pytest.raises(JobError, match="registered"):
            attempt()
    altered = registration.model_copy(update={"at": NOW})
    with pytest.raises(CorrectionError, match="never changed"):
        book.save(altered, trial=TRIAL, why="earlier is better")
    with pytest.raises(CorrectionError, match="never changed"):
        book.strike("registration", "registration", trial=TRIAL, why="away")


def test_amendments_are_dated_kept_and_cannot_be_taken_back(book: Notebook) -> None:
    draw(book, TRIAL)
    register(book, TRIAL, now=NOW)
    with pytest.raises(JobError, match="nothing differs"):
        amend(book, TRIAL, why="just so")
    book.correct("trial", TRIAL, {"differs": "the pit"}, why="shorter")
    (found,) = deviations(book, TRIAL)
    assert not found.told
    first = amend(book, TRIAL, why="shorter words", now=NOW)
    assert first.changes[0].place == "differs"
    second = amend(book, TRIAL, why="few pieces", changes={"verdict": "{sure: 0.8}"})
    assert "0.95 → 0.8" in second.what
    assert book.load_trial(TRIAL).trial.verdict.sure == 0.8
    assert all(one.told for one in deviations(book, TRIAL))
    record = book.load_trial(TRIAL)
    assert record.registration is not None
    assert len(record.registration.amendments) == 2
    fewer = record.registration.model_copy(update={"amendments": (second,)})
    with pytest.raises(CorrectionError, match="amendments"):
        book.save(fewer, trial=TRIAL, why="never mind")


def test_a_planned_cook_begins_with_its_pieces_as_drawn(book: Notebook) -> None:
    drawn = draw(book, TRIAL)
    register(book, TRIAL, now=NOW)
    starts = datetime(2026, 5, 2, 17, 30, tzinfo=UTC)
    begun = begin(book, TRIAL, 1, starts)
    record = book.load_trial(TRIAL)
    assert record.problems() == []
    for piece in record.units:
        slot = drawn.layout.slot_of(piece.id)
        assert slot is not None
        assert (piece.arm, piece.spot, piece.pair) == (slot.arm, slot.spot, slot.block)
    assert {piece.id for piece in begun.pieces} == {piece.id for piece in record.units}
    assert deviations(book, TRIAL) == ()
    with pytest.raises(JobError, match="begun before"):
        begin(book, TRIAL, 1, starts)
    with pytest.raises(JobError, match="1 to 2"):
        begin(book, TRIAL, 3, starts)
    with pytest.raises(JobError, match="registered"):
        draw(book, TRIAL, why="late")


def test_halves_begin_with_the_whole_they_are_cut_from(tmp_path: Path) -> None:
    from dataclasses import replace

    halves = replace(
        SOUND,
        title="Halves",
        piece=("left of chuck 1", "right of chuck 1", "left of chuck 2", "right of chuck 2"),
    )
    with Notebook.create(tmp_path / "h.db", Kitchen(name="Hall")) as book:
        ask(book, asked_of_answers(halves))
        drawn = draw(book, "halves")
        assert drawn.layout.kind is LayoutKind.HALVES
        assert drawn.trial.draw.within == "whole piece"
        begin(book, "halves", 2, NOW)
        record = book.load_trial("halves")
        assert record.problems() == []
        assert len(record.units) == 2
        assert len({piece.half_of for piece in record.units}) == 1


def test_everything_reads_back_from_the_folder(book: Notebook, tmp_path: Path) -> None:
    draw(book, TRIAL)
    register(book, TRIAL, now=NOW)
    amend(book, TRIAL, why="few pieces", changes={"verdict": "{sure: 0.8}"})
    begin(book, TRIAL, 1, NOW)
    export_notebook(book, tmp_path / "out")
    with notebook_of_folder(tmp_path / "other.db", tmp_path / "out") as other:
        assert other.digest() == book.digest()
    file = tmp_path / "out" / TRIAL / "registered-plan.json"
    file.write_text(file.read_text().replace("2 points", "3 points"))
    with pytest.raises(FolderError, match="it was altered"):
        notebook_of_folder(tmp_path / "third.db", tmp_path / "out")


def test_a_file_with_mistakes_names_their_lines(tmp_path: Path) -> None:
    file = tmp_path / "ask.yaml"
    file.write_text("title: Paper\nquestion: Does it?\ndiffers: wrap\narms: []\n")
    with pytest.raises(FolderError, match=r"line 4.*arms"):
        asked_of_file(file)
