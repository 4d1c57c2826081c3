"""Taking in readings that arrive one by one, as from a device or a keypad, each exactly once."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, insert, select

from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.readings import (
    BLOCK_READINGS,
    add_blocks,
    unpacked,
)
from fairsmoke.notebook.references import check_readings_place
from fairsmoke.notebook.single_readings import (
    ReadingPlace,
    SingleReading,
    insert_loose,
    loose_between,
    loose_parts,
    many_loose,
    remove_loose,
    said_by,
)
from fairsmoke.notebook.tables import LOOSE_READING, READING_BLOCK
from fairsmoke.trial.clock import EARLIEST_MS, LATEST_MS
from fairsmoke.trial.reading import Readings

_BLOCK, _LOOSE = READING_BLOCK.c, LOOSE_READING.c


def append(
    connection: Connection,
    trial_id: str,
    cook: str,
    readings: Mapping[str, Readings | Sequence[Readings]],
    source: str | None = None,
) -> int:
    """Write readings, by probe, as they arrive; return how many were new.

    One that says exactly what a reading of that probe, cook and source already says (its time,
    value, digits, unit and flags) is that reading, sent again, and not written. Another value at
    the same time is kept beside the first. Raises NotebookError when the cook or a probe is not
    there or a time lies outside the years 1900 to 2999.
    """
    check_readings_place(connection, trial_id, cook, list(readings))
    new = 0
    for probe, given in readings.items():
        place = ReadingPlace(trial_id, cook, probe, source)
        for part in [given] if isinstance(given, Readings) else given:
            if not len(part):
                continue
            start_ms, end_ms = int(part.time_ms[0]), int(part.time_ms[-1])
            if start_ms < EARLIEST_MS or end_ms >= LATEST_MS:
                raise NotebookError(
                    N_(
                        "readings of probe '%(probe)s': a time lies outside the years 1900 to "
                        "2999; set the clock of what sends them",
                        probe=probe,
                    )
                )
            there = loose_between(connection, place, start_ms, end_ms)
            there |= _packed_between(connection, place, start_ms, end_ms)
            fresh = [said for said in dict.fromkeys(said_by(part)) if said not in there]
            new += insert_loose(connection, place, fresh)
    return new


def insert_new(connection: Connection, parts: Mapping[ReadingPlace, Sequence[Readings]]) -> int:
    """Write readings that the caller knows to be new, all at once; return how many.

    The caller has looked for repeats and for what they belong to; the database still refuses a
    cook, probe or source that is not there. Raises NotebookError as ``append`` for a time.
    """
    rows: list[dict[str, Any]] = []
    for place, given in parts.items():
        for part in given:
            if len(part) and not EARLIEST_MS <= part.time_ms[0] <= part.time_ms[-1] < LATEST_MS:
                raise NotebookError(
                    N_("readings of probe '%(probe)s': a time is out of range", probe=place.probe)
                )
            rows += [place.values | said._asdict() for said in said_by(part)]
    if rows:
        connection.execute(insert(LOOSE_READING), rows)
    return len(rows)


def _packed_between(
    connection: Connection, place: ReadingPlace, start_ms: int, end_ms: int
) -> set[SingleReading]:
    # A reading that comes in order lies behind every block: then this finds none to unpack.
    query = select(READING_BLOCK).where(
        *place.of(_BLOCK), _BLOCK.end_ms >= start_ms, _BLOCK.start_ms <= end_ms
    )
    return {
        said
        for row in connection.execute(query).mappings()
        for said in said_by(unpacked(row).between(start_ms, end_ms + 1))
    }


def fold(connection: Connection, at_least: int = BLOCK_READINGS) -> int:
    """Pack loose readings into blocks wherever there are ``at_least`` so many; return how many.

    What anyone reads stays the same.
    """
    folded = 0
    for place in many_loose(connection, at_least):
        parts = loose_parts(connection, *place.of(_LOOSE))[place]
        folded += add_blocks(
            connection, place.trial_id, place.cook, place.source, {place.probe: parts}
        )
        remove_loose(connection, place)
    return folded
