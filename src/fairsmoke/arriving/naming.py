"""Assigning channels to probes: what waited is recorded, what was recorded wrongly is moved."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from fairsmoke.arriving import streams
from fairsmoke.arriving.batch import Arrived
from fairsmoke.arriving.channels import (
    Channel,
    channels_waiting,
    find,
    name_channel,
    no_longer_waits,
    sender_names,
    waiting,
)
from fairsmoke.arriving.placing import Done, Placing
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import STREAM
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.reading import Readings

SETTLED_AFTER = timedelta(hours=1)
"""So long after the end of a cook, and after its last reading, its streams are whole."""


@dataclass(frozen=True)
class Named:
    """What came of naming a channel: what was moved under its probe, and what waits still."""

    placed: int
    moved: int


def sender_of(transaction: Transaction, channel: Channel) -> str:
    """Return what people call who sends a channel."""
    names = sender_names(transaction.connection)
    return names.get((channel.way, channel.whose), channel.whose)


def name_it(
    transaction: Transaction, placing: Placing, number: int, probe: str | None, *, left_out: bool
) -> Named:
    """Say which probe a channel is: what waited is recorded, what stood elsewhere is put right."""
    channel = find(transaction.connection, number)
    if probe is not None:
        transaction.get(Probe, probe)
    name_channel(transaction, number, probe, left_out=left_out)
    moved = 0
    if probe is not None:
        for stream in streams.streams_of(transaction.connection, channel=number):
            if stream.probe == probe:
                continue
            origin = streams.Origin(
                channel.id, channel.way, sender_of(transaction, channel), channel.name
            )
            moved += streams.rewrite(
                transaction,
                origin,
                stream.trial_id,
                stream.source,
                stream.cook,
                probe,
                _stays(transaction, stream.trial_id, stream.cook),
                why=streams.PUT_UNDER,
            )
    placing.forget()
    placing.begin(transaction)
    placed = place_waiting(transaction, placing, find(transaction.connection, number))
    return Named(placed, moved)


def place_waiting(
    transaction: Transaction,
    placing: Placing,
    channel: Channel,
    *,
    held: bool = False,
    put_right: bool = False,
) -> int:
    """Record what waits of a channel as far as its cook is known; return how many.

    ``held`` takes what waits for its clock: ``put_right`` with its times moved by as much as the
    clock was off, else as they are.
    """
    if channel.probe is None:
        return 0
    placed = 0
    for kept in waiting(transaction.connection, channel.id, held=held):
        part = _moved(kept.readings, kept.off_ms if put_right else 0)
        whose = placing.whose(channel.probe, part.time_ms)
        at = np.flatnonzero(whose >= 0)
        if not at.size:
            continue
        done = Done()
        arrived = Arrived(
            channel.way,
            channel.whose,
            sender_of(transaction, channel),
            "",
            "",
            datetime.now(UTC),
            {},
            int(at.size),
        )
        placing.place(transaction, channel, channel.probe, part.take(at), arrived, done)
        no_longer_waits(transaction.connection, [kept.ids[index] for index in at.tolist()])
        placed += int(at.size)
    return placed


def _moved(readings: Readings, by_ms: int) -> Readings:
    return Readings(
        readings.time_ms + np.int64(by_ms),
        readings.raw,
        readings.decimals,
        readings.unit,
        readings.flags,
    )


def place_all(transaction: Transaction, placing: Placing) -> list[int]:
    """Try again for everything that waits for its cook; return the channels that moved."""
    return [
        channel.id
        for channel in channels_waiting(transaction.connection)
        if place_waiting(transaction, placing, channel)
    ]


def _stays(transaction: Transaction, trial: str, cook: str) -> list[Placement]:
    return [stay for stay in transaction.list(Placement, trial=trial) if stay.cook == cook]


def whole_cooks(book: Notebook, now: datetime) -> list[tuple[str, str]]:
    """Return the (trial, cook) that have ended and whose streams may be flagged as a whole."""
    with book.reading() as connection:
        rows = connection.execute(
            STREAM.select().where(STREAM.c.ended_at.is_(None), ~STREAM.c.whole)
        ).all()
    found = []
    for trial, cook_id in dict.fromkeys((row.trial_id, row.cook) for row in rows):
        cook = next((one for one in book.list(Cook, trial=trial) if one.id == cook_id), None)
        if cook is None or cook.ends is None or now - cook.ends < SETTLED_AFTER:
            continue
        last = max((s.end_ms for s in book.spans(trial) if s.cook == cook_id), default=0)
        if now.timestamp() * 1000 - last >= SETTLED_AFTER.total_seconds() * 1000:
            found.append((trial, cook_id))
    return found


def flag_whole(transaction: Transaction, _: Placing, trial: str, cook: str) -> int:
    """Flag every stream of a cook as a whole; return how many."""
    return streams.flag_as_a_whole(transaction, trial, cook, _stays(transaction, trial, cook))
