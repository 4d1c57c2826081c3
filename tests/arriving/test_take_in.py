"""Taking logger files in: undoing a wrong one, and refusing what does not belong. All invented."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fairsmoke.arriving import take_in as take_in_module
from fairsmoke.arriving.doubts import DoubtError
from fairsmoke.arriving.take_in import LayoutAnswer, known_answer, take_in
from fairsmoke.demo import demo_trial
from fairsmoke.intake.recognise import recognise
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.notebook import intake as notebook_intake
from fairsmoke.notebook.folder.transfer import export_notebook, notebook_of_folder
from fairsmoke.trial.kitchen import KnownLayout
from fairsmoke.trial.source import Source

TRIAL = "paper-or-bare"


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    demo = demo_trial()
    with Notebook.create(tmp_path / "n.fairsmoke", demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
        yield notebook


def log(
    header: str, values: Callable[[int], str], stamp: str = "2026-05-02 {}", minutes: int = 240
) -> bytes:
    """Write a log of one row a minute from 19:10 on, when the cook "may" has begun."""
    rows = [
        f"{stamp.format(f'{19 + (10 + i) // 60:02d}:{(10 + i) % 60:02d}:00')},{values(i)}"
        for i in range(minutes)
    ]
    return "\n".join([f"Time,{header}", *rows, ""]).encode()


def answered(data: bytes, probes: dict[str, str], **answers: str) -> LayoutAnswer:
    return LayoutAnswer(recognise(data).answered(answers), probes)


PIT = log("Ch1,Ch2", lambda i: f"{107 + i % 7},{10 + i / 10:.1f}")
PROBES = {"Ch1": "pit-left", "Ch2": "core-1"}


def test_a_wrong_file_is_struck_out_and_taken_in_anew(book: Notebook) -> None:
    wrong = answered(PIT, PROBES, unit="degF")
    first = take_in(book, TRIAL, "may", PIT, "a.csv", wrong, anyway=True)
    book.strike(Source, first.source.id, trial=TRIAL, why="it is °C")
    assert len(book.readings(TRIAL, "may", "pit-left")) == 0
    right = answered(PIT, PROBES, unit="degC")
    with pytest.raises(JobError, match=r"known to be read otherwise.*column 2.*reason \(why\)"):
        take_in(book, TRIAL, "may", PIT, "a.csv", right)
    assert len(book.readings(TRIAL, "may", "pit-left")) == 0
    second = take_in(book, TRIAL, "may", PIT, "a.csv", right, why="it is °C", by="Ann")
    assert second.source.id == f"{first.source.id}-2"
    # 107 °C as the file says it: exact, by the file above.
    assert book.readings(TRIAL, "may", "pit-left").value_c[0] == 107.0
    states = book.history(KnownLayout, second.source.layout)
    assert [(state.by, state.why) for state in states] == [("", ""), ("Ann", "it is °C")]
    assert len(book.history(Source, first.source.id, trial=TRIAL)) == 2
    again = take_in(book, TRIAL, "may", PIT, "a.csv", right)
    assert again.already
    assert again.source.id == second.source.id
    assert book.check() == ()


def test_a_struck_layout_comes_back_with_a_reason(book: Notebook) -> None:
    answer = answered(PIT, PROBES, unit="degC")
    first = take_in(book, TRIAL, "may", PIT, "a.csv", answer)
    book.strike(Source, first.source.id, trial=TRIAL, why="wrong probes")
    book.strike(KnownLayout, first.source.layout, why="wrong probes")
    other = answered(PIT, {"Ch1": "pit-right", "Ch2": "core-2"}, unit="degC")
    with pytest.raises(JobError, match=r"struck out.*reason \(why\)"):
        take_in(book, TRIAL, "may", PIT, "a.csv", other)
    take_in(book, TRIAL, "may", PIT, "a.csv", other, why="the channels were swapped")
    known = known_answer(book, first.source.layout)
    assert known is not None
    assert known.probes["Ch1"] == "pit-right"
    assert len(book.readings(TRIAL, "may", "pit-left")) == 0
    assert len(book.readings(TRIAL, "may", "pit-right")) == 240


def test_the_same_file_with_only_its_source_struck(book: Notebook) -> None:
    answer = answered(PIT, PROBES, unit="degC")
    handles = []
    for _ in range(3):
        taken = take_in(book, TRIAL, "may", PIT, "a.csv", answer)
        handles.append(taken.source.id)
        book.strike(Source, taken.source.id, trial=TRIAL, why="once more")
    assert handles == [handles[0], f"{handles[0]}-2", f"{handles[0]}-3"]


def test_probes_named_otherwise_count_for_one_file_alone(book: Notebook) -> None:
    take_in(book, TRIAL, "may", PIT, "a.csv", answered(PIT, PROBES, unit="degC"))
    later = log("Ch1,Ch2", lambda i: f"{107 + i % 5},{10 + i / 10:.1f}")
    swapped = {"Ch1": "pit-right", "Ch2": "core-2"}
    taken = take_in(book, TRIAL, "may", later, "b.csv", answered(later, swapped, unit="degC"))
    assert {one.probe for one in taken.probes} == set(swapped.values())
    known = known_answer(book, taken.source.layout)
    assert known is not None
    assert known.probes == PROBES
    book.strike(Source, taken.source.id, trial=TRIAL, why="to take it in with a reason")
    answer = answered(later, swapped, unit="degC")
    take_in(book, TRIAL, "may", later, "b.csv", answer, why="the plugs were changed for good")
    known = known_answer(book, taken.source.layout)
    assert known is not None
    assert known.probes == swapped


@pytest.mark.parametrize(
    ("stamp", "order", "said"),
    [
        ("03/05/2026 {}", "month-day-year", r"480 of 480 readings lie outside cook may .*2026-03"),
        ("2026-08-02 {}", "", r"lie outside cook may .*2026-08-02.*date order or zone"),
    ],
)
def test_readings_of_another_time_are_refused(
    book: Notebook, stamp: str, order: str, said: str
) -> None:
    data = log("Ch1,Ch2", lambda i: f"{107 + i % 7},{10 + i / 10:.1f}", stamp)
    answer = answered(data, PROBES, unit="degC", **({"date_order": order} if order else {}))
    before = book.digest()
    with pytest.raises(DoubtError, match=said):
        take_in(book, TRIAL, "may", data, "a.csv", answer)
    assert book.digest() == before
    assert (
        sum(
            one.new
            for one in take_in(book, TRIAL, "may", data, "a.csv", answer, anyway=True).probes
        )
        == 480
    )


@pytest.mark.parametrize(
    ("pit", "core", "unit", "said"),
    [
        # 225 °F and 150 °F, ordinary in a long cook (common practice), taken for °C.
        (225, 150, "degC", r"pit-left.*225 °C \(437 °F\).*core-1.*unit right"),
        # 110 °C taken for °F is 43 °C: by arithmetic.
        (110, 60, "degF", r"pit-left.*hardly rises above 43 °C"),
        (110, -35, "degC", r"core-1.*−35 °C"),
    ],
)
def test_values_in_the_wrong_unit_are_refused(
    book: Notebook, pit: int, core: int, unit: str, said: str
) -> None:
    # Digits that move, so that no probe counts as stuck or open.
    data = log("Ch1,Ch2", lambda i: f"{pit + (i % 5 - 2) / 10},{core + (i % 3 - 1) / 10}")
    with pytest.raises(DoubtError, match=said):
        take_in(book, TRIAL, "may", data, "a.csv", answered(data, PROBES, unit=unit))


def test_two_channels_are_not_one_probe(book: Notebook) -> None:
    both = answered(PIT, {"Ch1": "pit-left", "Ch2": "pit-left"}, unit="degC")
    with pytest.raises(JobError, match=r"'Ch1' and 'Ch2'.*two channels are two probes"):
        take_in(book, TRIAL, "may", PIT, "a.csv", both)
    # One after the other they may be: a plug that was moved to another socket.
    apart = log(
        "Ch1,Ch2",
        lambda i: f"{107 + i % 7}.0," if i < 100 else f",{107 + i % 7}.0",
    )
    answer = answered(apart, {"Ch1": "pit-left", "Ch2": "pit-left"}, unit="degC")
    taken = take_in(book, TRIAL, "may", apart, "a.csv", answer)
    assert [one.new for one in taken.probes] == [100, 140]
    np.testing.assert_array_equal(
        book.readings(TRIAL, "may", "pit-left").value_c, [107 + i % 7 for i in range(240)]
    )


def test_all_unknown_probes_are_named_at_once(book: Notebook) -> None:
    answer = answered(PIT, {}, unit="degC")
    with pytest.raises(JobError, match=r"'Ch1', 'Ch2'.*--probe 'Ch1=HANDLE' --probe 'Ch2=HANDLE'"):
        take_in(book, TRIAL, "may", PIT, "a.csv", answer)
    with pytest.raises(JobError, match=r"there is no probe 'p7'; known: core-1, core-2"):
        take_in(book, TRIAL, "may", PIT, "a.csv", replace(answer, probes={"Ch1": "p7", "Ch2": ""}))


def test_a_probe_in_the_mapping_names_it(book: Notebook) -> None:
    layout = recognise(PIT).answered({"unit": "degC"})
    content = layout.to_dict()
    content["columns"][1]["probe"] = "pit-left"
    content["columns"][2]["probe"] = "needle 1"
    answer = LayoutAnswer(type(layout).from_dict(json.loads(json.dumps(content))))
    taken = take_in(book, TRIAL, "may", PIT, "a.csv", answer)
    assert [one.probe for one in taken.probes] == ["pit-left", "core-1"]


def test_unplugged_cells_are_counted_and_the_zone_is_told(book: Notebook) -> None:
    data = log(
        "Ch1,Ch2", lambda i: f"{107 + i % 7},{10 + i / 10:.1f}" if i >= 3 else f"{107 + i % 7},OPEN"
    )
    taken = take_in(book, TRIAL, "may", data, "a.csv", answered(data, PROBES, unit="degC"))
    assert [one.open_probe for one in taken.probes] == [0, 3]
    assert "clocks of Europe/London, the cook's time zone" in str(taken.notes[0])
    other = log("Ch1,Ch2", lambda i: f"{107 + i % 9},{10 + i / 10:.1f}")
    answer = answered(other, PROBES, unit="degC", zone="Etc/GMT-1")
    told = take_in(book, TRIAL, "may", other, "b.csv", answer, why="its clock does not change")
    assert "clocks of Etc/GMT-1;" in str(told.notes[0])
    zulu = log("Ch1,Ch2", lambda i: f"{107 + i % 9},{10 + i / 10:.1f}", "2026-05-02T{}Z")
    assert (
        take_in(book, TRIAL, "may", zulu, "c.csv", answered(zulu, PROBES, unit="degC")).notes == ()
    )


def test_the_file_is_named_when_it_cannot_be_read(book: Notebook) -> None:
    answer = answered(PIT, PROBES, unit="degC")
    with pytest.raises(ValueError, match=r"^other.csv: line 1: the header is not the one"):
        take_in(book, TRIAL, "may", b"x,y\n1,2\n", "other.csv", answer)


def test_a_name_that_was_left_out_is_added_later(book: Notebook) -> None:
    first = take_in(
        book, TRIAL, "may", PIT, "a.csv", answered(PIT, {"Ch1": "pit-left", "Ch2": ""}, unit="degC")
    )
    both = answered(PIT, PROBES, unit="degC")
    second = take_in(book, TRIAL, "may", PIT, "a.csv", both)
    assert not second.already
    assert second.source.id == f"{first.source.id}-2"
    assert [(one.probe, one.new, one.repeated) for one in second.probes] == [
        ("pit-left", 0, 240),
        ("core-1", 240, 0),
    ]
    assert len(book.readings(TRIAL, "may", "pit-left")) == 240
    assert len(book.readings(TRIAL, "may", "core-1")) == 240
    before = book.digest()
    assert take_in(book, TRIAL, "may", PIT, "a.csv", both).already
    assert book.digest() == before
    assert book.check() == ()


@pytest.mark.parametrize(
    ("probes", "more", "said"),
    [
        ({"Ch1": "pit-right", "Ch2": "core-1"}, {}, r"'Ch1': pit-left in degC, now pit-right"),
        (PROBES, {"unit": "degF"}, r"'Ch1': pit-left in degC, now pit-left in degF"),
        (PROBES, {"zone": "Etc/GMT"}, r"zone: Europe/London, now Etc/GMT"),
    ],
)
def test_the_same_file_read_otherwise_is_refused(
    book: Notebook, probes: dict[str, str], more: dict[str, str], said: str
) -> None:
    take_in(book, TRIAL, "may", PIT, "a.csv", answered(PIT, PROBES, unit="degC"))
    before = book.digest()
    other = answered(PIT, probes, **({"unit": "degC"} | more))
    with pytest.raises(JobError, match=said + r".*strike source file-"):
        take_in(book, TRIAL, "may", PIT, "a.csv", other, why="it is so", anyway=True)
    assert book.digest() == before


def over_two_cooks() -> bytes:
    """Write 4 hours in the demo's cook of May, 4 in that of July, and one between the two."""

    def values(i: int) -> str:
        return f"{107 + i % 7},{10 + i / 10:.1f}"

    parts = [
        log("Ch1,Ch2", values),
        log("Ch1,Ch2", values, "2026-06-02 {}", 60),
        log("Ch1,Ch2", values, "2026-07-11 {}", 240),
    ]
    return b"".join([parts[0], *(part.split(b"\n", 1)[1] for part in parts[1:])])


def test_one_log_over_two_cooks_goes_to_each_its_own(book: Notebook, tmp_path: Path) -> None:
    data = over_two_cooks()
    answer = answered(data, PROBES, unit="degC")
    with pytest.raises(DoubtError, match=r"120 of 600 readings lie outside cook may"):
        take_in(book, TRIAL, "may", data, "a.csv", answer)
    may = take_in(book, TRIAL, "may", data, "a.csv", answer, anyway=True)
    assert may.left == {"july": 480}
    assert any(
        "480 of the file's readings lie in cook july and outside cook may" in str(note)
        for note in may.notes
    )
    assert [one.new for one in may.probes] == [300, 300]
    july = take_in(book, TRIAL, "july", data, "a.csv", answer, anyway=True)
    assert (july.left, july.already) == ({"may": 480}, False)
    assert {one.source.id.rsplit("-", 1)[1] for one in (may, july)} == {"may", "july"}
    with pytest.raises(JobError, match=r"none .* in cook october; 480 lie in cook may"):
        take_in(book, TRIAL, "october", PIT, "b.csv", answered(PIT, PROBES, unit="degC"))
    assert book.check() == ()
    export_notebook(book, tmp_path / "folder")
    with notebook_of_folder(tmp_path / "again.fairsmoke", tmp_path / "folder") as again:
        assert again.digest() == book.digest()


def test_what_stops_on_the_way_leaves_nothing(
    book: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = PIT.decode().replace("Ch1,Ch2", "Ch1 (°C),Ch2 (°C)").splitlines()
    data = "\n".join([*lines[:100], "Time,Ch1 (°F),Ch2 (°F)", *lines[100:]]).encode()
    answer = answered(data, PROBES)
    before = book.digest()
    add_blocks: Any = vars(notebook_intake)["add_blocks"]

    def killed(*given: Any) -> None:
        add_blocks(*given)
        raise KeyboardInterrupt

    monkeypatch.setattr(notebook_intake, "add_blocks", killed)
    with pytest.raises(KeyboardInterrupt):
        take_in(book, TRIAL, "may", data, "a.csv", answer, anyway=True)
    assert book.digest() == before
    monkeypatch.setattr(notebook_intake, "add_blocks", add_blocks)
    begun: list[Notebook] = []
    writing = Notebook.writing

    def counted(self: Notebook) -> Any:
        begun.append(self)
        return writing(self)

    monkeypatch.setattr(Notebook, "writing", counted)
    taken = take_in(book, TRIAL, "may", data, "a.csv", answer, anyway=True)
    assert (taken.already, [one.new for one in taken.probes]) == (False, [99, 141, 99, 141])
    assert taken.layout_was_new
    assert len(begun) == 1  # layout, source and all four stretches in one transaction
    assert len(book.readings(TRIAL, "may", "pit-left")) == 240
    assert take_in(book, TRIAL, "may", data, "a.csv", answer).already


def test_two_programs_do_not_take_one_file_in_twice(book: Notebook) -> None:
    answer = answered(PIT, PROBES, unit="degC")

    def meanwhile(*_: Any) -> tuple[()]:
        monkey.undo()
        take_in(book, TRIAL, "may", PIT, "a.csv", answer)
        return ()

    with pytest.MonkeyPatch.context() as monkey:
        monkey.setattr(take_in_module, "sources_of_file", meanwhile)
        with pytest.raises(JobError, match="by another program"):
            take_in(book, TRIAL, "may", PIT, "a.csv", answer)
    assert len(book.readings(TRIAL, "may", "pit-left")) == 240


def test_a_source_that_does_not_tell_how_it_was_read_counts_as_whole(book: Notebook) -> None:
    only = answered(PIT, {"Ch1": "pit-left", "Ch2": ""}, unit="degC")
    first = take_in(book, TRIAL, "may", PIT, "a.csv", only)
    book.correct(Source, first.source.id, {"mapping": ""}, trial=TRIAL, why="as if written by hand")
    other = answered(PIT, PROBES, unit="degC", zone="Etc/GMT")
    second = take_in(book, TRIAL, "may", PIT, "a.csv", other, why="its clock does not change")
    assert [one.new for one in second.probes] == [0, 240]
