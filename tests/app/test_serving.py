"""The running app: started, stopped, killed; and its description held against its answers."""

import os
import random
import re
import socket
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path
from uuid import uuid4

import httpx2
import pytest
from tests.app.clients import TRIAL, event_entry
from tests.app.server import Server

from fairsmoke.app.serving import bound
from fairsmoke.cli.commands import run
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Event

KILLS = int(os.environ.get("FAIRSMOKE_APP_KILL_ROUNDS", "4"))


def test_serve_says_where_and_stops_at_ctrl_c(tmp_path: Path) -> None:
    path = tmp_path / "new.fairsmoke"
    command = [sys.executable, "-m", "fairsmoke", "serve", str(path), "--port", "0"]
    command += ["--start", "Village hall", "--time-zone", "Europe/London", "--listen", "0.0.0.0"]
    command += ["--plain-http"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    lines = []
    for line in process.stdout:
        lines.append(line)
        if "Ctrl-C" in line:
            break
    said = "".join(lines)
    link = re.search(r"http://[\w.]+:(\d+)/enter/\S+", said)
    assert link is not None
    assert "anybody on the network can read along" in said
    # The QR code stands there in half blocks.
    assert said.count("█") > 50
    answer = httpx2.get(f"http://127.0.0.1:{link[1]}/enter/{link[0].rpartition('/')[2]}")
    assert "Hello, Cook" in answer.text
    process.send_signal(2)
    rest, _ = process.communicate(timeout=20)
    assert (process.returncode, rest.strip()) == (0, "Stopped.")
    assert not Path(f"{path}-wal").exists()


def test_answers_are_sent_at_once() -> None:
    # asyncio sets TCP_NODELAY only on sockets whose protocol stands there (its _set_nodelay, seen);
    # without, a kept connection waits 40 ms for each answer (the delayed acknowledgement).
    with closing(bound("127.0.0.1", 0)) as one:
        assert one.proto == socket.IPPROTO_TCP


def test_serve_says_what_is_in_the_way(
    server: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    server.start()
    assert run(["serve", str(server.notebook), "--port", str(server.port)]) == 1
    assert "choose another with --port" in capsys.readouterr().err
    assert run(["serve", str(tmp_path / "none.db")]) == 1
    assert "there is no notebook" in capsys.readouterr().err
    assert run(["serve", str(server.notebook), "--listen", "here"]) == 1
    assert "write an address" in capsys.readouterr().err
    assert run(["serve", str(server.notebook), "--key", "k.pem"]) == 1
    assert "needs both" in capsys.readouterr().err


def test_a_power_cut_loses_no_acknowledged_entry(server: Server) -> None:
    """Kill the server at random moments while four phones send; every answered entry is there."""
    moments = random.Random(20260502)
    answered: set[str] = set()
    sent: list[str] = []
    for _ in range(KILLS):
        answers_before = len(answered)
        server.start()
        clients = [server.client()]
        clients += [_same(clients[0], server) for _ in range(3)]
        threads = [
            threading.Thread(target=_send_until_it_dies, args=(one, sent, answered))
            for one in clients
        ]
        for thread in threads:
            thread.start()
        # Counted from this round's first answers: on a busy machine a kill before any of them, with
        # nothing to lose, would show nothing.
        _until_answered(answered, answers_before + 3)
        time.sleep(moments.uniform(0.0, 0.6))
        server.kill()
        for thread in threads:
            thread.join(20)
    assert len(answered) > 2 * KILLS
    with Notebook.open(server.notebook) as book:
        assert book.check() == ()
        notes = [event.note for event in book.list(Event, trial=TRIAL)]
    there = [note for note in notes if note in set(sent)]
    assert len(there) == len(set(there))
    assert answered <= set(there)


def _same(client: httpx2.Client, server: Server) -> httpx2.Client:
    return httpx2.Client(
        base_url=server.address, cookies=client.cookies, headers=client.headers, timeout=20
    )


def _until_answered(answered: set[str], count: int) -> None:
    """Wait until so many entries were answered, for at most a minute."""
    ends = time.monotonic() + 60.0
    while len(answered) < count and time.monotonic() < ends:
        time.sleep(0.005)


def _send_until_it_dies(client: httpx2.Client, sent: list[str], answered: set[str]) -> None:
    try:
        while True:
            entry_id = str(uuid4())
            sent.append(entry_id)
            answer = client.post("/api/entries", json=event_entry(entry_id, note=entry_id))
            assert answer.status_code == 200, answer.text
            answered.add(entry_id)
    except httpx2.TransportError:
        client.close()
