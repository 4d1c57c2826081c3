"""The chart of a simulation: the core over time by arm, its marks, and where the mass goes."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fairsmoke.quantity import METRIC, Units, show_temperature
from fairsmoke.telling.chart_style import (
    COLOURS,
    DASHES,
    INK,
    SHAPES,
    WIDTH,
    Sheet,
    cycled,
    headed,
    own_scales,
    write_picture,
)
from fairsmoke.telling.simulated_data import LEVEL, ArmSummary, Summary

if TYPE_CHECKING:
    import altair as alt

_CURVES_HEIGHT, _MARK_ROW, _BAR_ROW = 240, 13, 34

_PARTS = (
    ("yield", "kept", "#17324d"),
    ("in_wrap", "juice in the wrap", "#4f9aa8"),
    ("dripped", "dripped", "#9cc3cc"),
    ("rendered", "fat run off", "#c4682b"),
    ("evaporated", "evaporated", "#d5d4cf"),
)


def write_chart(told: Summary, path: Path, units: Units = METRIC) -> None:
    """Draw a simulation into a file whose name ends in .png, .svg or .pdf, without any network.

    Raises ChartError for another ending.
    """
    write_picture(simulated_chart(told, units), path)


def simulated_chart(told: Summary, units: Units = METRIC) -> "alt.VConcatChart":
    """Draw three panels: core with its band, when it reaches marks, and the split of the mass.

    Arms differ by hue, dash and shape.
    """
    sheet = Sheet()
    names = _names(told.arms)
    panels = [_curves(sheet, told, names, units), _marks(sheet, told, names, units)]
    panels.append(_split(sheet, told, names))
    subtitle = f"Simulated. Bands and bars hold {100 * LEVEL:.0f} % of {told.draws:,} draws."
    return sheet.stacked(
        [panel for panel in panels if panel is not None],
        18,
        title=headed(told.title, subtitle),
        resolve=own_scales(),
    )


def _names(arms: tuple[ArmSummary, ...]) -> list[str]:
    """Return the arms' names, told apart by their handles where two are alike."""
    names = [arm.name for arm in arms]
    return [arm.name if names.count(arm.name) == 1 else f"{arm.name} ({arm.id})" for arm in arms]


def _degrees(value_c: float, units: Units) -> float:
    return value_c if units.temperature == "C" else 1.8 * value_c + 32.0


def _hours(told: Summary) -> "alt.Scale":
    """Return one scale of hours for both upper panels."""
    import altair as alt

    ends = [float(arm.band_hours[-1]) for arm in told.arms if arm.band_hours.size]
    ends += [when.high / 3600.0 for arm in told.arms for when in arm.marks_s.values()]
    return alt.Scale(domain=[0.0, max(ends, default=1.0)], nice=True)


def _curves(sheet: Sheet, told: Summary, names: list[str], units: Units) -> "alt.LayerChart":
    import altair as alt

    rows = [
        {
            "arm": name,
            "hours": round(float(hours), 3),
            "low": round(_degrees(float(low), units), 2),
            "middle": round(_degrees(float(middle), units), 2),
            "high": round(_degrees(float(high), units), 2),
        }
        for arm, name in zip(told.arms, names, strict=True)
        for hours, (low, middle, high) in zip(arm.band_hours, np.transpose(arm.band_c), strict=True)
    ]
    base = sheet.of(rows)
    axis = alt.Axis(grid=False, tickCount=10)
    x = alt.X("hours:Q", title="hours", axis=axis, scale=_hours(told))
    scale = alt.Scale(zero=False, nice=True)
    title = f"core, °{units.temperature}"
    hues = alt.Scale(domain=names, range=cycled(COLOURS, len(names)))
    legend = alt.Legend(symbolOpacity=1)
    colour = alt.Color("arm:N", scale=hues, sort=names, legend=legend)
    dashes = [list(dash) for dash in cycled(DASHES, len(names))]
    dash = alt.StrokeDash("arm:N", scale=alt.Scale(domain=names, range=dashes), sort=names)
    band = base.mark_area(opacity=0.18).encode(
        x=x,
        y=alt.Y("low:Q", title=title, scale=scale),
        y2=alt.Y2("high:Q"),
        color=colour,
    )
    line = base.mark_line(strokeWidth=1.8).encode(
        x=x, y=alt.Y("middle:Q", title=title, scale=scale), color=colour, strokeDash=dash
    )
    return alt.LayerChart(layer=[band, line], width=WIDTH, height=_CURVES_HEIGHT)


def _marks(sheet: Sheet, told: Summary, names: list[str], units: Units) -> "alt.LayerChart | None":
    import altair as alt

    marks = sorted({core_c for arm in told.arms for core_c in arm.marks_s})
    rows: list[dict[str, Any]] = [
        {
            "arm": name,
            "mark": show_temperature(core_c, units),
            "low": when.low / 3600.0,
            "middle": when.middle / 3600.0,
            "high": when.high / 3600.0,
        }
        for arm, name in zip(told.arms, names, strict=True)
        for core_c, when in arm.marks_s.items()
    ]
    if not rows:
        return None
    order = [show_temperature(core_c, units) for core_c in marks]
    base = sheet.of(rows)
    y = alt.Y("mark:N", sort=order, title="core reaches")
    offset = alt.YOffset("arm:N", sort=names)
    colour = alt.Color(
        "arm:N",
        scale=alt.Scale(domain=names, range=cycled(COLOURS, len(names))),
        legend=None,
    )
    axis = alt.Axis(grid=True, tickCount=10)
    x = alt.X("low:Q", title="hours", axis=axis, scale=_hours(told))
    bars = base.mark_rule(strokeWidth=1.5).encode(
        x=x, x2=alt.X2("high:Q"), y=y, yOffset=offset, color=colour
    )
    points = base.mark_point(filled=True, size=42, opacity=1).encode(
        x=alt.X("middle:Q", title="hours"),
        y=y,
        yOffset=offset,
        color=colour,
        shape=alt.Shape(
            "arm:N",
            scale=alt.Scale(domain=names, range=cycled(SHAPES, len(names))),
            legend=None,
        ),
    )
    height = (_MARK_ROW * len(names) + 6) * len(order)
    return alt.LayerChart(layer=[bars, points], width=WIDTH, height=height)


def _split(sheet: Sheet, told: Summary, names: list[str]) -> "alt.LayerChart":
    import altair as alt

    rows: list[dict[str, Any]] = []
    for arm, name in zip(told.arms, names, strict=True):
        begin = 0.0
        for key, label, _ in _PARTS:
            shown = arm.values[key]
            if not shown.known:
                continue
            size = 100.0 * shown.middle
            rows.append(
                {
                    "arm": name,
                    "part": label,
                    "from": begin,
                    "to": begin + size,
                    "middle": begin + size / 2,
                    "text": f"{size:.0f} %" if size >= 4.0 else "",
                    "ink": "white" if key in ("yield", "rendered", "in_wrap") else INK,
                }
            )
            begin += size
    base = sheet.of(rows)
    labels = [label for _, label, _ in _PARTS]
    y = alt.Y("arm:N", sort=names, title=None)
    bars = base.mark_bar(height=20).encode(
        x=alt.X(
            "from:Q",
            title="% of the raw mass (middles of the draws)",
            axis=alt.Axis(grid=False),
            scale=alt.Scale(domain=[0.0, max(100.0, *(row["to"] for row in rows))], nice=False),
        ),
        x2=alt.X2("to:Q"),
        y=y,
        color=alt.Color(
            "part:N",
            scale=alt.Scale(domain=labels, range=[colour for _, _, colour in _PARTS]),
            sort=labels,
            legend=alt.Legend(orient="bottom", columns=len(labels), title=None),
        ),
    )
    texts = base.mark_text().encode(
        x=alt.X("middle:Q"),
        y=y,
        text=alt.Text("text:N"),
        color=alt.Color("ink:N", scale=None, legend=None),
    )
    resolved = alt.Resolve(scale=alt.ScaleResolveMap(color="independent"))
    return alt.LayerChart(
        layer=[bars, texts], width=WIDTH, height=_BAR_ROW * len(names), resolve=resolved
    )
