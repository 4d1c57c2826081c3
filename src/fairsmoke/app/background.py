"""What runs beside the pages while the app is open: the writer, and the ways in."""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from functools import partial

from fastapi import FastAPI

from fairsmoke.app.people import sessions
from fairsmoke.app.supervisor import Supervisor
from fairsmoke.arriving import naming
from fairsmoke.arriving.channels import waits
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.placing import Placing
from fairsmoke.arriving.writer import Writer, forget_old_batches
from fairsmoke.messages.message import N_, OnFace
from fairsmoke.notebook import Notebook, NotebookError
from fairsmoke.notebook.copies import keep_dated_copy
from fairsmoke.notebook.transaction import Transaction

_log = logging.getLogger("fairsmoke.app")

FOLD_EVERY_S = 60.0
CHECK_AFTER_S, CHECK_EVERY_S = 20.0, 24 * 3600.0
MOST_PROBLEMS = 20
TRY_EVERY_S = 5.0
SETTLE_EVERY = 12
"""Every so many tries: look for cooks that have ended."""


@contextlib.asynccontextmanager
async def incoming(app: FastAPI) -> AsyncIterator[None]:
    """Run the writer and every way in while the app is open."""
    writer: Writer = app.state.writer
    writer.start()
    await count_waiting(app.state.book, app.state.hub)
    supervisor: Supervisor = app.state.supervisor
    book, hub = app.state.book, app.state.hub
    supervisor.tasks.clear()
    supervisor.add(N_("Readings that wait for their cook"), lambda: _upkeep(book, writer, hub))
    supervisor.add(N_("Files that grow"), app.state.watcher.run)
    supervisor.add(N_("Broker"), app.state.mqtt.run)
    supervisor.add(N_("Upkeep of the notebook"), lambda: keep_up(book))
    supervisor.add(N_("Check of the notebook"), lambda: keep_checking(book, hub))
    try:
        async with supervisor.running():
            yield
    finally:
        await writer.stop()


async def count_waiting(book: Notebook, hub: Hub) -> None:
    """Tell the hub how many readings wait now."""

    def counted() -> dict[int, int]:
        with book.reading() as connection:
            return {channel: found.count for channel, found in waits(connection).items()}

    hub.wait_now(await asyncio.to_thread(counted))


async def _upkeep(book: Notebook, writer: Writer, hub: Hub) -> None:
    """Place what waits once its cook is there; flag what has ended as a whole."""
    changes, turn = -1, 0

    def place(transaction: Transaction, placing: Placing) -> list[int]:
        nonlocal changes
        if placing.changes == changes:
            return []
        changes = placing.changes
        return naming.place_all(transaction, placing)

    while True:
        try:
            if await writer.do(place):
                await count_waiting(book, hub)
            if turn % SETTLE_EVERY == 0:
                await writer.do(forget_old_batches)
                now = datetime.now(UTC)
                for trial, cook in await asyncio.to_thread(naming.whole_cooks, book, now):
                    await writer.do(partial(naming.flag_whole, trial=trial, cook=cook))
        except ValueError as error:
            # Busy or full now; nothing is lost, and the next round tries again.
            _log.warning("Readings that wait are looked at later: %s", error)
        turn += 1
        await asyncio.sleep(TRY_EVERY_S)


async def keep_up(book: Notebook) -> None:
    """Pack readings that arrived one by one, forget sessions that ended, keep dated copies."""
    while True:
        await asyncio.sleep(FOLD_EVERY_S)
        try:
            await asyncio.to_thread(_packed, book)
            await asyncio.to_thread(keep_dated_copy, book.path, datetime.now().astimezone().date())
        except NotebookError as error:
            # Busy or full now; nothing is lost, and the next round tries again.
            _log.warning("Upkeep waits: %s", error)


def _packed(book: Notebook) -> None:
    book.fold()
    with book.transaction() as transaction:
        sessions.clear(transaction)


async def keep_checking(book: Notebook, hub: Hub) -> None:
    """Check whether the notebook is whole, soon after the start and once a day."""
    wait_s = CHECK_AFTER_S
    while True:
        await asyncio.sleep(wait_s)
        wait_s = CHECK_EVERY_S
        problems = await asyncio.to_thread(book.check)
        for problem in problems[:MOST_PROBLEMS]:
            hub.tell(book.path.name, problem)
        if problems:
            raise NotebookError(
                N_(
                    "the notebook is not whole: %(problem)s; keep the file, and put back a "
                    "copy%(how)s",
                    problem=problems[0],
                    how=OnFace(" with 'fairsmoke restore'", ""),
                )
            )
