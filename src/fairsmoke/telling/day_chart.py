"""The day as a drawing: each piece on the cooker and in the hold, and when it may come off."""

import math
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.steps import StepKind
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.clock import time_zone

_LEFT, _WIDTH, _ROW = 12.0, 616.0, 74.0
_MOST_TICKS = 5
_TICK_HOURS = (1, 2, 3, 4, 6, 12, 24, 48, 96)


def chart_content(plan: DayPlan) -> dict[str, Any]:
    """Return what the drawing shows as JSON data, times in s from serving; None never ends."""
    return {
        "serve": plan.day.serve.isoformat(),
        "zone": plan.day.zone.key,
        "first_s": plan.plan.first_s,
        "pieces": [
            {
                "name": one.piece.name,
                "on_s": one.on_s,
                "off_s": [
                    at if math.isfinite(at) else None
                    for at in (one.pull.low_s, one.pull.middle_s, one.pull.high_s)
                ],
                "open_s": one.open_s,
                "steps_s": [
                    step.planned_s
                    for step in one.steps
                    if step.step.kind not in (StepKind.ON, StepKind.PULL)
                ],
            }
            for one in plan.plan.pieces
        ],
    }


def day_chart(content: dict[str, Any], reader: Reader) -> dict[str, Any]:
    """Return the drawing of a day in a box of 640 by ``high``, for its reader's clock.

    Each bar has the piece's name, how far down it is (``y``), and where along it goes on, comes
    off and is opened; ``low`` and ``high`` are where 90 of 100 days have it off; ``steps`` where
    something is done to it in between. What lies outside from lighting to serving is cut off.
    """
    first = content["first_s"]

    def along(seconds: float | None) -> float:
        share = 1.0 if seconds is None else (seconds - first) / -first
        return round(_LEFT + _WIDTH * min(1.0, max(0.0, share)), 1)

    bars = []
    for number, one in enumerate(content["pieces"]):
        low, off, high = (along(at) for at in one["off_s"])
        bar = {"name": one["name"], "y": _ROW * number, "off": off, "low": low, "high": high}
        bar |= {"on": along(one["on_s"]), "opened": along(one["open_s"])}
        bars.append(bar | {"steps": [along(at) for at in one["steps_s"]]})
    axis = _ROW * len(bars)
    ticks = _ticks(datetime.fromisoformat(content["serve"]), first, content["zone"], reader)
    # Half of what is written below a tick; what would stick out of the box is left out.
    half = 60.0 if reader.clock == "12" else 40.0
    placed = [(along(at), day, time) for at, day, time in ticks]
    within = [
        {"x": x, "day": day, "time": time} for x, day, time in placed if half <= x <= 640.0 - half
    ]
    return {"bars": bars, "ticks": within, "serve": along(0.0), "axis": axis, "high": axis + 62.0}


def _ticks(
    serve: datetime, first: float, zone_key: str, reader: Reader
) -> Iterator[tuple[float, str, str]]:
    """Yield whole hours of the local clock, few enough to be written side by side.

    Each with its time (s from serving), weekday and time of day in words.
    """
    zone = time_zone(zone_key)
    step = next((s for s in _TICK_HOURS if -first / 3600 / s <= _MOST_TICKS), _TICK_HOURS[-1])
    # By the instant, so that a change of the clocks neither doubles nor skips one.
    begin = (serve + timedelta(seconds=first)).replace(minute=0, second=0, microsecond=0)
    for hour in range(1, int(-first // 3600) + 1):
        moment = begin + timedelta(hours=hour)
        local = moment.astimezone(zone)
        if local.minute == 0 and (24 * local.toordinal() + local.hour) % step == 0:
            time = reader.time(moment, zone)
            day = reader.day_time(moment, zone).removesuffix(time).strip()
            yield (moment - serve).total_seconds(), day, time
