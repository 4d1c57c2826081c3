"""What was recorded and the readings, or the other events, contradict: to be asked about.

Facts only, no verdicts. What somebody confirmed is not asked about again.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.traces import BRIDGED_MS, Trace, core_trace, placements_for, trace_of
from fairsmoke.messages.message import N_, Message
from fairsmoke.quantity.values import Duration, Instant, Temperature
from fairsmoke.trial.clock import epoch_ms, instant_of_ms, time_zone
from fairsmoke.trial.cook import Event, EventKind, Piece
from fairsmoke.trial.nouns import named
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.protocol import Place
from fairsmoke.trial.record import TrialRecord

NO_RISE_AFTER, NO_RISE_K = timedelta(hours=3), 3.0
"""Even the core of a thick cold shoulder has risen by so much after so long on a cooker: half a
thickness of 6 cm at a diffusivity of 0.13 mm²/s has a Fourier number of 0.4 by then, and the core
has made a fifth of its way (Carslaw and Jaeger, the plate; from memory)."""
STILL_COLD = ((timedelta(hours=3), 8.0), (timedelta(hours=6), 15.0))
"""And after so long it is no longer as cold as this (°C)."""
LATEST_MS = 36 * 3_600_000
"""No cook lasts longer: what a core reads later tells nothing of when it went on."""
ROSE_BEFORE_K, WARM_BEFORE_C = 10.0, 30.0
"""A core that rose by so much, to so much, was on the cooker (common practice, no source)."""
CARRY_OVER_K = 8.0
"""No core of a large cut rises more once it is off the heat (common practice, no source)."""
FELL_K = 8.0
"""No core falls by so much on a cooker that keeps its heat (common practice, no source)."""
SHORT_OF_END_K = 8.0
"""Pulled so far below the planned end while it rose on: the time is in doubt (own choice)."""
MISFIT_FREE_K, SWAPPED_K = 3.0, 6.0
"""What a trace may be off its events for nothing; how much better it must fit swapped (own
choices)."""
WITHIN_S = 120.0
"""The same thing done twice sooner is a button pressed twice (own choice)."""
BEFORE_COOK = timedelta(hours=3)
"""Nothing is on that long before its cook begins (own choice)."""
SHIFTS = (timedelta(hours=12), timedelta(hours=-12), timedelta(days=1), timedelta(days=-1))
"""Slips of a clock face and of a date, tried as what may have been meant."""

HOTTEST_CORE_C, COLDEST_CORE_C = 110.0, -5.0
"""What no core of meat is hotter or, on a cooker, colder than (common practice, no source)."""
ALONE_K, ALONE_WITHIN_MS = 15.0, 15 * 60 * 1000
"""No core goes there and back by so much so quickly (common practice, no source)."""

_AT_ONCE = (
    EventKind.ON,
    EventKind.WRAP,
    EventKind.UNWRAP,
    EventKind.PULL,
    EventKind.HOLD,
    EventKind.HOLD_END,
    EventKind.SLICE,
)


_DONE = {
    EventKind.ON: N_("put on"),
    EventKind.WRAP: N_("wrapped"),
    EventKind.UNWRAP: N_("unwrapped"),
    EventKind.PULL: N_("pulled off"),
    EventKind.HOLD: N_("put into the hold"),
    EventKind.HOLD_END: N_("taken out of the hold"),
    EventKind.SLICE: N_("sliced"),
}


class ContradictionKind(StrEnum):
    """What does not go together."""

    NO_RISE = "no rise"
    ROSE_BEFORE = "rose before"
    BEFORE_COOK = "before cook"
    ROSE_AFTER_PULL = "rose after pull"
    SHORT_OF_END = "short of its end"
    FELL_BEFORE_PULL = "fell before pull"
    SWAPPED = "swapped"
    NO_PLACE = "no place"
    ODD_READING = "odd reading"
    TWICE = "twice"
    OUT_OF_ORDER = "out of order"


_CORES = frozenset({ContradictionKind.SWAPPED, ContradictionKind.ODD_READING})
_TIMES = frozenset(ContradictionKind) - _CORES - {ContradictionKind.NO_PLACE}
"""Kinds that put a time in doubt; the others put at most the time to a core in doubt."""


@dataclass(frozen=True)
class Contradiction:
    """One thing that does not go together: the record that is asked about, its pieces, and why.

    ``record`` is its kind and handle, ``also`` another that is part of it; ``meant`` the time that
    an event may have been meant to have.
    """

    kind: ContradictionKind
    record: tuple[str, str]
    pieces: tuple[str, ...]
    words: Message
    also: tuple[str, str] | None = None
    meant: datetime | None = None

    @property
    def doubts_times(self) -> bool:
        """Whether a time from on to off is in doubt until it is settled."""
        return self.kind in _TIMES

    @property
    def doubts_cores(self) -> bool:
        """Whether a time to a core temperature is in doubt until it is settled."""
        return self.doubts_times or self.kind in _CORES


def contradictions_of(
    record: TrialRecord, only: Iterable[str] | None = None
) -> list[Contradiction]:
    """Return what does not go together in a trial, perhaps only what concerns some pieces."""
    wanted = None if only is None else set(only)
    pieces = [p for p in record.units if wanted is None or p.id in wanted]
    swapped = list(_swapped(record, wanted))
    in_swap = {piece for one in swapped for piece in one.pieces}
    found = [
        one
        for piece in pieces
        for one in (
            *_order(record, piece),
            *_put_on(record, piece),
            *(() if piece.id in in_swap else _pulled(record, piece)),
            *_odd_readings(record, piece),
        )
    ]
    found += [*swapped, *(_without_place(record) if wanted is None else ())]
    return [_with_meant(record, one) for one in found if not _confirmed(record, one)]


def _confirmed(record: TrialRecord, one: Contradiction) -> bool:
    kind, handle = one.record
    known: tuple[Event | Placement, ...] = (
        record.events if kind == "event" else record.placements if kind == "placement" else ()
    )
    return any(own.id == handle and own.checked == own.claim for own in known)


def _with_meant(record: TrialRecord, one: Contradiction) -> Contradiction:
    """Add the time that was likely meant, when a usual slip of clock or calendar mends it."""
    event = next((e for e in record.events if ("event", e.id) == one.record), None)
    if event is None or one.kind not in _TIMES or len(one.pieces) != 1:
        return one
    piece = record.piece(one.pieces[0])
    for shift in SHIFTS:
        moved = event.model_copy(update={"at": event.at + shift})
        events = tuple(moved if own.id == event.id else own for own in record.events)
        other = replace(record, events=events)
        rest = (*_order(other, piece), *_put_on(other, piece), *_pulled(other, piece))
        if not any(found.record == one.record for found in rest):
            return replace(one, meant=moved.at)
    return one


def _first(record: TrialRecord, piece: Piece, kind: EventKind) -> Event | None:
    return next(iter(record.events_of(piece.id, kind)), None)


def _value_at(trace: Trace, at_ms: int) -> float | None:
    """Return the reading nearest to a moment, None where none is near."""
    if not len(trace):
        return None
    nearest = int(np.argmin(np.abs(trace.time_ms - at_ms)))
    near = abs(int(trace.time_ms[nearest]) - at_ms) <= BRIDGED_MS
    return float(trace.value_c[nearest]) if near else None


def _put_on(record: TrialRecord, piece: Piece) -> Iterator[Contradiction]:
    on = _first(record, piece, EventKind.ON)
    if on is None:
        return
    cook = next((one for one in record.cooks if one.id == piece.cook), None)
    if cook is not None and on.at < cook.starts - BEFORE_COOK:
        early = Duration((cook.starts - on.at).total_seconds())
        yield Contradiction(
            ContradictionKind.BEFORE_COOK,
            ("event", on.id),
            (piece.id,),
            N_(
                "%(piece)s would have gone on %(early)s before its cook began. Is it the right "
                "time?",
                piece=piece.name,
                early=early,
            ),
        )
        return
    core = core_trace(record, piece)
    found = _still_cold(core, epoch_ms(on.at))
    if found is not None:
        after_s, now_c = found
        words = N_(
            "the core of %(piece)s was still at %(core)s %(time)s after it went on. Is it the "
            "right time, the right piece, the right probe?",
            piece=piece.name,
            core=Temperature(now_c),
            time=Duration(after_s),
        )
        yield Contradiction(ContradictionKind.NO_RISE, ("event", on.id), (piece.id,), words)
        return
    before = core.between(0, epoch_ms(on.at))
    now_c = float(before.value_c[-1]) if len(before) else -np.inf
    low_c = float(before.value_c.min()) if len(before) else now_c
    if now_c > WARM_BEFORE_C and now_c - low_c > ROSE_BEFORE_K:
        words = N_(
            "the core of %(piece)s had risen from %(low)s to %(core)s before it went on. Is it "
            "the right time, the right piece, the right probe?",
            piece=piece.name,
            low=Temperature(low_c),
            core=Temperature(now_c),
        )
        yield Contradiction(ContradictionKind.ROSE_BEFORE, ("event", on.id), (piece.id,), words)


def _still_cold(core: Trace, on_ms: int) -> tuple[float, float] | None:
    """Return how long after it went on a core had not risen (s), and what it read (°C)."""
    for after, cold_c in STILL_COLD:
        late = core.between(on_ms + int(after.total_seconds() * 1000), on_ms + LATEST_MS)
        if len(late) and float(late.value_c[0]) < cold_c:
            return (int(late.time_ms[0]) - on_ms) / 1000, float(late.value_c[0])
    then_ms = on_ms + int(NO_RISE_AFTER.total_seconds() * 1000)
    start_c, then_c = _value_at(core, on_ms), _value_at(core, then_ms)
    if start_c is None or then_c is None or start_c > WARM_BEFORE_C:
        return None
    highest = float(core.between(on_ms, then_ms).value_c.max(initial=then_c))
    return (NO_RISE_AFTER.total_seconds(), then_c) if highest - start_c < NO_RISE_K else None


def _end_c(record: TrialRecord, piece: Piece) -> float | None:
    """Return the core temperature at which a piece was to come off, None where nobody said."""
    stages = [
        stage
        for stage in record.trial.protocol_of(piece.arm or "").stages
        if stage.place is Place.COOKER
    ]
    ends = stages[-1].ends if stages else ()
    return next((one.core_c for one in ends if one.core_c is not None), None)


@dataclass(frozen=True)
class _AtPull:
    """A core around a pull: at it, how far it fell before and rose after it, °C and K."""

    core_c: float
    fell_k: float
    rose_k: float | None


def _at_pull(core: Trace, pull_ms: int) -> _AtPull | None:
    core_c = _value_at(core, pull_ms)
    if core_c is None:
        return None
    hour_ms = 3_600_000
    before = core.between(pull_ms - 3 * hour_ms, pull_ms)
    after = core.between(pull_ms, pull_ms + hour_ms)
    long_enough = len(after) > 1 and int(after.time_ms[-1]) - pull_ms >= BRIDGED_MS
    return _AtPull(
        core_c,
        float(before.value_c.max(initial=core_c)) - core_c,
        float(after.value_c.max()) - core_c if long_enough else None,
    )


def _pulled(record: TrialRecord, piece: Piece) -> Iterator[Contradiction]:
    pulls = record.events_of(piece.id, EventKind.PULL)
    if not pulls:
        return
    seen = _at_pull(core_trace(record, piece), epoch_ms(pulls[-1].at))
    if seen is None:
        return
    end_c, rose_k = _end_c(record, piece), seen.rose_k
    about = ("event", pulls[-1].id), (piece.id,)
    core = Temperature(seen.core_c)
    if rose_k is not None and rose_k > CARRY_OVER_K:
        words = N_(
            "the core of %(piece)s rose on from %(core)s to %(high)s within an hour after it was "
            "pulled. Is it the right time, the right piece, the right probe?",
            piece=piece.name,
            core=core,
            high=Temperature(seen.core_c + rose_k),
        )
        yield Contradiction(ContradictionKind.ROSE_AFTER_PULL, *about, words)
        return
    if seen.fell_k > FELL_K:
        words = N_(
            "the core of %(piece)s had fallen from %(high)s to %(core)s before it was pulled. Was "
            "it off the heat earlier?",
            piece=piece.name,
            high=Temperature(seen.core_c + seen.fell_k),
            core=core,
        )
        yield Contradiction(ContradictionKind.FELL_BEFORE_PULL, *about, words)
        return
    rises = rose_k is None or rose_k > MISFIT_FREE_K
    # A core that no longer rises shows that the piece did come off early.
    if end_c is not None and seen.core_c < end_c - SHORT_OF_END_K and rises:
        words = N_(
            "the core of %(piece)s was at %(core)s when it was pulled, with %(end)s planned. "
            "Is it the right time, the right piece, the right probe?",
            piece=piece.name,
            core=core,
            end=Temperature(end_c),
        )
        yield Contradiction(ContradictionKind.SHORT_OF_END, *about, words)


def _swapped(record: TrialRecord, wanted: set[str] | None) -> Iterator[Contradiction]:
    """Yield pairs of one cook whose cores fit each other's events better than their own."""
    for cook in record.cooks:
        units = [piece for piece in record.units if piece.cook == cook.id]
        stays = {piece.id: placements_for(record, "core", piece=piece.id) for piece in units}
        measured = [piece for piece in units if len(stays[piece.id]) == 1]
        traces = {piece.id: core_trace(record, piece) for piece in measured}
        for at, one in enumerate(measured):
            for other in measured[at + 1 :]:
                if wanted is not None and not {one.id, other.id} & wanted:
                    continue
                ours, theirs = traces[one.id], traces[other.id]
                if _fits_swapped(record, (one, ours), (other, theirs)):
                    first, second = (stays[piece.id][0] for piece in (one, other))
                    yield Contradiction(
                        ContradictionKind.SWAPPED,
                        ("placement", first.id),
                        (one.id, other.id),
                        N_(
                            "the core readings of %(one)s and %(other)s fit each other's events "
                            "better than their own. Are the probes swapped?",
                            one=one.name,
                            other=other.name,
                        ),
                        ("placement", second.id),
                    )


def _fits_swapped(
    record: TrialRecord, one: tuple[Piece, Trace], other: tuple[Piece, Trace]
) -> bool:
    (first, ours), (second, theirs) = one, other
    misfits = [
        _misfit_k(record, piece, trace)
        for piece, trace in ((first, ours), (second, theirs), (first, theirs), (second, ours))
    ]
    told = [misfit for misfit in misfits if misfit is not None]
    if len(told) < len(misfits):
        return False
    own, swapped = told[0] + told[1], told[2] + told[3]
    return own - swapped >= SWAPPED_K and swapped <= own / 2.0


def _misfit_k(record: TrialRecord, piece: Piece, core: Trace) -> float | None:
    """Return how far a core trace is off what was done to a piece, K; None where nothing tells."""
    on = _first(record, piece, EventKind.ON)
    pulls = record.events_of(piece.id, EventKind.PULL)
    seen = _at_pull(core, epoch_ms(pulls[-1].at)) if pulls else None
    if seen is None:
        return None
    end_c = _end_c(record, piece)
    misfit = 0.0 if end_c is None else min(abs(seen.core_c - end_c), 30.0)
    misfit += max(0.0, seen.fell_k - MISFIT_FREE_K)
    misfit += max(0.0, (seen.rose_k or 0.0) - MISFIT_FREE_K)
    if on is not None:
        before = core.between(0, epoch_ms(on.at))
        if len(before):
            rise = float(before.value_c[-1] - before.value_c.min())
            misfit += max(0.0, rise - MISFIT_FREE_K)
    return misfit


def _odd_readings(record: TrialRecord, piece: Piece) -> Iterator[Contradiction]:
    """Yield stays of a probe with a believed reading that no core has, or that stands alone."""
    for stay in placements_for(record, "core", piece=piece.id):
        zone = time_zone(record.cook(stay.cook).time_zone)
        core = trace_of(record, [stay])
        odd = (core.value_c > HOTTEST_CORE_C) | (core.value_c < COLDEST_CORE_C) | _alone(core)
        for at in np.flatnonzero(odd)[:1]:
            words = N_(
                "the core of %(piece)s reads %(core)s at %(time)s, which hardly can be. Leave the "
                "reading out, or say that it is right",
                piece=piece.name,
                core=Temperature(float(core.value_c[at])),
                time=Instant(instant_of_ms(int(core.time_ms[at])), "day time", zone),
            )
            about = ("placement", stay.id), (piece.id,)
            yield Contradiction(ContradictionKind.ODD_READING, *about, words)


def _alone(core: Trace) -> NDArray[np.bool_]:
    """Return which readings (n,) are far off both their neighbours, to the same side."""
    found = np.zeros(len(core), dtype=np.bool_)
    if len(core) > 2:
        near = np.diff(core.time_ms) <= ALONE_WITHIN_MS
        step = np.diff(core.value_c)
        there_and_back = (step[:-1] * step[1:] < 0.0) & near[:-1] & near[1:]
        least = np.minimum(np.abs(step[:-1]), np.abs(step[1:]))
        found[1:-1] = there_and_back & (least > ALONE_K)
    return found


def _without_place(record: TrialRecord) -> Iterator[Contradiction]:
    placed = {(stay.cook, stay.probe) for stay in record.placements}
    cooks = {cook.id: cook.name for cook in record.cooks}
    probes = {probe.id: probe.name for probe in record.probes}
    for cook, probe in record.readings:
        if (cook, probe) not in placed:
            words = N_(
                "%(probe)s was read in %(cook)s and has no place there: its readings are kept and "
                "belong to nothing until somebody says where it was",
                probe=probes.get(probe, probe),
                cook=cooks.get(cook, cook),
            )
            yield Contradiction(ContradictionKind.NO_PLACE, ("probe", probe), (), words)


def _order(record: TrialRecord, piece: Piece) -> Iterator[Contradiction]:
    """Yield what was done twice at once, or before what must come first."""
    done: dict[EventKind, Event] = {}
    for event in record.events_of(piece.id):
        before = done.get(event.kind)
        since_s = (event.at - before.at).total_seconds() if before is not None else np.inf
        about = ("event", event.id), (piece.id,)
        if event.kind in _AT_ONCE and since_s <= WITHIN_S:
            words = N_(
                "%(piece)s: “%(what)s” was recorded %(time)s before too. Was it pressed twice?",
                piece=piece.name,
                what=_DONE[event.kind],
                time=Duration(since_s),
            )
            yield Contradiction(ContradictionKind.TWICE, *about, words)
        else:
            lacking = _lacking(event.kind, done)
            if lacking is not None:
                words = N_(
                    "%(piece)s: “%(what)s” was recorded, %(lacking)s. Is it the right piece, the "
                    "right time?",
                    piece=piece.name,
                    what=_DONE[event.kind],
                    lacking=lacking,
                )
                yield Contradiction(ContradictionKind.OUT_OF_ORDER, *about, words)
        done[event.kind] = event
        if event.kind is EventKind.PULL:
            done.pop(EventKind.ON, None)
        elif event.kind is EventKind.ON:
            done.pop(EventKind.PULL, None)


def _lacking(kind: EventKind, done: dict[EventKind, Event]) -> Message | None:
    """Return what makes an event come out of order, from what was done to its piece before."""
    was_on = EventKind.ON in done or EventKind.PULL in done
    match kind:
        case EventKind.ON if EventKind.ON in done:
            return N_("and it was on already")
        case EventKind.PULL if EventKind.ON not in done and EventKind.PULL in done:
            return N_("and it was off already")
        case EventKind.PULL | EventKind.WRAP if not was_on:
            return N_("and it was not on before")
        case EventKind.HOLD | EventKind.SLICE if EventKind.ON in done:
            return N_("and it was still on")
        case EventKind.HOLD_END if EventKind.HOLD not in done:
            return N_("and it was in no hold")
    return None


def remark_of(one: Contradiction) -> Message:
    """Return a contradiction with the record that it is about: "event 'on-1': ..."."""
    return N_("%(record)s: %(why)s", record=named(*one.record), why=one.words)
