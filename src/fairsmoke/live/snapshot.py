"""A running cook as it stands now: each piece against its protocol, each probe, each cooker."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fairsmoke.live.cached_readings import KeptReadings
from fairsmoke.live.growth_time import GrowthTime, growth_time
from fairsmoke.live.stages import ProbeTrace, StageStand, acts_between, stage_stand
from fairsmoke.live.trial_status import PieceStand, Stand, piece_stand
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms, instant_of_ms, time_zone
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece, Spot
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import Place
from fairsmoke.trial.question import Trial
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.record import TrialRecord

RATE_OVER_S, RATE_AT_LEAST_S = 30 * 60.0, 10 * 60.0
"""A rise is told over the last half hour, from ten minutes of readings on."""


@dataclass(frozen=True)
class ProbeNow:
    """A probe where it now is, and what it last read there.

    ``usual_s`` is the usual time between its readings; ``open`` when it goes on sending, but what
    an unplugged or broken probe sends.
    """

    probe: Probe
    placement: Placement
    trace: ProbeTrace
    usual_s: float | None
    open: bool

    @property
    def at(self) -> datetime | None:
        """When it last read something that is believed."""
        times = self.trace.time_ms
        return instant_of_ms(int(times[-1])) if times.size else None

    @property
    def value_c(self) -> float | None:
        """What it then read, with its offset taken off."""
        values = self.trace.value_c
        return float(values[-1]) if values.size else None

    @property
    def rise_k_per_h(self) -> float | None:
        """How fast it rises, by a straight line through the last half hour's readings."""
        times = self.trace.time_ms
        if times.size < 2:
            return None
        late = times >= times[-1] - 1000 * RATE_OVER_S
        hours = (times[late] - times[-1]) / 3.6e6
        if hours.size < 2 or -hours[0] * 3600 < RATE_AT_LEAST_S:
            return None
        centred = hours - hours.mean()
        return float(centred @ self.trace.value_c[late] / (centred @ centred))


@dataclass(frozen=True)
class PieceNow:
    """One piece: how far it has come, its stage, its probes, the air around it.

    ``core`` are the probes in its core, the coldest first; ``air`` is the probe nearest to it;
    ``air_is_at_its_spot`` when that lies at its own position. ``growth`` is None before it went on.
    """

    piece: Piece
    stand: PieceStand
    stage: StageStand
    core: tuple[ProbeNow, ...]
    surface: tuple[ProbeNow, ...]
    air: ProbeNow | None
    air_is_at_its_spot: bool
    growth: GrowthTime | None

    @property
    def on_cooker(self) -> bool:
        """Whether it is on the cooker."""
        return self.stand.stand in (Stand.ON, Stand.WRAPPED)

    @property
    def held(self) -> bool:
        """Whether it is in the hold."""
        return self.stand.stand is Stand.HELD


@dataclass(frozen=True)
class CookerNow:
    """One cooker of the cook: what it is set to or meant to have, and when it was last fed.

    ``low_c`` to ``high_c`` is what is meant (one temperature, or what its pieces' stages span);
    ``set_at`` when somebody last set it. ``first_on`` is when the first piece went on.
    """

    cooker: Cooker
    low_c: float | None
    high_c: float | None
    set_at: datetime | None
    fuel_at: datetime | None
    water_at: datetime | None
    first_on: datetime | None
    probes: tuple[ProbeNow, ...]
    busy: bool


@dataclass(frozen=True)
class CookNow:
    """A cook at one moment. ``events`` in order of time; ``idle`` are probes that are nowhere."""

    trial: Trial
    cook: Cook
    at: datetime
    pieces: tuple[PieceNow, ...]
    cookers: tuple[CookerNow, ...]
    probes: tuple[ProbeNow, ...]
    idle: tuple[Probe, ...]
    events: tuple[Event, ...]


def cook_now(
    book: Notebook, trial: Trial, cook: Cook, kept: KeptReadings, now: datetime
) -> CookNow:
    """Return a cook as it stands at a moment, by what is recorded until then.

    An ended cook is shown as it stood when it ended.
    """
    moment = min(now, cook.ends) if cook.ends else now
    pieces = tuple(one for one in book.list(Piece, trial=trial.id, cook=cook.id) if one.arm)
    record = TrialRecord(
        trial=trial,
        cooks=(cook,),
        pieces=pieces,
        cookers=book.list(Cooker),
        probes=book.list(Probe),
        placements=book.list(Placement, trial=trial.id, cook=cook.id),
        events=book.list(Event, trial=trial.id, cook=cook.id),
        exclusions=book.list(Exclusion, trial=trial.id, cook=cook.id),
        readings={
            (cook.id, probe): found for probe, found in kept.of_cook(trial.id, cook.id).items()
        },
    )
    return now_of(record, moment)


def now_of(record: TrialRecord, now: datetime) -> CookNow:
    """Return the one cook of a record as it stands at a moment."""
    (cook,) = record.cooks
    events = tuple(sorted((one for one in record.events if one.at <= now), key=lambda e: e.at))
    probes = tuple(
        _probe_now(record, placement, now)
        for placement in record.placements
        if placement.since <= now and (placement.until is None or placement.until > now)
    )
    stands = {piece.id: piece_stand(piece, events) for piece in record.pieces}
    cookers = [one for one in record.cookers if one.id in cook.cookers]
    pieces = tuple(
        _piece_now(record, piece, stands[piece.id], probes, events, now) for piece in record.pieces
    )
    placed = {one.probe.id for one in probes}
    return CookNow(
        record.trial,
        cook,
        now,
        pieces,
        tuple(_cooker_now(cooker, cook, pieces, probes, events) for cooker in cookers),
        probes,
        tuple(probe for probe in record.probes if probe.id not in placed),
        events,
    )


def _probe_now(record: TrialRecord, placement: Placement, now: datetime) -> ProbeNow:
    probe = next(one for one in record.probes if one.id == placement.probe)
    there = record.readings_of(placement)
    there = there.between(0, epoch_ms(now) + 1)
    good = there.take(there.believed)
    steps = np.diff(good.time_ms[-21:]) / 1000.0
    usual_s = float(np.median(steps)) if steps.size >= 3 else None
    is_open = len(there) > 0 and bool(there.flags[-1] & int(Flag.OPEN_PROBE))
    return ProbeNow(probe, placement, _trace(good, probe), usual_s, is_open)


def _trace(readings: Readings, probe: Probe) -> ProbeTrace:
    return ProbeTrace(readings.time_ms, readings.value_c - probe.offset_k)


def _piece_now(
    record: TrialRecord,
    piece: Piece,
    stand: PieceStand,
    probes: Sequence[ProbeNow],
    events: Sequence[Event],
    now: datetime,
) -> PieceNow:
    (cook,) = record.cooks
    core = sorted(
        (p for p in probes if p.placement.piece == piece.id and p.placement.measures == "core"),
        key=lambda p: p.value_c if p.value_c is not None else np.inf,
    )
    surface = [
        p for p in probes if p.placement.piece == piece.id and p.placement.measures == "surface"
    ]
    traces = _core_traces(record, piece, now)
    own = [one for one in events if _concerns(one, piece, stand.spot)]
    assert piece.arm is not None
    stage = stage_stand(
        record.trial.protocol_of(piece.arm),
        own,
        [trace for trace, _ in traces],
        starts=cook.starts,
        zone=time_zone(cook.time_zone),
        now=now,
    )
    air, at_its_spot = _air(stand, stage, probes)
    on = next((one.at for one in own if one.kind is EventKind.ON), None)
    served = next((one.at for one in own if one.kind in (EventKind.SLICE, EventKind.SERVE)), None)
    growth = growth_time(traces, on, served or now) if on is not None else None
    return PieceNow(piece, stand, stage, tuple(core), tuple(surface), air, at_its_spot, growth)


def _core_traces(
    record: TrialRecord, piece: Piece, now: datetime
) -> list[tuple[ProbeTrace, float]]:
    """Return what was read in the core of a piece, each probe's stays together."""
    by_probe: dict[str, list[ProbeTrace]] = {}
    accuracy = {}
    stays = sorted(record.placements, key=lambda one: one.since)
    for stay in stays:
        if stay.piece != piece.id or stay.measures != "core" or stay.since > now:
            continue
        found = _probe_now(record, stay, now)
        by_probe.setdefault(stay.probe, []).append(found.trace)
        accuracy[stay.probe] = found.probe.accuracy_k
    return [
        (
            ProbeTrace(
                np.concatenate([part.time_ms for part in parts]),
                np.concatenate([part.value_c for part in parts]),
            ),
            accuracy[probe],
        )
        for probe, parts in by_probe.items()
    ]


def _concerns(event: Event, piece: Piece, spot: Spot | None) -> bool:
    if event.pieces:
        return piece.id in event.pieces
    if event.kind in (EventKind.RAISE, EventKind.LOWER):
        return event.cooker is None or (spot is not None and event.cooker == spot.cooker)
    return event.kind is EventKind.SERVE


def _air(
    stand: PieceStand, stage: StageStand, probes: Sequence[ProbeNow]
) -> tuple[ProbeNow | None, bool]:
    """Return the probe in the air nearest to a piece, and whether it lies at its own position."""
    held = stand.stand is Stand.HELD
    wanted = "cabinet" if held else "pit"
    found = [one for one in probes if one.placement.measures == wanted]
    if held or stand.stand in (Stand.OFF, Stand.OUT_OF_HOLD, Stand.SLICED):
        return (found[0], False) if held and found else (None, False)
    if stage.stage is not None and stage.stage.place is not Place.COOKER:
        return None, False
    spot = stand.spot
    for one in found:
        if spot is not None and one.placement.spot == spot:
            return one, True
    for one in found:
        there = one.placement.spot
        if there is None or spot is None or there.cooker == spot.cooker:
            return one, False
    return None, False


def _cooker_now(
    cooker: Cooker,
    cook: Cook,
    pieces: Sequence[PieceNow],
    probes: Sequence[ProbeNow],
    events: Sequence[Event],
) -> CookerNow:
    only = len(cook.cookers) == 1
    inside = [
        one for one in pieces if (one.stand.spot.cooker == cooker.id if one.stand.spot else only)
    ]
    on = [one for one in inside if one.on_cooker]
    mine = [one for one in events if one.cooker == cooker.id or (one.cooker is None and only)]
    last = {one.kind: one for one in mine}
    sets = [one for one in mine if one.set_c is not None]
    if sets:
        low_c = high_c = sets[-1].set_c
    else:
        meant = _meant_c(on or inside)
        low_c, high_c = (min(meant), max(meant)) if meant else (None, None)
    fuel, water = last.get(EventKind.FUEL), last.get(EventKind.WATER)
    ids = {one.piece.id for one in inside}
    went_on = [one.at for one in events if one.kind is EventKind.ON and ids & set(one.pieces)]
    return CookerNow(
        cooker,
        low_c,
        high_c,
        sets[-1].at if sets else None,
        fuel.at if fuel else None,
        water.at if water else None,
        min(went_on, default=None),
        tuple(
            one
            for one in probes
            if one.placement.measures == "pit"
            and (one.placement.spot.cooker == cooker.id if one.placement.spot else only)
        ),
        bool(on),
    )


def _meant_c(pieces: Sequence[PieceNow]) -> list[float]:
    stages = [one.stage.stage or one.stage.following for one in pieces]
    return [
        stage.surround_c
        for stage in stages
        if stage is not None and stage.place is Place.COOKER and stage.surround_c is not None
    ]


def next_acts(piece: PieceNow) -> tuple[EventKind, ...]:
    """Return what is to be done with a piece next: now if its mark is reached, else at the mark."""
    if piece.stage.over:
        return ()
    if not piece.stage.runs:
        return acts_between(None, piece.stage.stages[0])
    return piece.stage.acts


def spot_names(cookers: Sequence[Cooker]) -> Mapping[str, str]:
    """Return the name of each position of each cooker, by the spot's text."""
    return {
        f"{cooker.id}/{position.id}": f"{cooker.name}, {position.name}"
        for cooker in cookers
        for position in cooker.positions
    }
