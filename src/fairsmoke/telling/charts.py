"""The charts of an answer: every piece's value, what is believed, all measures, where mass went."""

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from fairsmoke.telling.chart_data import (
    ChartData,
    Dots,
    MassBar,
    Masses,
    PosteriorCurve,
    Stripe,
    Stripes,
    Zone,
)
from fairsmoke.telling.chart_style import (
    COLOURS,
    DIM,
    INK,
    SHAPES,
    WIDTH,
    Sheet,
    cycled,
    shortened,
)

if TYPE_CHECKING:
    import altair as alt

_Align = Literal["left", "center", "right"]

_ROW = 40
_TALLEST = 660
"""Pixels of rows that a page has room for, beside heading and caption."""
_LINE_LIMIT = 40
_DARK = "#4a4a47"
_FURTHEST = 8.0
"""Worthwhile differences beyond which an interval is cut, so that it does not squeeze others."""


def chart_of(data: ChartData) -> "alt.LayerChart":
    """Draw what a chart shows, its words already said to a reader."""
    match data:
        case Dots():
            return dots_chart(data)
        case PosteriorCurve():
            return posterior_chart(data)
        case Stripes():
            return stripes_chart(data)
        case Masses():
            return masses_chart(data)


def dots_chart(dots: Dots, width: int = WIDTH) -> "alt.LayerChart":
    """Draw every piece's value, partners on one row and joined by a line.

    Arms differ by shape and hue; a bar through a dot is the 95 % interval of measuring it.
    """
    import altair as alt

    sheet = Sheet()
    step = _row_step(len(dots.rows), _ROW)
    keys = _keys([_label(row.label, step) for row in dots.rows])
    points: list[dict[str, Any]] = [
        {
            "row": key,
            "arm": dots.arms[dot.arm],
            "value": dot.value,
            "low": dot.low,
            "high": dot.high,
        }
        for key, row in zip(keys, dots.rows, strict=True)
        for dot in row.dots
    ]
    low, high = _range([p["low"] for p in points] + [p["high"] for p in points], 0.22)
    scale = alt.Scale(domain=[low, high], nice=False, zero=False)
    axis = alt.Axis(tickCount=8)
    x = alt.X("value:Q", title=dots.unit or None, scale=scale, axis=axis)
    y = _rows_axis(keys)
    arms = list(dots.arms)
    base = sheet.of(points)
    lines = base.mark_rule(color=DIM, strokeWidth=1).encode(
        x=alt.X("min(value):Q", title=dots.unit or None, scale=scale, axis=axis),
        x2=alt.X2("max(value):Q"),
        y=y,
    )
    marks = base.mark_point(filled=True, size=75, opacity=1).encode(
        x=x,
        y=y,
        color=alt.Color("arm:N", scale=alt.Scale(domain=arms, range=cycled(COLOURS, len(arms)))),
        shape=alt.Shape("arm:N", scale=alt.Scale(domain=arms, range=cycled(SHAPES, len(arms)))),
    )
    bars = _whiskers(sheet, points, arms, scale, y)
    layers = [lines, *bars, marks, *_dot_words(sheet, dots, keys, x, y)]
    return sheet.chart(layers, 46 + 16 * len(arms) + round(step * len(keys)), width)


def _rows_axis(keys: list[str]) -> "alt.Y":
    """Return an axis with a row for each key, which shows what follows the key's first bar."""
    import altair as alt

    label = "split(slice(datum.label, indexof(datum.label, '|') + 1), '\\n')"
    return alt.Y(
        "row:N",
        sort=keys,
        title=None,
        axis=alt.Axis(labelExpr=label, ticks=False, domain=False, labelPadding=8),
        scale=alt.Scale(domain=keys, padding=0.5),
    )


def _keys(labels: list[str]) -> list[str]:
    """Return the labels with a number and a bar before each: names need not differ, rows must."""
    return [f"{number}|{label}" for number, label in enumerate(labels)]


def _dot_words(sheet: Sheet, dots: Dots, keys: list[str], x: "alt.X", y: "alt.Y") -> list[Any]:
    """Return the numbers beside the outermost dots of each row, and what has no value."""
    import altair as alt

    numbers, missing = _dot_texts(dots, keys)
    between = [n for n in numbers if n["align"] == "center"]
    found = (
        [
            sheet.of(between)
            .mark_text(align="center", baseline="bottom", dy=-6)
            .encode(x=x, y=y, text=alt.Text("text:N"))
        ]
        if between
        else []
    )
    found += [
        sheet.of([n for n in numbers if n["align"] == align])
        .mark_text(align=align, dx=8 if align == "left" else -8)
        .encode(x=x, y=y, text=alt.Text("text:N"))
        for align in ("left", "right")
    ]
    if missing:
        gone = sheet.of(missing).mark_text(
            align="right", baseline="top", dy=6, color=DIM, fontStyle="italic"
        )
        found.append(gone.encode(x=alt.value("width"), y=y, text=alt.Text("text:N")))
    return found


def _whiskers(
    sheet: Sheet, points: list[dict[str, Any]], arms: list[str], scale: "alt.Scale", y: "alt.Y"
) -> list[Any]:
    """Return the intervals of measuring, those of the arms apart where one would hide another."""
    import altair as alt

    crowded = _rows_that_overlap(points)
    found = []
    for number, colour in enumerate(cycled(COLOURS, len(arms))):
        own = [p for p in points if p["arm"] == arms[number] and p["high"] > p["low"]]
        side = (2 * number - len(arms) + 1) / max(len(arms) - 1, 1)
        for shift, rows in (
            (0.0, [p for p in own if p["row"] not in crowded]),
            (4.0 * side, [p for p in own if p["row"] in crowded]),
        ):
            if rows:
                marked = sheet.of(rows).mark_rule(color=colour, strokeWidth=2.5, yOffset=shift)
                found.append(marked.encode(x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q"), y=y))
    return found


def _rows_that_overlap(points: list[dict[str, Any]]) -> set[str]:
    ordered = sorted(points, key=lambda point: (point["row"], point["low"]))
    return {a["row"] for a, b in pairwise(ordered) if a["row"] == b["row"] and b["low"] < a["high"]}


def _row_step(rows: int, wanted: float) -> float:
    """Return the height of a row such that a chart of many still fits a page."""
    return min(wanted, _TALLEST / max(rows, 1))


def _label(label: Sequence[str], step: float) -> str:
    """Return a row's label: a line each, or only the last where rows are too low for more."""
    lines = label if step >= 26 else label[-1:]
    return "\n".join(shortened(line, _LINE_LIMIT) for line in lines)


def _dot_texts(dots: Dots, rows: list[str]) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the numbers beside the outermost dots of each row and above the others, and gaps."""
    numbers, missing = [], []
    for name, row in zip(rows, dots.rows, strict=True):
        first = last = None
        if row.dots:
            first = min(row.dots, key=lambda dot: dot.value)
            last = max(row.dots, key=lambda dot: dot.value)
            numbers.append(
                {"row": name, "value": last.high, "text": str(last.text), "align": "left"}
            )
            if first is not last:
                numbers.append(
                    {"row": name, "value": first.low, "text": str(first.text), "align": "right"}
                )
        numbers += [
            {"row": name, "value": dot.value, "text": str(dot.text), "align": "center"}
            for dot in row.dots
            if dot is not first and dot is not last
        ]
        if row.missing:
            missing.append({"row": name, "text": str(row.missing)})
    return numbers, missing


def _range(values: list[float], room: float) -> tuple[float, float]:
    """Return an axis that holds the values with a share of room on either side."""
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    span = high - low or max(abs(high), 1.0) * 0.1
    return low - room * span, high + room * span


def posterior_chart(posterior: PosteriorCurve, width: int = WIDTH) -> "alt.LayerChart":
    """Draw the posterior of a difference in its three zones, with mean and interval below it."""
    import altair as alt

    sheet = Sheet()
    top = max(y for _, y in posterior.curve)
    fills = {"better": "#83837f", "worse": "#bdbcb6", "neither": "#9f9e99"}
    scale = alt.Scale(domain=[posterior.low, posterior.high], nice=False, zero=False)
    x = alt.X("x:Q", title=str(posterior.unit) or None, scale=scale, axis=alt.Axis(grid=False))
    y = alt.Y("y:Q", axis=None, scale=alt.Scale(domain=[-0.3 * top, 1.75 * top], nice=False))
    layers: list[Any] = []
    for zone in posterior.zones:
        inside = _clipped(posterior.curve, zone.low, zone.high)
        if inside:
            area = sheet.of(inside).mark_area(color=fills.get(zone.side, "#e9e8e3"), opacity=1)
            layers.append(area.encode(x=x, y=y, y2=alt.Y2Datum(0)))
    curve = [{"x": px, "y": py} for px, py in posterior.curve]
    layers.append(sheet.of(curve).mark_line(color=INK, strokeWidth=1.4).encode(x=x, y=y))
    edges = [{"x": posterior.zones[1].low}, {"x": posterior.zones[1].high}]
    layers.append(
        sheet.of([{**edge, "y": 0, "up": 1.42 * top} for edge in edges])
        .mark_rule(color=DIM, strokeDash=[4, 3])
        .encode(x=x, y=y, y2=alt.Y2("up:Q"))
    )
    layers += _zone_texts(sheet, posterior, x, y, top)
    layers += _mean_marks(sheet, posterior, x, y, top)
    return sheet.chart(layers, 230, width)


def _clipped(
    curve: Sequence[tuple[float, float]], low: float, high: float
) -> list[dict[str, float]]:
    """Return the part of a curve between two ends, with points interpolated at the ends."""
    inside = [(x, y) for x, y in curve if low <= x <= high]
    for end in (low, high):
        for (x0, y0), (x1, y1) in pairwise(curve):
            if x0 < end < x1:
                inside.append((end, y0 + (y1 - y0) * (end - x0) / (x1 - x0)))
    return [{"x": x, "y": y} for x, y in sorted(inside)]


def _zone_texts(
    sheet: Sheet, posterior: PosteriorCurve, x: "alt.X", y: "alt.Y", top: float
) -> list[Any]:
    import altair as alt

    left, middle, right = posterior.zones
    # The middle words stand a row higher, so that they clear the others however narrow it is.
    places: tuple[tuple[Zone, float, _Align, int, float], ...] = (
        (left, left.high, "right", -8, 1.36),
        (middle, (middle.low + middle.high) / 2, "center", 0, 1.70),
        (right, right.low, "left", 8, 1.36),
    )
    found = []
    for zone, at, align, dx, row in places:
        words = sheet.of([{"x": at, "y": row * top, "text": str(zone.words)}])
        chance = sheet.of([{"x": at, "y": (row - 0.14) * top, "text": str(zone.chance)}])
        for chart, bold in ((words, False), (chance, True)):
            marked = chart.mark_text(align=align, dx=dx, fontWeight=700 if bold else 400)
            found.append(marked.encode(x=x, y=y, text=alt.Text("text:N")))
    return found


def _mean_marks(
    sheet: Sheet, posterior: PosteriorCurve, x: "alt.X", y: "alt.Y", top: float
) -> list[Any]:
    import altair as alt

    low, high = posterior.interval
    row = [{"x": low, "high": high, "y": -0.09 * top}]
    span = posterior.high - posterior.low
    text = str(posterior.text)
    half = 0.5 * len(text) * 5.6 / WIDTH * span
    at = min(max(posterior.mean, posterior.low + half), posterior.high - half)
    return [
        sheet.of(row).mark_rule(color=INK, strokeWidth=4).encode(x=x, x2=alt.X2("high:Q"), y=y),
        sheet.of([{"x": posterior.mean, "y": -0.09 * top}])
        .mark_point(filled=True, size=90, color="white", stroke=INK, strokeWidth=2, opacity=1)
        .encode(x=x, y=y),
        sheet.of([{"x": at, "y": -0.22 * top, "text": text}])
        .mark_text(align="center")
        .encode(x=x, y=y, text=alt.Text("text:N")),
    ]


def stripes_chart(stripes: Stripes, width: int = WIDTH) -> "alt.LayerChart":
    """Draw all differences as intervals in units of what is worthwhile, better to the right."""
    import altair as alt

    sheet = Sheet()
    names = _keys(
        ["\n".join((shortened(str(s.label[0]), 46), str(s.label[1]))) for s in stripes.rows]
    )
    reach = max(2.0, *(max(abs(s.low), abs(s.high)) for s in stripes.rows))
    edge = 1.08 * min(reach, _FURTHEST)
    rows = [
        {
            "row": name,
            "mean": stripe.mean,
            "low": max(stripe.low, -0.97 * edge),
            "high": min(stripe.high, 0.97 * edge),
        }
        for name, stripe in zip(names, stripes.rows, strict=True)
    ]
    x = alt.X(
        "low:Q",
        title=str(stripes.axis),
        scale=alt.Scale(domain=[-edge, edge], nice=False),
    )
    y = _rows_axis(names)
    base = sheet.of(rows)
    layers = [
        sheet.of([{"low": -1, "high": 1}])
        .mark_rect(color="#ecebe6")
        .encode(x=x, x2=alt.X2("high:Q")),
        sheet.of([{"low": 0}]).mark_rule(color=DIM).encode(x=x),
        base.mark_rule(color=INK, strokeWidth=3).encode(x=x, x2=alt.X2("high:Q"), y=y),
        base.transform_filter(f"abs(datum.mean) <= {edge}")
        .mark_point(filled=True, size=80, color="white", stroke=INK, strokeWidth=2, opacity=1)
        .encode(x=alt.X("mean:Q"), y=y),
        *_cut_marks(sheet, stripes.rows, names, edge, x, y),
    ]
    return sheet.chart(layers, 60 + round(_row_step(len(names), 42) * len(names)), width)


def _cut_marks(
    sheet: Sheet, stripes: Sequence[Stripe], names: list[str], edge: float, x: "alt.X", y: "alt.Y"
) -> list[Any]:
    """Return arrow heads where an interval goes on beyond the axis."""
    import altair as alt

    cut = [
        {"row": name, "low": side * 0.97 * edge, "side": side}
        for name, stripe in zip(names, stripes, strict=True)
        for side, end in ((-1, stripe.low), (1, stripe.high))
        if end * side > edge
    ]
    if not cut:
        return []
    heads = sheet.of(cut).mark_point(filled=True, size=90, color=INK, opacity=1)
    shapes = alt.Scale(domain=[-1, 1], range=["triangle-left", "triangle-right"])
    return [heads.encode(x=x, y=y, shape=alt.Shape("side:N", scale=shapes, legend=None))]


def masses_chart(masses: Masses, width: int = WIDTH) -> "alt.LayerChart":
    """Draw where the meat of each piece went, as one bar a piece cut into named parts."""
    import altair as alt

    sheet = Sheet()
    keys = _keys([shortened(bar.label, _LINE_LIMIT) for bar in masses.bars])
    kinds = list(dict.fromkeys(str(part.name) for bar in masses.bars for part in bar.parts))
    fills = cycled((_DARK, "#f3f2ee", "#c9c8c2", "#989790", "#e0dfd9"), len(kinds))
    rows = [
        row
        for key, bar in zip(keys, masses.bars, strict=True)
        for row in _mass_rows(key, bar, kinds)
    ]
    whole = max(row["end"] for row in rows)
    step = _row_step(len(keys), 26)
    x = alt.X("start:Q", axis=None, scale=alt.Scale(domain=[0, whole], nice=False))
    y = _rows_axis(keys)
    base = sheet.of(rows)
    fill = alt.Color(
        "part:N",
        scale=alt.Scale(domain=kinds, range=fills),
        legend=alt.Legend(columns=_legend_columns(kinds, width), labelLimit=0),
    )
    wide_enough = base.transform_filter(f"datum.end - datum.start > {0.06 * whole}")
    layers = [
        base.mark_bar(stroke=INK, strokeWidth=0.7, size=0.86 * step).encode(
            x=x, x2=alt.X2("end:Q"), y=y, color=fill
        ),
        wide_enough.mark_text().encode(
            x=alt.X("middle:Q"),
            y=y,
            text=alt.Text("text:N"),
            color=alt.Color("ink:N", scale=None, legend=None),
        ),
    ]
    apart = alt.Resolve(scale=alt.ScaleResolveMap(color="independent"))
    return sheet.chart(layers, 40 + round(step * len(keys)), width, resolve=apart)


def _legend_columns(names: list[str], width: int) -> int:
    """Return how many names fit beside each other, so that none is cut."""
    # A letter is about 5.5 pixels wide, the mark and the gap before it about 30.
    return max(1, min(len(names), int(width / (5.5 * max(map(len, names), default=1) + 30))))


def _mass_rows(key: str, bar: MassBar, kinds: list[str]) -> list[dict[str, Any]]:
    rows = []
    start = 0.0
    for part in bar.parts:
        end = start + part.mass_kg
        rows.append(
            {
                "row": key,
                "part": str(part.name),
                "start": start,
                "end": end,
                "middle": (start + end) / 2,
                "text": str(part.text),
                # The first part is filled dark, all others light.
                "ink": "white" if str(part.name) == kinds[0] else INK,
            }
        )
        start = end
    return rows
