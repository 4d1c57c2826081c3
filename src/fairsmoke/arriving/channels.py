"""Channels: what each sender calls its probes, which probe each is, and what waits for a name."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from sqlalchemy import Connection, Row, delete, func, insert, select, update

from fairsmoke.arriving.batch import Arrived
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import CHANNEL, DEVICE, WAITING_READING, WATCH
from fairsmoke.notebook.single_readings import said_by
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.reading import Readings, ReadingUnit

MOST_CHANNELS = 64
"""Of one sender; more are names that change, which is a fault of what sends."""

_WAIT = WAITING_READING.c


@dataclass(frozen=True)
class Channel:
    """One channel of one sender. ``probe`` is None until a person says which it is."""

    id: int
    way: str
    whose: str
    name: str
    probe: str | None
    left_out: bool


def _channel(row: Row[tuple[object, ...]]) -> Channel:
    return Channel(row.id, row.way, row.whose, row.name, row.probe, row.left_out)


def channels(connection: Connection) -> list[Channel]:
    """Return every channel, those of one sender together."""
    query = select(CHANNEL).order_by(CHANNEL.c.way, CHANNEL.c.whose, CHANNEL.c.id)
    return [_channel(row) for row in connection.execute(query)]


def find(connection: Connection, number: int) -> Channel:
    """Return a channel; raises InputError when there is none."""
    row = connection.execute(select(CHANNEL).where(CHANNEL.c.id == number)).one_or_none()
    if row is None:
        raise InputError(N_("There is no such channel."), code="no-channel", kind="missing")
    return _channel(row)


def channel_of(transaction: Transaction, way: str, whose: str, name: str) -> Channel:
    """Return a sender's channel, which is added when it was never seen.

    Raises InputError when the sender has so many that it must be making them up.
    """
    connection = transaction.connection
    of_sender = (CHANNEL.c.way == way, CHANNEL.c.whose == whose)
    row = connection.execute(
        select(CHANNEL).where(*of_sender, CHANNEL.c.name == name)
    ).one_or_none()
    if row is not None:
        return _channel(row)
    many = connection.scalar(select(func.count()).select_from(CHANNEL).where(*of_sender)) or 0
    if many >= MOST_CHANNELS:
        message = N_(
            "This sender has %(count)s channels already; give each probe one name that stays.",
            count=many,
        )
        raise InputError(message, code="too-many-channels")
    key = connection.execute(
        insert(CHANNEL).values(
            way=way, whose=whose, name=name, probe=None, left_out=False, first_at=transaction.at
        )
    ).inserted_primary_key
    assert key is not None
    return Channel(key[0], way, whose, name, None, False)


def name_channel(
    transaction: Transaction, number: int, probe: str | None, *, left_out: bool = False
) -> None:
    """Say which probe a channel is, or that it is left out."""
    transaction.connection.execute(
        update(CHANNEL).where(CHANNEL.c.id == number).values(probe=probe, left_out=left_out)
    )


def keep_waiting(
    connection: Connection, channel: Channel, parts: Sequence[Readings], arrived: Arrived
) -> int:
    """Keep readings until it is known whose they are; return how many were not kept before."""
    rows = [
        {"channel": channel.id, "hold": arrived.held, "received_at": arrived.received}
        | {key: value for key, value in said._asdict().items() if key != "flags"}
        for part in parts
        for said in said_by(part)
    ]
    if not rows:
        return 0
    before = connection.exec_driver_sql("SELECT total_changes()").scalar_one()
    connection.execute(insert(WAITING_READING).prefix_with("OR IGNORE"), rows)
    after = connection.exec_driver_sql("SELECT total_changes()").scalar_one()
    return int(after) - int(before)


@dataclass(frozen=True)
class Waits:
    """How much of a channel waits, from when to when; ``held`` of it for its clock."""

    count: int
    held: int
    first_ms: int
    last_ms: int
    off_ms: int


def waits(connection: Connection) -> dict[int, Waits]:
    """Return what waits, by channel."""
    query = select(
        _WAIT.channel,
        func.count(),
        func.sum(func.iif(_WAIT.hold != "", 1, 0)),
        func.min(_WAIT.time_ms),
        func.max(_WAIT.time_ms),
        func.max(_WAIT.hold),
    ).group_by(_WAIT.channel)
    return {
        row[0]: Waits(row[1], row[2], row[3], row[4], _off_ms(row[5]))
        for row in connection.execute(query)
    }


def _off_ms(hold: str) -> int:
    return int(hold.partition(" ")[2]) if hold else 0


@dataclass(frozen=True)
class WaitingReadings:
    """Readings that wait, alike in unit and decimals, with their rows' ids (n,) beside them.

    ``off_ms`` is what their times would have to be moved by, 0 unless they are held for a clock.
    """

    ids: list[int]
    readings: Readings
    off_ms: int


def waiting(connection: Connection, channel: int, *, held: bool) -> list[WaitingReadings]:
    """Return all that waits of a channel, for its clock or for its place."""
    condition = _WAIT.hold != "" if held else _WAIT.hold == ""
    query = (
        select(WAITING_READING)
        .where(_WAIT.channel == channel, condition)
        .order_by(_WAIT.time_ms, _WAIT.id)
    )
    alike: dict[tuple[str, str, int], list[Row[tuple[object, ...]]]] = {}
    for row in connection.execute(query):
        alike.setdefault((row.hold, row.unit, row.decimals), []).append(row)
    return [
        WaitingReadings(
            [row.id for row in rows],
            Readings(
                np.array([row.time_ms for row in rows], dtype=np.int64),
                np.array([row.raw for row in rows], dtype=np.int64),
                decimals,
                cast(ReadingUnit, unit),
                np.zeros(len(rows), dtype=np.uint8),
            ),
            _off_ms(hold),
        )
        for (hold, unit, decimals), rows in alike.items()
    ]


def channels_waiting(connection: Connection) -> list[Channel]:
    """Return the channels whose probe is known and of which something waits for its cook."""
    query = select(CHANNEL).where(
        CHANNEL.c.probe.is_not(None),
        select(_WAIT.id).where(_WAIT.channel == CHANNEL.c.id, _WAIT.hold == "").exists(),
    )
    return [_channel(row) for row in connection.execute(query)]


def no_longer_waits(connection: Connection, ids: Sequence[int]) -> None:
    """Let go of readings that are in the record; the database refuses those that are not."""
    for start in range(0, len(ids), 500):
        connection.execute(delete(WAITING_READING).where(_WAIT.id.in_(ids[start : start + 500])))


def sender_names(connection: Connection) -> dict[tuple[str, str], str]:
    """Return what people call each sender, by its way and who it is."""
    names = {
        ("device", str(row.id)): row.name
        for row in connection.execute(select(DEVICE.c.id, DEVICE.c.name))
    }
    names |= {
        ("file", str(row.id)): row.path.replace("\\", "/").rpartition("/")[2]
        for row in connection.execute(select(WATCH.c.id, WATCH.c.path))
    }
    return names
