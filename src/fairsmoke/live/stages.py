"""Which stage of its protocol a piece is in, what ends that stage, and what is to be done then.

A protocol says what ends a stage; what begins the next one is mostly something that a person does
(wrap, pull, hold) and records. Until that is recorded the piece stays in its stage, which then is
"reached". Where nothing has to be done, the next stage begins by itself at the mark.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from fairsmoke.physics.history import first_time_at_s
from fairsmoke.trial.clock import epoch_ms, instant_of_ms, instants_of
from fairsmoke.trial.cook import Event, EventKind
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage, Wrap

HOLDS = (Place.CABINET, Place.COOLER)
_OVER = (EventKind.SLICE, EventKind.SERVE)
_SETS = (EventKind.RAISE, EventKind.LOWER)
_TELL_THAT_IT_BEGAN = (EventKind.WRAP, EventKind.UNWRAP, EventKind.PULL, EventKind.HOLD)

SAME_SETTING_K = 6.0
"""Settings that differ by less are one: cookers are set in steps of 5 °C or 10 °F (common
practice, no source)."""


@dataclass(frozen=True)
class ProbeTrace:
    """What one probe in a piece read and is believed: milliseconds since 1970 (n,), °C (n,)."""

    time_ms: NDArray[np.int64]
    value_c: NDArray[np.float64]


@dataclass(frozen=True)
class Mark:
    """One thing that ends a stage. ``due`` is known beforehand for clocks only."""

    condition: EndCondition
    due: datetime | None
    met: datetime | None


@dataclass(frozen=True)
class StageRun:
    """A stage that a piece is in or went through."""

    stage: Stage
    began: datetime
    ended: datetime | None = None


@dataclass(frozen=True)
class StageStand:
    """Where a piece stands in its protocol.

    ``runs`` are the stages begun, in order; the last is the present one unless ``over``.
    ``marks`` end the present stage; ``acts`` are what is then to be done, in order, without what
    was done since it began. None of these when no stage has begun, or all have ended.
    """

    stages: tuple[Stage, ...]
    runs: tuple[StageRun, ...] = ()
    marks: tuple[Mark, ...] = ()
    acts: tuple[EventKind, ...] = ()
    over: bool = False

    @property
    def stage(self) -> Stage | None:
        """The present stage."""
        return self.runs[-1].stage if self.runs and not self.over else None

    @property
    def following(self) -> Stage | None:
        """The stage behind the present one; the first, when none has begun."""
        if self.over:
            return None
        if not self.runs:
            return self.stages[0]
        at = self.stages.index(self.runs[-1].stage)
        return self.stages[at + 1] if at + 1 < len(self.stages) else None

    @property
    def reached(self) -> Mark | None:
        """The mark of the present stage that was met first, if any was."""
        met = [mark for mark in self.marks if mark.met is not None]
        return min(met, key=lambda mark: mark.met or datetime.max.replace(tzinfo=UTC), default=None)


def acts_between(before: Stage | None, stage: Stage | None) -> tuple[EventKind, ...]:
    """Return what a person does to bring a piece from one stage into the next, in order.

    The last of them begins the next stage. None when it begins by itself. ``before`` None: the
    first stage; ``stage`` None: behind the last one.
    """
    if stage is None:
        return _out_of(before.place) if before else ()
    if before is None:
        if stage.place is Place.COOKER:
            return (EventKind.ON,)
        return (EventKind.HOLD,) if stage.place in HOLDS else ()
    acts = list(_out_of(before.place)) if before.place is not stage.place else []
    if before.wrap != stage.wrap:
        acts.append(EventKind.UNWRAP if stage.wrap == Wrap() else EventKind.WRAP)
    if before.place is not stage.place:
        if stage.place is Place.COOKER:
            acts.append(EventKind.ON)
        elif stage.place in HOLDS:
            acts.append(EventKind.HOLD)
    elif stage.place is Place.COOKER and not acts:
        old_c, new_c = before.surround_c, stage.surround_c
        if old_c is not None and new_c is not None and old_c != new_c:
            acts.append(EventKind.RAISE if new_c > old_c else EventKind.LOWER)
    return tuple(acts)


def _out_of(place: Place) -> tuple[EventKind, ...]:
    if place is Place.COOKER:
        return (EventKind.PULL,)
    return (EventKind.HOLD_END,) if place in HOLDS else ()


def stage_stand(
    protocol: Protocol,
    events: Sequence[Event],
    core: Sequence[ProbeTrace],
    *,
    starts: datetime,
    zone: ZoneInfo,
    now: datetime,
) -> StageStand:
    """Return where a piece stands in its protocol.

    ``events`` are the piece's own, and those of its cooker (raise, lower), in any order; ``core``
    is what each probe in its core read; ``starts`` is when the cook began, which begins a first
    stage that nothing else begins; ``zone`` is that of the clocks at the cooker.
    """
    past = sorted((one for one in events if one.at <= now), key=lambda one: one.at)
    stages = protocol.stages
    start = _beginning(stages[0], past, starts)
    if start is None:
        return StageStand(stages)
    began, seen = start
    runs, at = [StageRun(stages[0], began)], 0
    while True:
        run = runs[-1]
        following = stages[at + 1] if at + 1 < len(stages) else None
        marks = tuple(marks_of(run, core, zone, now))
        acts = acts_between(run.stage, following)
        since = [(n, one) for n, one in enumerate(past) if n >= seen and one.at >= run.began]
        step = _step(stages, at, since, marks if not acts else ())
        if step is None:
            done = {one.kind for _, one in since}
            left = tuple(act for act in acts if act not in done)
            return StageStand(stages, tuple(runs), marks, left)
        runs[-1] = StageRun(run.stage, run.began, step.at)
        if step.into is None:
            return StageStand(stages, tuple(runs), over=True)
        at, seen = step.into, max(seen, step.seen)
        runs.append(StageRun(stages[at], step.at))


@dataclass(frozen=True)
class _Step:
    """Into which stage (None: behind the last) a piece goes on, when, and events then seen."""

    at: datetime
    into: int | None
    seen: int


def _step(
    stages: Sequence[Stage], at: int, since: Sequence[tuple[int, Event]], by_itself: Sequence[Mark]
) -> _Step | None:
    """Return how a piece leaves its stage, by what happened first; None when it is still in it."""
    met = min((mark.met for mark in by_itself if mark.met is not None), default=None)
    last_acts = acts_between(stages[-1], None)
    for number, event in since:
        if met is not None and at + 1 < len(stages) and met <= event.at:
            break
        if event.kind in _OVER:
            return _Step(event.at, None, number + 1)
        if at + 1 == len(stages) and last_acts and event.kind is last_acts[-1]:
            return _Step(event.at, None, number + 1)
        for later in range(at + 1, len(stages)):
            acts = acts_between(stages[later - 1], stages[later])
            if acts and event.kind is acts[-1] and _leads_into(event, stages[later]):
                return _Step(event.at, later, number + 1)
    if met is not None and at + 1 < len(stages):
        return _Step(met, at + 1, 0)
    return None


def _beginning(
    first: Stage, past: Sequence[Event], starts: datetime
) -> tuple[datetime, int] | None:
    """Return when the first stage began, and how many events lie at or before its beginning."""
    acts = acts_between(None, first)
    if not acts:
        return starts, 0
    for number, event in enumerate(past):
        if event.kind is acts[-1]:
            return event.at, number + 1
        # Whoever forgot to record that it went on tells by what is recorded later that it had.
        if event.kind in _TELL_THAT_IT_BEGAN:
            return event.at, number
    return None


def _leads_into(event: Event, stage: Stage) -> bool:
    if event.kind not in _SETS or event.set_c is None or stage.surround_c is None:
        return True
    # A small correction of the pit is not yet the next stage.
    return abs(event.set_c - stage.surround_c) <= SAME_SETTING_K


def marks_of(
    run: StageRun, core: Sequence[ProbeTrace], zone: ZoneInfo, now: datetime
) -> Iterator[Mark]:
    """Yield each mark of a stage that began, with when it was met."""
    for condition in run.stage.ends:
        if condition.core_c is not None:
            yield Mark(condition, None, _core_met(condition.core_c, run.began, core))
        elif condition.elapsed_s is not None:
            due = run.began + timedelta(seconds=condition.elapsed_s)
            yield Mark(condition, due, due if due <= now else None)
        elif condition.clock is not None:
            due = next_clock(condition.clock, run.began, zone)
            yield Mark(condition, due, due if due <= now else None)
        else:
            yield Mark(condition, None, None)


def _core_met(core_c: float, began: datetime, core: Sequence[ProbeTrace]) -> datetime | None:
    """Return when the last of the probes was there: the coldest part of the core counts."""
    start_ms = epoch_ms(began)
    met_ms: list[float] = []
    for trace in core:
        since = trace.time_ms >= start_ms
        if not since.any():
            continue
        time_ms, value_c = trace.time_ms[since], trace.value_c[since]
        # Two readings of one moment: the later one is taken, times must rise.
        keep = np.append(np.diff(time_ms) > 0, True)
        time_s = (time_ms[keep] - start_ms) / 1000.0
        met_s = _first_at_s(time_s, value_c[keep], core_c)
        if met_s is None:
            return None
        met_ms.append(start_ms + 1000.0 * met_s)
    return instant_of_ms(round(max(met_ms))) if met_ms else None


def _first_at_s(
    time_s: NDArray[np.float64], value_c: NDArray[np.float64], core_c: float
) -> float | None:
    if time_s.size == 1:
        return float(time_s[0]) if value_c[0] >= core_c else None
    return first_time_at_s(time_s, value_c, core_c)


def next_clock(clock: str, after: datetime, zone: ZoneInfo) -> datetime:
    """Return the next time after a moment at which clocks show that time of day.

    On a day that skips it, the day after counts.
    """
    hour, minute = (int(part) for part in clock.split(":"))
    local = after.astimezone(zone).replace(tzinfo=None)
    for days in range(4):
        day = local + timedelta(days=days)
        naive = day.replace(hour=hour, minute=minute, second=0, microsecond=0)
        for instant in instants_of(naive, zone):
            if instant > after:
                return instant
    raise AssertionError("clocks show every time of day within three days")
