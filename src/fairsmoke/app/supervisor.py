"""Supervised background tasks: one that fails is restarted after a wait, and its state is shown."""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from fairsmoke.messages.errors import words_of
from fairsmoke.messages.message import N_, Words

_log = logging.getLogger("fairsmoke.app")

WAITS_S = (1.0, 2.0, 5.0, 15.0, 60.0)
"""How long before a task that failed is started again, longer each time."""
STEADY_S = 300.0
"""A task that ran so long is not thought to fail again at once: its waits begin anew."""


@dataclass
class Supervised:
    """One background task. ``why`` is empty while it runs; ``since`` is when that began."""

    name: Words
    run: Callable[[], Awaitable[None]]
    since: datetime
    failures: int = 0
    why: Words = ""


class Supervisor:
    """Keeps background tasks running, whatever each of them raises. Used from the event loop."""

    def __init__(self, waits_s: Sequence[float] = WAITS_S) -> None:
        self.tasks: list[Supervised] = []
        self._waits_s = tuple(waits_s)

    def add(self, name: Words, run: Callable[[], Awaitable[None]]) -> None:
        """Add a task that runs until it is cancelled."""
        self.tasks.append(Supervised(name, run, datetime.now(UTC)))

    @contextlib.asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Run every task while the block is open."""
        started = [asyncio.create_task(self._keep(task)) for task in self.tasks]
        try:
            yield
        finally:
            for one in started:
                one.cancel()
            await asyncio.gather(*started, return_exceptions=True)

    async def _keep(self, task: Supervised) -> None:
        turn = 0
        clock = asyncio.get_running_loop().time
        while True:
            began_s = clock()
            task.since, task.why = datetime.now(UTC), ""
            try:
                await task.run()
                task.why = N_("it ended by itself")
            except Exception as error:
                task.why = words_of(error)
                _log.error("%s failed and is started again", task.name, exc_info=error)
            task.failures += 1
            task.since = datetime.now(UTC)
            turn = 0 if clock() - began_s > STEADY_S else turn
            await asyncio.sleep(self._waits_s[min(turn, len(self._waits_s) - 1)])
            turn += 1
