"""Readings that arrive one by one: each once, in order, the same before and after packing."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from fairsmoke.notebook import Notebook, NotebookError
from fairsmoke.notebook.folder.transfer import export_notebook, notebook_of_folder
from fairsmoke.trial.reading import Readings, ReadingUnit

DATA = Path(__file__).parent / "data" / "by-hand"
TRIAL, COOK = "paper-or-bare", "first-fire"
START = 1_790_000_000_000


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with notebook_of_folder(tmp_path / "hall.db", DATA) as notebook:
        yield notebook


def one(second: int, raw: int, decimals: int = 0, unit: ReadingUnit = "degF") -> Readings:
    time_ms = np.array([START + 1000 * second], dtype=np.int64)
    flags = np.zeros(1, dtype=np.uint8)
    return Readings(time_ms, np.array([raw], dtype=np.int64), decimals, unit, flags)


def send(book: Notebook, *readings: Readings) -> list[int]:
    return [book.append_readings(TRIAL, COOK, {"pit-1": reading}) for reading in readings]


def later(book: Notebook) -> list[float]:
    return [float(one) for one in book.readings(TRIAL, COOK, "pit-1", START).value]


def test_they_come_out_in_order_of_time_with_what_was_there(book: Notebook) -> None:
    before = len(book.readings(TRIAL, COOK, "pit-1"))
    assert send(book, one(3, 253), one(1, 251), one(2, 252)) == [1, 1, 1]
    assert later(book) == [251, 252, 253]
    assert len(book.readings(TRIAL, COOK, "pit-1")) == before + 3
    (span,) = [span for span in book.spans(TRIAL) if span.probe == "pit-1"]
    assert (span.n, span.end_ms) == (before + 3, START + 3000)
    assert len(book.load_trial(TRIAL).readings[(COOK, "pit-1")]) == before + 3
    assert book.check() == ()


def test_sent_again_is_the_same_reading_before_and_after_packing(book: Notebook) -> None:
    assert send(book, one(1, 251), one(1, 251), one(1, 260)) == [1, 0, 1]
    assert book.fold(1) == 2
    assert send(book, one(1, 251), one(1, 260), one(1, 2510, decimals=1)) == [0, 0, 1]
    assert sorted(later(book)) == [251, 251, 260]


def test_packing_changes_nothing_that_anyone_sees(book: Notebook, tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    for second in rng.permutation(60).tolist():
        decimals = second % 3
        unit: ReadingUnit = "degC" if second % 7 == 0 else "degF"
        send(book, one(second, 250 * 10**decimals + second, decimals, unit))
    digest, seen, spans = book.digest(), later(book), book.spans(TRIAL)
    export_notebook(book, tmp_path / "loose")
    assert book.fold(61) == 0
    assert book.fold() == 0
    assert book.fold(60) == 60
    assert (book.digest(), later(book)) == (digest, seen)
    assert set(book.spans(TRIAL)) == set(spans)
    assert book.check() == ()
    export_notebook(book, tmp_path / "packed")
    name = Path(TRIAL) / "readings" / COOK / "pit-1.csv"
    assert (tmp_path / "loose" / name).read_bytes() == (tmp_path / "packed" / name).read_bytes()
    with notebook_of_folder(tmp_path / "again.db", tmp_path / "loose") as again:
        assert again.digest() == digest


def test_a_struck_out_cook_hides_them(book: Notebook) -> None:
    send(book, one(1, 251))
    with book.transaction(by="Ada") as transaction:
        assert transaction.append_readings(TRIAL, COOK, {"pit-1": one(2, 252)}) == 1
    with pytest.raises(NotebookError, match="readings in cook 'first-fire'"):
        book.strike("probe", "pit-1", why="test")


def test_where_they_belong_must_be_there(book: Notebook) -> None:
    with pytest.raises(NotebookError, match=r"no probe 'pit-9' \(known"):
        book.append_readings(TRIAL, COOK, {"pit-9": one(1, 1)})
    with pytest.raises(NotebookError, match="no cook 'no-fire'"):
        book.append_readings(TRIAL, "no-fire", {"pit-1": one(1, 1)})
    with pytest.raises(NotebookError, match="set the clock of what sends them"):
        book.append_readings(TRIAL, COOK, {"pit-1": one(10**11, 1)})


def test_the_database_refuses_to_lose_or_change_one(book: Notebook) -> None:
    send(book, one(1, 251))
    with closing(sqlite3.connect(book.path)) as raw:
        with pytest.raises(sqlite3.IntegrityError, match="leaves only into a block"):
            raw.execute("DELETE FROM loose_reading")
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            raw.execute("UPDATE loose_reading SET raw = 1")


def test_counts_by_cook_are_those_of_the_records(book: Notebook) -> None:
    record = book.load_trial(TRIAL)
    counts = book.counts(TRIAL)
    assert counts[COOK]["event"] == sum(event.cook == COOK for event in record.events)
    assert counts[COOK]["piece"] == sum(piece.cook == COOK for piece in record.pieces)


def test_a_transaction_is_whole_or_nothing(book: Notebook) -> None:
    before = book.digest()

    def half() -> None:
        with book.transaction() as transaction:
            transaction.append_readings(TRIAL, COOK, {"pit-1": one(1, 251)})
            transaction.strike("event", "first-fire-event-1", why="", trial=TRIAL)

    with pytest.raises(NotebookError, match="say why"):
        half()
    assert book.digest() == before
