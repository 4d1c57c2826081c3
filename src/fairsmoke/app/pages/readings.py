"""How readings come in: what arrives now, from where, what is flagged, what has no name."""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from sse_starlette import EventSourceResponse

from fairsmoke.app.auth import Book, Seer, SettingUp, Told, _visitor
from fairsmoke.app.background import count_waiting
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages import arriving_view as shown
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.supervisor import Supervisor
from fairsmoke.arriving import naming
from fairsmoke.arriving.channels import Channel, Waits, channels, find, sender_names, waits
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.placing import Placing
from fairsmoke.arriving.writer import Writer
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Probe

router = APIRouter()
PLACES = (NavigationLink(N_("Readings"), "readings", "notebook", 30, May.SEE_TRIALS),)

WAYS = {
    "device": N_("Device"),
    "mqtt": N_("By the broker"),
    "file": N_("File that grows"),
}
TICK_S = 1.0
PING_S = 15
LOOK_AGAIN_S = 30.0
LEAVE_OUT = "-"


@dataclass(frozen=True)
class Sender:
    """Who sends, and its channels."""

    way: str
    name: str
    channels: Sequence[Channel]


async def _hub(request: Request) -> Hub:
    found: Hub = request.app.state.hub
    return found


async def _writer(request: Request) -> Writer:
    found: Writer = request.app.state.writer
    return found


async def _supervisor(request: Request) -> Supervisor:
    found: Supervisor = request.app.state.supervisor
    return found


OnSupervisor = Annotated[Supervisor, Depends(_supervisor)]
OnHub = Annotated[Hub, Depends(_hub)]
OnWriter = Annotated[Writer, Depends(_writer)]


def ways(page: Page) -> list[tuple[str, str]]:
    """Return the pages about readings that this person may see: message and path."""
    person = page.person
    found = [(N_("Coming in"), "readings")]
    if person is not None and person.may(May.SET_UP):
        found += [
            (N_("Take in a file"), "take_in"),
            (N_("Folder"), "folder"),
            (N_("Devices"), "devices"),
            (N_("Broker"), "broker"),
        ]
    return [(page.way.say(name), page.path(route)) for name, route in found]


def cook_names(book: Notebook) -> dict[tuple[str, str], str]:
    """Return the name of every cook by its trial and handle."""
    return {
        (trial, cook.id): cook.name
        for trial, cooks in book.list_by_trial(Cook).items()
        for cook in cooks
    }


@router.get("/readings", name="readings")
def readings_page(
    page: OnPage, book: Book, hub: OnHub, supervisor: OnSupervisor, person: Seer
) -> HTMLResponse:
    """Show what comes in, and from where."""
    now = datetime.now(UTC)
    with book.reading() as connection:
        found = channels(connection)
        names = sender_names(connection)
        waiting = waits(connection)
    cooks = cook_names(book)
    senders: dict[tuple[str, str], list[Channel]] = {}
    for one in found:
        senders.setdefault((one.way, one.whose), []).append(one)
    return page.show(
        "readings.html",
        ways=ways(page),
        senders=[
            Sender(way, names.get((way, whose), whose), own)
            for (way, whose), own in senders.items()
        ],
        way_names=WAYS,
        cells={one.id: shown.cells(hub.live(one.id), page.way, now, cooks) for one in found},
        waiting=waiting,
        unnamed=sum(1 for one in found if one.probe is None and not one.left_out),
        probes=book.list(Probe) if found else (),
        told=[shown.told(one, page.way) for one in list(hub.told)[:20]],
        may_set_up=person.may(May.SET_UP),
        began=hub.began,
        tasks=supervisor.tasks,
    )


@router.get("/readings/stream", name="readings_stream")
async def stream(
    request: Request, page: OnPage, book: Book, hub: OnHub, told: Told, _: Seer
) -> EventSourceResponse:
    """Send each change of what comes in, at most once a second."""
    cooks = await asyncio.to_thread(cook_names, book)
    lines: shown.Lines = request.app.state.lines

    async def changes() -> AsyncIterator[dict[str, str]]:
        nonlocal cooks
        seen, looked, silent = hub.version, asyncio.get_running_loop().time(), frozenset[int]()
        with hub.waking() as wake:
            while not await request.is_disconnected():
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(wake.wait(), 5 * TICK_S)
                wake.clear()
                now, clock = datetime.now(UTC), asyncio.get_running_loop().time()
                if clock - looked > LOOK_AGAIN_S:
                    looked = clock
                    if not await asyncio.to_thread(_still_may, request, book, told):
                        return
                    cooks = await asyncio.to_thread(cook_names, book)
                quiet = frozenset(n for n, live in hub.lives.items() if live.is_silent(now))
                changed = [
                    lines.of(live, page.way, now, cooks)
                    for number, live in hub.lives.items()
                    if live.version > seen or number in quiet or number in silent
                ]
                news = [shown.told(one, page.way) for one in hub.told if one.version > seen]
                seen, silent = hub.version, quiet
                if changed:
                    yield {"event": "channels", "data": f"[{','.join(changed)}]"}
                if news:
                    yield {"event": "told", "data": json.dumps(news)}
                await asyncio.sleep(TICK_S)

    return EventSourceResponse(changes(), ping=PING_S)


def _still_may(request: Request, book: Notebook, told: Told) -> bool:
    person: Person | None = _visitor(request, book, told).person
    return person is not None and person.may(May.SEE_TRIALS)


@router.post("/readings/channels/{number}", name="name_channel")
async def name_channel(
    page: OnPage,
    book: Book,
    hub: OnHub,
    writer: OnWriter,
    person: SettingUp,
    number: int,
    probe: Annotated[str, Form(max_length=60)] = "",
) -> RedirectResponse:
    """Say which probe a channel is. What waited is recorded; what stood elsewhere is put right."""

    def named(transaction: Transaction, placing: Placing) -> None:
        transaction.by = person.name
        handle = None if probe in ("", LEAVE_OUT) else probe
        naming.name_it(transaction, placing, number, handle, left_out=probe == LEAVE_OUT)

    await writer.do(named)
    await count_waiting(book, hub)
    return page.go("readings")


@router.post("/readings/channels/{number}/clock", name="put_clock_right")
async def put_clock_right(
    page: OnPage,
    book: Book,
    hub: OnHub,
    writer: OnWriter,
    person: SettingUp,
    number: int,
    how: Annotated[Literal["right", "as-is"], Form()],
) -> RedirectResponse:
    """Record what waits because of a clock: with its times put right, or as they are."""

    def placed(transaction: Transaction, placing: Placing) -> int:
        transaction.by = person.name
        channel = find(transaction.connection, number)
        return naming.place_waiting(
            transaction, placing, channel, held=True, put_right=how == "right"
        )

    await writer.do(placed)
    await count_waiting(book, hub)
    return page.go("readings")


@router.post("/readings/whole/{trial}/{cook}", name="flag_whole")
async def flag_whole(
    page: OnPage, writer: OnWriter, _: SettingUp, trial: str, cook: str
) -> RedirectResponse:
    """Flag what came for a cook as a whole, without waiting until an hour after its end."""
    await writer.do(partial(naming.flag_whole, trial=trial, cook=cook))
    return page.go("readings")


__all__ = ["PLACES", "OnHub", "OnWriter", "Waits", "router", "ways"]
