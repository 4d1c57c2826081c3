"""The chart of how many pairs it takes: what becomes of the verdict, and how wide it stays."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fairsmoke.messages.message import N_
from fairsmoke.planning.size.how_many import AIM, HowMany
from fairsmoke.quantity.values import Share
from fairsmoke.telling.chart_style import (
    COLOURS,
    DASHES,
    DIM,
    INK,
    SHAPES,
    WIDTH,
    Sheet,
    cycled,
    headed,
    own_scales,
    shortened,
    write_picture,
)
from fairsmoke.telling.how_many import shown_truth, units_of
from fairsmoke.telling.numbers import difference_unit, show_size, shown_times
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.question import Better

if TYPE_CHECKING:
    import altair as alt

_HEIGHT, _GAP = 190, 60
_HIGHER = N_("one is higher")
_KINDS = (
    (N_("one is better"), "#17324d"),
    (N_("no difference that matters"), "#7d8f46"),
    (N_("not settled"), "#d5d4cf"),
)


def write_how_many_chart(found: Sequence[HowMany], path: Path, reader: Reader) -> None:
    """Draw the tables into a file whose name ends in .png, .svg or .pdf, without any network.

    Raises ChartError for another ending.
    """
    write_picture(how_many_chart(found, reader), path)


def how_many_chart(found: Sequence[HowMany], reader: Reader) -> "alt.VConcatChart":
    """Draw for every measure the verdicts, the chances at true differences, and the interval."""
    import altair as alt

    sheet = Sheet()
    say = reader.say
    rows = [
        alt.HConcatChart(
            hconcat=[
                _verdicts(sheet, one, reader),
                _given(sheet, one, reader),
                _interval(sheet, one, reader),
            ],
            spacing=_GAP / 2,
            resolve=own_scales(),
            title=headed(
                shortened(one.measure.name, 60),
                say(
                    N_(
                        "worthwhile: %(size)s (dashed); dotted: a chance of %(aim)s",
                        size=show_size(one.measure, one.measure.worthwhile),
                        aim=Share(AIM, 0),
                    )
                ),
            ),
        )
        for one in found
    ]
    return sheet.stacked(rows, 24)


def _x(one: HowMany, reader: Reader) -> "alt.X":
    import altair as alt

    axis = alt.Axis(grid=False, labelAngle=0)
    return alt.X("blocks:O", title=reader.say(units_of(one)), axis=axis)


def _chance(field: str, title: str) -> "alt.Y":
    import altair as alt

    axis = alt.Axis(values=[0, 20, 40, 60, 80, 100])
    scale = alt.Scale(domain=[0, 100])
    return alt.Y(f"{field}:Q", title=title or None, axis=axis, scale=scale)


def _words(one: HowMany, reader: Reader) -> list[str]:
    names = [name for name, _ in _KINDS]
    if one.measure.better is Better.NEITHER:
        names[0] = _HIGHER
    return [reader.say(name) for name in names]


def _verdicts(sheet: Sheet, one: HowMany, reader: Reader) -> "alt.LayerChart":
    import altair as alt

    rows: list[dict[str, Any]] = []
    names = _words(one, reader)
    for row in one.rows:
        low = 0.0
        sizes = (row.chances.one_is_better, row.chances.no_difference, row.chances.not_settled)
        for name, size in zip(names, sizes, strict=True):
            rows.append(
                {
                    "blocks": row.blocks,
                    "kind": name,
                    "from": round(low, 3),
                    "to": round(low + 100 * size, 3),
                }
            )
            low += 100 * size
    bars = (
        sheet.of(rows)
        .mark_bar()
        .encode(
            x=_x(one, reader),
            y=_chance("from", reader.say(N_("chance of the verdict, %"))),
            y2=alt.Y2("to:Q"),
            color=alt.Color(
                "kind:N",
                scale=alt.Scale(domain=names, range=[colour for _, colour in _KINDS]),
                sort=names,
                legend=alt.Legend(orient="top", title=None, columns=1),
            ),
        )
    )
    return alt.LayerChart(layer=[bars, _aim(sheet)], width=WIDTH // 3, height=_HEIGHT)


def _aim(sheet: Sheet) -> Any:
    rule = sheet.of([{"aim": 100 * AIM}]).mark_rule(color=DIM, strokeDash=[2, 3])
    return rule.encode(y=_chance("aim", ""))


def _given(sheet: Sheet, one: HowMany, reader: Reader) -> "alt.LayerChart":
    import altair as alt

    names = [reader.say(shown_truth(one, given)) for given in one.rows[0].given]
    rows = [
        {"blocks": row.blocks, "truth": name, "chance": round(100 * given.chances.settled, 2)}
        for row in one.rows
        for name, given in zip(names, row.given, strict=True)
    ]
    base = sheet.of(rows)
    hues = alt.Scale(domain=names, range=cycled(COLOURS, len(names)))
    dashes = alt.Scale(domain=names, range=[list(d) for d in cycled(DASHES, len(names))])
    shapes = alt.Scale(domain=names, range=cycled(SHAPES, len(names)))
    legend = alt.Legend(
        orient="top", title=reader.say(N_("settled, were the true difference")), columns=2
    )
    shared = {
        "x": _x(one, reader),
        "y": _chance("chance", reader.say(N_("chance of any settled verdict, %"))),
        "color": alt.Color("truth:N", scale=hues, sort=names, legend=legend),
    }
    line = base.mark_line(strokeWidth=1.6).encode(
        strokeDash=alt.StrokeDash("truth:N", scale=dashes, sort=names, legend=legend), **shared
    )
    points = base.mark_point(filled=True, size=30, opacity=1).encode(
        shape=alt.Shape("truth:N", scale=shapes, sort=names, legend=legend), **shared
    )
    return alt.LayerChart(layer=[line, points, _aim(sheet)], width=WIDTH // 3, height=_HEIGHT)


def _interval(sheet: Sheet, one: HowMany, reader: Reader) -> "alt.LayerChart":
    import altair as alt

    times = shown_times(one.measure)
    rows = [{"blocks": row.blocks, "half": row.width / 2 * times} for row in one.rows]
    unit = difference_unit(one.measure)
    title = reader.say(
        N_("expected ± of the difference, %(unit)s", unit=unit)
        if unit
        else N_("expected ± of the difference")
    )
    y = alt.Y("half:Q", title=title, scale=alt.Scale(zero=True, nice=True))
    base = sheet.of(rows)
    line = base.mark_line(strokeWidth=1.6, color=INK, point={"color": INK, "size": 30})
    worth = sheet.of([{"worth": one.measure.worthwhile * times}])
    rule = worth.mark_rule(color=COLOURS[1], strokeDash=[7, 3]).encode(y=alt.Y("worth:Q"))
    return alt.LayerChart(
        layer=[line.encode(x=_x(one, reader), y=y), rule], width=WIDTH // 3, height=_HEIGHT
    )
