"""Weighing at the pit: the sum spelled out, and a check against what was weighed before."""

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
from fairsmoke.app.people.permissions import May
from fairsmoke.live.trial_status import Stand, piece_stand
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import parse_mass
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Event, Piece
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, PartKind, Scale, Weighing
from fairsmoke.weighing.plausible import Doubt, DoubtKind, doubt_in_record

router = APIRouter()
PLACES = (NavigationLink(N_("Weigh"), "cook_weigh", "cook", 40, May.SEE_TRIALS),)

SUMS: dict[str, Message] = {
    "trimmed meat": N_("Raw and trimmed, as it goes on: the piece alone"),
    "trimmed meat+rub": N_("Raw and trimmed, with its rub: piece + rub"),
    "bought meat": N_("As bought, before trimming: the piece alone"),
    "cooked meat": N_("Off the cooker: the piece alone"),
    "cooked meat+used wrap+drippings": N_(
        "Off the cooker, before opening: piece + wrap + juices in it"
    ),
    "held meat": N_("Out of the hold: the piece alone"),
    "held meat+used wrap+drippings": N_(
        "Out of the hold, before opening: piece + wrap + juices in it"
    ),
    "served meat": N_("Ready to serve, bone and waste gone: the meat alone"),
    "used wrap+drippings": N_("After opening: the wrap with its juices, no meat"),
    "used wrap": N_("After opening: the wrap alone, emptied"),
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
    """Record a weighing from a browser without scripts; ask first when it cannot well be true."""
    fields = [(name, value) for name, value in sent if name not in ("sure", "kind")]
    zone = time_zone(cook.time_zone)
    entry = entry_of_form(
        [*fields, ("kind", "weighing")], trial.id, cook.id, zone, datetime.now(UTC)
    )
    doubt = _doubt(book, trial, entry)
    if doubt is not None and "sure" not in dict(sent):
        asked = {"fields": [*fields, ("sure", "yes")], "doubt": doubt_message(page, doubt)}
        return page.show("cook_weigh_ask.html", 422, trial=trial, cook=cook, **asked)
    accept(book, entry, person)
    return page.go("cook_weigh", trial=trial.id, cook=cook.id)


def _doubt(book: Notebook, trial: Trial, entry: Any) -> Doubt | None:
    weighings = tuple(book.list(Weighing, trial=trial.id))
    record = TrialRecord(
        trial,
        pieces=tuple(book.list(Piece, trial=trial.id)),
        weighings=weighings,
        plan=next(iter(book.list(Plan, trial=trial.id)), None),
    )
    weighing = Weighing.model_construct(
        id="",
        piece=entry.piece,
        scale=entry.scale,
        reading_kg=parse_mass(entry.reading),
        written=entry.reading,
        sum=tuple(Part.parse(text) for text in entry.sum),
    )
    return doubt_in_record(record, weighings, weighing)


def doubt_message(page: Page, doubt: Doubt) -> Message:
    """Return what is odd about a weighing, in words."""
    return _odd(doubt.kind, page.way.mass(max(doubt.now_kg, 0.0)), page.way.mass(doubt.before_kg))


def _odd(kind: DoubtKind, now: str, before: str) -> Message:
    match kind:
        case DoubtKind.GAINED:
            return N_(
                "The meat would now weigh at least %(now)s, and weighed at most %(before)s "
                "before: a piece gains nothing. Is it the right piece, the whole sum, the unit?",
                now=now,
                before=before,
            )
        case DoubtKind.LOST:
            return N_(
                "The meat would now weigh at most %(now)s, and weighed at least %(before)s "
                "before: that is much to lose. Is it the right piece, the unit, a digit too few?",
                now=now,
                before=before,
            )
        case DoubtKind.LESS_THAN_ITS_TRAY:
            return N_(
                "That is less than what lies on the scale with it (%(before)s). Was the scale "
                "set to zero with the tray on it? Then leave the tray out of the sum.",
                before=before,
            )
        case DoubtKind.NOT_AS_PLANNED:
            return N_(
                "That is %(now)s of meat, and %(before)s was planned for this piece. Is it the "
                "right piece, the unit, a digit too many or too few?",
                now=now,
                before=before,
            )
        case DoubtKind.NOT_LIKE_ITS_CUT:
            return N_(
                "That is %(now)s of meat; such a cut has hardly ever more or less than %(before)s. "
                "Is it the right piece, the unit, a digit too many or too few?",
                now=now,
                before=before,
            )
        case DoubtKind.NOT_LIKE_SUCH_A_PART:
            return N_(
                "That is %(now)s; such a thing has hardly ever more or less than %(before)s. Is "
                "it the unit, a digit too many or too few?",
                now=now,
                before=before,
            )


def _key(kind: DoubtKind) -> str:
    """Return the name by which the page's script knows a doubt."""
    return kind.value.replace(" ", "-") if kind.value.startswith("not") else kind.value.split()[0]


def _shown(page: Page, book: Notebook, trial: Trial, cook: Cook, chosen: str) -> dict[str, Any]:
    pieces = book.list(Piece, trial=trial.id, cook=cook.id)
    ids = {one.id for one in pieces}
    events = book.list(Event, trial=trial.id, cook=cook.id)
    weighings = [
        one
        for one in book.list(Weighing, trial=trial.id)
        if one.cook == cook.id or one.piece in ids or one.piece is None
    ]
    trays = {part.text: None for one in weighings for part in one.sum if part.kind is PartKind.TRAY}
    return {
        "trial": trial,
        "cook": cook,
        "zone": time_zone(cook.time_zone),
        "pieces": pieces,
        "chosen": chosen if chosen in ids else (pieces[0].id if pieces else ""),
        "names": {one.id: one.name for one in pieces},
        "likely": {one.id: _LIKELY[piece_stand(one, events).stand] for one in pieces},
        "scales": book.list(Scale),
        "sums": SUMS,
        "trays": list(trays),
        "weighings": weighings,
        "entry_id": str(uuid4()),
        # The page's script puts the masses in.
        "odd": {_key(kind): page.way.say(_odd(kind, "{now}", "{before}")) for kind in DoubtKind},
        "data": {
            "injected": [one.id for one in pieces if one.injected],
            "weighings": [
                {
                    "piece": one.piece or "",
                    "sum": [part.text for part in one.sum],
                    "kg": one.reading_kg,
                }
                for one in weighings
            ],
        },
    }
