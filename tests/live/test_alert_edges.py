"""Each alert exactly at its limit and just beyond, on snapshots with figures put in by hand."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from tests.live.test_live import ON, STEADY_PIT, at, event, line, record

from fairsmoke.live import alerts
from fairsmoke.live.alert_limits import AlertThresholds
from fairsmoke.live.alerts import Alert, AlertKind, alerts_of, is_silent
from fairsmoke.live.growth_time import GrowthTime
from fairsmoke.live.snapshot import CookNow, PieceNow, ProbeNow, now_of
from fairsmoke.live.stages import ProbeTrace
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import EventKind

H = 3600.0
NOW = 5.0
WATCH = AlertThresholds()


def snapshot() -> CookNow:
    """Return a cook five hours in: 35 °C in the core, a pit at 121 °C."""
    return now_of(record({"core": line((0, 5), (6, 41)), "pit": line(*STEADY_PIT)}, ON), at(NOW))


def trace(*points: tuple[float, float]) -> ProbeTrace:
    times = np.array([epoch_ms(at(hours)) for hours, _ in points], dtype=np.int64)
    return ProbeTrace(times, np.array([value for _, value in points]))


def with_piece(now: CookNow, **more: object) -> CookNow:
    piece: PieceNow = replace(now.pieces[0], **more)  # type: ignore[arg-type]
    return replace(now, pieces=(piece,))


def with_pit(now: CookNow, pit: ProbeTrace, **more: object) -> CookNow:
    cooker = now.cookers[0]
    probe = replace(cooker.probes[0], trace=pit)
    return replace(now, cookers=(replace(cooker, probes=(probe,), **more),))  # type: ignore[arg-type]


def kinds(now: CookNow, watch: AlertThresholds = WATCH) -> list[AlertKind]:
    return [one.kind for one in alerts_of(now, watch)]


def test_the_fixed_times() -> None:
    # Common practice, no source; stated so that a change is seen.
    assert timedelta(minutes=45) == alerts.SETTLING
    assert (alerts.INTERVALS_LOST, alerts.BY_HAND_S) == (5.0, 600.0)
    assert kinds(snapshot()) == []


# The pit: 121 ± 15 K, for 15 minutes.


@pytest.mark.parametrize(
    ("value_c", "kind"),
    [
        (106.0, None),
        (105.9, AlertKind.PIT_COLD),
        (136.0, None),
        (136.1, AlertKind.PIT_HOT),
    ],
)
def test_the_pit_at_the_edge_of_its_band(value_c: float, kind: AlertKind | None) -> None:
    out = with_pit(snapshot(), trace((3, 121), (4, value_c), (NOW, value_c)))
    assert kinds(out) == ([] if kind is None else [kind])


def test_the_pit_is_told_from_a_quarter_of_an_hour_on() -> None:
    out = with_pit(snapshot(), trace((3, 121), (4.75, 100), (NOW, 100)))
    (told,) = alerts_of(out, WATCH)
    assert (told.kind, told.since) == (AlertKind.PIT_COLD, at(4.75))
    assert (told.value_c, told.limit_c, told.cooker) == (100.0, 106.0, "Barrel")
    assert not told.pressing
    later = with_pit(snapshot(), trace((3, 121), (4.76, 100), (NOW, 100)))
    assert kinds(later) == []


def test_a_reading_at_the_edge_is_inside() -> None:
    # 106 °C at 4.9 h was inside, so that it has been outside for six minutes only.
    cold = with_pit(snapshot(), trace((3, 100), (4.8, 106), (4.9, 100), (NOW, 100)))
    assert kinds(cold) == []
    hot = with_pit(snapshot(), trace((3, 140), (4.8, 136), (4.9, 140), (NOW, 140)))
    assert kinds(hot) == []
    always = with_pit(snapshot(), trace((3, 100), (4, 101), (NOW, 100)))
    assert [one.since for one in alerts_of(always, WATCH)] == [at(3)]


def test_the_pit_settles_in_exactly_three_quarters_of_an_hour() -> None:
    cold = trace((3, 100), (4, 100), (NOW, 100))
    for minutes, told in ((45, [AlertKind.PIT_COLD]), (44, [])):
        on = at(NOW) - timedelta(minutes=minutes)
        assert kinds(with_pit(snapshot(), cold, first_on=on)) == told
        assert kinds(with_pit(snapshot(), cold, set_at=on, first_on=None)) == told
    hot = trace((3, 150), (4, 150), (NOW, 150))
    # Cold meat does not make a pit hot.
    assert kinds(with_pit(snapshot(), hot, first_on=at(4.9))) == [AlertKind.PIT_HOT]


def test_the_last_reading_of_the_pit_is_what_counts() -> None:
    assert kinds(with_pit(snapshot(), trace((3, 100), (4, 100), (NOW, 121)))) == []


def test_a_pit_that_was_never_read_says_nothing() -> None:
    assert kinds(with_pit(snapshot(), trace())) == []
    cold = with_pit(snapshot(), trace((3, 121), (4, 100), (NOW, 100)))
    assert kinds(replace(cold, cookers=(replace(cold.cookers[0], busy=False),))) == []


# Probes that fall silent: five of their intervals, ten minutes at the least.


def sending(usual_s: float | None, ago_s: float) -> tuple[ProbeNow, datetime]:
    now = snapshot()
    probe = replace(now.probes[0], usual_s=usual_s, trace=trace((1, 20), (2, 30)))
    return probe, at(2) + timedelta(seconds=ago_s)


@pytest.mark.parametrize(
    ("usual_s", "ago_s", "silent"),
    [
        (60.0, 600.0, False),
        (60.0, 601.0, True),
        (200.0, 1000.0, False),
        (200.0, 1001.0, True),
        (600.0, 3000.0, False),
        (600.0, 3001.0, True),
        (601.0, 9e4, False),
        (None, 9e4, False),
    ],
)
def test_when_a_probe_is_silent(usual_s: float | None, ago_s: float, silent: bool) -> None:
    probe, now = sending(usual_s, ago_s)
    assert is_silent(probe, now, WATCH) is silent


def silenced() -> CookNow:
    now = snapshot()
    core = next(one for one in now.probes if one.placement.piece)
    quiet = replace(core, usual_s=60.0, trace=trace((3, 20), (4, 30)))
    return replace(now, probes=(quiet,))


def test_a_silent_probe_is_told_with_its_piece() -> None:
    (told,) = alerts_of(silenced(), WATCH)
    assert told.kind is AlertKind.PROBE_LOST
    assert told.piece is not None
    assert told.piece.id == "p"
    assert (told.since, told.value_c, told.pressing) == (at(4), 30.0, False)


def test_a_probe_of_another_piece_does_not_take_this_ones_name() -> None:
    now = silenced()
    stay = now.probes[0].placement.model_copy(update={"piece": "another"})
    (told,) = alerts_of(replace(now, probes=(replace(now.probes[0], placement=stay),)), WATCH)
    assert told.piece is None


# The hold.


def holding(core: ProbeTrace, accuracy_k: float = 0.0, since_h: float = 1.0) -> CookNow:
    events = (ON, event(EventKind.WRAP, 0.5), event(EventKind.PULL, 0.9), event(EventKind.HOLD, 1))
    made = record({"core": line((0, 90), (6, 80)), "pit": line(*STEADY_PIT)}, *events)
    now = now_of(made, at(NOW))
    piece = now.pieces[0]
    meter = piece.core[0].probe.model_copy(update={"accuracy_k": accuracy_k})
    probe = replace(piece.core[0], trace=core, probe=meter)
    stand = replace(piece.stand, since=at(since_h))
    return with_piece(now, core=(probe,), stand=stand, growth=None)


def hold_alert(now: CookNow) -> Alert | None:
    return next((a for a in alerts_of(now, WATCH) if a.kind is AlertKind.HOLD_COLD), None)


@pytest.mark.parametrize(
    ("value_c", "accuracy_k", "told"),
    [(60.0, 0.0, False), (59.9, 0.0, True), (61.0, 1.0, False), (60.9, 1.0, True)],
)
def test_a_hold_at_its_limit(value_c: float, accuracy_k: float, told: bool) -> None:
    # What the probe may read too much is taken off, never added.
    now = holding(trace((2, 80), (4, 70), (4.98, value_c)), accuracy_k)
    assert (hold_alert(now) is not None) is told


def test_since_when_a_hold_has_been_too_cold() -> None:
    cooling = trace((1.2, 80), (2, 70), (3, 61), (4, 59), (4.98, 58))
    found = hold_alert(holding(cooling, accuracy_k=1.0))
    assert found is not None
    # 61 °C less 1 K is 60 °C: enough. The next reading is not.
    assert found.since == at(4)
    assert (found.value_c, found.limit_c, found.pressing) == (58.0, 60.0, True)
    sharp = hold_alert(holding(cooling))
    assert sharp is not None
    assert sharp.since == at(4)
    warm_again = trace((1.2, 50), (2, 61.5), (3, 59), (4, 58), (4.98, 57))
    found = hold_alert(holding(warm_again, accuracy_k=1.0))
    assert found is not None
    assert found.since == at(3)
    # 60.5 °C may be 59.5: with the margin it counts as cold from 3 h, without from 4 h.
    between = trace((2, 70), (3, 60.5), (4, 59), (4.98, 58))
    for accuracy_k, since in ((1.0, at(3)), (0.0, at(4))):
        found = hold_alert(holding(between, accuracy_k))
        assert found is not None
        assert found.since == since


def test_what_was_cold_before_the_hold_does_not_count() -> None:
    cold = trace((1, 50), (2, 51), (3, 52), (4.98, 53))
    for since_h, began in ((0.5, 1), (1.5, 2), (2.0, 2), (2.01, 3)):
        found = hold_alert(holding(cold, since_h=since_h))
        assert found is not None
        assert found.since == at(began)


def test_a_hold_begun_after_the_last_reading_is_cold_from_its_beginning() -> None:
    found = hold_alert(holding(trace((4.9, 50), (4.98, 51)), since_h=4.99))
    assert found is not None
    assert found.since == at(4.99)


def test_a_hold_watched_by_its_air_alone() -> None:
    now = holding(trace((2, 80), (4.98, 70)))
    air = replace(now.pieces[0].core[0], trace=trace((2, 70), (4.98, 55)))
    assert hold_alert(with_piece(now, core=(), air=air)) is not None
    assert hold_alert(with_piece(now, core=(), air=None)) is None
    # With a probe in the core the air does not count.
    assert hold_alert(with_piece(now, air=air)) is None


def test_a_silent_or_unread_probe_does_not_watch_a_hold() -> None:
    quiet = holding(trace((2, 80), (3, 50)))
    core = replace(quiet.pieces[0].core[0], usual_s=60.0)
    assert hold_alert(with_piece(quiet, core=(core,))) is None
    unread = replace(core, trace=trace())
    assert hold_alert(with_piece(quiet, core=(unread,))) is None
    cold = replace(core, trace=trace((4.98, 50)))
    # One that is unread does not hide the next.
    assert hold_alert(with_piece(quiet, core=(unread, core, cold))) is not None
    assert hold_alert(with_piece(snapshot(), core=(cold,))) is None


# Time in the growth range.


def grown(coming_s: float, still: bool, cooled_s: float, cool: bool) -> list[AlertKind]:
    return kinds(with_piece(snapshot(), growth=GrowthTime(coming_s, still, cooled_s, cool)))


@pytest.mark.parametrize(
    ("coming_h", "still", "told"),
    [
        (5.0, True, []),
        (5.01, True, [AlertKind.COMING_UP]),
        (6.0, True, [AlertKind.COMING_UP]),
        (6.01, True, [AlertKind.COMING_UP_OVER]),
        (5.5, False, []),
        (6.01, False, [AlertKind.COMING_UP_OVER]),
    ],
)
def test_six_hours_of_coming_up(coming_h: float, still: bool, told: list[AlertKind]) -> None:
    assert grown(coming_h * H, still, 0.0, False) == told


@pytest.mark.parametrize(
    ("cooled_h", "cool", "told"),
    [
        (3.0, True, []),
        (3.01, True, [AlertKind.COOLED]),
        (4.0, True, [AlertKind.COOLED]),
        (4.01, True, [AlertKind.COOLED_OVER]),
        (3.5, False, []),
        (4.01, False, [AlertKind.COOLED_OVER]),
    ],
)
def test_four_hours_of_being_cool(cooled_h: float, cool: bool, told: list[AlertKind]) -> None:
    assert grown(0.0, False, cooled_h * H, cool) == told


def test_what_is_told_of_the_time() -> None:
    growth = GrowthTime(7 * H, True, 5 * H, True)
    coming, cooled = alerts_of(with_piece(snapshot(), growth=growth), WATCH)
    assert (coming.spent_s, coming.limit_s) == (7 * H, 6 * H)
    assert (cooled.spent_s, cooled.limit_s) == (5 * H, 4 * H)
    assert coming.pressing
    assert cooled.pressing


def test_the_pressing_come_first() -> None:
    growth = GrowthTime(7 * H, True, 0.0, False)
    out = with_pit(snapshot(), trace((3, 121), (4, 100), (NOW, 100)))
    assert kinds(with_piece(out, growth=growth)) == [AlertKind.COMING_UP_OVER, AlertKind.PIT_COLD]


def test_the_same_matter_has_the_same_key() -> None:
    now = snapshot()
    piece, probe = now.pieces[0].piece, now.pieces[0].core[0].probe
    pit = Alert(AlertKind.PIT_COLD, probe=probe, cooker="Barrel", since=at(1))
    assert pit.key == "pit cold//core/Barrel/"
    assert Alert(AlertKind.COMING_UP, piece=piece, since=at(1)).key == "coming up/p///"
    # Another stage is another matter.
    stage = Alert(AlertKind.STAGE_REACHED, piece=piece, since=at(1))
    assert stage.key == f"stage reached/p///{at(1).isoformat()}"
    assert Alert(AlertKind.STAGE_REACHED, piece=piece).key == "stage reached/p///"
