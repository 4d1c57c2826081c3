"""Streams: what one channel sent for one cook, kept as a source of its own.

A source can be struck out, and its readings then leave every computation but not the notebook. So
a channel that was given the wrong probe is put right by striking its stream and keeping the same
readings, as they arrived, under the right probe; and a cook that has ended has its streams flagged
anew, now that all of each is known. Nothing that was recorded is changed.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection, Row, insert, select, update

from fairsmoke.arriving.live_flags import flags_of_whole
from fairsmoke.intake.merge import new_only
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.app_tables import CHANNEL, STREAM
from fairsmoke.notebook.readings import add_blocks, load_readings, load_source
from fairsmoke.notebook.tables import REVISION, TABLES
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.source import STREAM as LAYOUT
from fairsmoke.trial.source import Source

PUT_UNDER = "the channel was put under another probe"
AS_A_WHOLE = "the cook has ended: its readings are flagged as a whole"


@dataclass(frozen=True)
class Origin:
    """Who sends a channel, as a source names it: "device", "Logger by the door", "pit"."""

    channel: int
    way: str
    sender: str
    name: str


def current(connection: Connection, channel: int, trial: str, cook: str, probe: str) -> str | None:
    """Return the source to which that channel's readings of a cook are added now, if any."""
    source = TABLES["source"].c
    query = (
        select(STREAM.c.source)
        .join(
            TABLES["source"],
            (source.trial_id == STREAM.c.trial_id) & (source.id == STREAM.c.source),
        )
        .where(
            STREAM.c.channel == channel,
            STREAM.c.trial_id == trial,
            STREAM.c.cook == cook,
            STREAM.c.probe == probe,
            STREAM.c.ended_at.is_(None),
            ~STREAM.c.whole,
            ~source.struck,
        )
    )
    found: str | None = connection.scalars(query.limit(1)).first()
    return found


def begin(
    transaction: Transaction,
    origin: Origin,
    trial: str,
    cook: str,
    probe: str,
    *,
    whole: int | None = None,
) -> str:
    """Record a new stream and return its source's handle.

    ``whole`` is how many readings it has, when they are all known and none is added later.
    """
    handle = _free_handle(transaction.connection, trial, f"live-{origin.channel}-{cook[:40]}")
    told = {"way": origin.way, "from": origin.sender, "channel": origin.name, "probe": probe}
    source = Source(
        id=handle,
        cook=cook,
        file_name=f"{origin.sender}: {origin.name}"[:200],
        sha256=hashlib.sha256(f"{handle} {json.dumps(told)}".encode()).hexdigest(),
        taken_in=transaction.at,
        layout=LAYOUT,
        mapping=json.dumps(told, ensure_ascii=False),
        rows_read=0,
        rows_good=0,
        rows_bad=0,
        readings_new=whole or 0,
    )
    transaction.save(source, trial=trial)
    transaction.connection.execute(
        insert(STREAM).values(
            trial_id=trial,
            source=handle,
            channel=origin.channel,
            cook=cook,
            probe=probe,
            began_at=transaction.at,
            whole=whole is not None,
        )
    )
    return handle


def _free_handle(connection: Connection, trial: str, wanted: str) -> str:
    wanted = wanted.rstrip("-")
    query = select(REVISION.c.record_id).where(
        REVISION.c.kind == "source",
        REVISION.c.trial_id == trial,
        REVISION.c.record_id.startswith(wanted),
    )
    taken = set(connection.scalars(query))
    number, free = 1, wanted
    while free in taken:
        number += 1
        free = f"{wanted}-{number}"
    return free


def streams_of(
    connection: Connection, *, channel: int | None = None, cook: tuple[str, str] | None = None
) -> Sequence[Row[tuple[object, ...]]]:
    """Return the streams that count, of a channel or of a (trial, cook): rows of ``STREAM``."""
    source = TABLES["source"].c
    query = (
        select(STREAM)
        .join(
            TABLES["source"],
            (source.trial_id == STREAM.c.trial_id) & (source.id == STREAM.c.source),
        )
        .where(STREAM.c.ended_at.is_(None), ~source.struck)
    )
    if channel is not None:
        query = query.where(STREAM.c.channel == channel)
    if cook is not None:
        query = query.where(STREAM.c.trial_id == cook[0], STREAM.c.cook == cook[1])
    return connection.execute(query).all()


def rewrite(
    transaction: Transaction,
    origin: Origin,
    trial: str,
    source: str,
    cook: str,
    probe: str,
    stays: Sequence[Placement],
    *,
    why: str,
) -> int:
    """Strike a stream and keep its readings under a probe, flagged as a whole; return how many.

    ``stays`` are the placements of the cook. Raises JobError when there is nothing in it.
    """
    connection = transaction.connection
    parts = [part for found in load_source(connection, trial, source).values() for part in found]
    if not parts:
        raise JobError(N_("source %(source)s has no readings", source=source))
    transaction.strike(Source, source, why=why, trial=trial)
    ended = {"ended_at": transaction.at}
    where = (STREAM.c.trial_id == trial, STREAM.c.source == source)
    connection.execute(update(STREAM).where(*where).values(ended))
    ready = []
    for part in parts:
        merged = new_only(load_readings(connection, trial, cook, probe), _plain(part))
        ready.append(flags_of_whole(merged.new, probe, stays))
    count = sum(len(part) for part in ready)
    handle = begin(transaction, origin, trial, cook, probe, whole=count)
    add_blocks(connection, trial, cook, handle, {probe: ready})
    return count


def _plain(part: Readings) -> Readings:
    return Readings(part.time_ms, part.raw, part.decimals, part.unit, np.zeros_like(part.flags))


def flag_as_a_whole(
    transaction: Transaction, trial: str, cook: str, stays: Sequence[Placement]
) -> int:
    """Flag every stream of a cook anew, all of each being known; return how many streams."""
    done = 0
    for stream in streams_of(transaction.connection, cook=(trial, cook)):
        if stream.whole or not load_source(transaction.connection, trial, stream.source):
            continue
        origin = origin_of(transaction.connection, trial, stream.source, stream.channel)
        rewrite(
            transaction, origin, trial, stream.source, cook, stream.probe, stays, why=AS_A_WHOLE
        )
        done += 1
    return done


def origin_of(connection: Connection, trial: str, source: str, channel: int) -> Origin:
    """Return who sent a stream, as its source says."""
    table = TABLES["source"].c
    told = json.loads(
        connection.scalars(
            select(table.mapping).where(table.trial_id == trial, table.id == source)
        ).one()
    )
    name = connection.scalars(select(CHANNEL.c.name).where(CHANNEL.c.id == channel)).one()
    return Origin(channel, told["way"], told["from"], name)
