"""The temperature chart of a cook for a screen: zoomed by a stretch of time, drawn in the browser.

Each point stands for a bucket of time about a pixel wide: the line is its mean and the band its
lowest and highest reading, so that no spike is lost however far one zooms out.
"""

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fairsmoke.telling.chart_style import COLOURS, DASHES, INK, Sheet, cycled
from fairsmoke.telling.curve_data import CookCurves

if TYPE_CHECKING:
    import altair as alt

SPAN = "span"
"""The selection in the chart by which a stretch of time is marked with a finger or the mouse."""

_HEIGHT = 320
_NUMBER_ROW, _NUMBER_WIDTH = 14, 18


@dataclass(frozen=True)
class Ground:
    """The colours of what is not a curve, and the curves' own on that ground."""

    ink: str
    dim: str
    faint: str
    curves: tuple[str, ...]


LIGHT = Ground(INK, "#5a5048", "#d9cfc3", COLOURS)
DARK = Ground(
    "#f6efe6",
    "#c9bdb0",
    "#4a4038",
    ("#9cc4ff", "#ffb27a", "#c6d98a", "#e0a8dd", "#8fe0ee", "#e8cd7a"),
)


def live_chart(shown: CookCurves, width: int, ground: Ground = LIGHT) -> dict[str, Any]:
    """Return the chart of what was said to a reader as a Vega-Lite specification.

    The time axis is the whole of ``shown``, also where nothing was read. Curves differ by dash as
    well as by hue.
    """
    import altair as alt

    sheet = Sheet()
    names = [str(number) for number in range(len(shown.curves))]
    called = {name: str(curve.label) for name, curve in zip(names, shown.curves, strict=True)}
    domain = [shown.start_hours, shown.end_hours]
    texts = {
        f"{one.hours:.5f}": [*map(str, filter(None, (one.clock, one.date)))] for one in shown.ticks
    }
    x = alt.X(
        "h:Q",
        title=None,
        scale=alt.Scale(domain=domain, nice=False),
        axis=alt.Axis(
            values=[round(one.hours, 5) for one in shown.ticks],
            labelExpr=f"({json.dumps(texts)})[format(datum.value, '.5f')]",
            gridOpacity=0.5,
        ),
    )
    levels = _levels(shown, width)
    low, high = _ends(shown)
    rows = 1 + max(levels, default=-1)
    # Room above the curves for the numbers of what was done.
    top = high + (high - low) * rows * _NUMBER_ROW / _HEIGHT
    axis = alt.Axis(labelExpr=f"datum.label + ' {shown.unit}'", tickCount=7)
    y = alt.Y("v:Q", title=None, axis=axis, scale=alt.Scale(domain=[low, top], nice=False))
    hues = alt.Scale(domain=names, range=cycled(ground.curves, len(names)))
    strokes = alt.Scale(domain=names, range=[list(d) for d in cycled(DASHES, len(names))])
    legend = alt.Legend(
        title=None,
        orient="top",
        columns=1,
        symbolType="stroke",
        symbolSize=400,
        labelExpr=f"({json.dumps(called)})[datum.label]",
    )
    detail = alt.Detail("s:N")
    base = sheet.of(_rows(shown))
    layers: list[Any] = [
        base.mark_area(opacity=0.3, color=ground.dim, clip=True).encode(
            x=x,
            y=alt.Y("l:Q", title=None),
            y2=alt.Y2("u:Q"),
            detail=[detail, alt.Detail("c:N")],
        ),
        base.mark_line(strokeWidth=2, clip=True)
        .encode(
            x=x,
            y=y,
            color=alt.Color("c:N", scale=hues, legend=legend),
            strokeDash=alt.StrokeDash("c:N", scale=strokes, legend=legend),
            detail=detail,
        )
        .add_params(alt.selection_interval(name=SPAN, encodings=["x"])),
    ]
    layers += _events(sheet, shown, levels, x, ground)
    layers += _clock_changes(sheet, shown, x, ground)
    layers += _doubts(sheet, shown, x, y, (low, high), ground)
    chart = alt.LayerChart(
        layer=layers,
        width=width,
        height=_HEIGHT + 20 * len(names),
        background="transparent",
        autosize=alt.AutoSizeParams(type="fit", contains="padding"),
        padding=2,
        config=config_on(ground),
    )
    found: dict[str, Any] = chart.to_dict(validate=False)
    # Only now: Altair would look at each of some thousand rows.
    return {**found, "datasets": sheet.rows}


def _rows(shown: CookCurves) -> list[dict[str, Any]]:
    """Return a row for each point of each curve: its hours, mean, lowest and highest value."""
    rows = []
    for number, curve in enumerate(shown.curves):
        columns = (curve.hours, curve.mean, curve.low, curve.high, curve.stretch)
        for hours, mean, low, high, stretch in zip(*(c.tolist() for c in columns), strict=True):
            rows.append(
                {
                    "c": str(number),
                    "s": stretch,
                    "h": round(hours, 4),
                    "v": round(mean, 2),
                    "l": round(low, 2),
                    "u": round(high, 2),
                }
            )
    return rows


def _ends(shown: CookCurves) -> tuple[float, float]:
    """Return the ends of the temperature axis: all readings that are believed, to whole tens."""
    if not shown.curves:
        return 0.0, 100.0
    low = min(float(curve.low.min()) for curve in shown.curves)
    high = max(float(curve.high.max()) for curve in shown.curves)
    step = 10.0 if high - low > 20 else 1.0
    low, high = step * (low // step), step * -(-high // step)
    return (low, high) if high > low else (low - step, high + step)


def _levels(shown: CookCurves, width: int) -> list[int]:
    """Return the row in which each event's number stands, so that none covers another."""
    apart = _NUMBER_WIDTH * (shown.end_hours - shown.start_hours) / max(width - 60, 1)
    last: list[float] = []
    found = []
    for marker in shown.markers:
        free = [row for row, hours in enumerate(last) if marker.hours - hours >= apart]
        row = free[0] if free else len(last)
        last[row:] = [marker.hours] if row == len(last) else [marker.hours, *last[row + 1 :]]
        found.append(row)
    return found


def _events(
    sheet: Sheet, shown: CookCurves, levels: list[int], x: "alt.X", ground: Ground
) -> list[Any]:
    import altair as alt

    if not shown.markers:
        return []
    rows = [
        {"h": round(marker.hours, 5), "n": str(marker.number), "y": _NUMBER_ROW * level}
        for marker, level in zip(shown.markers, levels, strict=True)
    ]
    base = sheet.of(rows)
    y = alt.Y("y:Q", scale=None, axis=None)
    return [
        base.mark_rule(color=ground.dim, strokeWidth=1, opacity=0.4, clip=True).encode(x=x),
        base.mark_text(
            baseline="top", dx=3, align="left", color=ground.ink, fontSize=12, clip=True
        ).encode(x=x, y=y, text=alt.Text("n:N")),
    ]


def _clock_changes(sheet: Sheet, shown: CookCurves, x: "alt.X", ground: Ground) -> list[Any]:
    """Return a dotted rule with its words where the clocks were changed."""
    import altair as alt

    if not shown.clock_changes:
        return []
    rows = [{"h": round(one.hours, 5), "t": str(one.clock)} for one in shown.clock_changes]
    base = sheet.of(rows)
    return [
        base.mark_rule(color=ground.ink, strokeDash=[1, 3], strokeWidth=1, clip=True).encode(x=x),
        base.mark_text(align="left", dx=4, dy=-6, color=ground.ink, fontSize=12, clip=True).encode(
            x=x, y=alt.value("height"), text=alt.Text("t:N")
        ),
    ]


def _doubts(
    sheet: Sheet,
    shown: CookCurves,
    x: "alt.X",
    y: "alt.Y",
    ends: tuple[float, float],
    ground: Ground,
) -> list[Any]:
    """Return readings that were not believed as hollow dots; those off the scale at its edge."""
    if not len(shown.doubts.hours):
        return []
    rows = [
        {"h": round(hours, 5), "v": round(min(max(value, ends[0]), ends[1]), 2)}
        for hours, value in zip(
            shown.doubts.hours.tolist(), shown.doubts.value.tolist(), strict=True
        )
    ]
    mark = sheet.of(rows).mark_point(filled=False, size=30, color=ground.dim, clip=True)
    return [mark.encode(x=x, y=y)]


def config_on(ground: Ground) -> "alt.Config":
    """Return the look of a chart on a page, on a ground of light or dark."""
    import altair as alt

    return alt.Config(
        font="system-ui, sans-serif",
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            labelFontSize=13,
            titleFontSize=13,
            titleFontWeight="normal",
            labelColor=ground.ink,
            titleColor=ground.ink,
            domainColor=ground.dim,
            tickColor=ground.dim,
            gridColor=ground.faint,
        ),
        legend=alt.LegendConfig(labelFontSize=13, labelColor=ground.ink, labelLimit=320),
    )
