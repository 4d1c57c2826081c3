"""The chart of methods worth trying: trades between goals two by two, and the knobs ranked."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fairsmoke.planning.methods.choice import Tried
from fairsmoke.planning.methods.contrasts import ranked
from fairsmoke.planning.methods.space import GOALS
from fairsmoke.quantity import METRIC, Units
from fairsmoke.telling.chart_style import (
    COLOURS,
    DIM,
    INK,
    SHAPES,
    WIDTH,
    Sheet,
    cycled,
    headed,
    shortened,
    write_picture,
)
from fairsmoke.telling.simulated_data import LEVEL, Range
from fairsmoke.telling.worth_trying import turn_text

if TYPE_CHECKING:
    import altair as alt

_SIDE, _ROW = 260, 18
_AXES = {
    "yield": ("yield, %", 100.0),
    "tenderness": ("collagen dissolved in the core, %", 100.0),
    "crust": ("dried crust on top, kg/m²", 1.0),
    "cap": ("fat cap rendered, %", 100.0),
    "time": ("to the end of the hold, h", 1.0 / 3600.0),
}


def write_worth_chart(told: Tried, path: Path, units: Units = METRIC) -> None:
    """Draw it into a file whose name ends in .png, .svg or .pdf, without any network.

    Raises ChartError for another ending.
    """
    write_picture(worth_chart(told, units), path)


def worth_chart(told: Tried, units: Units = METRIC) -> "alt.VConcatChart":
    """Draw the last goal against each other goal, and for each measure the knobs ranked.

    Faint points: methods that keep the limits; by hue and shape: those on the front, by wrap;
    numbered, with intervals: those listed.
    """
    import altair as alt

    sheet = Sheet()
    across = told.goals[-1]
    others = told.goals[:-1] or told.goals
    panels: list[Any] = [_trade(sheet, told, across, goal) for goal in others]
    rows: list[Any] = [
        alt.HConcatChart(hconcat=panels[at : at + 2], spacing=30) for at in range(0, len(panels), 2)
    ]
    rows += [
        chart
        for measure in told.measures
        if (chart := _knobs(sheet, told, str(measure.kind), measure.name, units)) is not None
    ]
    subtitle = [
        f"Simulated; a rough guide. {len(told.asked.ways)} methods; numbered ones with "
        f"intervals that hold {100 * LEVEL:.0f} % of {told.asked.sweep.members} draws.",
        "Faint: beaten. Coloured: better than every other in something that matters.",
    ]
    return sheet.stacked(rows, 20, title=headed(told.asked.title, subtitle))


def _trade(sheet: Sheet, told: Tried, across: str, up: str) -> "alt.LayerChart":
    import altair as alt

    found = {goal: told.found.value(GOALS[goal].name) for goal in (across, up)}
    listed = {method: number for number, method in enumerate(told.listed, start=1)}
    rows: list[dict[str, Any]] = []
    for at, way in enumerate(told.asked.ways):
        if not told.front.allowed[at]:
            continue
        x, y = (Range.of(found[goal][at]) for goal in (across, up))
        row: dict[str, Any] = {"wrap": way.wrap, "front": bool(told.front.front[at])}
        for name, goal, shown in (("x", across, x), ("y", up, y)):
            times = _AXES[goal][1]
            row |= {
                name: shown.middle * times,
                f"{name}_low": shown.low * times,
                f"{name}_high": shown.high * times,
            }
        row["number"] = str(listed.get(at, ""))
        rows.append(row)
    wraps = list(dict.fromkeys(way.wrap for way in told.asked.ways))
    scale = alt.Scale(zero=False, nice=True)
    x_axis = alt.X("x:Q", title=_AXES[across][0], scale=scale, axis=alt.Axis(tickCount=6))
    y_axis = alt.Y("y:Q", title=_AXES[up][0], scale=scale, axis=alt.Axis(tickCount=6))
    faint = sheet.of([row for row in rows if not row["front"]])
    layers: list[Any] = [
        faint.mark_point(size=14, color=DIM, opacity=0.35, filled=True).encode(x=x_axis, y=y_axis)
    ]
    numbered = sheet.of([row for row in rows if row["number"]])
    rule: dict[str, Any] = {"strokeWidth": 1.0, "color": DIM}
    layers.append(
        numbered.mark_rule(**rule).encode(
            x=alt.X("x_low:Q", title=_AXES[across][0]), x2=alt.X2("x_high:Q"), y=y_axis
        )
    )
    layers.append(
        numbered.mark_rule(**rule).encode(
            x=x_axis, y=alt.Y("y_low:Q", title=_AXES[up][0]), y2=alt.Y2("y_high:Q")
        )
    )
    best = sheet.of([row for row in rows if row["front"]])
    legend = alt.Legend(orient="top", title=None, columns=len(wraps))
    layers.append(
        best.mark_point(filled=True, size=48, opacity=0.9).encode(
            x=x_axis,
            y=y_axis,
            color=alt.Color(
                "wrap:N",
                scale=alt.Scale(domain=wraps, range=cycled(COLOURS, len(wraps))),
                legend=legend,
            ),
            shape=alt.Shape(
                "wrap:N",
                scale=alt.Scale(domain=wraps, range=cycled(SHAPES, len(wraps))),
                legend=legend,
            ),
        )
    )
    layers.append(
        numbered.mark_text(dx=9, dy=-8, fontWeight="bold", color=INK, fontSize=12).encode(
            x=x_axis, y=y_axis, text=alt.Text("number:N")
        )
    )
    return alt.LayerChart(layer=layers, width=_SIDE, height=_SIDE)


def _knobs(
    sheet: Sheet, told: Tried, kind: str, name: str, units: Units
) -> "alt.LayerChart | None":
    import altair as alt

    best = ranked(told.worth, kind)
    if not best:
        return None
    rows: list[dict[str, Any]] = []
    for one in best:
        seen = one.seen[kind]
        sizes = np.abs(seen.difference[np.isfinite(seen.difference)]) / seen.by_chance
        low, high = np.quantile(sizes, [0.1, 0.9])
        rows.append(
            {
                "knob": shortened(turn_text(one, units), 40),
                "ratio": seen.ratio,
                "low": float(low),
                "high": float(high),
            }
        )
    order = [row["knob"] for row in rows]
    base = sheet.of(rows)
    y = alt.Y("knob:N", sort=order, title=None)
    title = f"{name}: difference over what two pieces cooked alike show once in twenty"
    x = alt.X(
        "ratio:Q",
        title=title,
        scale=alt.Scale(zero=True),
    )
    bars = base.mark_rule(strokeWidth=1.5, color=DIM).encode(
        x=alt.X("low:Q", title=title), x2=alt.X2("high:Q"), y=y
    )
    points = base.mark_point(filled=True, size=55, color=INK, opacity=1).encode(x=x, y=y)
    line = sheet.of([{"one": 1.0}]).mark_rule(color=COLOURS[1], strokeDash=[7, 3])
    return alt.LayerChart(
        layer=[bars, points, line.encode(x=alt.X("one:Q", title=title))],
        width=WIDTH - 160,
        height=_ROW * len(rows),
    )
