"""A trial's page: what to do now, and where each piece stands."""

from datetime import UTC, datetime

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.found import FoundTrial
from fairsmoke.app.pages.words import STANDS, step_message
from fairsmoke.app.people.permissions import May
from fairsmoke.app.places import Place
from fairsmoke.app.text.messages import N_
from fairsmoke.app.who import Book
from fairsmoke.jobs.standing import standing
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Cooker

router = APIRouter()
PLACES = (Place(N_("Now"), "trial", "trial", 0, May.SEE_TRIALS),)


def spot_names(book: Notebook) -> dict[str, str]:
    """Return the name of each position of each cooker, by the spot's text."""
    return {
        f"{cooker.id}/{position.id}": f"{cooker.name}, {position.name}"
        for cooker in book.list(Cooker)
        for position in cooker.positions
    }


@router.get("/trials/{trial}", name="trial")
def trial_page(page: OnPage, trial: FoundTrial, book: Book) -> HTMLResponse:
    """Show where a trial stands."""
    found = standing(book, trial.id)
    step, cook = found.step
    return page.show(
        "trial.html",
        trial=trial,
        standing=found,
        step=step_message(step, cook),
        stands=STANDS,
        arms={arm.id: arm.name for arm in trial.arms},
        spots=spot_names(book) if found.running else {},
        now=datetime.now(UTC),
        cooks=sorted(found.cooks, key=lambda cook: cook.starts, reverse=True),
    )
