"""Many devices and open pages at once: nothing is lost, nothing is there twice, killed or not."""

import contextlib
import json
import os
import random
import threading
import time
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import httpx2
import schemathesis
from benchmarks.app_posts import run
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from tests.app.clients import TRIAL, Client
from tests.app.devices import NOW_COOK, batch, device, reading, send, start_cook
from tests.app.server import Server
from tests.app.test_description import CHECKS, EXAMPLES

from fairsmoke.notebook import Notebook

KILLS = int(os.environ.get("FAIRSMOKE_APP_KILL_ROUNDS", "4"))


def test_devices_and_pages_at_once_lose_nothing() -> None:
    """The benchmark of fifty devices for two minutes, shorter and without its clock."""
    ran = run(senders=12, pages=4, seconds=6)
    answered = sum(len(one) for one in ran.answered.values())
    assert answered > 12
    assert (ran.refused, ran.lost, ran.twice) == (0, 0, 0)
    # Every page was told more than once.
    assert min(ran.page_events) > 1


def test_a_power_cut_loses_no_acknowledged_reading(server: Server) -> None:
    """Kill the app at random moments while devices post; each answered reading is there once."""
    moments = random.Random(20260503)
    with Notebook.open(server.notebook) as book:
        start = start_cook(book, probes=("grate",))
        tokens = [device(book, f"Logger {number}") for number in range(4)]
    answered: list[set[int]] = [set() for _ in tokens]
    for _ in range(KILLS):
        server.start()
        threads = [
            threading.Thread(target=_post_until_it_dies, args=(server, token, mine, start))
            for token, mine in zip(tokens, answered, strict=True)
        ]
        for thread in threads:
            thread.start()
        time.sleep(moments.uniform(0.2, 0.8))
        server.kill()
        for thread in threads:
            thread.join(20)
    assert sum(map(len, answered)) > 2 * KILLS
    server.start()
    client = server.client()
    mark = client.headers["X-CSRF-Token"]
    with Notebook.open(server.notebook) as book:
        for number in range(1, len(tokens) + 1):
            # All four are one probe: what each sent is told apart by its times.
            named = client.post(
                f"/readings/channels/{number}", data={"csrf": mark, "probe": "grate"}
            )
            assert named.status_code == 303, named.text
        there = book.readings(TRIAL, NOW_COOK, "grate").time_ms.tolist()
        assert book.check() == ()
    client.close()
    sent = set().union(*answered)
    assert sent <= set(there)
    assert len(there) == len(set(there))


def _post_until_it_dies(server: Server, token: str, mine: set[int], start: datetime) -> None:
    headers = {"Authorization": f"Bearer {token}"}
    with (
        contextlib.suppress(httpx2.TransportError),
        httpx2.Client(base_url=server.address, headers=headers, timeout=20) as client,
    ):
        while True:
            # A time of its own for each: a random millisecond of the hour.
            at_ms = int(start.timestamp() * 1000) + random.SystemRandom().randrange(3_600_000)
            one = {"channel": "pit", "value": 107.5, "at_ms": at_ms}
            content = {"id": str(uuid4()), "readings": [one]}
            answer = client.post("/api/readings", json=content)
            assert answer.status_code == 200, answer.text
            # The same again, as after an answer that was lost.
            assert client.post("/api/readings", json=content).json() == answer.json()
            mine.add(at_ms)


def test_the_stream_tells_of_what_came(server: Server) -> None:
    with Notebook.open(server.notebook) as book:
        start_cook(book)
        token = device(book)
    server.start()
    client = server.client()
    now = datetime.now(UTC)
    with client.stream("GET", "/readings/stream") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        posted = httpx2.post(
            f"{server.address}/api/readings",
            json=batch(reading("pit", 107.5, now)),
            headers={"Authorization": f"Bearer {token}"},
            timeout=20,
        )
        assert posted.status_code == 200
        data = next(line for line in answer.iter_lines() if line.startswith("data: ["))
    (said,) = json.loads(data.removeprefix("data: "))
    assert (said["last"], said["waiting"]) == ("107.5 °C", "1 reading is kept and waits")
    client.close()
    assert httpx2.get(f"{server.address}/readings/stream").status_code == 303


def test_a_device_gets_only_answers_that_are_described(
    app: FastAPI, book: Notebook, visitor: Client
) -> None:
    token = device(book)
    schema = schemathesis.openapi.from_dict(app.openapi())
    schema.app = app
    operation = schema["/api/readings"]["POST"]
    strategy = operation.as_strategy() | operation.as_strategy(
        generation_mode=schemathesis.GenerationMode.NEGATIVE
    )
    taken = 0

    @settings(
        max_examples=3 * EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=strategy)
    def each(case) -> None:  # type: ignore[no-untyped-def]
        nonlocal taken
        headers = {"Authorization": f"Bearer {token}"}
        answer = case.call_and_validate(base_url="http://127.0.0.1", headers=headers, checks=CHECKS)
        taken += answer.status_code == 200

    each()
    # Some were taken: it is not that everything is refused.
    assert taken > 0


def test_an_ended_token_is_refused_at_once(book: Notebook, visitor: Client, cook: Client) -> None:
    token = device(book)
    now = datetime.now(UTC) - timedelta(minutes=1)
    assert send(visitor, token, batch(reading("pit", 1, now))).status_code == 200
    assert cook.form("/readings/devices/1/end").status_code == 303
    assert send(visitor, token, batch(reading("pit", 2, now))).status_code == 401
    made = cook.form("/readings/devices", name="The next one")
    assert "The token of The next one" in made.text
    assert made.headers["cache-control"] == "no-store"
