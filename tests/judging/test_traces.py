"""Traces and conduct: closed forms, and that flagged readings never reach a number."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from fairsmoke.judging.conduct import conduct_of, mean_excess
from fairsmoke.judging.traces import Trace, core_trace, first_reached_ms, time_weighted
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece, Position, Spot
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.question import Arm, Better, Draw, Measure, MeasureKind, Trial
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.record import TrialRecord

START = datetime(2026, 5, 2, 18, 0, tzinfo=UTC)
HOUR_MS = 3_600_000


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def trace(hours: list[float], value_c: list[float]) -> Trace:
    return Trace((np.array(hours) * HOUR_MS).astype(np.int64) + epoch_ms(START), np.array(value_c))


def readings(hours: np.ndarray, value_c: np.ndarray, flags: np.ndarray | None = None) -> Readings:
    return Readings(
        (hours * HOUR_MS).astype(np.int64) + epoch_ms(START),
        np.round(value_c * 10).astype(np.int64),
        1,
        "degC",
        np.zeros(hours.size, dtype=np.uint8) if flags is None else flags,
    )


def test_the_mean_is_over_time_not_over_readings() -> None:
    # A straight ramp from 100 to 130 °C has mean 115 °C and standard deviation 30/√12, however
    # unevenly it is sampled (mean and variance of a uniform distribution).
    hours = np.sort(np.concatenate([np.linspace(0, 3, 700), np.linspace(0, 0.5, 400)]))
    found = time_weighted(trace(hours.tolist(), (100 + 10 * hours).tolist()))
    assert found is not None
    mean, sd, covered = found
    assert mean == pytest.approx(115.0, abs=0.01)
    assert sd == pytest.approx(30 / np.sqrt(12), abs=0.02)
    assert covered == pytest.approx(3.0)


def test_a_long_gap_counts_for_nothing() -> None:
    found = time_weighted(trace([0, 0.1, 5.0, 5.1], [100, 100, 200, 200]))
    assert found is not None
    assert found[0] == pytest.approx(150.0)
    assert found[2] == pytest.approx(0.2)


def test_a_level_is_reached_between_two_readings() -> None:
    ramp = trace([0, 1, 2, 3], [50, 60, 70, 80])
    reached = first_reached_ms(ramp, 65.0)
    assert reached == pytest.approx(epoch_ms(START) + 1.5 * HOUR_MS)
    assert first_reached_ms(ramp, 90.0) is None
    assert first_reached_ms(ramp, 40.0) == epoch_ms(START)


def test_a_lone_spike_does_not_reach_a_level() -> None:
    minutes = [0.0, 1 / 60, 2 / 60, 3 / 60, 1.0]
    spiked = trace(minutes, [50, 90, 50, 50, 90])
    reached = first_reached_ms(spiked, 80.0)
    assert reached is not None
    assert reached > epoch_ms(START) + 0.5 * HOUR_MS


def test_a_hot_side_is_found_by_times_in_common() -> None:
    left = trace([0, 0.1, 0.2, 0.3], [110, 112, 114, 116])
    right = trace([0.05, 0.15, 0.25], [118, 120, 122])
    # The left runs straight through 111, 113, 115 at those times: 7 K cooler each time.
    assert mean_excess(right, left) == pytest.approx(7.0)
    assert mean_excess(left, trace([], [])) is None


def record(core: Readings, pit: Readings) -> TrialRecord:
    trial = Trial(
        id="t",
        title="T",
        question="Q",
        differs="d",
        protocol=Protocol(stages=(Stage(id="s", name="S", ends=(EndCondition(core_c=94.0),)),)),
        arms=(Arm(id="a", name="A"), Arm(id="b", name="B")),
        measures=(
            Measure(
                id="m",
                name="M",
                kind=MeasureKind.COOK_TIME,
                better=Better.LOWER,
                worthwhile=60.0,
            ),
        ),
        draw=Draw(how="drawn", within="cook"),
    )
    spot = Spot(cooker="barrel", position="left")
    piece = Piece(id="p", name="P", cut="shoulder", species="pork", cook="c", arm="a", spot=spot)
    return TrialRecord(
        trial=trial,
        cookers=(Cooker(id="barrel", name="B", positions=(Position(id="left", name="L"),)),),
        probes=(Probe(id="meat", name="Meat", offset_k=0.5), Probe(id="air", name="Air")),
        cooks=(Cook(id="c", name="C", time_zone="UTC", starts=START, cookers=("barrel",)),),
        pieces=(piece,),
        placements=(
            Placement(id="1", cook="c", probe="meat", since=START, measures="core", piece="p"),
            Placement(id="2", cook="c", probe="air", since=START, measures="pit", spot=spot),
        ),
        events=(
            Event(id="on", cook="c", at=at(1), kind=EventKind.ON, pieces=("p",)),
            Event(id="wrap", cook="c", at=at(5), kind=EventKind.WRAP, pieces=("p",)),
            Event(id="off", cook="c", at=at(9), kind=EventKind.PULL, pieces=("p",)),
        ),
        readings={("c", "meat"): core, ("c", "air"): pit},
    )


def test_conduct_is_what_the_readings_and_events_say() -> None:
    hours = np.arange(0, 10, 1 / 60)
    core = 4.5 + 10 * np.clip(hours - 1, 0, None)
    flags = np.zeros(hours.size, dtype=np.uint8)
    core[300:360] = 130.0
    flags[300:360] = Flag.JUMP
    found = conduct_of(record(readings(hours, core, flags), readings(hours, 120 + 0 * hours)))
    (piece,) = found.pieces
    assert piece.cook_s == pytest.approx(8 * 3600)
    assert piece.wrapped_ms == epoch_ms(at(5))
    # The probe reads half a degree too much; the jump to 130 °C is not believed.
    assert piece.core_at_pull_c == pytest.approx(84.0, abs=0.1)
    assert piece.core_highest_c == pytest.approx(94.0, abs=0.3)
    # From 10 to 54.4 °C at 10 K/h, but for the hour that was not believed: the clock still runs.
    assert piece.come_up_s == pytest.approx(4.44 * 3600, rel=0.02)
    assert piece.core_hours_without == pytest.approx(61 / 60, abs=0.02)
    (spot,) = found.spots
    assert spot.spot == "barrel/left"
    assert spot.mean_c == pytest.approx(120.0)
    assert spot.hours == pytest.approx(8.0, abs=0.02)


def test_no_readings_is_not_an_error() -> None:
    empty = record(Readings.none(), Readings.none())
    (piece,) = conduct_of(empty).pieces
    assert piece.core_at_pull_c is None
    assert piece.come_up_s is None
    assert len(core_trace(empty, empty.pieces[0])) == 0
    assert conduct_of(empty).spots == ()
