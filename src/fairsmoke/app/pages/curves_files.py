"""The curves of a cook as pictures and numbers to save, and the script that draws them."""

import csv
import io
from datetime import UTC, timedelta

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from fairsmoke.app.auth import Book, SignedIn, Told
from fairsmoke.app.charts_script import script, script_name
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.curves import Since, Until, stretch_of
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.problems import AppError
from fairsmoke.live.one_cook import one_cook
from fairsmoke.messages.message import N_
from fairsmoke.telling.curve_data import CookCurves, cook_curves, for_reader

router = APIRouter()


@router.get("/trials/{trial}/cooks/{cook}/curves.{form}", name="curves_picture")
def curves_picture(
    page: OnPage,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    form: str,
    since: Since = None,
    until: Until = None,
) -> Response:
    """Hand out the curves as a picture (svg, png) or as numbers (csv)."""
    if form not in ("svg", "png", "csv"):
        raise AppError(404, "no-form", N_("There is no such picture."))
    stretch = stretch_of(book, trial.id, cook, since, until)
    record = one_cook(book, trial.id, cook.id)
    buckets = 2000 if form == "csv" else 320
    found = cook_curves(record, cook, stretch.window(buckets))
    if found is None:
        raise AppError(404, "no-curves", N_("Nothing was read in this cook."))
    shown = for_reader(found, page.way)
    name = f"{trial.id}-{cook.id}.{form}"
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    if form == "csv":
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return Response(_csv(shown), media_type="text/csv; charset=utf-8", headers=headers)
    from fairsmoke.telling.chart_style import png_of, svg_of
    from fairsmoke.telling.curve_chart import curves_chart

    chart = curves_chart(shown, 900)
    if form == "svg":
        return Response(
            svg_of(chart, page.way.language), media_type="image/svg+xml", headers=headers
        )
    return Response(
        png_of(chart, language=page.way.language), media_type="image/png", headers=headers
    )


def _csv(shown: CookCurves) -> str:
    """Return every bucket of every curve, with its moment in UTC and the unit in the heads."""
    written = io.StringIO()
    rows = csv.writer(written)
    unit = shown.unit
    rows.writerow(
        ["curve", "time (UTC)", f"mean ({unit})", f"lowest ({unit})", f"highest ({unit})"]
    )
    for curve in shown.curves:
        columns = (curve.hours, curve.mean, curve.low, curve.high)
        for hours, *values in zip(*(column.tolist() for column in columns), strict=True):
            at = shown.cook.starts + timedelta(hours=hours)
            moment = at.astimezone(UTC).isoformat(timespec="seconds")
            rows.writerow([_plain(str(curve.label)), moment, *(f"{value:.2f}" for value in values)])
    return written.getvalue()


def _plain(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula, whatever a probe is called."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


@router.get("/charts/{name}", name="charts_script")
def charts_script(told: Told, _: SignedIn, name: str) -> Response:
    """Hand out the script that draws charts; it is kept for good."""
    if name != script_name():
        raise AppError(404, "no-script", N_("There is no such page."))
    return FileResponse(
        script(told.results),
        media_type="text/javascript",
        headers={"Cache-Control": "private, max-age=31536000, immutable"},
    )
