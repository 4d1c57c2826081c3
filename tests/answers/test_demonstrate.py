"""The main job end to end on the invented trial: record, take in, judge, tell, export."""

import hashlib
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from fairsmoke.answers.demonstration import Demonstration, answer_for, demonstrate
from fairsmoke.arriving.take_in import LayoutAnswer, known_answer, take_in
from fairsmoke.demo import demo_trial
from fairsmoke.demo.truth import PAPER_YIELD
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import notebook_of_folder


def test_the_finding_holds_the_effect_that_was_put_in(made: Demonstration) -> None:
    main = made.finding.main
    (difference,) = main.differences
    assert difference.believed.low <= PAPER_YIELD <= difference.believed.high
    assert difference.verdict.word == "not settled"


def test_every_yield_was_solved_though_one_weighing_was_forgotten(made: Demonstration) -> None:
    rows = made.finding.main.responses.rows
    assert len(rows) == 6
    assert all(row.value is not None for row in rows)
    # A scale to 5 g on 4 kg and a few grams of fat: tenths of a point, not more.
    assert all(row.uncertainty is not None and 0.0003 < row.uncertainty < 0.01 for row in rows)


def test_the_hot_side_is_seen(made: Demonstration) -> None:
    contrasts = made.finding.conduct.contrasts
    assert len(contrasts) == 3
    for contrast in contrasts:
        assert contrast.hotter == "barrel/right"
        assert contrast.by_k == pytest.approx(7.0, abs=1.5)


def test_the_fallen_probe_is_left_out_and_said_so(made: Demonstration) -> None:
    reasons = [str(row.why) for row in made.finding.left_out if "Bank holiday" in str(row.what)]
    assert any("out of the meat" in why for why in reasons)
    assert any("by a person" in why for why in reasons)
    (fallen,) = [p for p in made.finding.conduct.pieces if p.piece == "shoulder-1"]
    assert fallen.core_highest_c is not None
    # It lay in air of 120 °C for an hour; nothing of that reaches the core's record.
    assert fallen.core_highest_c < 97


def test_the_same_file_twice_adds_nothing(made: Demonstration) -> None:
    demo = demo_trial()
    with Notebook.open(made.notebook) as notebook:
        before = notebook.digest()
        for file in demo.logger_files:
            again = take_in(
                notebook, made.trial, file.cook_id, file.content, file.file_name, answer_for(file)
            )
            assert again.already
            assert sum(probe.new for probe in again.probes) == 0
        assert notebook.digest() == before


def test_a_file_that_grew_adds_only_what_is_new(made: Demonstration, tmp_path: Path) -> None:
    demo = demo_trial()
    file = demo.logger_files[0]
    lines = file.content.split(b"\n")
    half, whole = b"\n".join(lines[: len(lines) // 2]) + b"\n", file.content
    with Notebook.create(tmp_path / "n.fairsmoke", demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
        first = take_in(notebook, made.trial, "may", half, "a.csv", answer_for(file))
        second = take_in(notebook, made.trial, "may", whole, "a.csv", answer_for(file))
        counts = {probe.probe: probe.new for probe in first.probes}
        for probe in second.probes:
            assert probe.repeated == counts.get(probe.probe, 0)
        joined = notebook.readings(made.trial, "may", "pit-left")
    with Notebook.open(made.notebook) as notebook:
        at_once = notebook.readings(made.trial, "may", "pit-left")
    np.testing.assert_array_equal(joined.time_ms, at_once.time_ms)
    np.testing.assert_array_equal(joined.value_c, at_once.value_c)
    np.testing.assert_array_equal(joined.flags, at_once.flags)


def test_a_layout_is_known_after_its_first_file(made: Demonstration) -> None:
    with Notebook.open(made.notebook) as notebook:
        for taken in made.taken:
            known = known_answer(notebook, taken.source.layout)
            assert isinstance(known, LayoutAnswer)
            assert set(known.probes.values()) >= {"core-1", "core-2"}


def test_an_unknown_probe_is_named_with_the_mend(made: Demonstration, tmp_path: Path) -> None:
    demo = demo_trial()
    file = demo.logger_files[0]
    layout = answer_for(file).layout
    with Notebook.create(tmp_path / "n.fairsmoke", demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
        with pytest.raises(JobError, match=r"which probe is 'Meat 1'.*--probe 'Meat 1=HANDLE'"):
            take_in(notebook, made.trial, "may", file.content, "a.csv", LayoutAnswer(layout))
        assert notebook.readings(made.trial, "may", "core-1").time_ms.size == 0


def test_the_folder_reads_back_as_the_same_notebook(made: Demonstration, tmp_path: Path) -> None:
    with Notebook.open(made.notebook) as notebook:
        digest = notebook.digest()
    with notebook_of_folder(tmp_path / "again.fairsmoke", made.folder) as again:
        assert again.digest() == digest


def test_the_report_tells_the_finding(made: Demonstration) -> None:
    pages = [page.extract_text() for page in PdfReader(made.report).pages]
    assert "Not settled" in pages[0]
    assert "Invented" in pages[0]
    whole = " ".join(pages)
    for needed in ("re-randomisation", "Mass ledger", "left out", "Cautions", "Kenward"):
        assert needed in whole


def test_a_second_run_gives_the_same_files(made: Demonstration, tmp_path: Path) -> None:
    again = demonstrate(tmp_path / "again")
    for one, other in ((made.report, again.report),):
        assert _sha(one) == _sha(other)
    names = sorted(p.relative_to(made.folder) for p in made.folder.rglob("*.csv"))
    assert names
    for name in names:
        assert _sha(made.folder / name) == _sha(again.folder / name)


def _sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_file_in_the_way_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("mine")
    with pytest.raises(JobError, match="is a file"):
        demonstrate(tmp_path / "x")
    assert (tmp_path / "x").read_text() == "mine"
