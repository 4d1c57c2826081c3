"""The temperature chart of one cook: meat and air over the local clock, with numbered events."""

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fairsmoke.telling.chart_style import (
    COLOURS,
    DASHES,
    DIM,
    FAINT,
    FONT_SIZE,
    INK,
    WIDTH,
    Sheet,
    shortened,
    spread_out,
)
from fairsmoke.telling.curve_data import CookCurve, CookCurves

if TYPE_CHECKING:
    import altair as alt

_PLOT_HEIGHT = 250
_STRIP_ROW = 15
_LABEL_APART = 12.0
_LABEL_SHARE = 0.28
_LABEL_LIMIT = 34
_MARKER_WIDTH = 15.0


def curves_chart(shown: CookCurves, width: int = WIDTH) -> "alt.LayerChart":
    """Draw a cook's curves with their names at their ends and its events along the top.

    All said to a reader before.
    Curves differ by dash and name as well as hue; air is thinner than meat. Readings that were not
    believed are hollow dots, at the edge when they are off the scale. Gaps are not bridged.
    """
    import altair as alt

    sheet = Sheet()
    levels, rows = _marker_rows(shown, width)
    strip = 8 + _STRIP_ROW * rows
    room = max(_PLOT_HEIGHT, round(_LABEL_APART * len(shown.curves)) + 40)
    height = room + strip
    low, high = _temperatures(shown)
    # Tick labels take some room from the plot, about this much of its height.
    frame = _Frame(low, high, low + (high - low) * height / room, height - 36)
    span = (shown.end_hours - shown.start_hours) / (1 - _LABEL_SHARE)
    x = alt.X(
        "hours:Q",
        title=None,
        scale=alt.Scale(domain=[shown.start_hours, shown.start_hours + span], nice=False),
        axis=_clock_axis(shown),
    )
    y = alt.Y(
        "value:Q",
        title=None,
        scale=alt.Scale(domain=[low, frame.top], nice=False, zero=False),
        axis=alt.Axis(
            values=_whole_steps(low, high), labelExpr=f"datum.label + ' {shown.unit}'", grid=False
        ),
    )
    layers = [
        _grid_layer(sheet, shown, y, _whole_steps(low, high)),
        *_clock_change_layers(sheet, shown, x, strip),
        *_event_layers(sheet, shown, levels, x, y, frame),
        *_doubt_layers(sheet, shown, x, y, low, high),
        *_curve_layers(sheet, shown, x, y),
        *_name_layers(sheet, shown, x, y, frame),
    ]
    return sheet.chart(layers, height, width)


@dataclass(frozen=True)
class _Frame:
    """The temperature axis: ends of the readings, top of the strip above them, and its pixels."""

    low: float
    high: float
    top: float
    pixels: int

    @property
    def degrees(self) -> float:
        """Degrees to a pixel."""
        return (self.top - self.low) / self.pixels

    def at_pixel(self, down: float) -> float:
        """Return the temperature that stands so many pixels below the top."""
        return self.top - down * self.degrees


def _temperatures(shown: CookCurves) -> tuple[float, float]:
    """Return the ends of the temperature axis: from the coldest to the hottest believed."""
    values = [float(v) for curve in shown.curves for v in (curve.low.min(), curve.high.max())]
    step = 20.0
    if not values:
        return 0.0, 100.0
    return step * (min(values) // step), step * -(-max(values) // step)


def _whole_steps(low: float, high: float) -> list[float]:
    step = next(s for s in (10, 20, 50, 100, 200, 500, 1000) if (high - low) / s <= 9)
    first = -(-low // step) * step
    return [first + step * at for at in range(int((high - first) // step) + 1)]


def _clock_axis(shown: CookCurves) -> "alt.Axis":
    import altair as alt

    labels = {f"{tick.hours:.4f}": [str(tick.clock), str(tick.date)] for tick in shown.ticks}
    # Vega looks each tick up in this table: the labels are the wall's clock, whatever it did.
    expression = f"({json.dumps(labels)})[format(datum.value, '.4f')]"
    return alt.Axis(
        values=[round(tick.hours, 4) for tick in shown.ticks],
        labelExpr=expression,
        grid=False,
    )


def _grid_layer(sheet: Sheet, shown: CookCurves, y: "alt.Y", values: list[float]) -> Any:
    """Return level lines that stop where the readings do, so that they cross no name."""
    import altair as alt

    rows = [
        {"hours": shown.start_hours, "end": shown.end_hours, "value": value} for value in values
    ]
    return (
        sheet.of(rows)
        .mark_rule(color=FAINT, strokeWidth=0.5)
        .encode(x=alt.X("hours:Q"), x2=alt.X2("end:Q"), y=y)
    )


def _marker_rows(shown: CookCurves, width: int) -> tuple[list[int], int]:
    """Return the row in which each event's number stands, so that numbers do not cover others."""
    span = (shown.end_hours - shown.start_hours) / (1 - _LABEL_SHARE)
    apart = _MARKER_WIDTH * span / (width - 60)
    filled: list[float] = []
    levels = []
    for marker in shown.markers:
        row = next((r for r, last in enumerate(filled) if marker.hours - last >= apart), None)
        if row is None:
            row = len(filled)
            filled.append(marker.hours)
        filled[row] = marker.hours
        levels.append(row)
    return levels, len(filled)


def _event_layers(
    sheet: Sheet, shown: CookCurves, levels: list[int], x: "alt.X", y: "alt.Y", frame: "_Frame"
) -> list[Any]:
    import altair as alt

    rows = [
        {
            "hours": round(marker.hours, 4),
            "value": round(frame.at_pixel(8 + _STRIP_ROW * level), 2),
            "text": str(marker.number),
        }
        for marker, level in zip(shown.markers, levels, strict=True)
    ]
    base = sheet.of(rows)
    return [
        base.mark_rule(color="#c9c8c2", strokeWidth=0.6).encode(x=x, y=y, y2=alt.value("height")),
        base.mark_point(
            size=150, shape="circle", filled=True, color="white", stroke=DIM, strokeWidth=0.8
        ).encode(x=x, y=y, opacity=alt.OpacityValue(1)),
        base.mark_text(fontSize=FONT_SIZE - 2.5, baseline="middle").encode(
            x=x, y=y, text=alt.Text("text:N")
        ),
    ]


def _clock_change_layers(sheet: Sheet, shown: CookCurves, x: "alt.X", strip: int) -> list[Any]:
    import altair as alt

    if not shown.clock_changes:
        return []
    rows = [{"hours": tick.hours, "text": str(tick.clock)} for tick in shown.clock_changes]
    base = sheet.of(rows)
    return [
        base.mark_rule(color=INK, strokeDash=[1, 3], strokeWidth=1).encode(
            x=x, y=alt.value(strip), y2=alt.value("height")
        ),
        base.mark_text(align="left", dx=4, dy=-6, color=DIM, fontStyle="italic").encode(
            x=x, y=alt.value("height"), text=alt.Text("text:N")
        ),
    ]


def _doubt_layers(
    sheet: Sheet, shown: CookCurves, x: "alt.X", y: "alt.Y", low: float, high: float
) -> list[Any]:

    doubts = shown.doubts
    if not len(doubts.hours):
        return []
    rows = [
        {"hours": float(hours), "value": min(max(float(value), low), high)}
        for hours, value in zip(doubts.hours, doubts.value, strict=True)
        if shown.start_hours <= hours <= shown.end_hours
    ]
    return [
        sheet.of(rows)
        .mark_point(shape="circle", filled=False, size=18, color="#8f8f8b", strokeWidth=0.7)
        .encode(x=x, y=y)
    ]


def _style(curve: CookCurve, before: int) -> dict[str, Any]:
    """Return how a curve is drawn; ``before`` counts the like curves that came before it."""
    if curve.family in ("core", "surface"):
        colour = COLOURS[curve.group % len(COLOURS)]
        thick = 1.8 if before < len(DASHES) else 1.0
        return {"color": colour, "dash": DASHES[before % len(DASHES)], "thick": thick}
    if curve.family == "pit":
        return {"color": "#4d4d4a", "dash": DASHES[before % len(DASHES)], "thick": 0.8}
    return {"color": "#4d4d4a", "dash": (1, 2), "thick": 1.2}


def _styles(shown: CookCurves) -> list[dict[str, Any]]:
    # Meat curves are counted together, so that two arms differ by dash as they do by hue.
    meat = [curve.family in ("core", "surface") for curve in shown.curves]
    return [
        _style(curve, sum(one == meat[at] for one in meat[:at]))
        for at, curve in enumerate(shown.curves)
    ]


def _curve_layers(sheet: Sheet, shown: CookCurves, x: "alt.X", y: "alt.Y") -> list[Any]:
    import altair as alt

    # Numbered, for two pieces may have one name.
    names = [str(number) for number in range(len(shown.curves))]
    styles = _styles(shown)
    rows = [
        {
            "curve": name,
            "stretch": int(curve.stretch[at]),
            "hours": round(float(curve.hours[at]), 4),
            "value": round(float(curve.mean[at]), 2),
            "low": round(float(curve.low[at]), 2),
            "high": round(float(curve.high[at]), 2),
        }
        for name, curve in zip(names, shown.curves, strict=True)
        for at in range(len(curve.hours))
    ]
    if not rows:
        return []
    colours = alt.Scale(domain=names, range=[style["color"] for style in styles])
    dashes = alt.Scale(domain=names, range=[list(style["dash"]) for style in styles])
    widths = alt.Scale(domain=names, range=[style["thick"] for style in styles])
    base = sheet.of(rows)
    y_low = y.copy()
    y_low.shorthand = "low:Q"
    colour = alt.Color("curve:N", scale=colours, legend=None)
    return [
        base.mark_area(opacity=0.2, color=DIM).encode(
            x=x,
            y=y_low,
            y2=alt.Y2("high:Q"),
            detail=[alt.Detail("stretch:N"), alt.Detail("curve:N")],
        ),
        base.mark_line().encode(
            x=x,
            y=y,
            detail=alt.Detail("stretch:N"),
            color=colour,
            strokeDash=alt.StrokeDash("curve:N", scale=dashes, legend=None),
            strokeWidth=alt.StrokeWidth("curve:N", scale=widths, legend=None),
        ),
    ]


def _name_layers(
    sheet: Sheet, shown: CookCurves, x: "alt.X", y: "alt.Y", frame: "_Frame"
) -> list[Any]:
    """Return the curves' names at the right, spread apart and led to the curves' ends."""
    import altair as alt

    ends = [float(curve.mean[-1]) for curve in shown.curves]
    apart = _LABEL_APART * frame.degrees
    places = spread_out(ends, apart, frame.low + apart / 2, frame.high)
    at = shown.end_hours + 0.035 * (shown.end_hours - shown.start_hours)
    leads, names = [], []
    ordered = zip(shown.curves, _styles(shown), ends, places, strict=True)
    for number, (curve, style, end, place) in enumerate(ordered):
        last = float(curve.hours[-1])
        for hours, value in ((last, end), (max(last, shown.end_hours), end), (at, place)):
            leads.append({"hours": hours, "value": value, "curve": str(number)})
        text = shortened(str(curve.label), _LABEL_LIMIT)
        names.append({"hours": at, "value": place, "text": text, "ink": style["color"]})
    ink = alt.Color("ink:N", scale=None, legend=None)
    return [
        sheet.of(leads)
        .mark_line(color="#b9b8b2", strokeWidth=0.5)
        .encode(x=x, y=y, detail=alt.Detail("curve:N")),
        sheet.of(names)
        .mark_text(align="left", dx=3)
        .encode(x=x, y=y, text=alt.Text("text:N"), color=ink),
    ]
