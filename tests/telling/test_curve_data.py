"""What the temperature charts show: nothing lost, no gap bridged, the wall clock kept."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fairsmoke.quantity import US
from fairsmoke.telling.curve_data import (
    bucketed,
    clock_changes,
    clock_ticks,
    cook_curves,
    for_reader,
)
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.record import TrialRecord

LONDON = ZoneInfo("Europe/London")
MINUTE_MS = 60_000


def test_buckets_keep_every_peak_and_the_mean() -> None:
    time_ms = np.arange(0, 600 * MINUTE_MS, 10_000, dtype=np.int64)
    value = np.random.default_rng(1).normal(120.0, 4.0, len(time_ms))
    value[1234], value[2345] = 300.0, -20.0
    found = bucketed(time_ms, value, 7.0 * MINUTE_MS)
    assert len(found.mean) < 100
    assert found.high.max() == 300.0
    assert found.low.min() == -20.0
    assert np.all(found.low <= found.mean)
    assert np.all(found.mean <= found.high)
    # The mean of equally long buckets is the mean of all.
    counts = np.diff(np.concatenate([np.searchsorted(time_ms, found.time_ms), [len(time_ms)]]))
    assert counts.min() > 0
    assert np.average(value) == pytest.approx(np.average(found.mean), abs=0.2)


def test_a_gap_begins_a_new_stretch_and_no_bucket_reaches_across() -> None:
    before = np.arange(0, 60 * MINUTE_MS, MINUTE_MS, dtype=np.int64)
    after = before + 76 * MINUTE_MS
    time_ms = np.concatenate([before, after])
    value = np.concatenate([np.full(60, 60.0), np.full(60, 70.0)])
    found = bucketed(time_ms, value, 30.0 * MINUTE_MS)
    assert sorted(set(found.stretch.tolist())) == [0, 1]
    assert set(found.mean.tolist()) == {60.0, 70.0}


def test_a_short_pause_is_bridged() -> None:
    time_ms = np.array([0, 1, 2, 16, 17], dtype=np.int64) * MINUTE_MS
    assert set(bucketed(time_ms, np.zeros(5), 60_000.0).stretch.tolist()) == {0}


def test_ticks_follow_the_wall_clock_when_the_clocks_go_back() -> None:
    # IANA tzdb, Europe/London: on 25 October 2026 clocks went from 02:00 BST back to 01:00 GMT.
    starts = datetime(2026, 10, 24, 18, 50, tzinfo=UTC)
    ticks = list(clock_ticks(starts, 0.0, 11.0, LONDON))
    shown = {str(tick.clock): tick.hours for tick in ticks}
    assert shown["02:00"] - shown["00:00"] == pytest.approx(3.0)
    assert shown["01:00 GMT"] - shown["01:00 BST"] == pytest.approx(1.0)
    assert "01:00" not in shown
    assert [str(tick.date) for tick in ticks if tick.date] == ["24 Oct 2026", "25 Oct 2026"]
    changes = list(clock_changes(starts, 0.0, 11.0, LONDON))
    assert [str(change.clock) for change in changes] == ["clocks go back"]
    assert changes[0].hours == pytest.approx((25 - 18) - 50 / 60)


def test_ticks_follow_the_wall_clock_when_the_clocks_go_forward() -> None:
    # IANA tzdb, Europe/London: on 29 March 2026 clocks went from 01:00 GMT on to 02:00 BST.
    starts = datetime(2026, 3, 28, 20, 0, tzinfo=UTC)
    ticks = list(clock_ticks(starts, 0.0, 10.0, LONDON))
    shown = {str(tick.clock): tick.hours for tick in ticks}
    assert shown["02:00"] - shown["00:00"] == pytest.approx(1.0)
    assert "01:00" not in shown
    assert [str(c.clock) for c in clock_changes(starts, 0.0, 10.0, LONDON)] == ["clocks go forward"]


def test_ticks_stand_on_whole_hours_where_zones_are_off_by_quarters() -> None:
    # IANA tzdb: Asia/Kathmandu is 5 h 45 min ahead of UTC.
    zone = ZoneInfo("Asia/Kathmandu")
    ticks = list(clock_ticks(datetime(2026, 5, 2, 12, 7, tzinfo=UTC), 0.0, 6.0, zone))
    assert all(str(tick.clock).endswith(":00") for tick in ticks)
    assert len(ticks) == 6


def test_the_demo_cook_has_its_curves_events_and_doubts(demo_record: TrialRecord) -> None:
    may = demo_record.cook("may")
    shown = cook_curves(demo_record, may)
    assert shown is not None
    labels = [str(curve.label) for curve in shown.curves]
    assert labels[:2] == ["Shoulder 1, core", "Shoulder 2, core"]
    assert sum(label.startswith("Pit: ") for label in labels) == 2
    assert [m.number for m in shown.markers] == list(range(1, len(shown.markers) + 1))
    assert sum(e.cook == "may" for e in demo_record.events) == len(shown.markers)
    # The needle of shoulder 1 lay beside the piece for an hour: kept, not believed, not drawn.
    assert shown.doubts.count > 50
    first = shown.curves[0]
    assert first.high.max() < 100.0
    assert len(set(first.stretch.tolist())) > 1


def test_curves_come_in_the_readers_unit(demo_record: TrialRecord) -> None:
    july = demo_record.cook("july")
    metric = cook_curves(demo_record, july)
    assert metric is not None
    us = for_reader(metric, replace(ENGLISH, units=US))
    assert us.unit == "°F"
    # Exact by definition: °F = 1.8 °C + 32.
    assert us.curves[0].mean == pytest.approx(metric.curves[0].mean * 1.8 + 32.0)


def test_unbelieved_readings_leave_the_curve(
    demo_record: TrialRecord, flagged: Callable[[Readings, slice, Flag], Readings]
) -> None:
    key = ("july", "core-1")
    spoilt = flagged(demo_record.readings[key], slice(400, 500), Flag.OPEN_PROBE)
    record = replace(demo_record, readings={**demo_record.readings, key: spoilt})
    shown = cook_curves(record, record.cook("july"))
    assert shown is not None
    assert shown.doubts.count == 100


def test_a_cook_with_nothing_in_it_has_no_chart(demo_record: TrialRecord) -> None:
    bare = replace(demo_record, readings={}, events=())
    assert cook_curves(bare, bare.cook("may")) is None
    only_events = replace(demo_record, readings={})
    shown = cook_curves(only_events, only_events.cook("may"))
    assert shown is not None
    assert shown.curves == ()
