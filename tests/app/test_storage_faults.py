"""A full disk or a busy file is nobody's fault: what was sent is asked for again, never refused."""

import asyncio
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import event
from tests.app.clients import COOK, TRIAL, Client, event_entry
from tests.app.devices import NOW_COOK, batch, device, place, reading, send, start_cook

from fairsmoke.app.supervisor import Supervisor
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.known_layouts import LayoutAnswer
from fairsmoke.arriving.watched_files import WatchedFile, Watcher
from fairsmoke.arriving.writer import Writer
from fairsmoke.intake.layout import FileColumn
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.notebook import Notebook
from fairsmoke.trial.reading import Readings

# The English of SQLite's result codes FULL, IOERR, BUSY, READONLY, CANTOPEN and CORRUPT: SQLite,
# "Result and Error Codes" and sqlite3_errstr (from memory).
SAID = (
    "database or disk is full",
    "disk I/O error",
    "database is locked",
    "attempt to write a readonly database",
    "unable to open database file",
    "database disk image is malformed",
)


@contextmanager
def faulty(book: Notebook, said: str) -> Iterator[None]:
    """Let every write of the notebook fail as the disk would have it."""

    def fail(connection, cursor, statement, *_):  # type: ignore[no-untyped-def]
        if statement.lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE")):
            raise sqlite3.OperationalError(said)

    event.listen(book._engine, "before_cursor_execute", fail)
    try:
        yield
    finally:
        event.remove(book._engine, "before_cursor_execute", fail)


@pytest.mark.parametrize("said", SAID)
def test_an_entry_is_asked_for_again_and_is_there_once_there_is_room(
    book: Notebook, cook: Client, said: str
) -> None:
    entry = event_entry(str(uuid.uuid4()))
    before = len(book.list("event", trial=TRIAL))
    with faulty(book, said):
        answer = cook.send_json("/api/entries", entry)
    assert (answer.status_code, answer.json()["error"]["code"]) == (503, "storage")
    assert int(answer.headers["Retry-After"]) > 0
    # Where the notebook lies on the machine is nobody's business on a phone.
    assert str(book.path.parent) not in answer.text
    assert cook.send_json("/api/entries", entry).status_code == 200
    assert len(book.list("event", trial=TRIAL)) == before + 1


def test_what_is_wrong_in_itself_is_still_refused(cook: Client) -> None:
    entry = event_entry(str(uuid.uuid4()), cook="no-such-cook")
    assert cook.send_json("/api/entries", entry).status_code == 422


def test_a_device_sends_its_batch_again(book: Notebook, visitor: Client) -> None:
    start = start_cook(book, probes=("grate",))
    token = device(book)
    sent = batch(reading("pit", "107.5", start))
    with faulty(book, "database or disk is full"):
        answer = send(visitor, token, sent)
    assert answer.status_code == 503
    assert send(visitor, token, sent).json()["readings"] == 1


@pytest.mark.parametrize(("at_ms", "status"), [(2**53, 422), (-(2**53), 422), (0, 200)])
def test_a_clock_that_shows_no_time_does_not_reach_the_readings_page(
    book: Notebook, visitor: Client, cook: Client, at_ms: int, status: int
) -> None:
    start_cook(book, probes=("grate",))
    sent = batch({"channel": "pit", "value": "107.5", "at_ms": at_ms})
    assert send(visitor, device(book), sent).status_code == status
    assert cook.get("/readings").status_code == 200


@pytest.mark.parametrize("year", ["0001", "2016", "2126", "9999"])
def test_a_reading_by_hand_with_a_wrong_year_is_asked_about(cook: Client, year: str) -> None:
    entry = {
        "id": str(uuid.uuid4()),
        "kind": "reading",
        "trial": TRIAL,
        "cook": COOK,
        "probe": "pit-1",
        "at": f"{year}-05-03T04:00:00+01:00",
        "value": "107",
        "unit": "degC",
    }
    assert cook.send_json("/api/entries", entry).status_code == 422
    assert cook.get(f"/trials/{TRIAL}/curves").status_code == 200


def test_one_watched_file_never_stops_another(
    book: Notebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    start = start_cook(book, probes=("grate",))
    place(book, "grate", start)
    layout = Layout(columns=(FileColumn(use="time"), FileColumn(use="value", probe="grate")))
    watches = [
        WatchedFile(1, tmp_path / "struck.csv", TRIAL, "gone", LayoutAnswer(layout, {}, None)),
        WatchedFile(2, tmp_path / "odd.csv", TRIAL, NOW_COOK, LayoutAnswer(layout, {}, None)),
        WatchedFile(3, tmp_path / "good.csv", TRIAL, NOW_COOK, LayoutAnswer(layout, {}, None)),
    ]
    for one in watches:
        one.path.write_text("time,grate degC\n")
    hub = Hub()
    watcher = Watcher(book, Writer(book, hub), hub, None, 10**6)
    monkeypatch.setattr("fairsmoke.arriving.watched_files.active", lambda _: watches)
    read: list[str] = []

    def looked(watch: WatchedFile, _: object) -> None:
        read.append(watch.path.name)
        if watch.path.name == "odd.csv":
            raise KeyError("a column that nobody thought of")
        raise ValueError

    monkeypatch.setattr(watcher, "_read", looked)
    asyncio.run(watcher.look())
    assert read == ["odd.csv", "good.csv"]
    assert "there is no cook 'gone'" in str(watcher.looked[1].wrong)
    assert "nobody thought of" in str(watcher.looked[2].wrong)


def test_a_background_task_that_fails_is_started_again_and_its_state_is_told() -> None:
    supervisor = Supervisor(waits_s=(0.0,))
    runs: list[datetime] = []

    async def fails_twice() -> None:
        runs.append(datetime.now(UTC))
        if len(runs) < 3:
            raise RuntimeError("the broker's answer was odd")
        await asyncio.sleep(60)

    async def whole() -> None:
        supervisor.add("broker", fails_twice)
        async with supervisor.running():
            while len(runs) < 3:
                await asyncio.sleep(0)

    asyncio.run(asyncio.wait_for(whole(), 10))
    (task,) = supervisor.tasks
    assert (task.failures, task.why) == (2, "")
    assert task.since - runs[-1] < timedelta(seconds=1)


@pytest.mark.parametrize("at_ms", [-(2**40), 4_070_908_800_000])
def test_a_reading_far_off_that_was_kept_before_hides_no_curve(
    book: Notebook, cook: Client, at_ms: int
) -> None:
    one = Readings(
        np.array([at_ms], dtype=np.int64),
        np.array([107], dtype=np.int64),
        0,
        "degC",
        np.zeros(1, dtype=np.uint8),
    )
    before = cook.get(f"/trials/{TRIAL}/curves?cook={COOK}").text
    book.append_readings(TRIAL, COOK, {"pit-1": one})
    after = cook.get(f"/trials/{TRIAL}/curves?cook={COOK}")
    assert after.status_code == 200
    assert after.text.count("<tr") == before.count("<tr")
    assert cook.get(f"/trials/{TRIAL}/cooks/{COOK}/curves.csv").status_code == 200
