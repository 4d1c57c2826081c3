"""The notebook's first page: its trials, what has been learned, its cookers, its people."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from fastapi import APIRouter
from fastapi.responses import HTMLResponse
from scipy.special import stdtrit

from fairsmoke.answers.finding_queue import Findings, FindingState
from fairsmoke.app.auth import Book, SignedIn
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.finding import FromFindings
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.register import people
from fairsmoke.app.problems import AppError
from fairsmoke.live.trial_status import cooks_of_trials
from fairsmoke.messages.message import N_
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.question import Trial
from fairsmoke.trial.tasting import Taster

router = APIRouter()
PLACES = (NavigationLink(N_("Notebook"), "home", "notebook", 0),)


@dataclass(frozen=True)
class Learned:
    """What a finished trial found; ``answer`` None while it is not worked out."""

    trial: Trial
    seen: FindingState
    answer: Mapping[str, Any] | None

    @property
    def main(self) -> dict[str, Any]:
        """The main measure."""
        assert self.answer is not None
        measure: dict[str, Any] = self.answer["measures"][0]
        return measure


@dataclass(frozen=True)
class KnownSpot:
    """How much hotter a place is than the mean of the places measured with it, over ``cooks``.

    ``unsure_k`` is half of that mean's 95 % interval; None from a single cook.
    """

    hotter_k: float
    unsure_k: float | None
    cooks: int


@router.get("/", name="home")
def home(page: OnPage, book: Book, person: SignedIn, findings: FromFindings) -> HTMLResponse:
    """Show what the notebook holds; to a taster, only what is theirs."""
    if not person.may(May.SEE_TRIALS):
        return page.show("home_taster.html")
    cooks = cooks_of_trials(book)
    trials: list[dict[str, Any]] = [
        {
            "trial": trial,
            "cooks": cooks.get(trial.id, (0, 0))[0],
            "running": cooks.get(trial.id, (0, 0))[1],
        }
        for trial in book.trials()
    ]
    learned: list[Learned] = []
    if person.may(May.SEE_FINDINGS):
        finished = [one["trial"] for one in trials if one["cooks"] and not one["running"]]
        learned = list(_learned(findings, finished))
    with book.reading() as connection:
        everybody = people(connection)
    return page.show(
        "home.html",
        trials=trials,
        confirmed=[one for one in learned if one.answer and not one.answer["exploratory"]],
        explored=[one for one in learned if one.answer and one.answer["exploratory"]],
        open_trials=[one for one in learned if one.answer is None],
        cookers=book.list(Cooker),
        spots=known_spots(one.answer for one in learned if one.answer),
        tasters=book.list(Taster),
        people=everybody,
    )


def _learned(findings: Findings, finished: Iterable[Any]) -> Iterable[Learned]:
    """Yield what finished trials found, and have worked out what is not kept yet."""
    for trial in finished:
        try:
            seen = findings.look(trial.id)
        except AppError:
            # The queue is full: it comes at a later look.
            seen = findings.look(trial.id, start=False)
        document = seen.document
        yield Learned(trial, seen, None if document is None else document.brief)


def known_spots(answers: Iterable[Mapping[str, Any]]) -> dict[str, KnownSpot]:
    """Return what all cooks together say of each place, by the spot's text.

    Each cook counts once: the mean of a place less the mean of all places measured in that cook.
    """
    found: dict[str, list[float]] = defaultdict(list)
    for answer in answers:
        by_cook: dict[str, dict[str, float]] = defaultdict(dict)
        for one in answer["spots"]:
            by_cook[one["cook"]][one["spot"]] = one["mean_c"]
        for means in by_cook.values():
            if len(means) > 1:
                middle = float(np.mean(list(means.values())))
                for spot, mean_c in means.items():
                    found[spot].append(mean_c - middle)
    return {
        spot: KnownSpot(
            float(np.mean(values)),
            _half_of_95(values) if len(values) > 1 else None,
            len(values),
        )
        for spot, values in found.items()
    }


def _half_of_95(values: list[float]) -> float:
    """Return half of a mean's 95 % interval, by Student's t, from two values or more."""
    standard_error = float(np.std(values, ddof=1)) / len(values) ** 0.5
    t = float(stdtrit(len(values) - 1, 0.975))  # type: ignore[arg-type, unused-ignore]
    return float(t * standard_error)
