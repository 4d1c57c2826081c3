"""Weighing at the pit: the sum spelled out, and a check against what was weighed before."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book, Recorder, Seer
from fairsmoke.app.entries.accept import accept
from fairsmoke.app.entries.from_form import entry_of_form
from fairsmoke.app.forms import FormFields
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.pages.weigh_data import weigh_data
from fairsmoke.app.people.permissions import May
from fairsmoke.arriving.doubted import DoubtedError
from fairsmoke.live.trial_status import Stand, piece_stand
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import Units
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Event, Piece
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import PartKind, Scale, Weighing

router = APIRouter()
PLACES = (NavigationLink(N_("Weigh"), "cook_weigh", "cook", 40, May.SEE_TRIALS),)

SUMS: dict[str, Message] = {
    "trimmed meat": N_("Raw, trimmed, as it goes on"),
    "trimmed meat+rub": N_("Raw, trimmed, with its rub"),
    "bought meat": N_("As bought, before trimming"),
    "cooked meat": N_("Off the cooker: piece alone"),
    "cooked meat+used wrap+drippings": N_("Off: piece + wrap + juices"),
    "held meat": N_("Out of the hold: piece alone"),
    "held meat+used wrap+drippings": N_("Held: piece + wrap + juices"),
    "served meat": N_("As served, bone and waste gone"),
    "used wrap+drippings": N_("Opened: wrap + juices, no meat"),
    "used wrap": N_("Opened: wrap alone, emptied"),
    "drippings": N_("The juices alone"),
}
"""What may lie on the scale, apart from trays, and how it is said."""

_LIKELY = {
    Stand.WAITING: "trimmed meat",
    Stand.ON: "cooked meat",
    Stand.WRAPPED: "cooked meat+used wrap+drippings",
    Stand.OFF: "cooked meat",
    Stand.HELD: "held meat",
    Stand.OUT_OF_HOLD: "held meat",
    Stand.SLICED: "served meat",
}


@router.get("/trials/{trial}/cooks/{cook}/weigh", name="cook_weigh")
def weigh_page(
    page: OnPage, trial: FoundTrial, cook: FoundCook, book: Book, _: Seer, piece: str = ""
) -> HTMLResponse:
    """Show what was weighed, and ask for the next weighing."""
    return page.show("cook_weigh.html", **_shown(page, book, trial, cook, piece))


@router.post("/trials/{trial}/cooks/{cook}/weigh", name="weigh")
def weigh(
    page: OnPage,
    sent: FormFields,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: Recorder,
) -> Response:
    """Record a weighing from a browser without scripts; ask first when it hardly can be true."""
    fields = [(name, value) for name, value in sent if name != "kind"]
    zone = time_zone(cook.time_zone)
    entry = entry_of_form(
        [*fields, ("kind", "weighing")], trial.id, cook.id, zone, datetime.now(UTC)
    )
    try:
        accept(book, entry, person)
    except DoubtedError as error:
        (asked,) = error.asked
        choices = [(one.says, _changed(fields, one.changes)) for one in asked.likely]
        return page.show(
            "cook_weigh_ask.html",
            409,
            trial=trial,
            cook=cook,
            doubt=asked.question,
            choices=choices,
            insisted=[*fields, ("insist", "yes")],
        )
    return page.go("cook_weigh", trial=trial.id, cook=cook.id)


_SAID_BY = {
    "reading": ("reading", "lb", "oz", "unit"),
    "sum": ("sum", "other"),
    "piece": ("piece",),
}
"""Which fields of the form say a field of the entry."""


def _changed(fields: list[tuple[str, str]], changes: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return the fields of the form as they would be had something else been meant."""
    gone = {name for change in changes for name in _SAID_BY[change]}
    return [*(one for one in fields if one[0] not in gone), *changes.items()]


def shown_unit(scale: Scale, weighings: Sequence[Weighing], units: Units) -> str:
    """Return the unit of a bare number: the scale's own, as it was last read, or the person's."""
    if scale.unit is not None:
        return scale.unit
    for one in reversed(weighings):
        written = "".join(sign if sign.isalpha() else " " for sign in one.written).split()
        if one.scale == scale.id and " ".join(written) in _UNITS:
            return " ".join(written)
    return "kg" if units.mass == "kg" else "lb oz"


_UNITS = ("kg", "g", "lb", "oz", "lb oz")


def _shown(page: Page, book: Notebook, trial: Trial, cook: Cook, chosen: str) -> dict[str, Any]:
    pieces = book.list(Piece, trial=trial.id, cook=cook.id)
    ids = {one.id for one in pieces}
    events = book.list(Event, trial=trial.id, cook=cook.id)
    weighings = [
        one
        for one in book.list(Weighing, trial=trial.id)
        if one.cook == cook.id or one.piece in ids or one.piece is None
    ]
    scales = book.list(Scale)
    trays = {part.text: None for one in weighings for part in one.sum if part.kind is PartKind.TRAY}
    return {
        "trial": trial,
        "cook": cook,
        "zone": time_zone(cook.time_zone),
        "pieces": pieces,
        "chosen": chosen if chosen in ids else (pieces[0].id if pieces else ""),
        "names": {one.id: one.name for one in pieces},
        "likely": {one.id: _LIKELY[piece_stand(one, events).stand] for one in pieces},
        "scales": scales,
        "shows": {one.id: shown_unit(one, weighings, page.way.units) for one in scales},
        "sums": SUMS,
        "trays": list(trays),
        "weighings": weighings,
        "entry_id": str(uuid4()),
        "data": weigh_data(page, book, trial, weighings),
    }
