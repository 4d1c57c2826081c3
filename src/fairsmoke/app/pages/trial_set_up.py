"""Setting a trial up: its question, arms, protocol and measures; and what is still to be set up."""

from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.entries.consistency import WHY, set_up
from fairsmoke.app.errors import problems_in
from fairsmoke.app.forms import FormFields
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.words import MEASURE_KINDS
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import PlaceProblem
from fairsmoke.app.set_up import trial_form
from fairsmoke.app.set_up.fields import Fields, free_handle, rows_of
from fairsmoke.live.trial_status import planned_so_far
from fairsmoke.messages.message import N_
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_kept
from fairsmoke.telling.numbers import show_size
from fairsmoke.telling.record_words import COVERS, HUMIDITIES, PLACES_OF_STAGES
from fairsmoke.trial.cook import Cook, Cooker, Piece
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.question import Trial
from fairsmoke.trial.registration import Registration
from fairsmoke.trial.weighing import MeatState, Scale

router = APIRouter()
PLACES = (NavigationLink(N_("Set up"), "trial_set_up", "trial", 10, May.SET_UP),)


@router.get("/new-trial", name="trial_new")
def new_trial(page: OnPage, _: SettingUp) -> HTMLResponse:
    """Ask for a new trial."""
    return _form(page, trial_form.empty(), None)


@router.post("/new-trial", name="start_trial")
def start_trial(page: OnPage, sent: FormFields, book: Book, person: SettingUp) -> Response:
    """Record a new trial, or add a row to the form."""
    fields = dict(sent)
    if grown := _grown(fields):
        return _form(page, grown, None)
    try:
        with book.transaction(by=person.name) as transaction:
            handle = free_handle(transaction.connection, "trial", "", fields.get("title", ""))
            trial = trial_form.trial_of(fields, page.way.units, handle=handle)
            transaction.save(trial)
    except ValueError as error:
        return _form(page, fields, None, problems_in(error, page.way))
    return page.go("trial_set_up", trial=trial.id)


@router.get("/trials/{trial}/question", name="trial_edit")
def edit_trial(page: OnPage, trial: FoundTrial, book: Book, _: SettingUp) -> HTMLResponse:
    """Show a trial's set-up as a form."""
    return _form(page, trial_form.fields_of(trial, page.way.units), trial)


@router.post("/trials/{trial}/question", name="change_trial")
def change_trial(
    page: OnPage, sent: FormFields, trial: FoundTrial, book: Book, person: SettingUp
) -> Response:
    """Change a trial; what stood there stays in the history, with the reason."""
    fields = dict(sent)
    if grown := _grown(fields):
        return _form(page, grown, trial)
    try:
        with set_up(book, person.name, trial.id) as transaction:
            changed = trial_form.trial_of(fields, page.way.units, handle=trial.id)
            transaction.save(changed, why=fields.get("why", "").strip() or WHY)
    except ValueError as error:
        return _form(page, fields, trial, problems_in(error, page.way))
    return page.go("trial_set_up", trial=trial.id)


@router.get("/trials/{trial}/set-up", name="trial_set_up")
def set_up_page(page: OnPage, trial: FoundTrial, book: Book, _: SettingUp) -> HTMLResponse:
    """Show what a trial has, and what is still to be set up."""
    pieces = book.list(Piece, trial=trial.id)
    with book.reading() as connection:
        registered = load_kept(connection, KINDS["registration"], trial.id)
    return page.show(
        "trial_set_up.html",
        trial=trial,
        sizes={one.id: show_size(one, one.worthwhile) for one in trial.measures},
        protocols={arm.id: trial.protocol_of(arm.id) for arm in trial.arms},
        cooks=sorted(book.list(Cook, trial=trial.id), key=lambda one: one.starts, reverse=True),
        pieces=pieces,
        arms={arm.id: arm.name for arm in trial.arms},
        cookers=book.list(Cooker),
        probes=book.list(Probe),
        scales=book.list(Scale),
        undrawn=planned_so_far(book, trial.id) == "asked",
        registered=next((k.record for k in registered if isinstance(k.record, Registration)), None),
        **_words(),
    )


def _grown(fields: Fields) -> dict[str, str] | None:
    """Return the fields with one more row, when a button asked for that."""
    row = fields.get("more", "")
    if row not in trial_form.MOST:
        return None
    count = len(rows_of(fields, row))
    kept = {name: value for name, value in fields.items() if name != "more"}
    return kept if count >= trial_form.MOST[row] else kept | {f"{row}-{count}-name": ""}


def _form(
    page: Page, fields: Fields, trial: Trial | None, problems: list[PlaceProblem] | None = None
) -> HTMLResponse:
    return page.show(
        "trial_form.html",
        422 if problems else 200,
        trial=trial,
        fields=fields,
        rows={name: rows_of(fields, name) for name in trial_form.MOST},
        most=trial_form.MOST,
        problems=problems or [],
        **_words(),
    )


def _words() -> dict[str, Any]:
    return {
        "places_of_stages": PLACES_OF_STAGES,
        "covers": COVERS,
        "humidities": HUMIDITIES,
        "measure_kinds": MEASURE_KINDS,
        "states": list(MeatState),
    }
