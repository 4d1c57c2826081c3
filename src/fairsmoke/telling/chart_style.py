"""The look that all charts share, and the one way from a chart to a picture.

Made for print: ink on white, told apart by shape, dash and words first and by hue last; the hues
are chosen to fall on different greys. Widths and sizes are in chart pixels.
"""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from babel.numbers import get_decimal_symbol, get_group_symbol

from fairsmoke.messages.catalogue import SOURCE
from fairsmoke.messages.errors import InputError

if TYPE_CHECKING:
    import altair as alt

    Drawable = alt.LayerChart | alt.VConcatChart

_SIZE = re.compile(r'width="(\d+)" height="(\d+)" viewBox="0 0 \1 \2"')
_ROOM = 24

FORMS = ("png", "svg", "pdf")

WIDTH = 640
INK, DIM, FAINT = "#1d1d1b", "#6b6b68", "#d5d4cf"

COLOURS = ("#17324d", "#c4682b", "#7d8f46", "#8e5a8c", "#4f9aa8", "#a98b3a")
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down")
DASHES: tuple[tuple[int, ...], ...] = ((1, 0), (7, 3), (2, 2), (9, 3, 2, 3), (4, 4), (1, 3))

FONT = "sans-serif"
FONT_SIZE = 11


def cycled(values: tuple[Any, ...], count: int) -> list[Any]:
    """Return the first ``count`` of the values, starting over when there are more."""
    return [values[at % len(values)] for at in range(count)]


class Sheet:
    """The rows that the layers of one chart draw from; each set is held once, by name.

    Altair copies a chart at every step, and would copy rows inside it as often.
    """

    def __init__(self) -> None:
        self.rows: dict[str, list[dict[str, Any]]] = {}

    def of(self, rows: list[dict[str, Any]]) -> "alt.Chart":
        """Return a chart of these rows, still without marks."""
        import altair as alt

        name = f"rows-{len(self.rows)}"
        self.rows[name] = rows
        return alt.Chart(alt.NamedData(name=name))

    def chart(self, layers: list[Any], height: int, width: int, **more: Any) -> "alt.LayerChart":
        """Return the layers as one chart in the shared look; axes and labels fit in its size."""
        import altair as alt

        return alt.LayerChart(
            layer=layers,
            datasets=self.rows,
            width=width,
            height=height,
            background="white",
            autosize=alt.AutoSizeParams(type="fit", contains="padding"),
            padding=4,
            config=_config(),
            **more,
        )

    def stacked(self, panels: list[Any], spacing: int, **more: Any) -> "alt.VConcatChart":
        """Return panels below one another as one chart in the shared look."""
        import altair as alt

        return alt.VConcatChart(
            vconcat=panels,
            datasets=self.rows,
            background="white",
            padding=6,
            spacing=spacing,
            config=_config(),
            **more,
        )


def headed(text: str, subtitle: str | list[str]) -> "alt.TitleParams":
    """Return the heading of a chart or of a row of panels."""
    import altair as alt

    return alt.TitleParams(
        text=text, subtitle=subtitle, anchor="start", fontSize=13, color=INK, subtitleColor=DIM
    )


def own_scales() -> "alt.Resolve":
    """Return that each panel has hues, shapes and dashes of its own."""
    import altair as alt

    scales = alt.ScaleResolveMap(color="independent", shape="independent", strokeDash="independent")
    return alt.Resolve(scale=scales)


def _config() -> "alt.Config":
    import altair as alt

    return alt.Config(
        font=FONT,
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            labelFontSize=FONT_SIZE,
            titleFontSize=FONT_SIZE,
            titleFontWeight="normal",
            labelColor=INK,
            titleColor=DIM,
            domainColor=DIM,
            tickColor=DIM,
            gridColor=FAINT,
            gridWidth=0.5,
            labelLimit=260,
        ),
        legend=alt.LegendConfig(
            orient="top",
            title=None,
            labelFontSize=FONT_SIZE,
            labelColor=INK,
            labelLimit=560,
            columns=1,
            symbolSize=70,
            offset=6,
        ),
        text=alt.MarkConfig(fontSize=FONT_SIZE, color=INK),
    )


def vega_lite() -> str:
    """Return the version of the grammar that charts are written in, as the drawer wants it."""
    import altair as alt

    return alt.SCHEMA_VERSION.removeprefix("v").rpartition(".")[0]


def svg_of(chart: "Drawable", language: str = SOURCE) -> str:
    """Return a chart as SVG text, drawn in this process and without any network.

    ``language`` is that of the numbers on its axes.
    """
    import vl_convert

    drawn = chart.to_dict(validate=False)
    return str(vl_convert.vegalite_to_svg(drawn, **_drawing(language)))


def png_of(chart: "Drawable", scale: float = 2.0, language: str = SOURCE) -> bytes:
    """Return a chart as a PNG, drawn as `svg_of` does."""
    import vl_convert

    drawn = chart.to_dict(validate=False)
    return bytes(vl_convert.vegalite_to_png(drawn, scale=scale, **_drawing(language)))


def pdf_of(chart: "Drawable", language: str = SOURCE) -> bytes:
    """Return a chart as a PDF, drawn as `svg_of` does."""
    import vl_convert

    drawn = chart.to_dict(validate=False)
    return bytes(vl_convert.vegalite_to_pdf(drawn, **_drawing(language)))


def roomy(svg: str) -> str:
    """Return a chart with room at its sides: a browser's letters may be wider than those here."""

    def wider(found: re.Match[str]) -> str:
        width, height = int(found[1]) + 2 * _ROOM, int(found[2])
        return f'width="{width}" height="{height}" viewBox="{-_ROOM} 0 {width} {height}"'

    return _SIZE.sub(wider, svg, count=1)


def _drawing(language: str) -> dict[str, Any]:
    numbers = {
        "decimal": get_decimal_symbol(language),
        "thousands": get_group_symbol(language),
        "grouping": [3],
        "currency": ["", ""],
    }
    return {"vl_version": vega_lite(), "allowed_base_urls": [], "format_locale": numbers}


class ChartError(InputError):
    """A chart that cannot be written as asked; the message says what to change."""


def form_of(path: Path) -> str:
    """Return the form that a file's name asks for. Raises ChartError for one that is not drawn."""
    form = path.suffix.lower().removeprefix(".")
    if form not in FORMS:
        raise ChartError(f"{path}: a chart can be .png, .svg or .pdf; give the name one of these")
    return form


def write_picture(chart: "Drawable", path: Path) -> None:
    """Write a chart into a file in the form that its name asks for.

    Raises ChartError for another ending.
    """
    form = form_of(path)
    if form == "svg":
        path.write_text(svg_of(chart), encoding="utf-8")
    else:
        path.write_bytes(png_of(chart) if form == "png" else pdf_of(chart))


def shortened(text: str, limit: int) -> str:
    """Return text of at most ``limit`` characters, cut at the end with an ellipsis."""
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def spread_out(wanted: list[float], apart: float, low: float, high: float) -> list[float]:
    """Move label positions so that neighbours are ``apart``, as near to the wanted as they can be.

    Within ``low`` to ``high`` where there is room for all. The order is kept.
    """
    order = sorted(range(len(wanted)), key=lambda at: wanted[at])
    groups: list[list[float]] = []
    for at in order:
        groups.append([wanted[at], 1])
        while len(groups) > 1 and _touch(groups[-2], groups[-1], apart):
            (centre, count), (other, more) = groups[-2], groups.pop()
            groups[-1] = [(centre * count + other * more) / (count + more), count + more]
    placed: list[float] = []
    for centre, count in groups:
        half = (count - 1) * apart / 2
        middle = min(max(centre, low + half), high - half)
        placed += [middle - half + apart * step for step in range(int(count))]
    for at in range(1, len(placed)):
        placed[at] = max(placed[at], placed[at - 1] + apart)
    found = [0.0] * len(wanted)
    for position, at in zip(placed, order, strict=True):
        found[at] = position
    return found


def _touch(first: list[float], second: list[float], apart: float) -> bool:
    reach = apart * (first[1] + second[1]) / 2
    return second[0] - first[0] < reach
