"""Assigns incoming readings to probe and cook, drops duplicates, flags what is not valid.

All of it runs inside the writer's transaction. What it keeps in memory is only to be fast: it is
read from the notebook again whenever anybody changed what it rests on.
"""

from collections import OrderedDict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select

from fairsmoke.arriving import streams
from fairsmoke.arriving.batch import Arrived
from fairsmoke.arriving.channels import Channel, channel_of, keep_waiting
from fairsmoke.arriving.hub import Came
from fairsmoke.arriving.live_flags import Load, Track
from fairsmoke.arriving.whose_cook import Cooks
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.arrivals import insert_new
from fairsmoke.notebook.readings import load_readings
from fairsmoke.notebook.single_readings import ReadingPlace
from fairsmoke.notebook.tables import REVISION
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.reading import NOT_BELIEVED, Readings

_RESTS_ON = frozenset({"trial", "cook", "placement", "probe", "source"})
MOST_TRACKS = 2000


@dataclass
class Done:
    """What became of readings: what the hub is told, and the counts."""

    came: list[Came] = field(default_factory=list)
    waiting: list[tuple[int, int, Readings | None]] = field(default_factory=list)
    no_value: list[int] = field(default_factory=list)
    channels: list[int] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)
    new: int = 0
    repeated: int = 0
    flagged: int = 0
    waits: int = 0
    held: int = 0


class Placing:
    """Puts readings where they belong. For one thread at a time."""

    def __init__(self, book: Notebook) -> None:
        self._book = book
        self.changes = 0
        self.forget()

    def forget(self) -> None:
        """Read everything anew: after something was undone, or a channel was named."""
        self._revision = -1
        self._cooks: Cooks | None = None
        self._channels: dict[tuple[str, str, str], Channel] = {}
        self._tracks: OrderedDict[tuple[str, str, str], Track] = OrderedDict()
        self._streams: dict[tuple[int, str, str, str], str] = {}

    def begin(self, transaction: Transaction) -> None:
        """Look whether anybody changed what the memory rests on."""
        query = select(REVISION.c.id, REVISION.c.kind).where(REVISION.c.id > self._revision)
        if self._cooks is None:
            query = query.order_by(REVISION.c.id.desc()).limit(1)
        rows = transaction.connection.execute(query).all()
        changed = self._cooks is None or any(row.kind in _RESTS_ON for row in rows)
        if changed:
            channels = self._channels
            self.forget()
            self._channels = channels
            self._cooks = Cooks.load(self._book)
            self.changes += 1
        self._revision = max((row.id for row in rows), default=self._revision)

    def own_write(self, transaction: Transaction) -> None:
        """Note that the last revisions are ours: they change nothing that the memory rests on."""
        query = select(REVISION.c.id).order_by(REVISION.c.id.desc()).limit(1)
        self._revision = transaction.connection.scalars(query).first() or 0

    def whose(self, probe: str, time_ms: NDArray[np.int64]) -> NDArray[np.int64]:
        """Do as ``Cooks.whose``."""
        assert self._cooks is not None
        return self._cooks.whose(probe, time_ms)

    def put(self, transaction: Transaction, arrived: Arrived) -> Done:
        """Write what arrived from one sender."""
        done = Done()
        for name, parts in arrived.parts.items():
            channel = self._channel(transaction, arrived, name)
            done.channels.append(channel.id)
            probe = arrived.probes.get(name) or channel.probe
            if channel.left_out:
                continue
            if arrived.held or probe is None:
                self._wait(transaction, channel, parts, arrived, done)
                if probe is None:
                    done.unnamed.append(name)
                continue
            for part in parts:
                self.place(transaction, channel, probe, part, arrived, done)
        for name in arrived.no_value:
            done.no_value.append(self._channel(transaction, arrived, name).id)
        return done

    def place(
        self,
        transaction: Transaction,
        channel: Channel,
        probe: str,
        part: Readings,
        arrived: Arrived,
        done: Done,
    ) -> None:
        """Write readings of one channel whose probe is known; those of no cook wait."""
        assert self._cooks is not None
        if arrived.place is not None:
            self._record(transaction, channel, probe, arrived.place, part, arrived, done)
            return
        whose = self._cooks.whose(probe, part.time_ms)
        for index in np.unique(whose).tolist():
            mine = part.take(whose == index)
            if index < 0:
                self._wait(transaction, channel, [mine], arrived, done)
                continue
            cook = self._cooks.cooks[index]
            place = (cook.trial, cook.cook.id)
            self._record(transaction, channel, probe, place, mine, arrived, done)

    def _record(
        self,
        transaction: Transaction,
        channel: Channel,
        probe: str,
        place: tuple[str, str],
        part: Readings,
        arrived: Arrived,
        done: Done,
    ) -> None:
        trial, cook = place
        new, known = self._track(transaction, trial, cook, probe).take(part)
        done.repeated += known
        if len(new):
            source = self._stream(transaction, channel, arrived, trial, cook, probe)
            insert_new(transaction.connection, {ReadingPlace(trial, cook, probe, source): [new]})
        done.new += len(new)
        done.flagged += int(np.count_nonzero(new.flags & int(NOT_BELIEVED)))
        done.came.append(Came(channel.id, trial, cook, probe, new))

    def _wait(
        self,
        transaction: Transaction,
        channel: Channel,
        parts: list[Readings],
        arrived: Arrived,
        done: Done,
    ) -> None:
        count = sum(len(part) for part in parts)
        kept = keep_waiting(transaction.connection, channel, parts, arrived)
        done.repeated += count - kept
        if arrived.held:
            done.held += kept
        else:
            done.waits += kept
        done.waiting.append((channel.id, kept, parts[-1] if parts else None))

    def _channel(self, transaction: Transaction, arrived: Arrived, name: str) -> Channel:
        key = (arrived.way, arrived.whose, name)
        if key not in self._channels:
            self._channels[key] = channel_of(transaction, *key)
        return self._channels[key]

    def _track(self, transaction: Transaction, trial: str, cook: str, probe: str) -> Track:
        key = (trial, cook, probe)
        found = self._tracks.get(key)
        if found is None:
            assert self._cooks is not None
            stays = next(
                (
                    one.stays
                    for one in self._cooks.cooks
                    if one.trial == trial and one.cook.id == cook
                ),
                (),
            )
            found = self._tracks[key] = Track(probe, stays, self._load(*key))
            if len(self._tracks) > MOST_TRACKS:
                self._tracks.popitem(last=False)
        else:
            self._tracks.move_to_end(key)
        self._connection = transaction.connection
        return found

    def _load(self, trial: str, cook: str, probe: str) -> Load:
        def load(start_ms: int | None, end_ms: int | None) -> Readings:
            # Inside the transaction: what it wrote itself is seen.
            return load_readings(self._connection, trial, cook, probe, start_ms, end_ms)

        return load

    def _stream(
        self,
        transaction: Transaction,
        channel: Channel,
        arrived: Arrived,
        trial: str,
        cook: str,
        probe: str,
    ) -> str:
        key = (channel.id, trial, cook, probe)
        if key not in self._streams:
            found = streams.current(transaction.connection, *key)
            if found is None:
                origin = streams.Origin(channel.id, arrived.way, arrived.sender, channel.name)
                found = streams.begin(transaction, origin, trial, cook, probe)
                self.own_write(transaction)
            self._streams[key] = found
        return self._streams[key]
