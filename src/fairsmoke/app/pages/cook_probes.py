"""Which probe is where in a cook, and where each was before."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book, Seer
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.cook_parts import around
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.messages.message import N_
from fairsmoke.trial.probe import Placement

router = APIRouter()
PLACES = (NavigationLink(N_("Probes"), "cook_probes", "cook", 32, May.SEE_TRIALS),)


@router.get("/trials/{trial}/cooks/{cook}/probes", name="cook_probes")
def probes_page(
    page: OnPage, request: Request, trial: FoundTrial, cook: FoundCook, book: Book, _: Seer
) -> HTMLResponse:
    """Show where each probe is and was."""
    view = request.app.state.running_cooks.view(trial.id, cook.id)
    stays = sorted(
        book.list(Placement, trial=trial.id, cook=cook.id), key=lambda one: one.since, reverse=True
    )
    return page.show("cook_probes.html", **around(page, book, view), stays=stays)
