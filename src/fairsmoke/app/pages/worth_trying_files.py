"""Which method is worth trying, to take away: its chart as a picture, and every number."""

import threading

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from fairsmoke.app.auth import Told
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.worth_trying import Planner, found_of, place_of
from fairsmoke.app.pages.worth_trying_shown import Shown
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_

router = APIRouter()

_WIDTH = 900
_TYPES = {"svg": "image/svg+xml", "png": "image/png"}


@router.get("/worth-trying/{key}/front.{form}", name="worth_picture")
def picture(page: OnPage, told: Told, _: Planner, key: str, form: str) -> Response:
    """Hand out the chart of the front as a picture in a person's language, drawn once."""
    found = found_of(told.results, key)
    if form not in _TYPES or found is None:
        raise AppError(404, "no-picture", N_("There is no such picture."))
    path = place_of(told.results, key) / f"front-{page.way.language}.{form}"
    if not path.is_file():
        from fairsmoke.telling.chart_style import write_picture
        from fairsmoke.telling.worth_trying_live import front_chart

        chart = front_chart(found, Shown(page.way).words(), _WIDTH, background="white")
        beside = path.with_name(f"{threading.get_ident()}-{path.name}")
        write_picture(chart, beside)
        beside.replace(path)
    return FileResponse(path, media_type=_TYPES[form])


@router.get("/worth-trying/{key}/numbers.json", name="worth_numbers")
def numbers(told: Told, _: Planner, key: str) -> Response:
    """Hand out every number, for other programs."""
    path = place_of(told.results, key) / "numbers.json"
    if not path.is_file():
        raise AppError(404, "no-numbers", N_("There is no such page."))
    return FileResponse(path, filename=f"worth-trying-{key[:8]}.json")
