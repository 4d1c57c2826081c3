"""Charts as specifications that a page draws: the same numbers at any zoom."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from fairsmoke.app.auth import Book
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.curves import Since, Until, stretch_of
from fairsmoke.app.pages.kept_answers import FromAnswers
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.pages.worth_trying import WORTH_TRYING, Planner
from fairsmoke.app.problems import AppError, documented
from fairsmoke.live.one_cook import one_cook
from fairsmoke.messages.message import N_
from fairsmoke.telling.curve_data import cook_curves, for_reader
from fairsmoke.telling.live_curves import DARK, LIGHT, live_chart
from fairsmoke.telling.worth_trying_chart import worth_trying_chart

router = APIRouter(prefix="/api", tags=["charts"])


@router.get(
    "/trials/{trial}/cooks/{cook}/chart",
    name="chart",
    responses=documented(400, 401, 403, 404, 413, 422, 429, 503),
)
def chart(
    page: OnPage,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    since: Since = None,
    until: Until = None,
    width: Annotated[int, Query(ge=200, le=2000, description="In pixels.")] = 640,
    dark: Annotated[bool, Query(description="For a dark page.")] = False,
) -> dict[str, Any]:
    """Return the temperature chart of a cook as a Vega-Lite specification.

    A bucket of time is a pixel wide: ``v`` is the mean of the readings in it, ``l`` and ``u`` the
    lowest and the highest, in the person's unit; ``h`` are hours since the cook began. Under
    ``usermeta`` stand the stretch shown, that of the whole cook, the curves' names and the events.
    """
    stretch = stretch_of(book, trial.id, cook, since, until)
    record = one_cook(book, trial.id, cook.id)
    found = cook_curves(record, cook, stretch.window(width))
    if found is None:
        raise AppError(404, "no-curves", N_("Nothing was read in this cook."))
    shown = for_reader(found, page.way)
    spec = live_chart(shown, width, DARK if dark else LIGHT)
    spec["usermeta"] = {
        "starts": cook.starts.isoformat(),
        "since": stretch.since.isoformat(),
        "until": stretch.until.isoformat(),
        "first": stretch.first.isoformat(),
        "last": stretch.last.isoformat(),
        "unit": shown.unit,
        "curves": [curve.label for curve in shown.curves],
        "events": [{"number": m.number, "hours": m.hours, "text": m.text} for m in shown.markers],
    }
    return spec


@router.get(
    "/worth-trying/{key}/chart",
    name="worth_chart",
    responses=documented(400, 401, 403, 404, 413, 422, 429, 503),
)
def worth_chart(
    kept: FromAnswers,
    _: Planner,
    key: str,
    width: Annotated[int, Query(ge=200, le=2000, description="In pixels.")] = 640,
    dark: Annotated[bool, Query(description="For a dark page.")] = False,
) -> dict[str, Any]:
    """Return the chart of methods worth trying as a Vega-Lite specification.

    A row is a method: each goal with its middle, ``_low`` and ``_high``, shares in per cent, times
    in h; ``number`` its place in the list; ``front`` whether no other method beats it.
    """
    numbers = kept.document(WORTH_TRYING, key, "numbers")
    chart = worth_trying_chart(numbers, kept.page.way, width, DARK if dark else LIGHT)
    spec: dict[str, Any] = chart.to_dict(validate=False)
    return spec
