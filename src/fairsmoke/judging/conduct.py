"""How the cooks were really run, as the readings and events show it: no verdicts, only facts."""

from dataclasses import dataclass

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
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, EventKind, Piece
from fairsmoke.trial.record import TrialRecord

COME_UP_FROM_C = 10.0
COME_UP_TO_C = 54.4
"""Ends of the slow-heating range of the USDA FSIS cooking guideline (50 to 130 °F)."""

COME_UP_LIMIT_S = 6 * 3600.0
"""Longest time in that range by the same guideline (references/safety.md section 1c)."""

HOLD_CODE_C = 57.0
"""Lowest hot holding temperature of the FDA Food Code 3-501.16(A)(1), 135 °F."""


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


@dataclass(frozen=True)
class Conduct:
    """How the cooks of a trial were run."""

    spots: tuple[SpotConduct, ...]
    contrasts: tuple[SpotContrast, ...]
    pieces: tuple[PieceConduct, ...]


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
    return Conduct(tuple(spots), tuple(contrasts), pieces)


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
