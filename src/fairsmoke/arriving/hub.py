"""Publish–subscribe hub of incoming readings, in memory: the live page and others subscribe.

It begins empty when the app starts; the record is in the notebook.
"""

import asyncio
import contextlib
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np

from fairsmoke.intake.flags import GAP_AT_LEAST_S, GAP_INTERVALS
from fairsmoke.messages.message import Words
from fairsmoke.trial.reading import NOT_BELIEVED, Flag, Readings

RATE_OVER = timedelta(seconds=60)
TOLD = 200
"""How many of the last things that happened are kept."""


@dataclass(frozen=True)
class Came:
    """Readings of one channel that were just written into the record, with their flags."""

    channel: int
    trial: str
    cook: str
    probe: str
    readings: Readings


@dataclass
class Live:
    """What one channel does. ``version`` goes up with each change."""

    channel: int
    version: int = 0
    trial: str = ""
    cook: str = ""
    probe: str = ""
    last_ms: int | None = None
    last_c: float | None = None
    last_flags: int = 0
    received: datetime | None = None
    readings: int = 0
    flagged: int = 0
    gaps: int = 0
    no_value: bool = False
    waiting: int = 0
    clock_off_s: float | None = None
    flags: dict[str, int] = field(default_factory=dict)
    arrivals: deque[tuple[datetime, int]] = field(default_factory=deque)
    usual_s: float = 0.0

    def per_minute(self, now: datetime) -> int:
        """Return how many readings came within the last minute."""
        return sum(count for at, count in self.arrivals if now - at <= RATE_OVER)

    def step(self, received: datetime) -> None:
        """Note that something came, and how long after the last: an average of about ten."""
        if self.received is not None:
            step_s = (received - self.received).total_seconds()
            self.usual_s = step_s if not self.usual_s else 0.9 * self.usual_s + 0.1 * step_s
        self.received = received

    def is_silent(self, now: datetime) -> bool:
        """Tell whether nothing came for so long that it would be called a gap."""
        if self.received is None:
            return False
        limit_s = max(GAP_INTERVALS * self.usual_s, GAP_AT_LEAST_S)
        return (now - self.received).total_seconds() > limit_s


@dataclass(frozen=True)
class HubNotice:
    """Something that happened to a way in: a broker that was reached, a batch that was refused."""

    version: int
    at: datetime
    who: str
    what: Words


class Hub:
    """Knows what each channel does, and wakes whoever follows. Used from the event loop only."""

    def __init__(self) -> None:
        self.lives: dict[int, Live] = {}
        self.told: deque[HubNotice] = deque(maxlen=TOLD)
        self.version = 0
        self.began = datetime.now(UTC)
        self._wakes: set[asyncio.Event] = set()
        self._followers: set[asyncio.Queue[Came]] = set()

    def live(self, channel: int) -> Live:
        """Return what is known of a channel, to be read."""
        return self.lives.get(channel) or Live(channel)

    def came(self, came: Came, received: datetime) -> None:
        """Note readings that were written."""
        live = self._touched(came.channel)
        live.trial, live.cook, live.probe = came.trial, came.cook, came.probe
        if not len(came.readings):
            return
        live.step(received)
        last = came.readings
        if live.last_ms is None or int(last.time_ms[-1]) >= live.last_ms:
            live.last_ms, live.last_c = int(last.time_ms[-1]), float(last.value_c[-1])
            live.last_flags = int(last.flags[-1])
        live.no_value = False
        live.readings += len(last)
        live.flagged += int(np.count_nonzero(last.flags & int(NOT_BELIEVED)))
        live.gaps += int(np.count_nonzero(last.flags & int(Flag.GAP_BEFORE)))
        for flag in Flag:
            many = int(np.count_nonzero(last.flags & int(flag)))
            if many:
                live.flags[str(flag.name)] = live.flags.get(str(flag.name), 0) + many
        live.arrivals.append((received, len(last)))
        while live.arrivals and received - live.arrivals[0][0] > RATE_OVER:
            live.arrivals.popleft()
        for queue in self._followers:
            with contextlib.suppress(asyncio.QueueFull):
                queue.put_nowait(came)

    def waits(self, channel: int, count: int, last: Readings | None, received: datetime) -> None:
        """Note readings that were kept and wait."""
        live = self._touched(channel)
        live.waiting += count
        live.step(received)
        if count:
            live.arrivals.append((received, count))
        if last is not None and len(last):
            live.last_ms, live.last_c = int(last.time_ms[-1]), float(last.value_c[-1])
            live.last_flags = 0

    def no_value(self, channel: int, received: datetime) -> None:
        """Note that a channel sent that it has no value."""
        live = self._touched(channel)
        live.no_value, live.received = True, received

    def clock(self, channel: int, off_s: float | None) -> None:
        """Note how far a sender's clock is behind ours."""
        if off_s is not None:
            self._touched(channel).clock_off_s = off_s

    def wait_now(self, waits: Mapping[int, int]) -> None:
        """Note how many readings of each channel wait, as the notebook says."""
        for channel, count in waits.items():
            self._touched(channel).waiting = count
        for channel, live in self.lives.items():
            if live.waiting and channel not in waits:
                self._touched(channel).waiting = 0

    def tell(self, who: str, what: Words) -> None:
        """Note something that happened."""
        self.version += 1
        self.told.appendleft(HubNotice(self.version, datetime.now(UTC), who, what))
        self._wake()

    def _touched(self, channel: int) -> Live:
        self.version += 1
        live = self.lives.setdefault(channel, Live(channel))
        live.version = self.version
        self._wake()
        return live

    def _wake(self) -> None:
        for wake in self._wakes:
            wake.set()

    @contextlib.contextmanager
    def waking(self) -> Iterator[asyncio.Event]:
        """Give an event that is set whenever something changed; whoever waits clears it."""
        wake = asyncio.Event()
        self._wakes.add(wake)
        try:
            yield wake
        finally:
            self._wakes.discard(wake)

    @contextlib.contextmanager
    def following(self, room: int = 10_000) -> Iterator["asyncio.Queue[Came]"]:
        """Give a queue into which every reading is put once it is in the record.

        One that is not emptied in time misses some: read the notebook for what is sure.
        """
        queue: asyncio.Queue[Came] = asyncio.Queue(room)
        self._followers.add(queue)
        try:
            yield queue
        finally:
            self._followers.discard(queue)
