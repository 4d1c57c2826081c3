"""Readings from devices: once, kept until they are named, flagged, put right."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import func, select
from tests.app.clients import TRIAL, Client
from tests.app.devices import NOW_COOK, batch, device, place, reading, send, start_cook

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import CHANNEL, WAITING_READING
from fairsmoke.trial.reading import Flag
from fairsmoke.trial.source import Source


@pytest.fixture
def token(book: Notebook) -> str:
    return device(book)


def values(book: Notebook, probe: str) -> list[float]:
    found: list[float] = book.readings(TRIAL, NOW_COOK, probe).value.tolist()
    return found


def waiting(book: Notebook) -> int:
    with book.reading() as connection:
        return int(connection.scalar(select(func.count()).select_from(WAITING_READING)) or 0)


def channel(book: Notebook, name: str) -> int:
    with book.reading() as connection:
        return int(connection.scalars(select(CHANNEL.c.id).where(CHANNEL.c.name == name)).one())


def test_a_batch_is_taken_once_whatever_is_repeated(
    book: Notebook, visitor: Client, cook: Client, token: str
) -> None:
    start = start_cook(book, probes=("grate",))
    at = [start + timedelta(minutes=m) for m in range(4)]
    first = batch(*(reading("pit", f"10{n}.50", at[n]) for n in range(3)))
    answer = send(visitor, token, first)
    assert answer.status_code == 200, answer.text
    said = answer.json()
    assert (said["readings"], said["new"], said["waiting"]) == (3, 0, 3)
    assert said["unnamed"] == ["pit"]
    assert send(visitor, token, first).json() == said
    other = {**first, "readings": first["readings"][:1]}
    assert send(visitor, token, other).status_code == 409
    # The same readings under another id, as from a device that lost its memory.
    again = send(visitor, token, {**first, "id": "another"}).json()
    assert (again["waiting"], again["repeated"]) == (0, 3)
    number = channel(book, "pit")
    assert cook.form(f"/readings/channels/{number}", probe="grate").status_code == 303
    assert (values(book, "grate"), waiting(book)) == ([100.5, 101.5, 102.5], 0)
    assert book.readings(TRIAL, NOW_COOK, "grate").decimals == 2
    last = send(visitor, token, batch(reading("pit", 103.5, at[3]), *first["readings"])).json()
    assert (last["new"], last["repeated"], last["unnamed"]) == (1, 3, [])
    assert values(book, "grate") == [100.5, 101.5, 102.5, 103.5]
    # One stream of one channel in one cook is one source; the notebook is whole.
    (source,) = book.list(Source, trial=TRIAL)
    assert source.file_name == "Logger by the door: pit"
    assert book.check() == ()


def test_who_may_send_and_what_is_refused(book: Notebook, visitor: Client, token: str) -> None:
    now = datetime.now(UTC)
    good = batch(reading("pit", 100, now))
    assert visitor.post("/api/readings", json=good).status_code == 403
    assert send(visitor, token + "x", good).status_code == 401
    for wrong in (
        batch(),
        batch({"channel": "pit", "value": 1}),
        batch({"channel": "pit", "value": 1, "at": "2026-05-02T21:00:00"}),
        batch({"channel": "pit", "value": 1, "at_ms": 5, "age_s": 5}),
        batch({"channel": "pit", "value": "1e3", "age_s": 5}),
        batch({"channel": "", "value": 1, "age_s": 5}),
        batch({"channel": "pit", "value": 1, "age_s": 5, "unit": "hot"}),
        {**good, "id": "two words"},
        batch(*[reading("pit", 1, now)] * 5001),
    ):
        assert send(visitor, token, wrong).status_code == 422, wrong
    assert waiting(book) == 0


def test_names_without_end_are_refused(visitor: Client, token: str) -> None:
    now = datetime.now(UTC)
    many = batch(*(reading(f"c{number}", 1, now) for number in range(65)))
    answer = send(visitor, token, many)
    assert answer.status_code == 422
    assert "64 channels" in answer.text


def test_a_clock_that_cannot_be_right_holds_readings_until_a_person_says(
    book: Notebook, visitor: Client, cook: Client, token: str
) -> None:
    start_cook(book, probes=("grate",))
    lost = datetime(1970, 1, 1, 0, 5, tzinfo=UTC)
    said = send(visitor, token, batch(reading("pit", 101, lost))).json()
    assert (said["held"], said["waiting"]) == (1, 0)
    number = channel(book, "pit")
    cook.form(f"/readings/channels/{number}", probe="grate")
    assert waiting(book) == 1
    # An hour behind: only what it sends as its own time shows that.
    now = datetime.now(UTC)
    behind = now - timedelta(hours=1)
    slow = batch(reading("pit", 102, behind), sent_at=behind.isoformat())
    answer = send(visitor, token, slow).json()
    assert answer["held"] == 1
    assert answer["clock_off_s"] == pytest.approx(3600, abs=5)
    assert cook.form(f"/readings/channels/{number}/clock", how="right").status_code == 303
    assert waiting(book) == 0
    there = book.readings(TRIAL, NOW_COOK, "grate")
    assert sorted(there.value.tolist()) == [101, 102]
    assert all(abs(ms / 1000 - now.timestamp()) < 10 for ms in there.time_ms.tolist())


def test_a_leap_is_flagged_kept_and_not_believed_and_a_wrong_probe_is_put_right(
    book: Notebook, visitor: Client, cook: Client, token: str
) -> None:
    start = start_cook(book, probes=("grate", "other"))
    place(book, "core-1", start, "room")
    place(book, "other", start)
    send(visitor, token, batch(reading("a", 60, start)))
    number = channel(book, "a")
    cook.form(f"/readings/channels/{number}", probe="grate")
    row = [110 + n % 2 for n in range(30)] + [999, 112, 110]
    at = [start + timedelta(minutes=5, seconds=20 * n) for n in range(len(row))]
    for when, value in zip(at, row, strict=True):
        send(visitor, token, batch(reading("a", value, when)))
    there = book.readings(TRIAL, NOW_COOK, "grate")
    opened = (there.flags & int(Flag.OPEN_PROBE)) != 0
    assert there.value[opened].tolist() == [999]
    assert there.value[-1] == 110
    assert bool(there.believed[-1])
    cook.form(f"/readings/channels/{number}", probe="other")
    assert values(book, "grate") == []
    assert values(book, "other") == there.value.tolist()
    assert book.check() == ()
    history = book.history(Source, trial=TRIAL)
    assert [one.struck for one in history] == [False, True, False]
    # What comes later goes to the right one, once.
    late = at[-1] + timedelta(seconds=20)
    assert send(visitor, token, batch(reading("a", 111, late))).json()["new"] == 1
    assert send(visitor, token, batch(reading("a", 111, late))).json()["repeated"] == 1
    assert values(book, "other")[-1] == 111


def test_readings_of_no_cook_wait_for_one(
    book: Notebook, visitor: Client, cook: Client, token: str
) -> None:
    now = datetime.now(UTC)
    send(visitor, token, batch(reading("pit", 100, now)))
    number = channel(book, "pit")
    cook.form(f"/readings/channels/{number}", probe="pit-1")
    assert waiting(book) == 1
    start_cook(book)
    send(visitor, token, batch(reading("pit", 101, now + timedelta(seconds=5))))
    cook.form(f"/readings/channels/{number}", probe="pit-1")
    assert values(book, "pit-1") == [100, 101]


def test_a_left_out_channel_is_not_kept_and_null_is_no_reading(
    book: Notebook, visitor: Client, cook: Client, token: str
) -> None:
    now = datetime.now(UTC)
    said = send(visitor, token, batch(reading("fan", None, now), reading("fan", 3, now))).json()
    assert (said["no_value"], said["waiting"]) == (1, 1)
    cook.form(f"/readings/channels/{channel(book, 'fan')}", probe="-")
    assert send(visitor, token, batch(reading("fan", 4, now))).json()["waiting"] == 0
    assert waiting(book) == 1
