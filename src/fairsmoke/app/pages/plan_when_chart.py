"""The day as a drawing: each piece on the cooker and in the hold, and when it may come off."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from fairsmoke.app.pages.plan_when_words import Told

_LEFT, _WIDTH, _ROW = 12.0, 616.0, 74.0
_MOST_TICKS = 5
_STEPS_H = (1, 2, 3, 4, 6, 12, 24, 48, 96)


@dataclass(frozen=True)
class Tick:
    """A time on the axis: where it stands, the weekday, the time of day."""

    x: float
    day: str
    time: str

    @property
    def anchor(self) -> str:
        """On which side of it the words stand, so that they keep within the box."""
        return "start" if self.x < 70.0 else "end" if self.x > 570.0 else "middle"


@dataclass(frozen=True)
class Bar:
    """A piece: its name, how far down, and where along it goes on, comes off, is opened.

    ``low`` and ``high`` are where 90 of 100 days have it off, within the drawing; ``steps`` where
    something is done to it in between.
    """

    name: str
    y: float
    on: float
    off: float
    low: float
    high: float
    opened: float
    steps: tuple[float, ...]


@dataclass(frozen=True)
class DayChart:
    """The drawing of a day in a box of 640 by ``high``."""

    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    serve: float
    axis: float
    high: float

    @classmethod
    def of(cls, told: Told) -> "DayChart":
        """Return the drawing of a day; what lies outside from lighting to serving is cut off."""
        first = min(row["at"] for row in told.page["day"])

        def along(seconds: float | None) -> float:
            share = 1.0 if seconds is None else (seconds - first) / -first
            return round(_LEFT + _WIDTH * min(1.0, max(0.0, share)), 1)

        bars = []
        for number, one in enumerate(told.page["pieces"]):
            pull = one["pull"]
            steps = [row["at"] for row in _between(told.page, one["name"])]
            bars.append(
                Bar(
                    one["name"],
                    _ROW * number,
                    along(one["on"]),
                    along(pull["middle"]),
                    along(pull["low"]),
                    along(pull["high"]),
                    along(one["open"]),
                    tuple(along(at) for at in steps),
                )
            )
        axis = _ROW * len(bars)
        ticks = [Tick(along(at), *_said(told, at)) for at in _tick_times(told, first)]
        # Half of what is written below a tick; what would stick out of the box is left out.
        half = 60.0 if told.way.clock == "12" else 40.0
        within = tuple(one for one in ticks if half <= one.x <= 640.0 - half)
        return cls(tuple(bars), within, along(0.0), axis, axis + 62.0)


def _between(page: dict[str, Any], piece: str) -> list[dict[str, Any]]:
    ends = ("put on", "pull", "open", "slice")
    return [row for row in page["day"] if row.get("piece") == piece and row["kind"] not in ends]


def _said(told: Told, at: float) -> tuple[str, str]:
    moment = told.at(at)
    time = told.way.time(moment, told.zone)
    return told.way.day_time(moment, told.zone).removesuffix(time).strip(), time


def _tick_times(told: Told, first: float) -> Iterator[float]:
    """Yield whole hours of the local clock, few enough to be written side by side (s)."""
    step = next((s for s in _STEPS_H if -first / 3600 / s <= _MOST_TICKS), _STEPS_H[-1])
    # By the instant, so that a change of the clocks neither doubles nor skips one.
    begin = told.at(first).replace(minute=0, second=0, microsecond=0)
    for hour in range(1, int(-first // 3600) + 1):
        moment = begin + timedelta(hours=hour)
        local = moment.astimezone(told.zone)
        days = local.toordinal()
        if local.minute == 0 and (24 * days + local.hour) % step == 0:
            yield (moment - told.serve).total_seconds()
