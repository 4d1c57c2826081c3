"""The notebook's first page: its trials, its cookers, its people."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from fairsmoke.app.page import OnPage
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.register import people
from fairsmoke.app.places import Place
from fairsmoke.app.text.messages import N_
from fairsmoke.app.who import Book, SignedIn
from fairsmoke.trial.cook import Cook, Cooker
from fairsmoke.trial.tasting import Taster

router = APIRouter()
PLACES = (Place(N_("Notebook"), "home", "notebook", 0),)


@router.get("/", name="home")
def home(page: OnPage, book: Book, person: SignedIn) -> HTMLResponse:
    """Show what the notebook holds; to a taster, only what is theirs."""
    if not person.may(May.SEE_TRIALS):
        return page.show("home_taster.html")
    trials = [
        {
            "trial": trial,
            "cooks": (cooks := book.list(Cook, trial=trial.id)),
            "running": [cook for cook in cooks if cook.ends is None],
        }
        for trial in book.trials()
    ]
    with book.reading() as connection:
        everybody = people(connection)
    return page.show(
        "home.html",
        trials=trials,
        cookers=book.list(Cooker),
        tasters=book.list(Taster),
        people=everybody,
    )
