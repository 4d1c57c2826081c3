"""Single writer with group commit: what arrived together is committed together, then answered.

A flush to the disk takes milliseconds whatever is flushed. Fifty devices that each wait for their
own would wait for fifty; here all that came while one commit ran go into the next.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import delete, insert, select, update

from fairsmoke.arriving.batch import Arrived, BatchTaken
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.placing import Done, Placing
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import BATCH, DEVICE
from fairsmoke.notebook.transaction import Transaction

_log = logging.getLogger("fairsmoke.app")

KEPT_FOR = timedelta(days=30)
"""So long a batch is known by its id; later its readings are known by what they say."""
MOST_WAITING = 2000
"""Batches that may stand in the queue: beyond that a sender is told to come again."""
MOST_AT_ONCE = 64
SEEN_EVERY = timedelta(minutes=1)

Work = Callable[[Transaction, Placing], Any]


@dataclass
class _Pending:
    what: Arrived | Work
    answer: "asyncio.Future[Any]"


class Writer:
    """Commits what arrives. To be called from the event loop only."""

    def __init__(self, book: Notebook, hub: Hub) -> None:
        self._book = book
        self._hub = hub
        self._placing = Placing(book)
        self._seen: dict[str, datetime] = {}
        self._queue: asyncio.Queue[_Pending] = asyncio.Queue(MOST_WAITING)
        self._task: asyncio.Task[None] | None = None

    def start(self) -> None:
        """Begin to write, in the running loop; does nothing when it writes there already."""
        loop = asyncio.get_running_loop()
        if self._task is None or self._task.done() or self._task.get_loop() is not loop:
            self._queue = asyncio.Queue(MOST_WAITING)
            self._task = loop.create_task(self._run())

    async def stop(self) -> None:
        """Finish the commit that runs; what is behind it was not answered and comes again."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task

    async def take(self, arrived: Arrived) -> BatchTaken:
        """Write a batch; it is on the disk when this returns.

        Raises InputError when its id was sent before with other content, or the queue is full.
        """
        taken: BatchTaken = await self._ask(arrived)
        return taken

    async def do(self, work: Work) -> Any:
        """Run other work on what arrived (naming a channel) between two commits, as one of them."""
        return await self._ask(work)

    async def _ask(self, what: Arrived | Work) -> Any:
        self.start()
        job = _Pending(what, asyncio.get_running_loop().create_future())
        try:
            self._queue.put_nowait(job)
        except asyncio.QueueFull as error:
            message = N_("More arrives than can be written. Send it again in a while.")
            raise InputError(message, code="busy", kind="busy", retry_after_s=5.0) from error
        return await job.answer

    async def _run(self) -> None:
        while True:
            jobs = [await self._queue.get()]
            while len(jobs) < MOST_AT_ONCE and not self._queue.empty():
                jobs.append(self._queue.get_nowait())
            writing = asyncio.create_task(asyncio.to_thread(self._commit, jobs))
            try:
                outcomes = await asyncio.shield(writing)
            except asyncio.CancelledError:
                # The thread goes on: the notebook must not be closed under it.
                with contextlib.suppress(Exception):
                    self._answer(jobs, await writing)
                raise
            except Exception as error:
                self._placing.forget()
                for job in jobs:
                    if not job.answer.done():
                        job.answer.set_exception(error)
                continue
            self._answer(jobs, outcomes)

    def _answer(self, jobs: list[_Pending], outcomes: list[Any]) -> None:
        for job, outcome in zip(jobs, outcomes, strict=True):
            if isinstance(outcome, tuple):
                outcome, done = outcome
                assert isinstance(job.what, Arrived)
                self._tell(job.what, done)
            if job.answer.done():
                continue
            if isinstance(outcome, Exception):
                job.answer.set_exception(outcome)
            else:
                job.answer.set_result(outcome)

    def _commit(self, jobs: list[_Pending]) -> list[Any]:
        outcomes: list[Any] = []
        with self._book.transaction() as transaction:
            self._placing.begin(transaction)
            for job in jobs:
                try:
                    with transaction.connection.begin_nested():
                        outcomes.append(self._one(transaction, job.what))
                except ValueError as error:
                    self._placing.forget()
                    self._placing.begin(transaction)
                    outcomes.append(error)
        return outcomes

    def _one(self, transaction: Transaction, what: Arrived | Work) -> Any:
        if not isinstance(what, Arrived):
            return what(transaction, self._placing)
        sender = f"{what.way}:{what.whose}"
        if what.batch:
            row = transaction.connection.execute(
                select(BATCH).where(BATCH.c.sender == sender, BATCH.c.id == what.batch)
            ).one_or_none()
            if row is not None:
                if row.digest != what.digest:
                    message = N_("A batch of this id was taken before with other content.")
                    raise InputError(message, code="other-content", kind="conflict")
                return BatchTaken.model_validate(row.answer)
        transaction.by = what.sender
        self._note_seen(transaction, what)
        done = self._placing.put(transaction, what)
        taken = _taken(what, done)
        if what.batch:
            transaction.connection.execute(
                insert(BATCH).values(
                    sender=sender,
                    id=what.batch,
                    digest=what.digest,
                    accepted_at=what.received,
                    answer=taken.model_dump(mode="json"),
                )
            )
        return taken, done

    def _note_seen(self, transaction: Transaction, arrived: Arrived) -> None:
        last = self._seen.get(arrived.whose)
        if arrived.way != "device" or (last and arrived.received - last < SEEN_EVERY):
            return
        self._seen[arrived.whose] = arrived.received
        note_seen(transaction, int(arrived.whose))

    def _tell(self, arrived: Arrived, done: Done) -> None:
        for came in done.came:
            self._hub.came(came, arrived.received)
        for channel, count, last in done.waiting:
            self._hub.waits(channel, count, last, arrived.received)
        for channel in done.no_value:
            self._hub.no_value(channel, arrived.received)
        for channel in done.channels:
            self._hub.clock(channel, arrived.off_s)


def _taken(arrived: Arrived, done: Done) -> BatchTaken:
    return BatchTaken(
        id=arrived.batch,
        accepted_at=arrived.received,
        readings=arrived.count,
        new=done.new,
        repeated=done.repeated,
        flagged=done.flagged,
        waiting=done.waits,
        held=done.held,
        no_value=sum(arrived.no_value.values()),
        unnamed=done.unnamed,
        clock_off_s=arrived.off_s,
    )


def forget_old_batches(transaction: Transaction, _: Placing) -> None:
    """Forget the ids of batches that no device still repeats."""
    before = datetime.now(UTC) - KEPT_FOR
    transaction.connection.execute(delete(BATCH).where(BATCH.c.accepted_at < before))


def note_seen(transaction: Transaction, device: int) -> None:
    """Note when a device last sent something."""
    transaction.connection.execute(
        update(DEVICE).where(DEVICE.c.id == device).values(seen_at=transaction.at)
    )
