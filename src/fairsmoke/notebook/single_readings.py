"""Readings that arrive one by one: kept as rows, and packed into a block when there are many.

A block for each reading would cost a hundred times the room. Who reads gets both, in one order of
time; packing changes neither the readings nor their order.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

import numpy as np
from sqlalchemy import ColumnElement, Connection, delete, func, insert, select

from fairsmoke.notebook.tables import LOOSE_READING
from fairsmoke.trial.reading import Readings, ReadingUnit

_LOOSE = LOOSE_READING.c
_VALUES = (_LOOSE.id, _LOOSE.time_ms, _LOOSE.raw, _LOOSE.decimals, _LOOSE.unit, _LOOSE.flags)


@dataclass(frozen=True)
class ReadingPlace:
    """Where readings belong: a probe in a cook of a trial, from one source (None: from no file)."""

    trial_id: str
    cook: str
    probe: str
    source: str | None = None

    def of(self, columns: Any) -> list[ColumnElement[bool]]:
        """Return the conditions that a table's row is of this place."""
        return [
            columns.trial_id == self.trial_id,
            columns.cook == self.cook,
            columns.probe == self.probe,
            columns.source.is_not_distinct_from(self.source),
        ]

    @property
    def values(self) -> dict[str, str | None]:
        """The place as columns of a row."""
        return {
            "trial_id": self.trial_id,
            "cook": self.cook,
            "probe": self.probe,
            "source": self.source,
        }


class SingleReading(NamedTuple):
    """All that one reading says."""

    time_ms: int
    raw: int
    decimals: int
    unit: str
    flags: int


def said_by(readings: Readings) -> Iterator[SingleReading]:
    """Yield each reading by itself."""
    for time_ms, raw, flags in zip(
        readings.time_ms.tolist(), readings.raw.tolist(), readings.flags.tolist(), strict=True
    ):
        yield SingleReading(time_ms, raw, readings.decimals, readings.unit, flags)


def insert_loose(
    connection: Connection, place: ReadingPlace, given: Iterable[SingleReading]
) -> int:
    """Write readings behind those that are there; return how many."""
    rows = [place.values | said._asdict() for said in given]
    if rows:
        connection.execute(insert(LOOSE_READING), rows)
    return len(rows)


def loose_between(
    connection: Connection, place: ReadingPlace, start_ms: int, end_ms: int
) -> set[SingleReading]:
    """Return what loose readings of a place say with start_ms <= time <= end_ms."""
    query = select(*_VALUES[1:]).where(
        *place.of(_LOOSE), _LOOSE.time_ms >= start_ms, _LOOSE.time_ms <= end_ms
    )
    return {SingleReading(*row) for row in connection.execute(query)}


def loose_parts(
    connection: Connection, *conditions: ColumnElement[bool]
) -> dict[ReadingPlace, list[Readings]]:
    """Return loose readings by their place, those alike in order of time, then of arrival."""
    where = (_LOOSE.trial_id, _LOOSE.cook, _LOOSE.probe, _LOOSE.source)
    query = select(*where, *_VALUES).where(*conditions).order_by(_LOOSE.time_ms, _LOOSE.id)
    by_place: dict[ReadingPlace, list[Any]] = {}
    for row in connection.execute(query):
        by_place.setdefault(ReadingPlace(*row[:4]), []).append(row)
    return {place: in_units(rows) for place, rows in by_place.items()}


def in_units(rows: Sequence[Any]) -> list[Readings]:
    """Put rows in order of time together that share unit and decimals; nothing is converted."""
    alike: dict[tuple[str, int], list[Any]] = {}
    for row in rows:
        alike.setdefault((row.unit, row.decimals), []).append(row)
    return [
        Readings(
            np.array([row.time_ms for row in found], dtype=np.int64),
            np.array([row.raw for row in found], dtype=np.int64),
            decimals,
            cast(ReadingUnit, unit),
            np.array([row.flags for row in found], dtype=np.uint8),
        )
        for (unit, decimals), found in sorted(alike.items())
    ]


def many_loose(connection: Connection, at_least: int) -> list[ReadingPlace]:
    """Return the places that have at least so many loose readings."""
    where = (_LOOSE.trial_id, _LOOSE.cook, _LOOSE.probe, _LOOSE.source)
    query = select(*where).group_by(*where).having(func.count() >= at_least)
    return [ReadingPlace(*row) for row in connection.execute(query)]


def remove_loose(connection: Connection, place: ReadingPlace) -> None:
    """Remove a place's loose readings; the database refuses those that no block has."""
    connection.execute(delete(LOOSE_READING).where(*place.of(_LOOSE)))


def loose_spans(
    connection: Connection, trial_id: str, *conditions: ColumnElement[bool]
) -> Mapping[ReadingPlace, tuple[int, int, int]]:
    """Return for each place how many loose readings there are, and the first and last time."""
    where = (_LOOSE.trial_id, _LOOSE.cook, _LOOSE.probe, _LOOSE.source)
    query = (
        select(*where, func.count(), func.min(_LOOSE.time_ms), func.max(_LOOSE.time_ms))
        .where(_LOOSE.trial_id == trial_id, *conditions)
        .group_by(*where)
    )
    return {ReadingPlace(*row[:4]): (row[4], row[5], row[6]) for row in connection.execute(query)}
