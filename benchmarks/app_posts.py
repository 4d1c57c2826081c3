"""Fifty devices that post every second and ten live pages, for two minutes: is all there, how soon?

``FAIRSMOKE_BENCH_SECONDS=20`` makes it shorter. Each device has four channels of one reading a
second; each begins at its own moment within the second, as devices do.
"""

import asyncio
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2
import numpy as np
import psutil
from sqlalchemy import insert

from benchmarks.notebook import invented_trial
from fairsmoke.app.people import devices, register, sessions
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import CHANNEL
from fairsmoke.trial.cook import Cook, Cooker, Position
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.probe import Probe

SECONDS = float(os.environ.get("FAIRSMOKE_BENCH_SECONDS", "120"))
DEVICES, PAGES, CHANNELS = 50, 10, 4
TRIAL, COOK = "hall", "tonight"


@dataclass
class Ran:
    """What was seen: seconds of each answered post, what was answered, what the pages got."""

    took_s: list[float] = field(default_factory=list)
    answered: dict[str, list[int]] = field(default_factory=dict)
    refused: int = 0
    again: int = 0
    page_events: list[int] = field(default_factory=list)
    lost: int = 0
    twice: int = 0
    server_cpu_s: float = 0.0


def prepared(path: Path, senders: int, channels: int = CHANNELS) -> tuple[list[str], str]:
    """Make a notebook with a cook that is on; return a token for each device, and a session."""
    start = datetime.now(UTC) - timedelta(hours=1)
    with Notebook.create(path, Kitchen(name="Invented hall", invented=True)) as book:
        book.save(Cooker(id="pit", name="Pit", positions=(Position(id="left", name="Left"),)))
        book.save(invented_trial(TRIAL))
        cook = Cook(id=COOK, name="C", time_zone="UTC", starts=start, cookers=("pit",))
        book.save(cook, trial=TRIAL)
        tokens = []
        with book.transaction() as transaction:
            person = register.first_cook(transaction)
            session = sessions.begin(transaction, person, timedelta(days=1), "benchmark")
            for number in range(senders):
                made, token = devices.add(transaction, f"Logger {number}", person)
                tokens.append(token)
                for channel in range(channels):
                    probe = f"p{number}-{channel}"
                    transaction.save(Probe(id=probe, name=probe))
                    transaction.connection.execute(
                        insert(CHANNEL).values(
                            way="device",
                            whose=str(made.id),
                            name=f"c{channel}",
                            probe=probe,
                            left_out=False,
                            first_at=start,
                        )
                    )
    return tokens, session


async def device(
    client: httpx2.AsyncClient, number: int, token: str, until: float, ran: Ran
) -> None:
    """Post one reading of each channel a second, and keep what was answered."""
    rng = random.Random(number)
    await asyncio.sleep(rng.random())
    mine = ran.answered.setdefault(f"p{number}", [])
    headers = {"Authorization": f"Bearer {token}"}
    beat = time.perf_counter()
    count = 0
    while time.perf_counter() < until:
        at_ms = time.time_ns() // 1_000_000
        readings = [
            {"channel": f"c{c}", "value": round(107 + rng.random(), 1), "at_ms": at_ms}
            for c in range(CHANNELS)
        ]
        begin = time.perf_counter()
        content = {"id": f"{number}-{count}", "readings": readings}
        while True:
            try:
                answer = await client.post("/api/readings", json=content, headers=headers)
                break
            except httpx2.TransportError:
                # As a device does: no answer came, so the same batch is sent again.
                ran.again += 1
        ran.took_s.append(time.perf_counter() - begin)
        if answer.status_code == 200:
            mine.append(at_ms)
        else:
            ran.refused += 1
        count += 1
        beat += 1.0
        await asyncio.sleep(max(0.0, beat - time.perf_counter()))


async def live_page(address: str, session: str, ran: Ran) -> None:
    """Hold the live page's stream open and count what it gets."""
    place = len(ran.page_events)
    ran.page_events.append(0)
    async with (
        httpx2.AsyncClient(base_url=address, cookies={"fairsmoke": session}, timeout=30) as client,
        client.stream("GET", "/readings/stream") as answer,
    ):
        assert answer.status_code == 200
        # Bytes, not lines: decoding here would hold up the posts that are timed.
        async for part in answer.aiter_raw():
            ran.page_events[place] += part.count(b"event: channels")


async def posted(address: str, tokens: list[str], session: str, pages: int, seconds: float) -> Ran:
    """Run every device and page together."""
    ran = Ran()
    limits = httpx2.Limits(max_connections=200, max_keepalive_connections=200)
    async with httpx2.AsyncClient(base_url=address, limits=limits, timeout=30) as client:
        open_pages = [asyncio.create_task(live_page(address, session, ran)) for _ in range(pages)]
        await asyncio.sleep(1)
        until = time.perf_counter() + seconds
        await asyncio.gather(
            *(device(client, n, token, until, ran) for n, token in enumerate(tokens))
        )
        await asyncio.sleep(2.5)
        for page in open_pages:
            assert not page.done()
            page.cancel()
        await asyncio.gather(*open_pages, return_exceptions=True)
    return ran


def counted(path: Path, ran: Ran) -> Ran:
    """Look which of the answered readings are in the notebook, and whether any is twice."""
    with Notebook.open(path) as book:
        assert book.check() == ()
        for name, sent in ran.answered.items():
            for channel in range(CHANNELS):
                there = book.readings(TRIAL, COOK, f"{name}-{channel}").time_ms.tolist()
                ran.lost += len(set(sent) - set(there))
                ran.twice += len(there) - len(set(there))
    return ran


def run(senders: int, pages: int, seconds: float) -> Ran:
    """Serve a new notebook in a process of its own, and post to it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "posts.fairsmoke"
        tokens, session = prepared(path, senders)
        command = [sys.executable, "-m", "fairsmoke", "serve", str(path), "--port", "0"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            link = next(
                found for line in server.stdout if (found := re.search(r"http://[^/\s]+", line))
            )
            begin = _cpu_s(server.pid)
            ran = asyncio.run(posted(link[0], tokens, session, pages, seconds))
            ran.server_cpu_s = _cpu_s(server.pid) - begin
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(20)
            server.stdout.close()  # type: ignore[union-attr]
        return counted(path, ran)


def _cpu_s(pid: int) -> float:
    used = psutil.Process(pid).cpu_times()
    return float(used.user + used.system)


def measure() -> dict[str, float]:
    """Return the figures of the full run."""
    ran = run(DEVICES, PAGES, SECONDS)
    took = np.array(ran.took_s)
    return {
        "posts answered": float(took.size - ran.refused),
        "posts refused": float(ran.refused),
        "posts sent again": float(ran.again),
        "readings lost": float(ran.lost),
        "readings twice": float(ran.twice),
        "a post, median (ms)": 1000 * float(np.median(took)),
        "a post, 99 of 100 within (ms)": 1000 * float(np.quantile(took, 0.99)),
        "a post, slowest (ms)": 1000 * float(took.max()),
        "the server's processor per post (ms)": 1000 * ran.server_cpu_s / took.size,
        "changes a page got, fewest": float(min(ran.page_events)),
    }
