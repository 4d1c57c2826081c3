"""The live screen of a cook: what each piece needs next, and everything that is done at the pit."""

from datetime import UTC, datetime

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse
from sse_starlette import EventSourceResponse

from fairsmoke.app.auth import Book, Recorder, Seer
from fairsmoke.app.entries.accept import accept
from fairsmoke.app.entries.from_form import entry_of_form
from fairsmoke.app.forms import FormFields
from fairsmoke.app.live_stream import told
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.cook_parts import around, curve_content, parts_of
from fairsmoke.app.pages.doubted import choices_of
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.arriving.doubted import DoubtedError
from fairsmoke.messages.message import N_
from fairsmoke.trial.clock import time_zone

router = APIRouter()
PLACES = (NavigationLink(N_("At the pit"), "cook", "cook", 30, May.SEE_TRIALS),)


@router.get("/trials/{trial}/cooks/{cook}", name="cook")
def cook_page(
    page: OnPage, request: Request, trial: FoundTrial, cook: FoundCook, book: Book
) -> HTMLResponse:
    """Show a cook as it stands now."""
    view = request.app.state.running_cooks.view(trial.id, cook.id)
    context = around(page, book, view)
    return page.show(
        "cook.html",
        **context,
        parts=parts_of(page, book, view, context),
        curve=curve_content(page, view),
    )


@router.post("/trials/{trial}/cooks/{cook}/record", name="cook_record")
def record(
    page: OnPage,
    fields: FormFields,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: Recorder,
) -> Response:
    """Record what a form says, for browsers without scripts; with them it goes by the queue.

    Asks first about what hardly can be true.
    """
    entry = entry_of_form(fields, trial.id, cook.id, time_zone(cook.time_zone), datetime.now(UTC))
    try:
        accept(book, entry, person)
    except DoubtedError as error:
        return page.show(
            "record_ask.html",
            409,
            trial=trial,
            doubts=[one.question for one in error.asked],
            choices=choices_of(fields, error.asked[0].likely, {}),
            insisted=[*fields, ("insist", "yes")],
            back=page.path("cook", trial=trial.id, cook=cook.id),
        )
    back = "cook_weigh" if entry.kind == "weighing" else "cook"
    return page.go(back, trial=trial.id, cook=cook.id)


@router.get("/trials/{trial}/cooks/{cook}/stream", name="cook_stream")
async def stream(
    page: OnPage, request: Request, trial: FoundTrial, cook: FoundCook, book: Book, _: Seer
) -> EventSourceResponse:
    """Tell what changes on the live screen, as server-sent events, until the page is closed."""
    return EventSourceResponse(
        told(page, request, book, trial.id, cook.id), ping=15, send_timeout=30
    )
