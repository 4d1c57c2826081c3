"""Readings in blocks: kept exactly, found quickly, shown from every source that counts."""

import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fairsmoke.notebook import CorrectionError, Notebook, NotebookError
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.notebook.readings import BLOCK_READINGS, joined
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.source import Source

BY_HAND = Path(__file__).parent / "data" / "by-hand"
TRIAL, COOK = "paper-or-bare", "first-fire"
START_MS = 1_777_758_000_000


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("once") / "hall.db"
    notebook_of_folder(path, BY_HAND, by="Ada").close()
    return path


@pytest.fixture
def notebook(made_once: Path, tmp_path: Path) -> Iterator[Notebook]:
    path = Path(shutil.copy(made_once, tmp_path))
    with Notebook.open(path) as made:
        yield made


def made(
    raw: Sequence[int], unit: Any = "degC", decimals: int = 1, step_ms: int = 1000
) -> Readings:
    values = np.array(raw, dtype=np.int64)
    time_ms = START_MS + step_ms * np.arange(values.size, dtype=np.int64)
    return Readings(time_ms, values, decimals, unit, np.zeros(values.size, dtype=np.uint8))


def log(handle: str = "log-1", digit: str = "a") -> Source:
    return Source(
        id=handle,
        cook=COOK,
        file_name=f"{handle}.csv",
        sha256=digit * 64,
        taken_in=datetime(2026, 5, 3, 15, tzinfo=UTC),
        layout="l",
        rows_read=2,
        rows_good=2,
        rows_bad=0,
    )


def test_a_source_goes_in_once_with_all_its_probes(notebook: Notebook) -> None:
    long = made(range(3 * BLOCK_READINGS + 7))
    flags = long.flags.copy()
    flags[5] = int(Flag.JUMP)
    given = {"core-1": long.with_flags(flags), "pit-1": made([2500, 2490], "degF")}
    assert notebook.add_source(TRIAL, log(), given, by="Ada")
    before = notebook.digest()
    assert not notebook.add_source(TRIAL, log("log-2"), given)
    assert notebook.digest() == before
    assert notebook.source_of_file(TRIAL, COOK, "a" * 64) == "log-1"
    assert notebook.source_of_file(TRIAL, COOK, "b" * 64) is None
    record = notebook.load_trial(TRIAL)
    assert record.sources == (log(),)
    assert len(record.readings[(COOK, "core-1")]) == len(long) + 5
    spans = {(one.probe, one.source): one.n for one in notebook.spans(TRIAL)}
    assert spans == {
        ("core-1", None): 5,
        ("core-1", "log-1"): len(long),
        ("pit-1", None): 4,
        ("pit-1", "log-1"): 2,
    }
    assert notebook.check() == ()


def test_a_stretch_is_read_without_the_rest(notebook: Notebook) -> None:
    long = made(range(5 * BLOCK_READINGS))
    by_hand = notebook.readings(TRIAL, COOK, "core-1")
    notebook.add_source(TRIAL, log(), {"core-1": long})
    start, end = START_MS + 4_000_000, START_MS + 9_000_500
    found = notebook.readings(TRIAL, COOK, "core-1", start, end)
    assert found.same_as(Readings.joined([by_hand, long]).between(start, end))
    assert len(found) == 5001 + 1
    assert len(notebook.readings(TRIAL, COOK, "core-1", 0, 1)) == 0
    # The last reading of one block and the first of the next.
    for place in (BLOCK_READINGS - 1, BLOCK_READINGS):
        one_ms = START_MS + 1000 * place
        assert notebook.readings(TRIAL, COOK, "core-1", one_ms, one_ms + 1).raw[-1] == place
    assert len(notebook.readings(TRIAL, COOK, "pit-1", START_MS)) == 4
    assert len(notebook.readings(TRIAL, "nowhere", "pit-1")) == 0


def test_a_source_is_wholly_there_or_not_at_all(notebook: Notebook) -> None:
    before = notebook.digest()
    with pytest.raises(NotebookError, match=r"no probe 'core-9' .*core-1, pit-1"):
        notebook.add_source(TRIAL, log(), {"core-1": made([1]), "core-9": made([2])})
    with pytest.raises(NotebookError, match="no cook 'x'"):
        notebook.add_source(TRIAL, log().model_copy(update={"cook": "x"}), {})
    wild = Readings(np.array([2**60]), np.array([1]), 0, "degC", np.zeros(1, dtype=np.uint8))
    with pytest.raises(NotebookError, match="years 1900 to 2999"):
        notebook.add_source(TRIAL, log(), {"core-1": wild})
    assert notebook.digest() == before


def test_a_logger_whose_unit_was_switched_is_one_source(notebook: Notebook) -> None:
    later = made([2000], "degF").between(0, 2**62)
    notebook.add_source(TRIAL, log(), {"pit-1": (made([900, 910]), later)})
    (span,) = [one for one in notebook.spans(TRIAL) if one.source == "log-1"]
    assert span.n == 3
    assert sorted(notebook.readings(TRIAL, COOK, "pit-1", 0, START_MS + 2000).value) == [
        194,
        195.8,
        200,
    ]


def test_another_file_needs_another_handle(notebook: Notebook) -> None:
    notebook.add_source(TRIAL, log(), {"core-1": made([1])})
    with pytest.raises(NotebookError, match="'log-1' is another file"):
        notebook.add_source(TRIAL, log("log-1", "b"), {"core-1": made([1])})


def test_readings_of_a_struck_source_do_not_count_but_stay(notebook: Notebook) -> None:
    notebook.add_source(TRIAL, log(), {"core-1": made([500, 510])})
    notebook.strike("source", "log-1", why="of another cook", trial=TRIAL)
    assert len(notebook.readings(TRIAL, COOK, "core-1")) == 5
    assert len(notebook.load_trial(TRIAL).readings[(COOK, "core-1")]) == 5
    # The right file may then be taken in, even if it is the same.
    assert notebook.add_source(TRIAL, log("log-2"), {"core-1": made([500])})
    notebook.save(log(), trial=TRIAL, why="it was this cook after all")
    assert len(notebook.readings(TRIAL, COOK, "core-1")) == 5 + 2 + 1


def test_readings_are_loaded_when_looked_at(notebook: Notebook) -> None:
    lazy = notebook.load_trial(TRIAL, lazy=True).readings
    eager = notebook.load_trial(TRIAL).readings
    assert list(lazy) == list(eager) == [(COOK, "core-1"), (COOK, "pit-1")]
    assert all(lazy[key].same_as(eager[key]) for key in eager)
    assert lazy[(COOK, "core-1")] is lazy[(COOK, "core-1")]
    with pytest.raises(KeyError):
        _ = lazy[(COOK, "core-2")]


def test_readings_that_grow_are_added_behind(notebook: Notebook) -> None:
    notebook.add_source(TRIAL, log(), {"core-1": made([1, 2])})
    assert notebook.add_readings(TRIAL, COOK, {"core-1": made([3])}, source="log-1") == 1
    assert notebook.add_readings(TRIAL, COOK, {"core-1": made([])}) == 0
    with pytest.raises(NotebookError, match=r"no source 'log-9' .*log-1"):
        notebook.add_readings(TRIAL, COOK, {"core-1": made([3])}, source="log-9")
    numbers = {(one.source, one.n) for one in notebook.spans(TRIAL) if one.probe == "core-1"}
    assert numbers == {(None, 5), ("log-1", 3)}
    assert notebook.check() == ()


def test_readings_in_the_notebook_never_change(notebook: Notebook) -> None:
    record = notebook.load_trial(TRIAL)
    readings = dict(record.readings)
    readings[(COOK, "core-1")] = made([1])
    with pytest.raises(CorrectionError, match="never changed: leave some out with an exclusion"):
        notebook.save_trial(type(record)(**{**vars(record), "readings": readings}))


def test_a_damaged_block_is_never_shown(notebook: Notebook) -> None:
    notebook.settle()
    with closing(sqlite3.connect(notebook.path)) as raw:
        raw.execute("DROP TRIGGER keep_reading_block_update")
        raw.execute("UPDATE reading_block SET decimals = decimals + 1 WHERE probe = 'core-1'")
        raw.commit()
    with pytest.raises(
        NotebookError, match=r"probe 'core-1' in cook 'first-fire', block .*checksum"
    ):
        notebook.readings(TRIAL, COOK, "core-1")
    assert any("damaged" in str(problem) for problem in notebook.check())


def test_units_are_joined_without_losing_a_digit() -> None:
    # Exact definitions: °F = 1.8 °C + 32, °C = K - 273.15 (NIST SP 811, B.8; from memory).
    celsius, fahrenheit, kelvin = made([935]), made([203], "degF", 0), made([30000], "K", 2)
    both = joined([celsius, kelvin])
    assert (both.unit, both.decimals, both.raw.tolist()) == ("degC", 2, [9350, 2685])
    all_three = joined([celsius, fahrenheit, kelvin])
    assert (all_three.unit, all_three.decimals) == ("degF", 3)
    # 93.5 °C = 200.3 °F; 26.85 °C = 80.33 °F
    assert all_three.raw.tolist() == [200300, 203000, 80330]
    assert joined([celsius]).unit == "degC"
    with pytest.raises(NotebookError, match="strike out one"):
        joined([made([1], "degC", 9), made([1], "degF", 9)])
    with pytest.raises(NotebookError, match="strike out one"):
        joined([made([2**62], "degC", 0), made([1], "degC", 9)])
