"""Estimating what was not weighed: from what to what it weighs, and why."""

from datetime import UTC, datetime
from uuid import uuid4

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book, Recorder, Seer
from fairsmoke.app.entries.accept import accept
from fairsmoke.app.entries.from_form import entry_of_form
from fairsmoke.app.errors import problems_in
from fairsmoke.app.forms import FormFields
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.problems import PlaceProblem
from fairsmoke.app.set_up.fields import Fields
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import SHARED_KINDS, Part, PartEstimate, Weighing

router = APIRouter()

PARTS: dict[str, Message] = {
    "clinging fat": N_("Fat that was left on the piece and not scraped off"),
    "trim": N_("What was trimmed off"),
    "drippings": N_("Drip and juices"),
    "rub": N_("The rub"),
    "used wrap": N_("The used wrap, emptied"),
    "bought meat": N_("The meat as it was bought"),
    "trimmed meat": N_("The meat as it went on"),
    "cooked meat": N_("The meat as it came off"),
    "held meat": N_("The meat after the hold"),
    "served meat": N_("The meat as it was served"),
}
"""What may be estimated, and how it is said."""


@router.get("/trials/{trial}/cooks/{cook}/estimate", name="cook_estimate")
def estimate_page(
    page: OnPage,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    _: Seer,
    piece: str = "",
    part: str = "",
) -> HTMLResponse:
    """Ask for an estimate; ``piece`` and ``part`` are chosen already where they are named."""
    return _page(page, book, trial, cook, {"piece": piece, "part": part})


@router.post("/trials/{trial}/cooks/{cook}/estimate", name="estimate")
def estimate(
    page: OnPage,
    sent: FormFields,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: Recorder,
) -> Response:
    """Record an estimate from a browser without scripts; what was typed stays when refused."""
    try:
        zone = time_zone(cook.time_zone)
        accept(book, entry_of_form(sent, trial.id, cook.id, zone, datetime.now(UTC)), person)
    except ValueError as error:
        return _page(page, book, trial, cook, dict(sent), problems_in(error, page.way))
    return page.go("cook_estimate", trial=trial.id, cook=cook.id)


def _page(
    page: Page,
    book: Notebook,
    trial: Trial,
    cook: Cook,
    fields: Fields,
    problems: list[PlaceProblem] | None = None,
) -> HTMLResponse:
    pieces = book.list(Piece, trial=trial.id, cook=cook.id)
    ids = {one.id for one in pieces}
    weighings = [one for one in book.list(Weighing, trial=trial.id) if one.piece in ids]
    return page.show(
        "cook_estimate.html",
        422 if problems else 200,
        trial=trial,
        cook=cook,
        pieces=pieces,
        names={one.id: one.name for one in pieces},
        parts={part.text: part.words for part in unweighed(weighings)} | PARTS,
        fields=fields,
        problems=problems or [],
        entry_id=str(uuid4()),
        units=("g", "kg", "oz", "lb"),
        unit=fields.get("unit") or ("g" if page.way.units.mass == "kg" else "oz"),
        estimates=[one for one in book.list(PartEstimate, trial=trial.id) if one.piece in ids],
    )


def unweighed(weighings: list[Weighing]) -> list[Part]:
    """Return the parts that lay on a scale with others and never alone, but for trays."""
    alone = {(one.piece, one.sum[0].text) for one in weighings if len(one.sum) == 1}
    found = {
        part.text: part
        for one in weighings
        for part in one.sum
        if part.kind not in SHARED_KINDS and (one.piece, part.text) not in alone
    }
    return list(found.values())
