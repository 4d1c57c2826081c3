"""Does what a file says belong to that cook? Told before anything is written."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import combinations

import numpy as np

from fairsmoke.intake.read import LoggerFile
from fairsmoke.messages.errors import JobError
from fairsmoke.quantity import METRIC, US, show_temperature
from fairsmoke.trial.clock import epoch_ms, instant_of_ms, show_instant, time_zone
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Readings

BEFORE, AFTER = timedelta(hours=12), timedelta(hours=24)
"""So long before and after a cook its logger may run."""
LONGEST = timedelta(days=4)
"""How long a cook whose end is not recorded may have lasted."""

COLDEST_C = -30.0
HOTTEST_C: Mapping[str, float] = {
    "core": 130.0,
    "surface": 200.0,
    "pit": 200.0,
    "cabinet": 200.0,
    "wet bulb": 110.0,
    "room": 60.0,
}
"""What the median of a probe stays below in a big cut's cook: common practice, no source.

225 to 350 °F taken for °C lies above the pit's, 140 to 203 °F taken for °C above the core's.
"""
COOLEST_PIT_C, WARMED_UP = 55.0, timedelta(hours=3)
"""A pit over which no tenth of the readings rises after so long: °C taken for °F."""


class DoubtError(JobError):
    """A file that hardly belongs to the cook it is taken in for; a person may insist."""

    def __init__(self, doubts: Sequence[str]) -> None:
        super().__init__("; ".join(doubts) + "; --anyway takes the file in all the same")
        self.doubts = tuple(doubts)


def check_belongs(
    cook: Cook, stays: Sequence[Placement], incoming: Mapping[str, Sequence[Readings]]
) -> None:
    """Raise DoubtError when times lie outside the cook or values cannot be true there.

    ``incoming`` are the new readings of each probe, flagged; ``stays`` the cook's placements.
    """
    outside = _outside(cook, [part for parts in incoming.values() for part in parts])
    doubts = [outside] if outside else []
    for probe, parts in incoming.items():
        own = [stay for stay in stays if stay.probe == probe]
        doubts += [text for stay in own if (text := _implausible(cook, probe, stay, parts))]
        if not own and (text := _implausible(cook, probe, None, parts)):
            doubts.append(text)
    if doubts:
        raise DoubtError(doubts)


def window(cook: Cook) -> tuple[datetime, datetime]:
    """Return from when to when a logger's readings can belong to the cook."""
    return cook.starts - BEFORE, (cook.ends or cook.starts + LONGEST) + AFTER


def _outside(cook: Cook, parts: Sequence[Readings]) -> str:
    begin, end = window(cook)
    low, high = epoch_ms(begin), epoch_ms(end)
    times = np.concatenate([part.time_ms for part in parts]) if parts else np.empty(0, np.int64)
    count = int(np.count_nonzero((times < low) | (times > high)))
    if not count:
        return ""
    zone = time_zone(cook.time_zone)
    first, last = (instant_of_ms(int(at)) for at in (times.min(), times.max()))
    return (
        f"{count:,} of {times.size:,} readings lie outside cook {cook.id} "
        f"({show_instant(begin, zone)} to {show_instant(end, zone)}, with 12 h before it and 24 h "
        f"after it); the file's run from {show_instant(first, zone)} to "
        f"{show_instant(last, zone)}: is it the wrong cook, date order or zone?"
    )


def _implausible(cook: Cook, probe: str, stay: Placement | None, parts: Sequence[Readings]) -> str:
    """Return what cannot be true of a probe while it stayed there, "" when all can."""
    inside = [part.take(part.believed) for part in parts]
    measures = "pit"
    hottest = max(HOTTEST_C.values())
    if stay is not None:
        until = stay.until or window(cook)[1]
        inside = [part.between(epoch_ms(stay.since), epoch_ms(until)) for part in inside]
        measures, hottest = stay.measures, HOTTEST_C[stay.measures]
    values = np.concatenate([part.value_c for part in inside]) if inside else np.empty(0)
    if not values.size:
        return ""
    middle = float(np.median(values))
    high = float(np.quantile(values, 0.9))
    where = f"probe {probe}, which measures the {measures}" if stay else f"probe {probe}"
    if middle > hottest:
        return f"{where}, reads {_both(middle)} at its middle: is the unit right?"
    if middle < COLDEST_C:
        return f"{where}, reads {_both(middle)} at its middle: is the unit right?"
    times = np.concatenate([part.time_ms for part in inside])
    lasted = timedelta(milliseconds=int(np.ptp(times)))
    if stay is not None and measures == "pit" and high < COOLEST_PIT_C and lasted > WARMED_UP:
        return f"{where}, hardly rises above {_both(high)}: is the unit right?"
    return ""


def _both(value_c: float) -> str:
    return f"{show_temperature(value_c, METRIC, 0)} ({show_temperature(value_c, US, 0)})"


def check_apart(found: LoggerFile, names: Mapping[str, str]) -> None:
    """Raise JobError when two of the file's names are one probe at the same time."""
    spans: dict[str, list[tuple[int, int, str]]] = {}
    for series in found.series:
        times = series.readings.time_ms
        if names.get(series.probe) and times.size:
            span = (int(times[0]), int(times[-1]), series.probe)
            spans.setdefault(names[series.probe], []).append(span)
    for probe, parts in spans.items():
        for one, other in combinations(sorted(parts), 2):
            if one[2] != other[2] and other[0] <= one[1]:
                raise JobError(
                    f"{one[2]!r} and {other[2]!r} of this file would both be probe '{probe}' at "
                    "the same time: two channels are two probes, each with its own handle. A probe "
                    "that was moved stays one name and has placements. Leave one out with "
                    f"--probe '{other[2]}='"
                )
