"""Logger files: taken in on screen, read as they grow."""

import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from tests.app.clients import TRIAL, Client
from tests.app.devices import NOW_COOK, place, start_cook
from tests.app.server import Server

from fairsmoke.arriving.watched_files import whole_lines
from fairsmoke.notebook import Notebook
from fairsmoke.trial.source import Source


def log(start: datetime, rows: int, *, header: str = "Zeit;Grill;Kern", step_s: int = 30) -> str:
    """Return a logger's file: dates that leave their order open, no unit."""
    lines = [header]
    for row in range(rows):
        at = start + timedelta(seconds=step_s * row)
        lines.append(f"{at:%d/%m/%Y %H:%M:%S};{105 + row % 3},5;{40 + row // 10},0")
    return "\n".join(lines) + "\n"


def send(cook: Client, content: bytes, name: str = "log.csv", to: str = ""):  # type: ignore[no-untyped-def]
    return cook.post(
        "/readings/files",
        data={"csrf": cook.csrf_token, "cook": to or f"{TRIAL}/{NOW_COOK}"},
        files={"file": (name, content, "text/csv")},
        follow_redirects=False,
    )


@pytest.fixture
def start(book: Notebook) -> datetime:
    begun = start_cook(book, probes=("grate", "core"))
    place(book, "grate", begun)
    # By the clocks of the cook, on a day whose number may be a month's too.
    return begun


def test_a_file_is_asked_about_confirmed_taken_in_and_taken_back(
    book: Notebook, cook: Client, start: datetime
) -> None:
    local = start.astimezone(ZoneInfo("Europe/London"))
    content = log(local, 120).encode()
    answer = send(cook, content)
    assert answer.status_code == 303, answer.text
    page = answer.headers["location"]
    first = cook.get(page)
    assert "In which unit" in first.text
    assert "Take it in<" not in first.text
    fields = {"answer:unit": "degC", "answer:date_order": "day-month-year"}
    if "answer:date_order" not in first.text:
        del fields["answer:date_order"]
    asked = cook.form(page, do="look", **fields)
    assert "is read as" in asked.text
    assert "Say which probe each name is" in asked.text
    named = {**fields, "probe:Grill": "grate", "probe:Kern": "-"}
    ready = cook.form(page, do="look", **named)
    assert ">Take it in</button>" in ready.text
    taken = cook.form(page, do="take", **named)
    assert "120 rows: 120 read" in taken.text
    there = book.readings(TRIAL, NOW_COOK, "grate")
    assert there.value[:3].tolist() == [105.5, 106.5, 107.5]
    assert there.time_ms[0] == int(start.timestamp() * 1000)
    (source,) = book.list(Source, trial=TRIAL)
    # Laid out alike, no question is asked again; the same file adds nothing.
    again = send(cook, content).headers["location"]
    assert ">Take it in</button>" in cook.get(again).text
    assert "was taken in before" in cook.form(again, do="take").text
    gone = cook.form(f"/readings/sources/{TRIAL}/{source.id}/strike", why="wrong probe")
    assert gone.status_code == 303
    assert len(book.readings(TRIAL, NOW_COOK, "grate")) == 0
    # And again, with what is right.
    page = send(cook, content).headers["location"]
    right = {"probe:Grill": "core", "probe:Kern": "-", "why": "the channels were mixed up"}
    assert "120 rows" in cook.form(page, do="take", **right).text
    assert len(book.readings(TRIAL, NOW_COOK, "core")) == 120


def test_what_hardly_belongs_is_doubted_and_may_be_insisted_on(
    book: Notebook, cook: Client, start: datetime
) -> None:
    content = "time,grate degC\n2019-07-13 10:00,110\n2019-07-13 10:01,111\n"
    page = send(cook, content.encode()).headers["location"]
    fields = {"probe:grate": "grate"}
    doubted = cook.form(page, do="take", **fields)
    assert doubted.status_code == 422
    assert "It hardly belongs to this cook" in doubted.text
    assert "--anyway" not in doubted.text
    assert "Taken in." in cook.form(page, do="take", anyway="yes", **fields).text
    assert len(book.readings(TRIAL, NOW_COOK, "grate")) == 2


def test_what_is_refused_says_why(
    cook: Client, sign_in: Callable[..., Client], start: datetime
) -> None:
    picture = send(cook, b"\x89PNG\r\n\x1a\n\x00\x00").headers["location"]
    refused = cook.get(picture)
    assert (refused.status_code, "Nothing was taken in" in refused.text) == (422, True)
    assert send(cook, b"").status_code == 422
    assert send(cook, b"a,b\n", to="no/cook").status_code == 422
    assert cook.get("/readings/files/none").status_code == 404
    assert sign_in("helper", "Hal").get("/readings/files").status_code == 403
    # Somebody else's file is nobody's.
    assert sign_in("cook", "Other").get(picture).status_code == 404


def test_only_whole_lines_of_a_growing_file_count(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    for text, whole in (("", ""), ("a", ""), ("a\nb", "a\n"), ("a\r\nb\r\n12:0", "a\r\nb\r\n")):
        path.write_text(text, newline="")
        assert whole_lines(path).decode() == whole
    for codec in ("utf-16-le", "utf-16-be"):
        mark = "\ufeff".encode(codec)
        # U+0A0A and U+000A: a byte 0x0A alone is no line break.
        path.write_bytes(mark + "a\u0a0a\nb\u0a00".encode(codec))
        assert whole_lines(path) == mark + "a\u0a0a\n".encode(codec)


def until(found: Callable[[], object], what: object) -> None:
    for _ in range(150):
        if found() == what:
            return
        time.sleep(0.2)
    assert found() == what


def test_a_growing_file_is_read_once_whatever_happens(server: Server, tmp_path: Path) -> None:
    """Lines come one by one, half ones too, the app is killed: each line is there once."""
    folder = tmp_path / "logger"
    folder.mkdir()
    server.watch = folder
    with Notebook.open(server.notebook) as book:
        start = start_cook(book, probes=("grate",))
    server.start()
    client = server.client()
    path = folder / "pit.csv"

    def line(number: int) -> str:
        return f"{(start + timedelta(seconds=number)).isoformat()},{100 + number}.5\n"

    def values() -> list[float]:
        with Notebook.open(server.notebook) as book:
            found: list[float] = book.readings(TRIAL, NOW_COOK, "grate").value.tolist()
            return found

    def form(at: str, **fields: str):  # type: ignore[no-untyped-def]
        mark = client.headers["X-CSRF-Token"]
        return client.post(at, data={"csrf": mark, **fields})

    path.write_text("time,grate °C\n" + line(0) + line(1) + line(2)[:-3])
    answer = form("/readings/folder", cook=f"{TRIAL}/{NOW_COOK}", file="pit.csv")
    assert answer.status_code == 303, answer.text
    page = answer.headers["location"]
    taken = form(page, do="take", **{"probe:grate": "grate"})
    assert taken.status_code == 303, taken.text
    until(values, [100.5, 101.5])
    with path.open("a") as file:
        file.write(line(2)[-3:] + line(3))
    until(values, [100.5 + n for n in range(4)])
    server.kill()
    with path.open("a") as file:
        file.write(line(4) + line(5)[:7])
    server.start()
    until(values, [100.5 + n for n in range(5)])
    client.close()
    client = server.client()
    assert "pit.csv" in client.get("/readings").text
    # The next file of the same layout needs no question while one cook is on.
    with Notebook.open(server.notebook) as book:
        assert book.list(Source, trial=TRIAL)[0].file_name == "pit.csv: grate"
        assert book.check() == ()
    other = {"cook": f"{TRIAL}/{NOW_COOK}", "file": "../live.db"}
    assert form("/readings/folder", **other).status_code == 404
    (folder / "next.csv").write_text("time,grate °C\n" + line(60) + line(61))
    until(values, [*(100.5 + n for n in range(5)), 160.5, 161.5])
    client.close()
