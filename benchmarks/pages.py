"""Every page of the app on a notebook of 200 cooks and 5 million readings: time and bytes.

The pages are those that the app itself knows, so that none is forgotten. One cook
runs. Times are medians of the whole answer, without a network.
"""

import asyncio
import re
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from fastapi import FastAPI
from starlette.types import Message

from benchmarks.app_pages import page_paths
from benchmarks.notebook import COOKS_EACH, TRIALS, filled, logged, source_of
from fairsmoke.answers.store import Store
from fairsmoke.answers.when import WhenRequest, ask_day
from fairsmoke.app.factory import create_app
from fairsmoke.app.pages.worth_trying import asked_of, usual_fields
from fairsmoke.app.people import register, sessions
from fairsmoke.app.settings import IntakeLimits, Settings
from fairsmoke.app.static_files import FOLDER
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import METRIC
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, Plan, PlannedPiece, Slot
from fairsmoke.trial.probe import Placement

REPEATS = 15
TRIAL, COOK = f"trial-{TRIALS - 1}", f"cook-{COOKS_EACH - 1}"
KNOWN = {
    "trial": TRIAL,
    "cooker": "pit",
    "probe": "probe-0",
    "scale": "bench",
    "number": "1",
    "part": "overview",
    "kind": "weighing",
    "handle": f"{COOK}-left-trimmed",
}
"""What stands in the paths of pages; the cook and its piece are those that run."""


@dataclass
class Answer:
    """What a page answered: status, type, body."""

    status: int = 0
    kind: str = ""
    body: bytearray = field(default_factory=bytearray)


async def ask(app: FastAPI, path: str, cookie: str) -> Answer:
    """Call the app as a server does, without a network."""
    bare, _, query = path.partition("?")
    scope = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": bare,
        "raw_path": bare.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": [(b"host", b"127.0.0.1"), (b"cookie", f"fairsmoke={cookie}".encode())],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
    }
    answer = Answer()
    over = asyncio.Event()

    async def receive() -> Message:
        if not over.is_set():
            over.set()
            return {"type": "http.request", "body": b"", "more_body": False}
        await asyncio.Event().wait()
        raise AssertionError("nobody disconnects")

    async def send(message: Message) -> None:
        if message["type"] == "http.response.start":
            answer.status = message["status"]
            answer.kind = dict(message["headers"]).get(b"content-type", b"").decode()
        answer.body.extend(message.get("body", b""))

    await app(scope, receive, send)
    return answer


def running_now(book: Notebook) -> dict[str, str]:
    """Add a cook that began five hours ago and runs, read up to now; return its handles."""
    now = datetime.now(UTC)
    live = f"{COOK}-live"
    starts = now - timedelta(hours=5)
    book.save(
        Cook(id=live, name="Live", time_zone="Europe/London", starts=starts, cookers=("pit",)),
        trial=TRIAL,
    )
    pieces = tuple(f"{live}-{side}" for side in ("left", "right"))
    for piece, arm in zip(pieces, ("one", "other"), strict=True):
        book.save(
            Piece(id=piece, name="P", cut="shoulder", species="pork", cook=live, arm=arm),
            trial=TRIAL,
        )
    book.save(
        Event(
            id=f"{live}-on", cook=live, at=starts, kind=EventKind.ON, pieces=pieces, cooker="pit"
        ),
        trial=TRIAL,
    )
    for number in range(60):
        at = starts + timedelta(minutes=4 * number)
        book.save(
            Event(id=f"{live}-{number}", cook=live, at=at, kind="fuel", cooker="pit"), trial=TRIAL
        )
    rng = np.random.default_rng(6)
    readings = {f"probe-{n}": logged(rng, starts, 5 * 3600) for n in range(5)}
    book.add_source(TRIAL, source_of(live, 5 * 3600), readings)
    spots = ("left", "right")
    for n, spot in enumerate(spots):
        where = {"piece": pieces[n], "measures": "core"}
        air = {"spot": {"cooker": "pit", "position": spot}, "measures": "pit"}
        for probe, said in ((n, where), (n + 2, air)):
            stay = {"id": f"{live}-{probe}", "cook": live, "probe": f"probe-{probe}"} | said
            book.save(Placement.model_validate(stay | {"since": starts}), trial=TRIAL)
    return {"cook": live, "piece": pieces[0]}


def first_view(html: bytes) -> int:
    """Return the bytes of a page with all styles, scripts and pictures that it loads at once."""
    seen: set[str] = set()
    todo = set(re.findall(r'(?:src|href)="/static/\w+/([^"]+)"', html.decode()))
    total = len(html)
    while todo:
        path = todo.pop()
        seen.add(path)
        content = (FOLDER / path).read_bytes()
        total += len(content)
        if path.endswith(".js"):
            names = re.findall(r'^import [^"]*"\./([^"]+)"', content.decode(), re.MULTILINE)
            todo |= {f"js/{name}" for name in names} - seen
    return total


def measured(
    app: FastAPI, cookie: str, known: Mapping[str, str], asked: Mapping[str, str]
) -> Iterator[tuple[str, float]]:
    """Yield the median seconds, those of the processor, and the first view's kB of each page.

    ``asked`` are the paths of pages of what was asked before.
    """
    with asyncio.Runner() as runner:
        for name, path in (page_paths(app, known) | dict(asked)).items():
            taken, worked = [], []
            for _ in range(REPEATS + 1):
                begin, work = time.perf_counter(), time.process_time()
                answer = runner.run(ask(app, path, cookie))
                taken.append(time.perf_counter() - begin)
                worked.append(time.process_time() - work)
            if not answer.kind.startswith("text/html"):
                continue
            if answer.status != 200:
                raise RuntimeError(f"{path} answered {answer.status}")
            yield f"page_{name}_s", float(np.median(taken[1:]))
            # What else runs on the machine makes answers late, but hardly makes work of them.
            yield f"page_{name}_processor_s", float(np.median(worked[1:]))
            yield f"page_{name}_first_view_kb", first_view(bytes(answer.body)) / 1000


def worked_out(app: FastAPI) -> None:
    """Have the trial's finding worked out: pages are measured with what is kept."""
    seen = app.state.findings.look(TRIAL)
    if seen.work is not None:
        seen.work.ended.wait()
    if not app.state.findings.look(TRIAL).fresh:
        raise RuntimeError(f"there is no finding: {seen.work.problem if seen.work else ''}")


def day_asked(app: FastAPI, book: Notebook) -> None:
    """Draw a plan of two pieces and have the day of its cook worked out."""
    pieces = [PlannedPiece(id=f"planned-{n}", mass_kg=4.0, thick_m=0.12) for n in (1, 2)]
    slots = [
        Slot(piece=piece.id, arm=arm, cook=1, block="1")
        for piece, arm in zip(pieces, ("one", "other"), strict=True)
    ]
    at_hand = AtHand(cut="pork shoulder", species="pork", pieces=tuple(pieces))
    layout = Layout(kind=LayoutKind.MATCHED, seed=1, algorithm="by hand", slots=tuple(slots))
    book.save(Plan(at_hand=at_hand, layout=layout), trial=TRIAL)
    now = datetime.now(UTC)
    serve = (now + timedelta(days=5)).isoformat()
    asked = WhenRequest(serve, "Europe/London", TRIAL, "1", asked_at=now.isoformat())
    store = Store(app.state.settings.results)
    kept = ask_day(asked, store, book.path)
    work = app.state.jobs.submit(kept.key, "when", asdict(asked))
    work.ended.wait()
    if ask_day(asked, store, book.path).document is None:
        raise RuntimeError(f"the day was not worked out: {work.problem}")


def worth_asked(app: FastAPI) -> dict[str, str]:
    """Have 200 methods cooked; return the paths of the answer's pages."""
    asked = asked_of(usual_fields(METRIC), METRIC)
    store = Store(app.state.settings.results)
    store.ask(asked.key, asdict(asked)).put("form", usual_fields(METRIC))
    job = app.state.jobs.submit(asked.key.digest, "worth-trying", asdict(asked))
    job.ended.wait()
    if store.ask(asked.key).get("document") is None:
        raise RuntimeError(f"there is no answer: {job.problem}")
    names = ("worth_trying_answer", "worth_methods")
    return {name: str(app.url_path_for(name, key=asked.key.digest)) for name in names}


def measure() -> dict[str, float]:
    """Return the median seconds of each page, and the kB of its first view."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "notebook.db"
        book, _ = filled(path)
        known = KNOWN | running_now(book)
        with book.transaction() as transaction:
            person = register.first_cook(transaction)
            cookie = sessions.begin(transaction, person, timedelta(days=1), "benchmark")
        limits = IntakeLimits(per_client="1000000 per minute")
        settings = Settings(path, limits=limits, results=Path(folder) / "results")
        app = create_app(settings, book)
        # A plan changes the trial, and a finding is one of the trial as it is.
        day_asked(app, book)
        worked_out(app)
        asked = worth_asked(app)
        figures = dict(measured(app, cookie, known, asked))
        app.state.jobs.close()
        book.close()
    return figures


if __name__ == "__main__":
    for figure, value in measure().items():
        print(f"{figure:44}{value:14.5g}")
