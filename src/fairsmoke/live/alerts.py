"""What asks for somebody at the pit: told from a cook as it stands and what it watches for."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np

from fairsmoke.live.alert_limits import AlertThresholds
from fairsmoke.live.snapshot import CookerNow, CookNow, PieceNow, ProbeNow, next_acts
from fairsmoke.trial.clock import epoch_ms, instant_of_ms
from fairsmoke.trial.cook import EventKind, Piece
from fairsmoke.trial.probe import Probe

SETTLING = timedelta(minutes=45)
"""So long after the first piece went on, or the pit was set anew, it may be out of its band: cold
meat and a slow fire (common practice, no source)."""

INTERVALS_LOST = 5.0
"""A probe that is read seldom is lost after so many of its usual intervals."""
BY_HAND_S = 600.0
"""What is read more seldom than this is read by hand, and not lost when nobody looks."""


class AlertKind(StrEnum):
    """What is the matter."""

    PIT_COLD = "pit cold"
    PIT_HOT = "pit hot"
    STAGE_REACHED = "stage reached"
    PROBE_LOST = "probe lost"
    PROBE_OPEN = "probe open"
    HOLD_COLD = "hold cold"
    COMING_UP = "coming up"
    COMING_UP_OVER = "coming up over"
    COOLED = "cooled"
    COOLED_OVER = "cooled over"


PRESSING = frozenset(
    {
        AlertKind.HOLD_COLD,
        AlertKind.COMING_UP,
        AlertKind.COMING_UP_OVER,
        AlertKind.COOLED,
        AlertKind.COOLED_OVER,
    }
)
"""The kinds that are about what bacteria do."""


@dataclass(frozen=True)
class Alert:
    """One thing that asks for somebody.

    ``since`` is when it began, if that is known; ``value_c`` what was read, ``limit_c`` what it
    should be; ``spent_s`` of ``limit_s`` for times in the growth range.
    """

    kind: AlertKind
    piece: Piece | None = None
    probe: Probe | None = None
    cooker: str = ""
    since: datetime | None = None
    value_c: float | None = None
    limit_c: float | None = None
    spent_s: float | None = None
    limit_s: float | None = None
    acts: tuple[EventKind, ...] = ()
    feel: str = ""

    @property
    def key(self) -> str:
        """The same as long as it is the same matter."""
        of = self.piece.id if self.piece else ""
        stage = (
            self.since.isoformat() if self.kind is AlertKind.STAGE_REACHED and self.since else ""
        )
        return "/".join((self.kind, of, self.probe.id if self.probe else "", self.cooker, stage))

    @property
    def pressing(self) -> bool:
        """Whether it is about what bacteria do."""
        return self.kind in PRESSING


def alerts_of(now: CookNow, watch: AlertThresholds) -> tuple[Alert, ...]:
    """Return what asks for somebody, the pressing first; nothing of a cook that has ended."""
    if now.cook.ends is not None:
        return ()
    found = [*_of_cookers(now, watch), *_of_probes(now, watch)]
    for piece in now.pieces:
        if not piece.stage.over:
            found += _stage(piece)
            found += _hold(piece, now, watch)
        found += _growth(piece, watch)
    return tuple(sorted(found, key=lambda one: not one.pressing))


def _of_cookers(now: CookNow, watch: AlertThresholds) -> Iterator[Alert]:
    for cooker in now.cookers:
        if cooker.busy and cooker.low_c is not None and cooker.high_c is not None:
            for probe in cooker.probes:
                yield from _pit(cooker, probe, cooker.low_c, cooker.high_c, now, watch)


def _pit(
    cooker: CookerNow,
    probe: ProbeNow,
    low_c: float,
    high_c: float,
    now: CookNow,
    watch: AlertThresholds,
) -> Iterator[Alert]:
    least_c, most_c = low_c - watch.pit_band_k, high_c + watch.pit_band_k
    values, times = probe.trace.value_c, probe.trace.time_ms
    if not values.size or is_silent(probe, now.at, watch):
        return
    last_c = float(values[-1])
    if least_c <= last_c <= most_c:
        return
    # On the side on which it is now: from one side to the other it was inside between.
    outside = values < least_c if last_c < least_c else values > most_c
    inside = np.flatnonzero(~outside)
    first_out_ms = int(times[inside[-1] + 1]) if inside.size else int(times[0])
    since, cold = instant_of_ms(first_out_ms), last_c < least_c
    # Cold meat pulls the air down; it never makes it hot.
    disturbed = [cooker.set_at, cooker.first_on if cold else None]
    settles = max((one + SETTLING for one in disturbed if one is not None), default=since)
    if now.at >= settles and (now.at - since).total_seconds() >= watch.pit_out_s:
        yield Alert(
            AlertKind.PIT_COLD if cold else AlertKind.PIT_HOT,
            probe=probe.probe,
            cooker=cooker.cooker.name,
            since=since,
            value_c=last_c,
            limit_c=least_c if cold else most_c,
        )


def is_silent(probe: ProbeNow, now: datetime, watch: AlertThresholds) -> bool:
    """Tell whether a probe that sends by itself has not been heard of for too long."""
    if probe.usual_s is None or probe.usual_s > BY_HAND_S or probe.at is None:
        return False
    patience_s = max(watch.probe_lost_s, INTERVALS_LOST * probe.usual_s)
    return (now - probe.at).total_seconds() > patience_s


def _of_probes(now: CookNow, watch: AlertThresholds) -> Iterator[Alert]:
    over = {one.piece.id for one in now.pieces if one.stage.over}
    for probe in now.probes:
        if probe.placement.piece in over or not is_silent(probe, now.at, watch):
            continue
        yield Alert(
            AlertKind.PROBE_OPEN if probe.open else AlertKind.PROBE_LOST,
            piece=next(
                (one.piece for one in now.pieces if one.piece.id == probe.placement.piece), None
            ),
            probe=probe.probe,
            since=probe.at,
            value_c=probe.value_c,
        )


def _stage(piece: PieceNow) -> Iterator[Alert]:
    reached, acts = piece.stage.reached, next_acts(piece)
    if reached is None or not acts:
        return
    yield Alert(
        AlertKind.STAGE_REACHED,
        piece=piece.piece,
        since=reached.met,
        value_c=reached.condition.core_c,
        spent_s=reached.condition.elapsed_s,
        acts=acts,
        feel=next((m.condition.feel for m in piece.stage.marks if m.condition.feel), ""),
    )


def _hold(piece: PieceNow, now: CookNow, watch: AlertThresholds) -> Iterator[Alert]:
    if not piece.held:
        return
    probes = piece.core or ((piece.air,) if piece.air else ())
    for probe in probes:
        value_c = probe.value_c
        if value_c is None or is_silent(probe, now.at, watch):
            continue
        # What the probe may read too much counts against the hold.
        if value_c - probe.probe.accuracy_k < watch.hold_least_c:
            yield Alert(
                AlertKind.HOLD_COLD,
                piece=piece.piece,
                probe=probe.probe,
                since=_below_since(probe, watch.hold_least_c + probe.probe.accuracy_k, piece),
                value_c=value_c,
                limit_c=watch.hold_least_c,
            )
            return


def _below_since(probe: ProbeNow, level_c: float, piece: PieceNow) -> datetime | None:
    held_ms = epoch_ms(piece.stand.since) if piece.stand.since else 0
    times, values = probe.trace.time_ms, probe.trace.value_c
    warm = np.flatnonzero((values >= level_c) | (times < held_ms))
    first = int(warm[-1]) + 1 if warm.size else 0
    return instant_of_ms(int(times[first])) if first < times.size else piece.stand.since


def _growth(piece: PieceNow, watch: AlertThresholds) -> Iterator[Alert]:
    growth = piece.growth
    if growth is None:
        return
    if growth.coming_up_s > watch.come_up_s:
        # Cooking on does not undo a toxin: it stays said.
        yield _spent(AlertKind.COMING_UP_OVER, piece, growth.coming_up_s, watch.come_up_s)
    elif growth.still_coming_up and growth.coming_up_s > watch.come_up_s - watch.warn_before_s:
        yield _spent(AlertKind.COMING_UP, piece, growth.coming_up_s, watch.come_up_s)
    if growth.cooled_s > watch.cooled_s:
        yield _spent(AlertKind.COOLED_OVER, piece, growth.cooled_s, watch.cooled_s)
    elif growth.is_cool and growth.cooled_s > watch.cooled_s - watch.warn_before_s:
        yield _spent(AlertKind.COOLED, piece, growth.cooled_s, watch.cooled_s)


def _spent(kind: AlertKind, piece: PieceNow, spent_s: float, limit_s: float) -> Alert:
    return Alert(kind, piece=piece.piece, spent_s=spent_s, limit_s=limit_s)
