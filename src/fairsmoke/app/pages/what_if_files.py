"""What came of a what-if, to take away: its chart and its numbers."""

from pathlib import Path

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from fairsmoke.app.auth import Told
from fairsmoke.app.pages.finding import FindingSeer
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_

router = APIRouter()


@router.get("/what-if/{key}/pictures/{name}.{form}", name="what_if_picture")
def picture(told: Told, _: FindingSeer, key: str, name: str, form: str) -> Response:
    """Hand out the chart of a what-if."""
    path = told.results / "what-ifs" / Path(key).name / f"picture-{Path(name).name}.{form}"
    if form not in ("svg", "png") or not path.is_file():
        raise AppError(404, "no-picture", N_("There is no such picture."))
    return FileResponse(path)


@router.get("/what-if/{key}/numbers.json", name="what_if_numbers")
def numbers(told: Told, _: FindingSeer, key: str) -> Response:
    """Hand out every number of a what-if, for other programs."""
    path = told.results / "what-ifs" / Path(key).name / "numbers.json"
    if not path.is_file():
        raise AppError(404, "no-numbers", N_("There is no such page."))
    return FileResponse(path, filename=f"what-if-{key[:8]}.json")
