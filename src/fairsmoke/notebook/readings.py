"""Readings in the notebook: rows of packed blocks, by trial, cook, probe and source.

A block is written once and never changed. Readings that came from no file have no source. What
arrived one by one and was not packed yet (``loose``) is read together with the blocks.
"""

import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from sqlalchemy import ColumnElement, Connection, Select, and_, func, insert, or_, select

from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_
from fairsmoke.notebook.codec import decode, encode
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.mapper import Columns
from fairsmoke.notebook.single_readings import ReadingPlace, loose_parts, loose_spans
from fairsmoke.notebook.tables import LOOSE_READING, READING_BLOCK, TABLES
from fairsmoke.trial.clock import EARLIEST_MS, LATEST_MS
from fairsmoke.trial.reading import MAX_DECIMALS, Readings, ReadingUnit
from fairsmoke.trial.record import ReadingKey

BLOCK_READINGS = 4096
"""At most so many readings in a block."""

_BLOCK, _LOOSE = READING_BLOCK.c, LOOSE_READING.c


@dataclass(frozen=True)
class Span:
    """What was read by one probe from one source: how many readings, from when to when.

    ``source`` is None for readings that came from no file.
    """

    cook: str
    probe: str
    source: str | None
    n: int
    start_ms: int
    end_ms: int


@dataclass(frozen=True)
class Series:
    """All readings of one probe from one source in one unit, as they were kept.

    ``hidden`` when their source or their cook was struck out.
    """

    cook: str
    probe: str
    source: str | None
    readings: Readings
    hidden: bool = False


def checksum_of(row: Columns) -> int:
    """Return the CRC-32 (IEEE 802.3) over a block's payload and what is said about it."""
    said = "|".join(
        str(row[name]) for name in ("number", "start_ms", "end_ms", "n", "unit", "decimals")
    )
    return zlib.crc32(row["payload"], zlib.crc32(said.encode()))


def add_blocks(
    connection: Connection,
    trial_id: str,
    cook: str,
    source: str | None,
    readings: Mapping[str, Readings | Sequence[Readings]],
) -> int:
    """Write the readings of each probe behind what is there; return how many were written.

    Raises NotebookError when a time lies outside the years 1900 to 2999.
    """
    rows: list[dict[str, Any]] = []
    for probe, given in readings.items():
        place = ReadingPlace(trial_id, cook, probe, source)
        parts = _blocks(probe, [given] if isinstance(given, Readings) else given)
        following = _following_number(connection, place)
        rows += [
            place.values | _block_row(number, part) for number, part in enumerate(parts, following)
        ]
    if rows:
        connection.execute(insert(READING_BLOCK), rows)
    return sum(row["n"] for row in rows)


def _blocks(probe: str, stretches: Sequence[Readings]) -> Iterator[Readings]:
    for one in stretches:
        if len(one) and (one.time_ms[0] < EARLIEST_MS or one.time_ms[-1] >= LATEST_MS):
            raise NotebookError(
                N_(
                    "readings of probe '%(probe)s': a time lies outside the years 1900 to "
                    "2999; correct the logger's clock in the file",
                    probe=probe,
                )
            )
        for start in range(0, len(one), BLOCK_READINGS):
            yield one.take(slice(start, start + BLOCK_READINGS))


def _following_number(connection: Connection, place: ReadingPlace) -> int:
    last = connection.scalar(select(func.max(_BLOCK.number)).where(*place.of(_BLOCK)))
    return 1 if last is None else int(last) + 1


def _block_row(number: int, part: Readings) -> dict[str, Any]:
    row: dict[str, Any] = {
        "number": number,
        "start_ms": int(part.time_ms[0]),
        "end_ms": int(part.time_ms[-1]),
        "n": len(part),
        "unit": part.unit,
        "decimals": part.decimals,
        "payload": encode(part.time_ms, part.raw, part.flags),
    }
    return row | {"checksum": checksum_of(row)}


def unpacked(row: Columns) -> Readings:
    """Return the readings of one block.

    Raises NotebookError when the block was damaged.
    """
    place = f"readings of probe '{row['probe']}' in cook '{row['cook']}', block {row['id']}"
    if checksum_of(row) != row["checksum"]:
        raise NotebookError(
            N_("%(place)s: damaged (its checksum is wrong); go on from a backup copy", place=place)
        )
    try:
        time_ms, raw, flags = decode(row["payload"])
        part = Readings(time_ms, raw, row["decimals"], cast(ReadingUnit, row["unit"]), flags)
    except ValueError as error:
        raise NotebookError(
            N_(
                "%(place)s: damaged (%(error)s); go on from a backup copy",
                place=place,
                error=message_of(error),
            )
        ) from error
    if (len(part), int(time_ms[0]), int(time_ms[-1])) != (row["n"], row["start_ms"], row["end_ms"]):
        raise NotebookError(
            N_("%(place)s: damaged (not what it says); go on from a backup copy", place=place)
        )
    return part


def shown(readings: Any = _BLOCK) -> ColumnElement[bool]:
    """Return the condition that neither a row's source nor its cook was struck out.

    ``readings`` are the columns of the table that is asked: blocks, or loose readings.
    """
    source, cook = TABLES["source"].c, TABLES["cook"].c
    struck_source = select(source.id).where(
        source.trial_id == readings.trial_id, source.id == readings.source, source.struck
    )
    struck_cook = select(cook.id).where(
        cook.trial_id == readings.trial_id, cook.id == readings.cook, cook.struck
    )
    return and_(
        or_(readings.source.is_(None), ~struck_source.exists()),
        ~struck_cook.exists(),
    )


def _in_order(query: Select[Any]) -> Select[Any]:
    # Fixed by what the readings are, so that a copy made through a folder gives the same order.
    return query.order_by(_BLOCK.source, _BLOCK.unit, _BLOCK.number)


def load_readings(
    connection: Connection,
    trial_id: str,
    cook: str,
    probe: str,
    start_ms: int | None = None,
    end_ms: int | None = None,
) -> Readings:
    """Return what a probe read in a cook with start_ms <= time < end_ms, from every source.

    Struck-out sources are left out. Sources in different units come out in one that holds every
    value exactly.
    """
    query = select(READING_BLOCK).where(
        _BLOCK.trial_id == trial_id, _BLOCK.cook == cook, _BLOCK.probe == probe, shown()
    )
    place = [_LOOSE.trial_id == trial_id, _LOOSE.cook == cook, _LOOSE.probe == probe]
    if start_ms is not None:
        query = query.where(_BLOCK.end_ms >= start_ms)
        place.append(_LOOSE.time_ms >= start_ms)
    if end_ms is not None:
        query = query.where(_BLOCK.start_ms < end_ms)
        place.append(_LOOSE.time_ms < end_ms)
    parts = [unpacked(row) for row in connection.execute(_in_order(query)).mappings()]
    for _, loose in _by_source(loose_parts(connection, *place, shown(_LOOSE))):
        parts += loose
    whole = joined(parts)
    if start_ms is None and end_ms is None:
        return whole
    low = EARLIEST_MS if start_ms is None else start_ms
    return whole.between(low, LATEST_MS if end_ms is None else end_ms)


def load_source(
    connection: Connection, trial_id: str, source: str
) -> dict[ReadingKey, list[Readings]]:
    """Return the readings of one source, as they were kept, hidden or not, by cook and probe.

    Those alike in unit are one; nothing is converted.
    """
    query = select(READING_BLOCK).where(_BLOCK.trial_id == trial_id, _BLOCK.source == source)
    parts: dict[ReadingKey, list[Readings]] = {}
    for row in connection.execute(_in_order(query)).mappings():
        parts.setdefault((row["cook"], row["probe"]), []).append(unpacked(row))
    loose = loose_parts(connection, _LOOSE.trial_id == trial_id, _LOOSE.source == source)
    for place, found in loose.items():
        parts.setdefault((place.cook, place.probe), []).extend(found)
    return {
        key: [
            Readings.joined([part for part in found if part.unit == unit])
            for unit in sorted({part.unit for part in found})
        ]
        for key, found in sorted(parts.items())
    }


def _by_source(
    found: Mapping[ReadingPlace, list[Readings]],
) -> list[tuple[ReadingPlace, list[Readings]]]:
    return sorted(found.items(), key=lambda item: item[0].source or "")


def load_all_readings(connection: Connection, trial_id: str) -> dict[ReadingKey, Readings]:
    """Return the readings of every probe in every cook of a trial."""
    query = select(READING_BLOCK).where(_BLOCK.trial_id == trial_id, shown())
    parts: dict[ReadingKey, list[Readings]] = {}
    for row in connection.execute(_in_order(query)).mappings():
        parts.setdefault((row["cook"], row["probe"]), []).append(unpacked(row))
    of_trial = loose_parts(connection, _LOOSE.trial_id == trial_id, shown(_LOOSE))
    for place, loose in _by_source(of_trial):
        parts.setdefault((place.cook, place.probe), []).extend(loose)
    return {key: joined(found) for key, found in sorted(parts.items())}


def spans(connection: Connection, trial_id: str, cook: str = "") -> tuple[Span, ...]:
    """Return what was read from when to when, without unpacking anything; of one cook if given."""
    packed_of = (_BLOCK.cook == cook,) if cook else ()
    loose_of = (_LOOSE.cook == cook,) if cook else ()
    query = (
        select(
            _BLOCK.cook,
            _BLOCK.probe,
            _BLOCK.source,
            func.sum(_BLOCK.n),
            func.min(_BLOCK.start_ms),
            func.max(_BLOCK.end_ms),
        )
        .where(_BLOCK.trial_id == trial_id, shown(), *packed_of)
        .group_by(_BLOCK.cook, _BLOCK.probe, _BLOCK.source)
    )
    found = {(row[0], row[1], row[2]): Span(*row) for row in connection.execute(query)}
    loose = loose_spans(connection, trial_id, shown(_LOOSE), *loose_of)
    for place, (n, start_ms, end_ms) in loose.items():
        key = (place.cook, place.probe, place.source)
        packed = found.get(key, Span(*key, 0, start_ms, end_ms))
        found[key] = Span(
            *key, packed.n + n, min(packed.start_ms, start_ms), max(packed.end_ms, end_ms)
        )
    return tuple(found.values())


def all_series(connection: Connection, trial_id: str) -> Iterator[Series]:
    """Yield every series of a trial as it was kept, the hidden ones too, in a fixed order."""
    visible = {(span.cook, span.probe, span.source or "") for span in spans(connection, trial_id)}
    packed = connection.execute(
        select(_BLOCK.trial_id, _BLOCK.cook, _BLOCK.probe, _BLOCK.source)
        .where(_BLOCK.trial_id == trial_id)
        .distinct()
    )
    loose = loose_parts(connection, _LOOSE.trial_id == trial_id)
    places = {ReadingPlace(*row) for row in packed} | set(loose)
    for place in sorted(places, key=lambda one: (one.cook, one.probe, one.source or "")):
        query = select(READING_BLOCK).where(*place.of(_BLOCK))
        by_unit: dict[str, list[Readings]] = {}
        for row in connection.execute(_in_order(query)).mappings():
            by_unit.setdefault(row["unit"], []).append(unpacked(row))
        for part in loose.get(place, ()):
            by_unit.setdefault(part.unit, []).append(part)
        hidden = (place.cook, place.probe, place.source or "") not in visible
        for _, parts in sorted(by_unit.items()):
            yield Series(place.cook, place.probe, place.source, joined(parts), hidden)


def joined(parts: Sequence[Readings]) -> Readings:
    """Put readings of one probe into one order of time, in one unit that loses nothing.

    Degrees Celsius and kelvins become degrees Celsius; with degrees Fahrenheit among them all
    become degrees Fahrenheit, since 1.8 and 32 are exact decimals and 1/1.8 is not.
    Raises NotebookError when a value then needs more than 9 decimals or 64 bits.
    """
    units = {part.unit for part in parts}
    if len(units) > 1:
        to_common = _as_fahrenheit if "degF" in units else _as_celsius
        parts = [to_common(part) for part in parts]
    if len(parts) == 1:
        return parts[0]
    decimals = max((part.decimals for part in parts), default=0)
    _check_room(((part, 10 ** (decimals - part.decimals), 0) for part in parts), decimals)
    return Readings.joined(parts)


def _check_room(scaled: Iterable[tuple[Readings, int, int]], decimals: int) -> None:
    for part, factor, offset in scaled:
        if decimals > MAX_DECIMALS:
            raise NotebookError(
                N_(
                    "readings in different units would need %(decimals)s decimals to be "
                    "joined; strike out one of their sources",
                    decimals=decimals,
                )
            )
        if len(part):
            largest = max(abs(int(part.raw.max())), abs(int(part.raw.min())))
            if largest * factor + abs(offset) >= 2**63:
                raise NotebookError(
                    N_("readings with such large values cannot be joined; strike out one source")
                )


def _moved(part: Readings, factor: int, offset: int, decimals: int, unit: ReadingUnit) -> Readings:
    # `factor` and `offset` are in units of the new last decimal.
    _check_room([(part, factor, offset)], decimals)
    return Readings(
        part.time_ms, part.raw * np.int64(factor) + np.int64(offset), decimals, unit, part.flags
    )


def _as_celsius(part: Readings) -> Readings:
    if part.unit != "K":
        return part
    decimals = max(part.decimals, 2)
    offset = -27315 * 10 ** (decimals - 2)
    return _moved(part, 10 ** (decimals - part.decimals), offset, decimals, "degC")


def _as_fahrenheit(part: Readings) -> Readings:
    if part.unit == "degF":
        return part
    celsius = _as_celsius(part)
    decimals = celsius.decimals + 1
    return _moved(celsius, 18, 32 * 10**decimals, decimals, "degF")


class LazyReadings(Mapping[ReadingKey, Readings]):
    """The readings of a trial, each probe's unpacked when it is first asked for and then kept."""

    def __init__(self, keys: Iterable[ReadingKey], load: Callable[[str, str], Readings]) -> None:
        self._keys = dict.fromkeys(keys)
        self._load = load
        self._kept: dict[ReadingKey, Readings] = {}

    def __getitem__(self, key: ReadingKey) -> Readings:
        if key not in self._keys:
            raise KeyError(key)
        if key not in self._kept:
            self._kept[key] = self._load(*key)
        return self._kept[key]

    def __iter__(self) -> Iterator[ReadingKey]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)
