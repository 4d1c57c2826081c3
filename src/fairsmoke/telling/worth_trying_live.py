"""The front of methods as a chart for a screen or a picture: one goal against each other goal.

Drawn from the plain data of ``worth_trying_page``, in a person's own words, on a ground of light or
dark. Wraps differ by shape as well as by hue.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fairsmoke.telling.chart_style import SHAPES, Sheet, cycled
from fairsmoke.telling.live_curves import LIGHT, Ground

if TYPE_CHECKING:
    import altair as alt

TIMES = {"yield": 100.0, "tenderness": 100.0, "crust": 1.0, "cap": 100.0, "time": 1.0 / 3600.0}
"""What a goal's values are multiplied by on the chart: per cent, kg/m², h."""

_TWO_FROM, _GAP, _AXIS = 700, 26, 64
_HIGH = 300


@dataclass(frozen=True)
class FrontWords:
    """The chart's words: an axis by goal, and names of wraps by code."""

    axes: Mapping[str, str]
    wraps: Mapping[str, str]


def front_chart(
    page: Mapping[str, Any],
    words: FrontWords,
    width: int,
    ground: Ground = LIGHT,
    background: str = "transparent",
) -> "alt.VConcatChart":
    """Draw the last goal, mostly time, against each of the others, ``width`` pixels wide in all.

    Small dots: methods that keep the limits and are beaten. Shapes: those that no other beats,
    by wrap. Numbers, with intervals: those listed, as on the page.
    """
    import altair as alt

    goals = list(page["goals"])
    across, others = goals[-1], goals[:-1] or goals
    columns = 2 if width >= _TWO_FROM and len(others) > 1 else 1
    side = (width - _GAP * (columns - 1)) // columns - _AXIS
    sheet = Sheet()
    rows = _rows(page)
    panels = [
        _panel(sheet, rows, across, goal, words, ground, (side, min(_HIGH, side)), number == 0)
        for number, goal in enumerate(others)
    ]
    lines = [
        alt.HConcatChart(hconcat=panels[at : at + columns], spacing=_GAP)
        for at in range(0, len(panels), columns)
    ]
    return alt.VConcatChart(
        vconcat=lines,
        datasets=sheet.rows,
        spacing=18,
        padding=4,
        background=background,
        config=_config(ground),
    )


def _rows(page: Mapping[str, Any]) -> list[dict[str, Any]]:
    listed = {at: str(number) for number, at in enumerate(page["listed"], start=1)}
    rows = []
    for at, method in enumerate(page["methods"]):
        if any(found is None for found in method["goals"].values()):
            continue
        # Codes and not names: no two of them are alike in any language.
        row: dict[str, Any] = {
            "wrap": method["way"]["wrap"],
            "front": method["front"],
            "number": listed.get(at, ""),
        }
        for goal, ends in method["goals"].items():
            shown = (round(end * TIMES[goal], 3) for end in ends)
            row |= dict(zip((f"{goal}_low", goal, f"{goal}_high"), shown, strict=True))
        rows.append(row)
    return rows


def _panel(
    sheet: Sheet,
    rows: list[dict[str, Any]],
    across: str,
    up: str,
    words: FrontWords,
    ground: Ground,
    size: tuple[int, int],
    first: bool,
) -> "alt.LayerChart":
    import altair as alt

    # All keep their hue and shape; only those on the front have one to be explained.
    wraps = sorted({row["wrap"] for row in rows if row["front"]}, key=list(words.wraps).index)
    scale = alt.Scale(zero=False, nice=True)
    axis = alt.Axis(tickCount=6)
    x = alt.X(f"{across}:Q", title=words.axes[across], scale=scale, axis=axis)
    y = alt.Y(f"{up}:Q", title=words.axes[up], scale=scale, axis=axis)
    x_low = alt.X(f"{across}_low:Q", title=words.axes[across])
    y_low = alt.Y(f"{up}_low:Q", title=words.axes[up])
    names = json.dumps({wrap: words.wraps.get(wrap, wrap) for wrap in wraps})
    legend = (
        alt.Legend(
            title=None,
            orient="top",
            columns=2,
            symbolSize=110,
            labelExpr=f"({names})[datum.label]",
        )
        if first
        else None
    )
    hues = alt.Scale(domain=wraps, range=cycled(ground.curves, len(wraps)))
    shapes = alt.Scale(domain=wraps, range=cycled(SHAPES, len(wraps)))
    numbered = sheet.of([row for row in rows if row["number"]])
    layers: list[Any] = [
        sheet.of([row for row in rows if not row["front"]])
        .mark_point(size=12, color=ground.dim, opacity=0.45, filled=True)
        .encode(x=x, y=y),
        numbered.mark_rule(strokeWidth=1.2, color=ground.dim, opacity=0.8).encode(
            x=x_low, x2=alt.X2(f"{across}_high:Q"), y=y
        ),
        numbered.mark_rule(strokeWidth=1.2, color=ground.dim, opacity=0.8).encode(
            x=x, y=y_low, y2=alt.Y2(f"{up}_high:Q")
        ),
        sheet.of([row for row in rows if row["front"]])
        .mark_point(size=70, filled=True, opacity=1.0)
        .encode(
            x=x,
            y=y,
            color=alt.Color("wrap:N", scale=hues, legend=legend),
            shape=alt.Shape("wrap:N", scale=shapes, legend=legend),
        ),
        numbered.mark_text(
            dx=7, dy=-10, fontSize=15, fontWeight="bold", align="left", color=ground.ink
        ).encode(x=x, y=y, text=alt.Text("number:N")),
    ]
    return alt.LayerChart(layer=layers, width=size[0], height=size[1])


def _config(ground: Ground) -> "alt.Config":
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
            gridOpacity=0.6,
        ),
        legend=alt.LegendConfig(labelFontSize=13, labelColor=ground.ink, labelLimit=220),
    )
