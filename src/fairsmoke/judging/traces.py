"""Temperature traces: what the believed readings say about a piece or a spot over time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, EventKind, Piece
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.record import TrialRecord

Measures = Literal["core", "surface", "pit", "cabinet", "wet bulb", "room"]

BRIDGED_MS = 15 * 60 * 1000
"""Longest stretch without a believed reading that a trace is drawn or averaged across."""


@dataclass(frozen=True, eq=False)
class Trace:
    """Believed temperatures in order of time: ``time_ms`` (n,) int64 UTC, ``value_c`` (n,)."""

    time_ms: NDArray[np.int64]
    value_c: NDArray[np.float64]

    def __len__(self) -> int:
        return int(self.time_ms.size)

    def between(self, start_ms: int, end_ms: int) -> "Trace":
        """Return the part with start_ms <= time <= end_ms."""
        low = int(np.searchsorted(self.time_ms, start_ms, side="left"))
        high = int(np.searchsorted(self.time_ms, end_ms, side="right"))
        return Trace(self.time_ms[low:high], self.value_c[low:high])


@dataclass(frozen=True)
class FlagCount:
    """How many readings of a placement carry a flag."""

    cook: str
    probe: str
    measures: str
    flag: Flag
    count: int
    of: int


def placements_for(
    record: TrialRecord, measures: Measures, *, piece: str | None = None, cook: str | None = None
) -> list[Placement]:
    """Return the placements that measure this, in order of time."""
    found = [
        stay
        for stay in record.placements
        if stay.measures == measures
        and (piece is None or stay.piece == piece)
        and (cook is None or stay.cook == cook)
    ]
    return sorted(found, key=lambda stay: stay.since)


def trace_of(record: TrialRecord, placements: Sequence[Placement]) -> Trace:
    """Join the believed readings of these placements, with each probe's known offset taken off."""
    offsets = {probe.id: probe.offset_k for probe in record.probes}
    times: list[NDArray[np.int64]] = []
    values: list[NDArray[np.float64]] = []
    for stay in placements:
        readings = record.readings_of(stay)
        believed = readings.believed
        times.append(readings.time_ms[believed])
        values.append(readings.value_c[believed] - offsets.get(stay.probe, 0.0))
    if not times:
        return Trace(np.empty(0, dtype=np.int64), np.empty(0))
    time_ms = np.concatenate(times)
    order = np.argsort(time_ms, kind="stable")
    return Trace(time_ms[order], np.concatenate(values)[order])


def core_trace(record: TrialRecord, piece: Piece) -> Trace:
    """Return the core temperature of a piece, whichever probes were in it when."""
    return trace_of(record, placements_for(record, "core", piece=piece.id))


def pit_trace(record: TrialRecord, cook: Cook, spot: str) -> Trace:
    """Return the air temperature at a spot ("barrel/left") during a cook."""
    stays = [
        stay
        for stay in placements_for(record, "pit", cook=cook.id)
        if stay.spot is not None and stay.spot.text == spot
    ]
    return trace_of(record, stays)


def spots_measured(record: TrialRecord, cook: Cook) -> list[str]:
    """Return the spots whose air was measured during a cook, in the record's order."""
    spots = [s.spot.text for s in placements_for(record, "pit", cook=cook.id) if s.spot is not None]
    return list(dict.fromkeys(spots))


def time_weighted(trace: Trace) -> tuple[float, float, float] | None:
    """Return mean and standard deviation over time (°C), and the hours that they cover.

    Each reading counts for the time to the next one, unless that is longer than the bridged
    stretch; None when fewer than two readings can be joined.
    """
    if len(trace) < 2:
        return None
    step = np.diff(trace.time_ms).astype(np.float64)
    step[step > BRIDGED_MS] = 0.0
    total = float(step.sum())
    if total <= 0:
        return None
    middle = (trace.value_c[1:] + trace.value_c[:-1]) / 2
    mean = float(np.sum(middle * step) / total)
    spread = float(np.sqrt(np.sum((middle - mean) ** 2 * step) / total))
    return mean, spread, total / 3_600_000


def first_reached_ms(trace: Trace, level_c: float, *, sustained_ms: int = 120_000) -> float | None:
    """Return the time (ms since 1970) at which a trace first reaches a level and stays there.

    Interpolated between the readings on either side. "Stays" means that every reading of the next
    two minutes is at the level too, so that a single spike does not count. None when never.
    """
    above = trace.value_c >= level_c
    for index in np.flatnonzero(above):
        until = trace.time_ms[index] + sustained_ms
        following = slice(int(index), int(np.searchsorted(trace.time_ms, until, side="right")))
        if not bool(np.all(above[following])):
            continue
        if index == 0 or trace.value_c[index - 1] >= level_c:
            return float(trace.time_ms[index])
        low, high = float(trace.value_c[index - 1]), float(trace.value_c[index])
        share = (level_c - low) / (high - low)
        before = float(trace.time_ms[index - 1])
        return before + share * float(trace.time_ms[index] - trace.time_ms[index - 1])
    return None


def went_on_ms(record: TrialRecord, piece: Piece) -> int | None:
    """Return when a piece first went on its cooker."""
    events = record.events_of(piece.id, EventKind.ON)
    return epoch_ms(events[0].at) if events else None


def pulled_ms(record: TrialRecord, piece: Piece) -> int | None:
    """Return when a piece last came off its cooker."""
    events = record.events_of(piece.id, EventKind.PULL)
    return epoch_ms(events[-1].at) if events else None


def flag_counts(record: TrialRecord) -> list[FlagCount]:
    """Count the flagged readings of every placement, by flag."""
    counts: list[FlagCount] = []
    for stay in record.placements:
        readings: Readings = record.readings_of(stay)
        for flag in Flag:
            count = int(np.count_nonzero(readings.flags & int(flag)))
            if count:
                counts.append(
                    FlagCount(stay.cook, stay.probe, stay.measures, flag, count, len(readings))
                )
    return counts
