"""The way of one posted reading through the house is short, and docs/architecture.md lists it."""

import re
import sys
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from types import FrameType

import pytest
from tests.app.clients import TRIAL, Client
from tests.app.devices import NOW_COOK, batch, device, place, reading, send, start_cook

import fairsmoke
from fairsmoke.app.auth import KnownDevices
from fairsmoke.notebook import Notebook

HOUSE = Path(fairsmoke.__file__).parent
PAGE = Path(__file__).parents[2] / "docs" / "architecture.md"
MOST = 22


class Trace:
    """The files of the house in which something runs while ``on``, in every thread."""

    def __init__(self) -> None:
        self.on = False
        self.files: set[str] = set()

    def __call__(self, frame: FrameType, event: str, _: object) -> None:
        if self.on and event == "call":
            path = Path(frame.f_code.co_filename)
            if path.is_relative_to(HOUSE):
                self.files.add(path.relative_to(HOUSE).as_posix())


@pytest.fixture
def trace() -> Iterator[Trace]:
    made = Trace()
    threading.setprofile(made)
    sys.setprofile(made)
    yield made
    sys.setprofile(None)
    threading.setprofile(None)


def test_a_reading_passes_few_files_and_each_is_listed(
    trace: Trace,
    book: Notebook,
    visitor: Client,
    cook: Client,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # However slow the machine: the device is known from its first post.
    monkeypatch.setattr(KnownDevices, "MOMENT_S", 3600.0)
    start = start_cook(book, probes=("grate",))
    place(book, "grate", start, "pit")
    token = device(book)
    send(visitor, token, batch(reading("Pit", "107.5", start)))
    assert cook.form("/readings/channels/1", probe="grate").status_code == 303
    trace.on = True
    answer = send(visitor, token, batch(reading("Pit", "108.5", start + timedelta(minutes=1))))
    trace.on = False
    assert answer.status_code == 200, answer.text
    assert len(book.readings(TRIAL, NOW_COOK, "grate")) == 2
    listed = set(re.findall(r"^\d+\. `([^`]+)`", PAGE.read_text(encoding="utf-8"), re.MULTILINE))
    assert trace.files <= listed, trace.files - listed
    assert len(listed) <= MOST
