"""How the cooks were really run, as the readings and events show it: no verdicts, only facts."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fairsmoke.judging.traces import (
    BRIDGED_MS,
    Trace,
    core_trace,
    first_reached_ms,
    pit_trace,
    placements_for,
    pulled_ms,
    spots_measured,
    time_weighted,
    trace_of,
    went_on_ms,
)
from fairsmoke.physics.limits import COME_UP, SAFETY_LIMITS, timed
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, EventKind, Piece
from fairsmoke.trial.protocol import Place
from fairsmoke.trial.record import FAR_FUTURE_MS, TrialRecord

COME_UP_FROM_C, COME_UP_TO_C, COME_UP_LIMIT_S = timed(COME_UP)
"""The slow-heating range of the USDA FSIS cooking guideline and the longest time in it."""

HOLD_CODE_C, COOL_MIDDLE_C, COOL_MIDDLE_LIMIT_S = timed(SAFETY_LIMITS["code 57 to 21"])
_, COOL_END_C, COOL_END_LIMIT_S = timed(SAFETY_LIMITS["code 57 to 5"])
"""Cooling of the FDA Food Code, from its lowest hot holding temperature in two steps."""

CORE_NEVER_C = 110.0
"""No core of meat that still holds water gets so warm: common practice, no source."""

AIR_NEVER_C = 400.0
"""No cooker for large cuts runs so hot on average: common practice, no source."""

AIR_OFF_PLAN_K = 60.0
"""Further from every planned temperature on average than a cook would let a pit run: own choice."""


@dataclass(frozen=True)
class Implausible:
    """A temperature that meat or a cooker cannot have had, so that a unit may be wrong.

    ``what`` is "core" or "air"; ``where`` the piece or the spot; ``value_c`` the highest believed
    core reading or the average of the air; ``planned_c`` what was planned for the air, if that is
    what it is far from; ``probes`` those that read it.
    """

    cook: str
    what: Literal["core", "air"]
    where: str
    value_c: float
    planned_c: tuple[float, float] | None
    probes: tuple[str, ...]


@dataclass(frozen=True)
class Cooling:
    """How a core cooled after the cook, as far as it was read; None where readings end before.

    ``to_middle_s`` from 57 to 21 °C, ``to_end_s`` from 57 to 5 °C; ``read_s`` from 57 °C to the
    last reading, and ``last_c`` what that was.
    """

    to_middle_s: float | None
    to_end_s: float | None
    read_s: float
    last_c: float


@dataclass(frozen=True)
class SpotConduct:
    """The air at one spot while its cook ran; temperatures in °C, weighted by time."""

    cook: str
    spot: str
    mean_c: float
    sd_c: float
    low_c: float
    high_c: float
    hours: float
    hours_without: float


@dataclass(frozen=True)
class SpotContrast:
    """How much hotter one spot was than another in the same cook, on average while both read."""

    cook: str
    hotter: str
    cooler: str
    by_k: float


@dataclass(frozen=True)
class PieceConduct:
    """What one piece went through; None where the record does not say."""

    piece: str
    on_ms: int | None
    wrapped_ms: int | None
    pulled_ms: int | None
    cook_s: float | None
    core_at_pull_c: float | None
    core_highest_c: float | None
    come_up_s: float | None
    come_up_starts_late: bool
    hold_s: float | None
    hold_lowest_c: float | None
    core_hours_without: float
    cooling: Cooling | None


@dataclass(frozen=True)
class Conduct:
    """How the cooks of a trial were run."""

    spots: tuple[SpotConduct, ...]
    contrasts: tuple[SpotContrast, ...]
    pieces: tuple[PieceConduct, ...]
    implausible: tuple[Implausible, ...]


def conduct_of(record: TrialRecord) -> Conduct:
    """Work out how each cook and each piece of a trial went."""
    spots: list[SpotConduct] = []
    contrasts: list[SpotContrast] = []
    for cook in record.cooks:
        traces = {
            spot: _while_cooking(record, cook, pit_trace(record, cook, spot))
            for spot in spots_measured(record, cook)
        }
        for spot, trace in traces.items():
            found = _spot(cook, spot, trace)
            if found is not None:
                spots.append(found)
        contrasts.extend(_contrasts(cook, traces))
    pieces = tuple(_piece(record, piece) for piece in record.units)
    doubts = (*_air_doubts(record, spots), *_core_doubts(record, pieces))
    return Conduct(tuple(spots), tuple(contrasts), pieces, doubts)


def _air_doubts(record: TrialRecord, spots: list[SpotConduct]) -> Iterator[Implausible]:
    planned = _planned_air(record)
    for spot in spots:
        off = planned is not None and not (
            planned[0] - AIR_OFF_PLAN_K <= spot.mean_c <= planned[1] + AIR_OFF_PLAN_K
        )
        if off or spot.mean_c > AIR_NEVER_C:
            probes = [
                stay.probe
                for stay in placements_for(record, "pit", cook=spot.cook)
                if stay.spot is not None and stay.spot.text == spot.spot
            ]
            yield Implausible(
                spot.cook,
                "air",
                spot.spot,
                spot.mean_c,
                planned if off else None,
                tuple(dict.fromkeys(probes)),
            )


def _planned_air(record: TrialRecord) -> tuple[float, float] | None:
    """Return the coolest and hottest that any cooker was meant to run, °C; None if nobody said."""
    trial = record.trial
    stages = [stage for arm in trial.arms for stage in trial.protocol_of(arm.id).stages]
    meant = [s.surround_c for s in stages if s.place is Place.COOKER and s.surround_c is not None]
    if not meant:
        return None
    meant += [event.set_c for event in record.events if event.set_c is not None]
    return min(meant), max(meant)


def _core_doubts(record: TrialRecord, pieces: tuple[PieceConduct, ...]) -> Iterator[Implausible]:
    for found in pieces:
        if found.core_highest_c is not None and found.core_highest_c > CORE_NEVER_C:
            probes = [stay.probe for stay in placements_for(record, "core", piece=found.piece)]
            cook = record.piece(found.piece).cook or ""
            yield Implausible(
                cook,
                "core",
                found.piece,
                found.core_highest_c,
                None,
                tuple(dict.fromkeys(probes)),
            )


def _while_cooking(record: TrialRecord, cook: Cook, trace: Trace) -> Trace:
    units = [piece for piece in record.units if piece.cook == cook.id]
    starts = [at for piece in units if (at := went_on_ms(record, piece)) is not None]
    ends = [at for piece in units if (at := pulled_ms(record, piece)) is not None]
    if not starts or not ends:
        return trace
    return trace.between(min(starts), max(ends))


def _spot(cook: Cook, spot: str, trace: Trace) -> SpotConduct | None:
    averaged = time_weighted(trace)
    if averaged is None:
        return None
    mean, spread, hours = averaged
    low, high = float(trace.value_c.min()), float(trace.value_c.max())
    return SpotConduct(cook.id, spot, mean, spread, low, high, hours, _hours_without(trace))


def _hours_without(trace: Trace) -> float:
    step = np.diff(trace.time_ms)
    return float(step[step > BRIDGED_MS].sum()) / 3_600_000


def _contrasts(cook: Cook, traces: dict[str, Trace]) -> list[SpotContrast]:
    found: list[SpotContrast] = []
    names = list(traces)
    for i, first in enumerate(names):
        for second in names[i + 1 :]:
            by = mean_excess(traces[first], traces[second])
            if by is not None:
                hotter, cooler = (first, second) if by >= 0 else (second, first)
                found.append(SpotContrast(cook.id, hotter, cooler, abs(by)))
    return found


def mean_excess(first: Trace, second: Trace) -> float | None:
    """Return how much hotter ``first`` was than ``second`` on average (K), while both were read.

    ``second`` is interpolated to the times of ``first``; times further than the bridged stretch
    from a reading of ``second`` do not count. None when they were never read together.
    """
    if len(first) == 0 or len(second) < 2:
        return None
    at = np.searchsorted(second.time_ms, first.time_ms)
    inside = (at > 0) & (at < len(second))
    at = at.clip(1, len(second) - 1)
    near = second.time_ms[at] - second.time_ms[at - 1] <= BRIDGED_MS
    use = inside & near
    if not bool(use.any()):
        return None
    other = np.interp(first.time_ms[use], second.time_ms, second.value_c)
    return float(np.mean(first.value_c[use] - other))


def _piece(record: TrialRecord, piece: Piece) -> PieceConduct:
    on, off = went_on_ms(record, piece), pulled_ms(record, piece)
    wraps = record.events_of(piece.id, EventKind.WRAP)
    core = core_trace(record, piece)
    cooking = core.between(on, off) if on is not None and off is not None else core
    come_up, late = _come_up(cooking)
    hold_s, hold_low = _hold(record, piece, core)
    return PieceConduct(
        piece=piece.id,
        on_ms=on,
        wrapped_ms=epoch_ms(wraps[0].at) if wraps else None,
        pulled_ms=off,
        cook_s=(off - on) / 1000 if on is not None and off is not None else None,
        core_at_pull_c=_last_before(core, off),
        core_highest_c=float(core.value_c.max()) if len(core) else None,
        come_up_s=come_up,
        come_up_starts_late=late,
        hold_s=hold_s,
        hold_lowest_c=hold_low,
        core_hours_without=_hours_without(cooking),
        cooling=_cooling(core.between(off, FAR_FUTURE_MS)) if off is not None else None,
    )


def _cooling(after: Trace) -> Cooling | None:
    """Return how the core cooled after it was last above 57 °C, from readings after the pull."""
    hot = np.flatnonzero(after.value_c > HOLD_CODE_C)
    if not hot.size:
        return None
    tail = after.between(int(after.time_ms[hot[-1]]), FAR_FUTURE_MS)
    falling = Trace(tail.time_ms, -tail.value_c)
    start = first_reached_ms(falling, -HOLD_CODE_C)
    if start is None:
        return None
    middle, end = (first_reached_ms(falling, -level) for level in (COOL_MIDDLE_C, COOL_END_C))
    return Cooling(
        to_middle_s=None if middle is None else (middle - start) / 1000,
        to_end_s=None if end is None else (end - start) / 1000,
        read_s=(float(tail.time_ms[-1]) - start) / 1000,
        last_c=float(tail.value_c[-1]),
    )


def _last_before(trace: Trace, at_ms: int | None) -> float | None:
    if at_ms is None:
        return None
    index = int(np.searchsorted(trace.time_ms, at_ms, side="right")) - 1
    if index < 0 or at_ms - int(trace.time_ms[index]) > BRIDGED_MS:
        return None
    return float(trace.value_c[index])


def _come_up(cooking: Trace) -> tuple[float | None, bool]:
    """Seconds from 10 to 54.4 °C, and whether the readings began above 10 °C (so: at least)."""
    end = first_reached_ms(cooking, COME_UP_TO_C)
    start = first_reached_ms(cooking, COME_UP_FROM_C)
    if end is None or start is None:
        return None, False
    late = bool(cooking.value_c[0] > COME_UP_FROM_C)
    return (end - start) / 1000, late


def _hold(record: TrialRecord, piece: Piece, core: Trace) -> tuple[float | None, float | None]:
    starts = record.events_of(piece.id, EventKind.HOLD)
    ends = record.events_of(piece.id, EventKind.HOLD_END)
    if not starts or not ends or ends[-1].at <= starts[0].at:
        return None, None
    begin, end = epoch_ms(starts[0].at), epoch_ms(ends[-1].at)
    held = core.between(begin, end)
    if not len(held):
        # With no probe left in the meat the air of the cabinet is the next best thing known.
        cabinet = placements_for(record, "cabinet", cook=piece.cook)
        held = trace_of(record, cabinet).between(begin, end)
    lowest = float(held.value_c.min()) if len(held) else None
    return (end - begin) / 1000, lowest
