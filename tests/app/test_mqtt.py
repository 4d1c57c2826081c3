"""Readings by MQTT, with Debian's mosquitto on loopback as the broker."""

import asyncio
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from uuid import uuid4

import aiomqtt
import pytest
from sqlalchemy import insert
from tests.app.clients import TRIAL
from tests.app.devices import NOW_COOK, start_cook
from tests.app.server import Server

from fairsmoke.arriving.broker import Broker, keep_broker
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import CHANNEL
from fairsmoke.notebook.folder.transfer import export_notebook

PASSWORD = "kettle-sixteen-lids"


class Mosquitto:
    """A broker that asks for a user and a password."""

    def __init__(self, folder: Path) -> None:
        found = shutil.which("mosquitto", path="/usr/sbin:/usr/bin:/usr/local/sbin")
        if found is None:
            pytest.fail("there is no mosquitto; run scripts/system-tools.sh")
        self._program = found
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        passwords = folder / "passwords"
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous false\n"
            f"password_file {passwords}\npersistence true\n"
            f"persistence_location {folder}/\nautosave_interval 1\nuser root\n"
        )
        tool = shutil.which("mosquitto_passwd", path="/usr/bin:/usr/local/bin")
        assert tool is not None
        subprocess.run(
            [tool, "-c", "-b", passwords, "pit", PASSWORD], check=True, capture_output=True
        )
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self._process = subprocess.Popen(
            [self._program, "-c", self._config],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for _ in range(100):
            with socket.socket() as one:
                if one.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise AssertionError("mosquitto does not listen")

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(10)
            self._process = None


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def start(server: Server, broker: Mosquitto) -> datetime:
    """Record a cook that is on, a named channel, and where the broker is."""
    with Notebook.open(server.notebook) as book:
        begun = start_cook(book, probes=("grate",))
        with book.transaction() as transaction:
            transaction.connection.execute(
                insert(CHANNEL).values(
                    way="mqtt",
                    whose="logger-1",
                    name="pit",
                    probe="grate",
                    left_out=False,
                    first_at=begun,
                )
            )
            keep_broker(transaction, Broker("127.0.0.1", broker.port, "pit", PASSWORD))
    return begun


def message(at: datetime, value: float, batch: str = "") -> str:
    return (
        f'{{"id": "{batch or uuid4()}", "readings": '
        f'[{{"channel": "pit", "value": {value}, "at": "{at.isoformat()}"}}]}}'
    )


def publish(broker: Mosquitto, *messages: str, to: str = "fairsmoke/logger-1/readings") -> None:
    async def sent() -> None:
        async with aiomqtt.Client(
            "127.0.0.1", broker.port, username="pit", password=PASSWORD
        ) as client:
            for one in messages:
                await client.publish(to, one, qos=1)

    asyncio.run(sent())


def values(server: Server) -> list[float]:
    with Notebook.open(server.notebook) as book:
        found: list[float] = book.readings(TRIAL, NOW_COOK, "grate").value.tolist()
    return found


def until(found: Callable[[], object], what: object) -> None:
    for _ in range(150):
        if found() == what:
            return
        time.sleep(0.2)
    assert found() == what


def test_messages_count_once_through_kills_and_a_broker_that_goes_away(
    server: Server, broker: Mosquitto, start: datetime
) -> None:
    at = [start + timedelta(seconds=n) for n in range(40)]
    server.start()
    with closing(server.client()) as client:
        until(lambda: "Connected to" in client.get("/readings/broker").text, True)
        assert PASSWORD not in client.get("/readings/broker").text
    first = message(at[0], 100, "b-0")
    publish(broker, first, first, message(at[1], 101))
    until(lambda: values(server), [100, 101])
    # While the app is down the broker keeps what comes, and gives it once the app is back.
    server.kill()
    publish(broker, *(message(at[n], 100 + n) for n in range(2, 30)), first)
    server.start()
    until(lambda: values(server), [100 + n for n in range(30)])
    # The broker goes and comes back; the app finds it by itself.
    broker.stop()
    with closing(server.client()) as client:
        until(lambda: "Not connected" in client.get("/readings/broker").text, True)
        broker.start()
        until(lambda: "Connected to" in client.get("/readings/broker").text, True)
    publish(broker, message(at[30], 130))
    until(lambda: values(server), [100 + n for n in range(31)])


def test_what_cannot_be_read_is_told_and_holds_nothing_up(
    server: Server, broker: Mosquitto, start: datetime
) -> None:
    server.start()
    with closing(server.client()) as client:
        until(lambda: "Connected to" in client.get("/readings/broker").text, True)
        publish(broker, "not JSON", '{"id": "1", "readings": []}', message(start, 100))
        until(lambda: values(server), [100])
        page = client.get("/readings").text
    assert "A message cannot be read" in page
    assert "logger-1" in page


def test_a_kill_between_the_broker_and_the_disk_loses_nothing(
    server: Server, broker: Mosquitto, start: datetime
) -> None:
    """Killed again and again while messages pour in: all are there, each once."""
    sent = 0
    server.start()
    with closing(server.client()) as client:
        # From then on the broker keeps for the app what comes while it is away.
        until(lambda: "Connected to" in client.get("/readings/broker").text, True)
    server.kill()
    for _ in range(4):
        server.start()
        messages = [
            message(start + timedelta(seconds=n), 100 + n / 10) for n in range(sent, sent + 60)
        ]
        publish(broker, *messages)
        sent += 60
        server.kill()
    server.start()
    until(lambda: len(values(server)), sent)
    assert values(server) == [100 + n / 10 for n in range(sent)]


def test_the_password_is_in_no_exported_folder(
    server: Server, start: datetime, tmp_path: Path
) -> None:
    with Notebook.open(server.notebook) as book:
        folder = export_notebook(book, tmp_path / "out")
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert len(files) > 5
    assert not any(PASSWORD.encode() in path.read_bytes() for path in files)
    assert PASSWORD not in repr(Broker("there", password=PASSWORD))
