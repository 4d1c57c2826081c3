"""A running cook as it stands, and what it asks for, on hand-made cooks.

Times in ranges are worked out by hand from straight lines; limits from physics.limits, which names
its sources. The cooks are invented.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from fairsmoke.live.alert_limits import AlertThresholds
from fairsmoke.live.alerts import AlertKind, alerts_of
from fairsmoke.live.curve import MOST_ROWS, curve_of
from fairsmoke.live.growth_time import growth_time
from fairsmoke.live.snapshot import now_of
from fairsmoke.live.stages import ProbeTrace
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece, Position, Spot
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import Protocol
from fairsmoke.trial.question import Trial
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.record import TrialRecord

START = datetime(2026, 5, 2, 20, tzinfo=UTC)
Points = Iterable[tuple[float, float]]


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def line(*points: tuple[float, float], every_s: float = 60) -> Readings:
    """Return readings along straight lines between (hours, °C), to a tenth."""
    hours = np.array([point[0] for point in points])
    times = np.arange(hours[0], hours[-1] + 1e-9, every_s / 3600)
    values = np.interp(times, hours, [point[1] for point in points])
    time_ms = (epoch_ms(START) + np.round(times * 3.6e6)).astype(np.int64)
    raw = np.round(values * 10).astype(np.int64)
    return Readings(time_ms, raw, 1, "degC", np.zeros(len(raw), np.uint8))


def trial() -> Trial:
    stages = [
        {"id": "smoke", "name": "Smoke", "surround_c": 121.0, "ends": [{"core_c": 74.0}]},
        {
            "id": "wrap",
            "name": "W",
            "surround_c": 121.0,
            "wrap": "foil",
            "ends": [{"core_c": 95.0}],
        },
        {
            "id": "hold",
            "name": "Hold",
            "place": "holding cabinet",
            "wrap": "foil",
            "ends": [{"elapsed_s": 4 * 3600.0}],
        },
    ]
    return Trial.model_validate(
        {
            "id": "t",
            "title": "T",
            "question": "Q?",
            "differs": "d",
            "protocol": Protocol.model_validate({"stages": stages}),
            "arms": [{"id": "a", "name": "A"}, {"id": "b", "name": "B"}],
            "measures": [
                {"id": "m", "name": "M", "kind": "yield", "better": "higher", "worthwhile": 0.02}
            ],
            "draw": {"how": "drawn"},
        }
    )


def record(
    readings: dict[str, Readings],
    *events: Event,
    core: Placement | None = None,
    accuracy_k: float = 0,
) -> TrialRecord:
    spot = Spot(cooker="barrel", position="left")
    left = Position(id="left", name="Left")
    return TrialRecord(
        trial=trial(),
        cookers=(Cooker(id="barrel", name="Barrel", positions=(left,)),),
        probes=(
            Probe(id="core", name="Core", accuracy_k=accuracy_k),
            Probe(id="pit", name="Pit"),
        ),
        cooks=(Cook(id="c", name="C", time_zone="UTC", starts=at(-1), cookers=("barrel",)),),
        pieces=(Piece(id="p", name="P", cut="x", species="pork", cook="c", arm="a", spot=spot),),
        placements=(
            core
            or Placement(id="1", cook="c", probe="core", since=at(-1), measures="core", piece="p"),
            Placement(id="2", cook="c", probe="pit", since=at(-1), measures="pit", spot=spot),
        ),
        events=events,
        readings={("c", name): one for name, one in readings.items()},
    )


def event(kind: EventKind, hours: float, **more: object) -> Event:
    given = {"pieces": ("p",)} if kind not in (EventKind.RAISE, EventKind.FUEL) else {}
    handle = f"{kind}-{hours * 60:.0f}".replace(" ", "-")
    content = {"id": handle, "cook": "c", "at": at(hours), "kind": kind, **given, **more}
    return Event.model_validate(content)


ON = event(EventKind.ON, 0)
STEADY_PIT = ((-1, 121.0), (12, 121.0))


def kinds(
    found: TrialRecord, hours: float, watch: AlertThresholds | None = None
) -> list[AlertKind]:
    return [one.kind for one in alerts_of(now_of(found, at(hours)), watch or AlertThresholds())]


def test_a_piece_shows_what_its_probe_last_read_and_the_air_at_its_place() -> None:
    found = now_of(record({"core": line((0, 5), (4, 61)), "pit": line(*STEADY_PIT)}, ON), at(2))
    (piece,) = found.pieces
    assert piece.core[0].value_c == pytest.approx(33)
    assert piece.core[0].rise_k_per_h == pytest.approx(14, abs=0.1)
    assert piece.air is not None
    assert piece.air_is_at_its_spot
    assert found.cookers[0].low_c == found.cookers[0].high_c == 121.0
    assert kinds(record({"core": line((0, 5), (4, 61)), "pit": line(*STEADY_PIT)}, ON), 2) == []


def test_what_a_probe_reads_too_much_is_taken_off() -> None:
    made = record({"core": line((0, 5), (4, 61))}, ON)
    probes = (Probe(id="core", name="Core", offset_k=1.5), made.probes[1])
    shifted = TrialRecord(**{**made.__dict__, "probes": probes})
    assert now_of(shifted, at(2)).pieces[0].core[0].value_c == pytest.approx(31.5)


def test_the_pit_is_told_when_it_is_out_of_its_band_for_long_enough() -> None:
    core = line((0, 5), (4, 65), (12, 70))
    falling = line((-1, 121), (5, 121), (5.01, 100), (12, 100))
    made = record({"core": core, "pit": falling}, ON)
    assert kinds(made, 5.2) == []
    assert kinds(made, 5.3) == [AlertKind.PIT_COLD]
    hot = record({"core": core, "pit": line((-1, 121), (5, 121), (5.01, 140), (12, 140))}, ON)
    (alert,) = alerts_of(now_of(hot, at(6)), AlertThresholds())
    assert (alert.kind, alert.limit_c, alert.value_c) == (AlertKind.PIT_HOT, 136.0, 140.0)
    assert alert.since == at(5) + timedelta(minutes=1)


def test_cold_meat_and_a_new_setting_give_the_pit_time() -> None:
    core = line((0, 5), (4, 65), (12, 70))
    dip = record({"core": core, "pit": line((-1, 121), (0, 121), (0.01, 95), (12, 95))}, ON)
    assert kinds(dip, 0.5) == []
    assert kinds(dip, 0.8) == [AlertKind.PIT_COLD]
    raised = event(EventKind.RAISE, 5, cooker="barrel", set_c=150.0)
    slow = record({"core": core, "pit": line((-1, 121), (12, 121))}, ON, raised)
    assert kinds(slow, 5.5) == []
    assert kinds(slow, 5.8) == [AlertKind.PIT_COLD]


def test_nothing_is_told_of_a_cooker_with_nothing_on_it() -> None:
    assert kinds(record({"pit": line((-1, 20), (12, 20))}), 5) == []


def test_a_stage_is_told_until_it_is_done() -> None:
    core = line((0, 5), (4, 62), (10, 80))
    made = record({"core": core, "pit": line(*STEADY_PIT)}, ON)
    (alert,) = alerts_of(now_of(made, at(9.5)), AlertThresholds())
    assert alert.kind is AlertKind.STAGE_REACHED
    assert alert.acts == (EventKind.WRAP,)
    # 3 K an hour from 62 °C at 4 h.
    assert alert.since == pytest.approx(at(8), abs=timedelta(minutes=1))
    done = record({"core": core, "pit": line(*STEADY_PIT)}, ON, event(EventKind.WRAP, 9.4))
    assert kinds(done, 9.5) == []


def test_a_logger_that_falls_silent_is_told_a_thermometer_is_not() -> None:
    made = record({"core": line((0, 5), (3, 40)), "pit": line(*STEADY_PIT)}, ON)
    assert kinds(made, 3.15) == []
    (alert,) = alerts_of(now_of(made, at(3.2)), AlertThresholds())
    assert (alert.kind, alert.since) == (AlertKind.PROBE_LOST, at(3))
    by_hand = line((0, 5), (3, 40), every_s=1800)
    assert kinds(record({"core": by_hand, "pit": line(*STEADY_PIT)}, ON), 5) == []


def test_a_probe_that_is_unplugged_is_told_as_such() -> None:
    whole = line((0, 5), (4, 47))
    flags = np.where(whole.time_ms > epoch_ms(at(3)), int(Flag.OPEN_PROBE), 0).astype(np.uint8)
    made = record({"core": whole.with_flags(flags), "pit": line(*STEADY_PIT)}, ON)
    assert kinds(made, 3.5) == [AlertKind.PROBE_OPEN]


def test_a_hold_is_told_when_it_may_be_too_cold() -> None:
    events = (ON, event(EventKind.WRAP, 6), event(EventKind.PULL, 8), event(EventKind.HOLD, 8.1))
    readings = {"core": line((0, 5), (6, 74), (8, 96), (12, 58)), "pit": line(*STEADY_PIT)}
    # 96 to 58 °C in 4 h: 60 °C after 3 h 47 min, 61 °C after 3 h 41 min.
    assert kinds(record(readings, *events), 11.75) == []
    assert kinds(record(readings, *events), 11.85) == [AlertKind.HOLD_COLD]
    assert kinds(record(readings, *events, accuracy_k=1.0), 11.75) == [AlertKind.HOLD_COLD]
    assert kinds(record(readings, *events), 11.85, AlertThresholds(hold_least_c=57.0)) == []


def test_time_in_the_growth_range_runs_out_and_stays_said() -> None:
    # 4 °C when it goes on, 60 °C after 7 h.
    slow = {"core": line((0, 4), (7, 60), (9, 72)), "pit": line(*STEADY_PIT)}
    made = record(slow, ON)
    assert kinds(made, 4.9) == []
    assert kinds(made, 5.1) == [AlertKind.COMING_UP]
    assert kinds(made, 6.1) == [AlertKind.COMING_UP_OVER]
    # Cooking on undoes no toxin.
    assert kinds(made, 8.9) == [AlertKind.COMING_UP_OVER]


def test_meat_that_has_cooled_is_told_before_four_hours() -> None:
    events = (ON, event(EventKind.PULL, 6))
    # Below 57 °C from 7.15 h on.
    made = record({"core": line((0, 5), (6, 80), (7, 60), (8, 40), (13, 25))}, *events)
    assert AlertKind.COOLED not in kinds(made, 10)
    assert AlertKind.COOLED in kinds(made, 10.3)
    assert AlertKind.COOLED_OVER in kinds(made, 11.2)
    sliced = (*events, event(EventKind.SLICE, 9))
    done = record({"core": line((0, 5), (6, 80), (7, 60), (8, 40), (13, 25))}, *sliced)
    assert kinds(done, 12) == []


def trace(*points: tuple[float, float]) -> ProbeTrace:
    times = np.array([epoch_ms(at(hours)) for hours, _ in points], dtype=np.int64)
    return ProbeTrace(times, np.array([value for _, value in points]))


def test_the_growth_time_of_a_straight_rise_is_its_share() -> None:
    # From 0 to 120 °C in 12 h: 4 to 60 °C takes 5.6 h; a probe off by 2 K may hide 0.4 h.
    rise = trace((0.001, 0.01), (12, 120))
    found = growth_time([(rise, 0.0)], at(0), at(12.5))
    assert found is not None
    assert found.coming_up_s == pytest.approx(5.6 * 3600, rel=1e-3)
    unsure = growth_time([(rise, 2.0)], at(0), at(12.5))
    assert unsure is not None
    assert unsure.coming_up_s == pytest.approx(6.0 * 3600, rel=1e-3)
    assert not found.still_coming_up


def test_what_was_not_read_counts_against_the_piece() -> None:
    # The probe went in after 2 h and reads 20 °C; then it fell silent at 30 °C after 3 h.
    found = growth_time([(trace((2, 20), (3, 30)), 0.0)], at(0), at(7))
    assert found is not None
    assert found.coming_up_s == pytest.approx(7 * 3600)
    assert found.still_coming_up
    assert growth_time([(trace((8, 20)), 0.0)], at(0), at(7)) is None


def test_a_moved_probe_belongs_to_each_piece_in_its_time() -> None:
    core = Placement(
        id="1", cook="c", probe="core", since=at(0), until=at(2), measures="core", piece="p"
    )
    found = now_of(record({"core": line((0, 5), (4, 61))}, ON, core=core), at(3))
    assert found.pieces[0].core == ()
    assert [one.id for one in found.idle] == ["core"]
    assert found.pieces[0].growth is not None


def test_an_ended_cook_asks_for_nothing() -> None:
    made = record({"core": line((0, 5), (3, 40))}, ON)
    ended = made.cooks[0].model_copy(update={"ends": at(9)})
    done = TrialRecord(**{**made.__dict__, "cooks": (ended,)})
    assert alerts_of(now_of(done, at(9)), AlertThresholds()) == ()


def test_a_curve_has_few_rows_and_only_what_was_read() -> None:
    readings = {"core": line((0, 5), (3, 40)), "pit": line(*STEADY_PIT)}
    found = curve_of(now_of(record(readings, ON), at(10)))
    assert len(found.times) <= MOST_ROWS + 1
    core = next(one for one in found.lines if one.probe.probe.id == "core")
    for moment, value in zip(found.times, core.values_c, strict=True):
        hours = (moment - START).total_seconds() / 3600
        if 0 <= hours <= 3:
            assert value == pytest.approx(5 + 35 / 3 * hours, abs=0.3)
        elif hours > 3.5 or hours < 0:
            assert value is None
    assert found.times[-1] == at(10)
