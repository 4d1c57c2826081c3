"""The invented trial moved in time, so that its last night is in the middle of its course now."""

from dataclasses import fields, replace
from datetime import datetime, timedelta
from typing import Any, TypeVar

from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.record import TrialRecord

R = TypeVar("R", bound=Record)


def moved(record: TrialRecord, by: timedelta) -> TrialRecord:
    """Return a record in which everything happened that much later; durations stay.

    Texts that name a date stay as they were written.
    """
    changes: dict[str, Any] = {}
    for one in fields(record):
        held = getattr(record, one.name)
        if isinstance(held, Record):
            changes[one.name] = _later(held, by)
        elif isinstance(held, tuple):
            changes[one.name] = tuple(_later(each, by) for each in held)
    step_ms = round(by.total_seconds() * 1000)
    readings = {
        key: replace(held, time_ms=held.time_ms + step_ms) for key, held in record.readings.items()
    }
    return replace(record, **changes, readings=readings)


def _later(held: R, by: timedelta) -> R:
    instants = {
        name: value + by
        for name in type(held).model_fields
        if isinstance(value := getattr(held, name), datetime)
    }
    return held.model_copy(update=instants) if instants else held


def as_of(record: TrialRecord, moment: datetime) -> TrialRecord:
    """Return what of a record had been written down at a moment.

    A cook that had not ended goes on: it has no end, nothing later than the moment, no weighing
    whose time is not known unless it was made before the piece went on, and no source, because a
    logger's file is taken in when a cook is over.
    """
    cooks = tuple(
        cook
        if cook.ends is not None and cook.ends <= moment
        else cook.model_copy(update={"ends": None})
        for cook in record.cooks
        if cook.starts <= moment
    )
    begun = {cook.id for cook in cooks}
    running = {cook.id for cook in cooks if cook.ends is None}
    pieces = tuple(piece for piece in record.pieces if piece.cook is None or piece.cook in begun)
    known = {piece.id for piece in pieces}
    unfinished = {piece.id for piece in pieces if piece.cook in running}
    placements = tuple(
        one.model_copy(update={"until": None}) if one.until and one.until > moment else one
        for one in record.placements
        if one.cook in begun and one.since <= moment
    )
    until_ms = epoch_ms(moment)
    return replace(
        record,
        cooks=cooks,
        pieces=pieces,
        placements=placements,
        events=tuple(one for one in record.events if one.at <= moment),
        weighings=tuple(
            one
            for one in record.weighings
            if one.cook not in running or (one.at is not None and one.at <= moment)
        ),
        estimates=tuple(one for one in record.estimates if one.piece in known - unfinished),
        samples=tuple(one for one in record.samples if one.piece in known - unfinished),
        ballots=tuple(one for one in record.ballots if one.at is None or one.at <= moment),
        exclusions=tuple(one for one in record.exclusions if one.cook in begun - running),
        sources=tuple(one for one in record.sources if one.cook in begun - running),
        readings={
            key: held.between(0, until_ms + 1)
            for key, held in record.readings.items()
            if key[0] in begun
        },
    )
