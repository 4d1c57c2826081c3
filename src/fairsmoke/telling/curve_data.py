"""What a chart of one cook's temperatures shows: curves, doubts, events, and the local clock.

Gathered in °C with messages; `for_reader` puts it into a reader's units, clock and language.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.traces import BRIDGED_MS, Trace, placements_for, spots_measured, trace_of
from fairsmoke.messages.message import N_, Listed, Words, alone, in_a_row
from fairsmoke.quantity.values import Instant, Temperature
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.record_words import EVENTS, spot_name
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook, Event, EventKind
from fairsmoke.trial.probe import MEASURED
from fairsmoke.trial.record import TrialRecord

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_BUCKETS = 180
_HOUR_MS = 3_600_000
_CURVES = ("core", "surface", "pit", "cabinet")
_NOTE_LIMIT = 90


@dataclass(frozen=True, eq=False)
class CookCurve:
    """One curve, a point for each bucket of time: hours since the cook's start (n,), and there the
    mean, lowest and highest of the believed readings (n,).

    ``stretch`` (n,) numbers the unbroken stretches; ``family`` is what is measured; ``group`` the
    number of the arm for meat and of the place for air.
    """

    label: Words
    family: str
    group: int
    hours: FloatArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    stretch: IntArray


@dataclass(frozen=True, eq=False)
class Doubts:
    """Readings that are kept but not believed, thinned: hours (n,), temperatures (n,)."""

    hours: FloatArray
    value: FloatArray
    count: int


@dataclass(frozen=True)
class Marker:
    """An event with the number that it has on the chart."""

    number: int
    hours: float
    clock: Words
    text: Words


@dataclass(frozen=True)
class Tick:
    """A mark of the time axis: what the clock on the wall showed, and the date where it is new."""

    hours: float
    clock: Words
    date: Words


@dataclass(frozen=True, eq=False)
class CookCurves:
    """Everything the chart of one cook shows; temperatures in °C until `for_reader`.

    ``bucket_s`` is the length of the buckets that curves are drawn from.
    """

    cook: Cook
    unit: str
    start_hours: float
    end_hours: float
    curves: tuple[CookCurve, ...]
    doubts: Doubts
    markers: tuple[Marker, ...]
    ticks: tuple[Tick, ...]
    clock_changes: tuple[Tick, ...]
    bucket_s: float


@dataclass(frozen=True)
class Window:
    """A stretch of time to look at closely: from and to (ms since 1970), in so many buckets.

    A bucket is no shorter than ``least_ms``.
    """

    from_ms: int
    to_ms: int
    buckets: int = _BUCKETS
    least_ms: int = 1000


def for_reader(shown: CookCurves, reader: Reader) -> CookCurves:
    """Return the same in a reader's unit of temperature, clock and language."""
    in_c = reader.units.temperature == "C"

    def degrees(value_c: FloatArray) -> FloatArray:
        return value_c if in_c else value_c * 1.8 + 32.0

    return replace(
        shown,
        unit=f"°{reader.units.temperature}",
        curves=tuple(
            replace(
                curve,
                label=reader.say(curve.label),
                mean=degrees(curve.mean),
                low=degrees(curve.low),
                high=degrees(curve.high),
            )
            for curve in shown.curves
        ),
        doubts=replace(shown.doubts, value=degrees(shown.doubts.value)),
        markers=tuple(
            replace(one, clock=reader.say(one.clock), text=reader.say(one.text))
            for one in shown.markers
        ),
        ticks=tuple(_said(tick, reader) for tick in shown.ticks),
        clock_changes=tuple(_said(tick, reader) for tick in shown.clock_changes),
    )


def _said(tick: Tick, reader: Reader) -> Tick:
    return replace(tick, clock=reader.say(tick.clock), date=reader.say(tick.date))


def cook_curves(record: TrialRecord, cook: Cook, window: Window | None = None) -> CookCurves | None:
    """Gather what the chart of a cook shows; None when nothing was read or noted in it.

    Events keep their numbers of the whole cook in a ``window`` of it.
    """
    named = list(_named_traces(record, cook))
    doubt = _doubted(record, cook)
    events = sorted((e for e in record.events if e.cook == cook.id), key=lambda event: event.at)
    numbers = {event.id: number for number, event in enumerate(events, start=1)}
    if window is not None:
        ends_ms = (window.from_ms, window.to_ms)
        named = [(label, family, group, t.between(*ends_ms)) for label, family, group, t in named]
        doubt = doubt.between(*ends_ms)
        events = [one for one in events if ends_ms[0] <= epoch_ms(one.at) < ends_ms[1]]
    times = [trace.time_ms[[0, -1]] for _, _, _, trace in named if len(trace)]
    if not times and not events:
        return None
    ends = np.concatenate([*times, [epoch_ms(event.at) for event in events]])
    first, last = float(np.min(ends)), float(np.max(ends))
    if window is not None:
        first, last = float(window.from_ms), float(window.to_ms)
    start = epoch_ms(cook.starts)
    bucket_ms = _bucket_ms(first, last, window)
    zone = time_zone(cook.time_zone)
    curves = tuple(
        _curve(label, family, group, bucketed(trace.time_ms, trace.value_c, bucket_ms), start)
        for label, family, group, trace in named
        if len(trace)
    )
    kept = _one_a_bucket(doubt, bucket_ms)
    low, high = (first - start) / _HOUR_MS, (last - start) / _HOUR_MS
    return CookCurves(
        cook=cook,
        unit="°C",
        start_hours=low,
        end_hours=max(high, low + 0.5),
        curves=curves,
        doubts=Doubts((kept.time_ms - start) / _HOUR_MS, kept.value_c, len(doubt)),
        markers=tuple(
            Marker(
                number=numbers[event.id],
                hours=(epoch_ms(event.at) - start) / _HOUR_MS,
                clock=alone(Instant(event.at, "time", zone)),
                text=_event_words(record, event),
            )
            for event in events
        ),
        ticks=tuple(clock_ticks(cook.starts, low, max(high, low + 0.5), zone)),
        clock_changes=tuple(clock_changes(cook.starts, low, high, zone)),
        bucket_s=float(bucket_ms) / 1000,
    )


def _bucket_ms(first_ms: float, last_ms: float, window: Window | None) -> float:
    if window is None:
        return float(max(60_000.0, 60_000.0 * np.ceil((last_ms - first_ms) / _BUCKETS / 60_000.0)))
    step = float(window.least_ms)
    return max(step, step * float(np.ceil((last_ms - first_ms) / window.buckets / step)))


@dataclass(frozen=True, eq=False)
class Buckets:
    """Readings gathered by time (n,): mean time, mean, lowest and highest value, and stretch."""

    time_ms: FloatArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    stretch: IntArray


def bucketed(time_ms: IntArray, value: FloatArray, bucket_ms: float) -> Buckets:
    """Gather readings (k,), in order of time and at least one, into buckets of so many ms.

    A new stretch, and with it a new bucket, begins where nothing was believed for longer than what
    is bridged.
    """
    stretch = np.concatenate([[0], np.cumsum(np.diff(time_ms) > BRIDGED_MS)]).astype(np.int64)
    bucket = ((time_ms - time_ms[0]) // bucket_ms).astype(np.int64)
    new = np.flatnonzero((np.diff(stretch) != 0) | (np.diff(bucket) != 0)) + 1
    first = np.concatenate([[0], new])
    count = np.diff(np.concatenate([first, [len(time_ms)]]))
    since = (time_ms - time_ms[0]).astype(np.float64)
    return Buckets(
        time_ms=time_ms[0] + np.add.reduceat(since, first) / count,
        mean=np.add.reduceat(value, first) / count,
        low=np.minimum.reduceat(value, first),
        high=np.maximum.reduceat(value, first),
        stretch=stretch[first],
    )


def clock_ticks(
    starts: datetime, low_hours: float, high_hours: float, zone: ZoneInfo
) -> Iterator[Tick]:
    """Yield a tick at whole hours of the local clock, right across midnight and clock changes.

    Less than two hours have ticks at whole minutes.
    """
    span = high_hours - low_hours
    if span < 2:
        every = next((step for step in (1, 2, 5, 10, 15) if 60 * span / step <= 8), 30)
    else:
        every = 60 * next((step for step in (1, 2, 3, 4, 6, 12) if span / step <= 12), 24)
    # Zones are whole quarters of an hour from UTC, so every local hour starts on a quarter.
    stride = min(every, 15)
    first = starts.astimezone(UTC) + timedelta(hours=low_hours)
    at = first.replace(minute=first.minute // stride * stride, second=0, microsecond=0)
    seen = None
    while (hours := (at - starts) / timedelta(hours=1)) <= high_hours:
        local = at.astimezone(zone)
        if hours >= low_hours and (60 * local.hour + local.minute) % every == 0:
            new = local.date() != seen
            seen = local.date()
            day = alone(Instant(at, "date", zone)) if new else ""
            yield Tick(hours, alone(Instant(at, "time", zone)), day)
        at += timedelta(minutes=stride)


def clock_changes(
    starts: datetime, low_hours: float, high_hours: float, zone: ZoneInfo
) -> Iterator[Tick]:
    """Yield the moments at which the clocks were changed, with what happened in ``clock``."""
    at = (starts + timedelta(hours=low_hours)).astimezone(UTC)
    at = at.replace(minute=at.minute // 15 * 15, second=0, microsecond=0)
    before = at.astimezone(zone).utcoffset()
    while (hours := (at - starts) / timedelta(hours=1)) <= high_hours:
        now = at.astimezone(zone).utcoffset()
        if now is not None and before is not None and now != before:
            yield Tick(hours, N_("clocks go back") if now < before else N_("clocks go forward"), "")
        before = now
        at += timedelta(minutes=15)


def _event_words(record: TrialRecord, event: Event) -> Words:
    """Return an event in words: what, to which pieces or cooker, and the note."""
    names = {piece.id: piece.name for piece in record.pieces}
    cookers = {cooker.id: cooker.name for cooker in record.cookers}
    probes = {probe.id: probe.name for probe in record.probes}
    what: Words = EVENTS[event.kind] if event.kind is not EventKind.NOTE else ""
    if event.set_c is not None:
        what = N_("%(what)s to %(to)s", what=what, to=Temperature(event.set_c))
    if event.to is not None:
        what = N_("%(what)s to %(to)s", what=what, to=spot_name(record, event.to.text))
    about = [names.get(piece, piece) for piece in event.pieces]
    if event.cooker is not None and not about:
        about = [cookers.get(event.cooker, event.cooker)]
    if event.probe is not None:
        about.append(probes.get(event.probe, event.probe))
    text = in_a_row([what, Listed(about) if about else ""], ": ")
    note = event.note if len(event.note) <= _NOTE_LIMIT else event.note[: _NOTE_LIMIT - 1] + "…"
    return in_a_row([text, note], " – ") or EVENTS[event.kind]


def _named_traces(record: TrialRecord, cook: Cook) -> Iterator[tuple[Words, str, int, Trace]]:
    arms = [arm.id for arm in record.trial.arms]
    for family in ("core", "surface"):
        for piece in record.units:
            if piece.cook != cook.id:
                continue
            stays = placements_for(
                record, "core" if family == "core" else "surface", piece=piece.id
            )
            group = arms.index(piece.arm) if piece.arm in arms else 0
            label = N_("%(piece)s, %(measured)s", piece=piece.name, measured=MEASURED[family])
            yield label, family, group, trace_of(record, stays)
    for number, spot in enumerate(spots_measured(record, cook)):
        stays = [
            stay
            for stay in placements_for(record, "pit", cook=cook.id)
            if stay.spot is not None and stay.spot.text == spot
        ]
        yield (
            N_("Pit: %(place)s", place=spot_name(record, spot)),
            "pit",
            number,
            trace_of(record, stays),
        )
    unplaced = [s for s in placements_for(record, "pit", cook=cook.id) if s.spot is None]
    if unplaced:
        yield N_("Pit"), "pit", len(spots_measured(record, cook)), trace_of(record, unplaced)
    cabinet = placements_for(record, "cabinet", cook=cook.id)
    if cabinet:
        yield N_("Holding cabinet"), "cabinet", 0, trace_of(record, cabinet)


def _doubted(record: TrialRecord, cook: Cook) -> Trace:
    times: list[IntArray] = [np.empty(0, dtype=np.int64)]
    values: list[FloatArray] = [np.empty(0)]
    for stay in record.placements:
        if stay.cook == cook.id and stay.measures in _CURVES:
            readings = record.readings_of(stay)
            times.append(readings.time_ms[~readings.believed])
            values.append(readings.value_c[~readings.believed])
    time_ms = np.concatenate(times)
    order = np.argsort(time_ms, kind="stable")
    return Trace(time_ms[order], np.concatenate(values)[order])


def _one_a_bucket(trace: Trace, bucket_ms: float) -> Trace:
    if not len(trace):
        return trace
    # Rounded to two degrees, so that a cloud keeps its outline and a flat stretch one dot a bucket.
    bucket = ((trace.time_ms - trace.time_ms[0]) // bucket_ms).astype(np.int64)
    level = np.round(trace.value_c / 2).astype(np.int64)
    _, kept = np.unique(np.stack([bucket, level]), axis=1, return_index=True)
    kept = np.sort(kept)
    return Trace(trace.time_ms[kept], trace.value_c[kept])


def _curve(label: Words, family: str, group: int, buckets: Buckets, start_ms: int) -> CookCurve:
    return CookCurve(
        label=label,
        family=family,
        group=group,
        hours=(buckets.time_ms - start_ms) / _HOUR_MS,
        mean=buckets.mean,
        low=buckets.low,
        high=buckets.high,
        stretch=buckets.stretch,
    )
