"""Does what a file says belong to that cook? Told before anything is written."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import combinations

import numpy as np

from fairsmoke.intake.read import LoggerFile
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Message, OnFace, chained
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

    def __init__(self, doubts: Sequence[Message]) -> None:
        super().__init__(
            N_(
                "%(doubts)s; %(anyway)s takes the file in all the same",
                doubts=chained(doubts),
                anyway=OnFace("--anyway", N_("“Take it in all the same”")),
            )
        )
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


def check_in_window(cook: Cook, at: datetime) -> None:
    """Raise JobError for a time at which a reading cannot belong to the cook, as a wrong year."""
    begin, end = window(cook)
    if not begin <= at <= end:
        zone = time_zone(cook.time_zone)
        raise JobError(
            N_(
                "%(at)s lies outside cook %(cook)s, which runs from %(begin)s to %(end)s with "
                "12 h before it and 24 h after it; check the date, the year too",
                at=show_instant(at, zone),
                cook=cook.id,
                begin=show_instant(begin, zone),
                end=show_instant(end, zone),
            ),
            field="at",
        )


def _outside(cook: Cook, parts: Sequence[Readings]) -> Message | None:
    begin, end = window(cook)
    low, high = epoch_ms(begin), epoch_ms(end)
    times = np.concatenate([part.time_ms for part in parts]) if parts else np.empty(0, np.int64)
    count = int(np.count_nonzero((times < low) | (times > high)))
    if not count:
        return None
    zone = time_zone(cook.time_zone)
    first, last = (instant_of_ms(int(at)) for at in (times.min(), times.max()))
    return N_(
        "%(count)s of %(size)s readings lie outside cook %(cook)s "
        "(%(begin)s to %(end)s, with 12 h before it and 24 h "
        "after it); the file's run from %(first)s to "
        "%(last)s: is it the wrong cook, date order or zone?",
        count=count,
        size=times.size,
        cook=cook.id,
        begin=show_instant(begin, zone),
        end=show_instant(end, zone),
        first=show_instant(first, zone),
        last=show_instant(last, zone),
    )


def _implausible(
    cook: Cook, probe: str, stay: Placement | None, parts: Sequence[Readings]
) -> Message | None:
    """Return what cannot be true of a probe while it stayed there, None when all can."""
    inside = [part.take(part.believed) for part in parts]
    measures = "pit"
    hottest = max(HOTTEST_C.values())
    if stay is not None:
        until = stay.until or window(cook)[1]
        inside = [part.between(epoch_ms(stay.since), epoch_ms(until)) for part in inside]
        measures, hottest = stay.measures, HOTTEST_C[stay.measures]
    values = np.concatenate([part.value_c for part in inside]) if inside else np.empty(0)
    if not values.size:
        return None
    middle = float(np.median(values))
    high = float(np.quantile(values, 0.9))
    where = (
        N_("probe %(probe)s, which measures the %(measures)s", probe=probe, measures=measures)
        if stay
        else N_("probe %(probe)s", probe=probe)
    )
    if middle > hottest:
        return N_(
            "%(where)s, reads %(both)s at its middle: is the unit right?",
            where=where,
            both=_both(middle),
        )
    if middle < COLDEST_C:
        return N_(
            "%(where)s, reads %(both)s at its middle: is the unit right?",
            where=where,
            both=_both(middle),
        )
    times = np.concatenate([part.time_ms for part in inside])
    lasted = timedelta(milliseconds=int(np.ptp(times)))
    if stay is not None and measures == "pit" and high < COOLEST_PIT_C and lasted > WARMED_UP:
        return N_(
            "%(where)s, hardly rises above %(both)s: is the unit right?",
            where=where,
            both=_both(high),
        )
    return None


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
                    N_(
                        "%(one)r and %(other)r of this file would both be probe '%(probe)s' at "
                        "the same time: two channels are two probes, each with its own handle. A "
                        "probe that was moved stays one name and has placements. Leave one "
                        "out%(how)s",
                        how=OnFace(f" with --probe '{other[2]}='", ""),
                        one=one[2],
                        other=other[2],
                        probe=probe,
                    )
                )
