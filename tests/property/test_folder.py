"""A notebook goes out to a folder and comes back the same, whatever was recorded."""

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tests.property.record_strategies import (
    KITCHENS,
    LAYOUTS,
    TEXTS,
    WILD,
    ZONES,
    readings,
    sources,
    trial_records,
)

from fairsmoke.notebook import FolderError, FolderProblem, Notebook
from fairsmoke.notebook.folder.files import from_file_form
from fairsmoke.notebook.folder.readings_csv import read_readings, write_readings
from fairsmoke.notebook.folder.rows import RowReader
from fairsmoke.notebook.folder.transfer import export_notebook, notebook_of_folder, read_folder
from fairsmoke.notebook.folder.writing import file_form
from fairsmoke.notebook.folder.yaml_text import read_yaml, write_yaml
from fairsmoke.notebook.photos import Photo, add_photo, photo_of, photos_of, pictures_of
from fairsmoke.notebook.readings import Series
from fairsmoke.trial.base import Record
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord

SLOW = settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def every_record(trial: TrialRecord) -> list[Record]:
    found: list[Record] = [trial.trial]
    for value in vars(trial).values():
        if isinstance(value, tuple):
            found += value
    return found + ([trial.registration] if trial.registration else [])


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(trial_records(), ZONES)
def test_every_record_reads_back_from_its_file_form(trial: TrialRecord, zone: str) -> None:
    assert trial.problems() == []
    for record in every_record(trial):
        file: list[Any] = []
        marked = read_yaml(write_yaml(file_form(record, ZoneInfo(zone))), "f", file)
        assert file == []
        assert marked is not None
        assert from_file_form(type(record), marked.value, None) == record


ANY_TEXT = WILD | TEXTS
TREES = st.recursive(
    ANY_TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(ANY_TEXT, inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(ANY_TEXT, TREES, max_size=4))
def test_text_stays_the_same_text_in_yaml(content: dict[str, Any]) -> None:
    problems: list[Any] = []
    marked = read_yaml(write_yaml(content), "f", problems)
    assert problems == []
    assert marked is not None
    assert marked.value == content


@settings(max_examples=100, deadline=None)
@given(st.lists(readings(60), min_size=1, max_size=4), ZONES)
def test_readings_come_back_from_csv(parts: list[Readings], zone_name: str) -> None:
    zone = ZoneInfo(zone_name)
    series = [Series("c", "p", f"file-{n}" if n else None, part) for n, part in enumerate(parts)]
    content = write_readings(series, zone)
    problems: list[Any] = []
    found = read_readings(content, "f", ("c", "p"), zone, problems)
    assert problems == []
    assert [one.source for one in found] == [one.source for one in series]
    for one, other in zip(series, found, strict=True):
        assert one.readings.same_as(other.readings)
    # The row-by-row reader and the quick one must say the same.
    rows = RowReader("f", zone, problems).read(content)
    assert problems == []
    assert len(rows.time_ms) == sum(len(part) for part in parts)
    assert sorted(rows.time_ms) == sorted(time for part in parts for time in part.time_ms)


# The first bytes of a JPEG (ITU-T T.81), a PNG (ISO/IEC 15948) and a WebP (RFC 9649).
MARKS = (b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"RIFF\x10\0\0\0WEBP")
PICTURES = st.tuples(st.sampled_from(MARKS), st.binary(max_size=40)).map(b"".join)
MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))


def photos_in(notebook: Notebook, trial: str) -> tuple[tuple[Photo, ...], dict[str, bytes]]:
    with notebook.reading() as connection:
        return photos_of(connection, trial), dict(pictures_of(connection, trial))


@st.composite
def lived_in(draw: st.DrawFn) -> tuple[Any, ...]:
    """What it takes to fill a notebook: two trials, files, corrections, strikings."""
    first = draw(trial_records())
    second = draw(trial_records("hold-long"))
    cook = first.cooks[0].id
    files = [draw(sources(f"log-{n}", cook, f"{n:064x}")) for n in range(2)]
    series = [
        {"core-1": draw(readings(20, 10**9, 6)), "pit-1": draw(readings(5, 10**9, 6))} for _ in "ab"
    ]
    events = [(one.trial.id, event.id) for one in (first, second) for event in one.events]
    taken = st.tuples(st.sampled_from(events), PICTURES, ANY_TEXT, MOMENTS)
    photos = draw(st.lists(taken, max_size=6)) if events else []
    return draw(KITCHENS), draw(LAYOUTS), first, second, files, series, photos


def filled(path: Path, drawn: tuple[Any, ...]) -> Notebook:
    kitchen, layout, first, second, files, series, photos = drawn
    notebook = Notebook.create(path, kitchen)
    notebook.save(layout, by="Ada")
    notebook.save_trial(first, by="Ada")
    # The shared things of both trials have the same handles but their own words.
    notebook.save_trial(second, by="Ben", why="another hand")
    own = first.trial.id
    for source, one in zip(files, series, strict=True):
        notebook.add_source(own, source, one)
    with notebook.writing() as connection:
        for (trial, event), picture, by, at in photos:
            add_photo(connection, trial, photo_of(event, picture, by, at), picture)
    notebook.add_readings(own, first.cooks[0].id, {"pit-1": series[0]["core-1"]})
    notebook.correct("cook", first.cooks[0].id, {"name": "renamed"}, why="it was wrong", trial=own)
    notebook.correct("trial", own, {"note": "seen twice"}, why="ärger: yes", by="no")
    notebook.strike("source", "log-1", why="of another cook", trial=own)
    notebook.strike("exclusion", "out-2", why="it counts after all", trial=own)
    notebook.strike("taster", "t-1", why="left") if not (first.ballots or second.ballots) else None
    notebook.strike("trial", second.trial.id, why="never mind")
    return notebook


@SLOW
@given(lived_in())
def test_a_notebook_comes_back_identical(drawn: tuple[Any, ...]) -> None:
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        with filled(root / "a.db", drawn) as notebook:
            export_notebook(notebook, root / "out")
            with notebook_of_folder(root / "b.db", root / "out") as again:
                assert again.digest() == notebook.digest()
                assert again.check() == ()
                own = drawn[2].trial.id
                for trial in ("", own, drawn[3].trial.id):
                    assert again.history(trial=trial) == notebook.history(trial=trial)
                    assert photos_in(again, trial) == photos_in(notebook, trial)
                before, after = notebook.load_trial(own), again.load_trial(own)
                assert every_record(before) == every_record(after)
                assert before.readings.keys() == after.readings.keys()
                assert all(before.readings[k].same_as(after.readings[k]) for k in after.readings)


def problems_of(folder: Path) -> tuple[FolderProblem, ...]:
    try:
        read_folder(folder)
    except FolderError as error:
        return error.problems or (FolderProblem("", None, "", ""),)
    return ()


@SLOW
@given(lived_in(), st.data())
def test_a_spoilt_folder_is_refused_in_words(drawn: tuple[Any, ...], data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        with filled(root / "a.db", drawn) as notebook:
            export_notebook(notebook, root / "out")
        files = sorted(p for p in (root / "out").rglob("*") if p.suffix in (".yaml", ".csv"))
        for _ in range(8):
            path = data.draw(st.sampled_from(files))
            content = path.read_bytes()
            assume(content)
            at = data.draw(st.integers(0, len(content) - 1))
            junk = data.draw(st.sampled_from([b"", b"x", b"\xff", b"\n", b": [", b"'", b"-", b"9"]))
            path.write_bytes(content[:at] + junk + content[at + 1 :])
            problems = problems_of(root / "out")
            assert all(problem.message for problem in problems)
            path.write_bytes(content)
