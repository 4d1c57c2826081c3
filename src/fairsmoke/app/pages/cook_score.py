"""Scores of a cook: who tasted gives each piece its points, by thumb."""

from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book, Recorder, Seer
from fairsmoke.app.entries.accept import accept
from fairsmoke.app.entries.from_form import NEW_TASTER, entry_of_form
from fairsmoke.app.errors import problems_in
from fairsmoke.app.forms import FormFields
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import PlaceProblem
from fairsmoke.app.set_up.fields import Fields
from fairsmoke.judging.blinding import Blinding, Knowing, ballot_knowing, blinding_of
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.telling.blinding_words import KNOWING, blinding_words
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.question import Measure, MeasureKind, Trial
from fairsmoke.trial.tasting import Taster

router = APIRouter()
PLACES = (NavigationLink(N_("Score"), "cook_score", "cook", 50, May.SEE_TRIALS),)

MOST_BUTTONS = 21
"""A scale of more whole points than that is typed, not tapped."""


@router.get("/trials/{trial}/cooks/{cook}/score", name="cook_score")
def score_page(
    page: OnPage, trial: FoundTrial, cook: FoundCook, book: Book, _: Seer
) -> HTMLResponse:
    """Show a form for each measure that is scored, and what was scored so far."""
    return _page(page, book, trial, cook)


@router.post("/trials/{trial}/cooks/{cook}/score", name="score")
def score(
    page: OnPage,
    sent: FormFields,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: Recorder,
) -> Response:
    """Record scores from a browser without scripts; what was typed stays when it is refused."""
    try:
        zone = time_zone(cook.time_zone)
        accept(book, entry_of_form(sent, trial.id, cook.id, zone, datetime.now(UTC)), person)
    except ValueError as error:
        return _page(page, book, trial, cook, dict(sent), problems_in(error, page.way))
    return page.go("cook_score", trial=trial.id, cook=cook.id)


def _page(
    page: Page,
    book: Notebook,
    trial: Trial,
    cook: Cook,
    fields: Fields | None = None,
    problems: list[PlaceProblem] | None = None,
) -> HTMLResponse:
    record = book.load_trial(trial.id, lazy=True)
    pieces = [one for one in record.pieces if one.cook == cook.id]
    scored = [one for one in trial.measures if one.kind is MeasureKind.SCORE]
    return page.show(
        "cook_score.html",
        422 if problems else 200,
        trial=trial,
        cook=cook,
        zone=time_zone(cook.time_zone),
        pieces=pieces,
        measures=[(one, _points(one)) for one in scored],
        tasters=book.list(Taster),
        new_taster=NEW_TASTER,
        ids={one.id: str(uuid4()) for one in scored},
        fields=fields or {},
        problems=problems or [],
        given={one.id: _given(record, one, cook, pieces) for one in scored},
        known={one.id: _said(blinding_of(record, one)) for one in scored},
        knowing=KNOWING,
    )


def _said(blinding: Blinding) -> Any:
    return blinding_words(blinding) if blinding.scores else ""


def _points(measure: Measure) -> list[str]:
    """Return the points that have a button; none where the scale is too long or not whole."""
    assert measure.scale_low is not None
    assert measure.scale_high is not None
    low, high = measure.scale_low, measure.scale_high
    whole = low.is_integer() and high.is_integer() and high - low < MOST_BUTTONS
    return [str(point) for point in range(int(low), int(high) + 1)] if whole else []


def _given(
    record: Any, measure: Measure, cook: Cook, pieces: list[Piece]
) -> list[tuple[str, str, list[tuple[str, float]], Knowing]]:
    """Return (ballot, taster, each piece and its score, how blind) of a cook."""
    samples = {sample.id: sample for sample in record.samples}
    names = {taster.id: taster.name for taster in record.tasters}
    rows = []
    for ballot in record.ballots:
        if (ballot.cook, ballot.measure) != (cook.id, measure.id) or not ballot.scores:
            continue
        by_piece = {samples[one.sample].piece: one.value for one in ballot.scores}
        name = names.get(ballot.taster, ballot.taster)
        values = [(piece.name, by_piece[piece.id]) for piece in pieces if piece.id in by_piece]
        rows.append((ballot.id, name, values, ballot_knowing(ballot, samples)))
    return rows
