"""The chart of a simulation: the core over time by arm, its marks, and where the mass goes."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from fairsmoke.messages.message import N_, Words
from fairsmoke.quantity.values import Share
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
)
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.simulated import SPLIT

if TYPE_CHECKING:
    import altair as alt

_CURVES_HEIGHT, _MARK_ROW, _BAR_ROW = 240, 13, 34
_HOURS = N_("hours")

_HUES = {
    "yield": "#17324d",
    "in_wrap": "#4f9aa8",
    "dripped": "#9cc3cc",
    "rendered": "#c4682b",
    "evaporated": "#d5d4cf",
}
_DARK = ("yield", "in_wrap", "rendered")


def simulated_chart(
    numbers: Mapping[str, Any], names: Sequence[Words], title: Words, reader: Reader
) -> "alt.VConcatChart":
    """Draw three panels: core with its band, when it reaches marks, and the split of the mass.

    ``numbers`` are those of `fairsmoke.telling.simulated.simulated_json`, ``names`` the arms'.
    Arms differ by hue, dash and shape.
    """
    sheet = Sheet()
    called = _apart(numbers, names, reader)
    arms = [_DrawnArm(name, arm) for name, arm in zip(called, numbers["arms"], strict=True)]
    panels = [_curves(sheet, arms, reader), _marks(sheet, arms, reader)]
    panels.append(_split(sheet, arms, reader))
    subtitle = N_(
        "Simulated. Bands and bars hold %(level)s of %(draws)s draws.",
        level=Share(numbers["level"], 0),
        draws=numbers["draws"],
    )
    return sheet.stacked(
        [panel for panel in panels if panel is not None],
        18,
        title=headed(reader.say(title), reader.say(subtitle)),
        resolve=own_scales(),
    )


class _DrawnArm(NamedTuple):
    name: str
    numbers: Mapping[str, Any]


def _apart(numbers: Mapping[str, Any], names: Sequence[Words], reader: Reader) -> list[str]:
    """Return the arms' names, told apart by their handles where two are alike."""
    said = [reader.say(name) for name in names]
    handles = [arm["id"] for arm in numbers["arms"]]
    return [
        name if said.count(name) == 1 else f"{name} ({handle})"
        for name, handle in zip(said, handles, strict=True)
    ]


def _hours(arms: Sequence[_DrawnArm]) -> "alt.Scale":
    """Return one scale of hours for both upper panels."""
    import altair as alt

    ends = [arm.numbers["core"]["hours"][-1] for arm in arms if arm.numbers["core"]["hours"]]
    ends += [when["high"] / 3600.0 for arm in arms for when in arm.numbers["marks"]]
    return alt.Scale(domain=[0.0, max(ends, default=1.0)], nice=True)


def _curves(sheet: Sheet, arms: Sequence[_DrawnArm], reader: Reader) -> "alt.LayerChart":
    import altair as alt

    names = [arm.name for arm in arms]
    rows = [
        {
            "arm": arm.name,
            "hours": round(hours, 3),
            "low": reader.degrees(low),
            "middle": reader.degrees(middle),
            "high": reader.degrees(high),
        }
        for arm in arms
        for hours, low, middle, high in zip(
            *(arm.numbers["core"][name] for name in ("hours", "low_c", "middle_c", "high_c")),
            strict=True,
        )
    ]
    base = sheet.of(rows)
    axis = alt.Axis(grid=False, tickCount=10)
    x = alt.X("hours:Q", title=reader.say(_HOURS), axis=axis, scale=_hours(arms))
    scale = alt.Scale(zero=False, nice=True)
    title = reader.say(N_("core, °%(unit)s", unit=reader.units.temperature))
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


def _marks(sheet: Sheet, arms: Sequence[_DrawnArm], reader: Reader) -> "alt.LayerChart | None":
    import altair as alt

    names = [arm.name for arm in arms]
    marks = sorted({mark["core_c"] for arm in arms for mark in arm.numbers["marks"]})
    rows: list[dict[str, Any]] = [
        {
            "arm": arm.name,
            "mark": reader.temperature(mark["core_c"]),
            **{end: mark[end] / 3600.0 for end in ("low", "middle", "high")},
        }
        for arm in arms
        for mark in arm.numbers["marks"]
    ]
    if not rows:
        return None
    order = [reader.temperature(core_c) for core_c in marks]
    base = sheet.of(rows)
    y = alt.Y("mark:N", sort=order, title=reader.say(N_("core reaches")))
    offset = alt.YOffset("arm:N", sort=names)
    colour = alt.Color(
        "arm:N",
        scale=alt.Scale(domain=names, range=cycled(COLOURS, len(names))),
        legend=None,
    )
    axis = alt.Axis(grid=True, tickCount=10)
    x = alt.X("low:Q", title=reader.say(_HOURS), axis=axis, scale=_hours(arms))
    bars = base.mark_rule(strokeWidth=1.5).encode(
        x=x, x2=alt.X2("high:Q"), y=y, yOffset=offset, color=colour
    )
    points = base.mark_point(filled=True, size=42, opacity=1).encode(
        x=alt.X("middle:Q", title=reader.say(_HOURS)),
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


def _split(sheet: Sheet, arms: Sequence[_DrawnArm], reader: Reader) -> "alt.LayerChart":
    import altair as alt

    names = [arm.name for arm in arms]
    rows: list[dict[str, Any]] = []
    for arm in arms:
        begin = 0.0
        for key, label in SPLIT:
            share = arm.numbers["values"][key]["middle"]
            if share is None:
                continue
            size = 100.0 * share
            rows.append(
                {
                    "arm": arm.name,
                    "part": reader.say(label),
                    "from": begin,
                    "to": begin + size,
                    "middle": begin + size / 2,
                    "text": f"{size:.0f} %" if size >= 4.0 else "",
                    "ink": "white" if key in _DARK else INK,
                }
            )
            begin += size
    base = sheet.of(rows)
    labels = [reader.say(label) for _, label in SPLIT]
    y = alt.Y("arm:N", sort=names, title=None)
    bars = base.mark_bar(height=20).encode(
        x=alt.X(
            "from:Q",
            title=reader.say(N_("% of the raw mass (middles of the draws)")),
            axis=alt.Axis(grid=False),
            scale=alt.Scale(domain=[0.0, max(100.0, *(row["to"] for row in rows))], nice=False),
        ),
        x2=alt.X2("to:Q"),
        y=y,
        color=alt.Color(
            "part:N",
            scale=alt.Scale(domain=labels, range=[_HUES[key] for key, _ in SPLIT]),
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
