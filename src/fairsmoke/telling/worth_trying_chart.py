"""The chart of methods worth trying: trades between goals two by two, and the contrasts ranked.

Drawn from the plain data of `fairsmoke.telling.worth_trying.worth_trying_json`, in a reader's words
and units, on a ground of light or dark. Wraps differ by shape as well as by hue.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fairsmoke.messages.message import N_, Message
from fairsmoke.planning.methods.contrasts import Contrast
from fairsmoke.planning.methods.space import GOALS, MethodSettings
from fairsmoke.telling.chart_style import SHAPES, Sheet, cycled, shortened
from fairsmoke.telling.live_curves import LIGHT, Ground, config_on
from fairsmoke.telling.method_words import contrast_words
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.simulator_words import WRAP_NAMES
from fairsmoke.telling.worth_trying import MEASURE_TITLES

if TYPE_CHECKING:
    import altair as alt

_AXES: dict[str, tuple[Message, float]] = {
    "yield": (N_("yield, %"), 100.0),
    "tenderness": (N_("collagen dissolved, %"), 100.0),
    "crust": (N_("dried crust, kg/m²"), 1.0),
    "cap": (N_("fat cap rendered, %"), 100.0),
    "time": (N_("to the end of the hold, h"), 1.0 / 3600.0),
}
"""A goal's axis, and what its values are multiplied by there."""

_TWO_FROM, _GAP, _AXIS = 700, 26, 64
_HIGH, _ROW, _LABEL = 300, 22, 260


@dataclass(frozen=True)
class _Drawing:
    """What every panel of one chart is drawn with."""

    sheet: Sheet
    reader: Reader
    ground: Ground


def worth_trying_chart(
    numbers: Mapping[str, Any],
    reader: Reader,
    width: int,
    ground: Ground = LIGHT,
    background: str = "transparent",
    *,
    ranking: bool = False,
) -> "alt.VConcatChart":
    """Draw the last goal, mostly time, against each of the others, ``width`` pixels wide in all.

    Small dots: methods that keep the limits and are beaten. Shapes: those that no other beats,
    by wrap. Numbers, with intervals: those listed. ``ranking`` adds the contrasts by each measure.
    """
    import altair as alt

    drawing = _Drawing(Sheet(), reader, ground)
    goals = [one["goal"] for one in numbers["goals"]]
    across, others = goals[-1], goals[:-1] or goals
    columns = 2 if width >= _TWO_FROM and len(others) > 1 else 1
    side = (width - _GAP * (columns - 1)) // columns - _AXIS
    rows = _rows(numbers, goals)
    panels = [
        _front(drawing, rows, (across, goal), (side, min(_HIGH, side)), legend=number == 0)
        for number, goal in enumerate(others)
    ]
    lines: list[Any] = [
        alt.HConcatChart(hconcat=panels[at : at + columns], spacing=_GAP)
        for at in range(0, len(panels), columns)
    ]
    if ranking:
        lines += [
            _ranking(drawing, numbers, kind, width - _LABEL)
            for kind, best in numbers["ranked"].items()
            if best
        ]
    return alt.VConcatChart(
        vconcat=lines,
        datasets=drawing.sheet.rows,
        spacing=18,
        padding=4,
        background=background,
        config=config_on(ground),
    )


def _rows(numbers: Mapping[str, Any], goals: list[str]) -> list[dict[str, Any]]:
    listed = {at: str(number) for number, at in enumerate(numbers["listed"], start=1)}
    rows = []
    for method in numbers["methods"]:
        found = {goal: method["values"][GOALS[goal].name] for goal in goals}
        if not method["allowed"] or any(one["middle"] is None for one in found.values()):
            continue
        # Codes and not names: no two of them are alike in any language.
        row: dict[str, Any] = {
            "wrap": method["method"]["wrap"],
            "front": method["on_front"],
            "number": listed.get(method["number"], ""),
        }
        for goal, one in found.items():
            times = _AXES[goal][1]
            for name, end in ((f"{goal}_low", "low"), (goal, "middle"), (f"{goal}_high", "high")):
                row[name] = round(one[end] * times, 3)
        rows.append(row)
    return rows


def _front(
    drawing: _Drawing,
    rows: list[dict[str, Any]],
    goals: tuple[str, str],
    size: tuple[int, int],
    *,
    legend: bool,
) -> "alt.LayerChart":
    """Return one panel: ``goals`` across and up."""
    import altair as alt

    sheet, ground, (across, up) = drawing.sheet, drawing.ground, goals
    scale = alt.Scale(zero=False, nice=True)
    axis = alt.Axis(tickCount=6)
    titles = [drawing.reader.say(_AXES[goal][0]) for goal in goals]
    x = alt.X(f"{across}:Q", title=titles[0], scale=scale, axis=axis)
    y = alt.Y(f"{up}:Q", title=titles[1], scale=scale, axis=axis)
    x_low = alt.X(f"{across}_low:Q", title=titles[0])
    y_low = alt.Y(f"{up}_low:Q", title=titles[1])
    numbered = sheet.of([row for row in rows if row["number"]])
    rule: dict[str, Any] = {"strokeWidth": 1.2, "color": ground.dim, "opacity": 0.8}
    layers: list[Any] = [
        sheet.of([row for row in rows if not row["front"]])
        .mark_point(size=12, color=ground.dim, opacity=0.45, filled=True)
        .encode(x=x, y=y),
        numbered.mark_rule(**rule).encode(x=x_low, x2=alt.X2(f"{across}_high:Q"), y=y),
        numbered.mark_rule(**rule).encode(x=x, y=y_low, y2=alt.Y2(f"{up}_high:Q")),
        sheet.of([row for row in rows if row["front"]])
        .mark_point(size=70, filled=True, opacity=1.0)
        .encode(x=x, y=y, **_by_wrap(drawing, rows, legend)),
        numbered.mark_text(
            dx=7, dy=-10, fontSize=15, fontWeight="bold", align="left", color=ground.ink
        ).encode(x=x, y=y, text=alt.Text("number:N")),
    ]
    return alt.LayerChart(layer=layers, width=size[0], height=size[1])


def _by_wrap(drawing: _Drawing, rows: list[dict[str, Any]], shown: bool) -> dict[str, Any]:
    """Return hue and shape by wrap; only those on the front have one to be explained."""
    import altair as alt

    wraps = sorted({row["wrap"] for row in rows if row["front"]}, key=list(WRAP_NAMES).index)
    names = json.dumps({wrap: drawing.reader.say(WRAP_NAMES[wrap]) for wrap in wraps})
    legend = (
        alt.Legend(
            title=None,
            orient="top",
            columns=2,
            symbolSize=110,
            labelExpr=f"({names})[datum.label]",
        )
        if shown
        else None
    )
    hues = alt.Scale(domain=wraps, range=cycled(drawing.ground.curves, len(wraps)))
    shapes = alt.Scale(domain=wraps, range=cycled(SHAPES, len(wraps)))
    return {
        "color": alt.Color("wrap:N", scale=hues, legend=legend),
        "shape": alt.Shape("wrap:N", scale=shapes, legend=legend),
    }


def _ranking(
    drawing: _Drawing, numbers: Mapping[str, Any], kind: str, width: int
) -> "alt.LayerChart":
    """Return the contrasts by a measure: each change over what chance shows once in twenty."""
    import altair as alt

    say, sheet, ground = drawing.reader.say, drawing.sheet, drawing.ground
    rows: list[dict[str, Any]] = []
    for at in numbers["ranked"][kind]:
        one = numbers["knobs"][at]
        seen = one["seen"][kind]
        ends = one["differences"][seen["value"]]
        what = say(contrast_words(contrast_from(one)))
        chance = seen["by_chance_once_in_twenty"]
        rows.append(
            {"contrast": shortened(what, 40), **{name: end / chance for name, end in ends.items()}}
        )
    title = say(
        N_(
            "%(measure)s: change over what two pieces cooked alike show once in twenty",
            measure=next(words for of, words in MEASURE_TITLES.items() if str(of) == kind),
        )
    )
    base = sheet.of(rows)
    axis = alt.Axis(labelLimit=_LABEL)
    y = alt.Y("contrast:N", sort=[row["contrast"] for row in rows], title=None, axis=axis)
    scale = alt.Scale(zero=True, nice=True)
    bars = base.mark_rule(strokeWidth=1.5, color=ground.dim).encode(
        x=alt.X("low:Q", title=title, scale=scale), x2=alt.X2("high:Q"), y=y
    )
    points = base.mark_point(filled=True, size=55, color=ground.ink, opacity=1).encode(
        x=alt.X("middle:Q", title=title, scale=scale), y=y
    )
    line = sheet.of([{"one": -1.0}, {"one": 1.0}]).mark_rule(
        color=ground.curves[1], strokeDash=[7, 3]
    )
    layers = [bars, points, line.encode(x=alt.X("one:Q", title=title))]
    return alt.LayerChart(layer=layers, width=width, height=_ROW * len(rows))


def contrast_from(one: Mapping[str, Any]) -> Contrast:
    """Return a contrast from the plain data of it."""
    return Contrast(one["knob"], MethodSettings(**one["before"]), MethodSettings(**one["after"]))
