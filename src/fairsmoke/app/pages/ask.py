"""Asking a trial: short questions, what is at hand, and what would spoil the answer."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from fastapi.responses import HTMLResponse

from fairsmoke.answers.queue import JobQueue
from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.errors import problems_in
from fairsmoke.app.forms import FormFields
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.cook_set_up import SPECIES
from fairsmoke.app.pages.kept_answers import FromAnswers
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import (
    FromQueue,
    PlanStands,
    Stands,
    looked_over,
    may_change,
    place_names,
)
from fairsmoke.app.pages.words import MEASURE_KINDS
from fairsmoke.app.pages.worth_trying_trial import trial_fields
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError, PlaceProblem
from fairsmoke.app.set_up import ask_form, at_hand_form
from fairsmoke.app.set_up.fields import Fields, free_handle, rows_of
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.setting_up.ask import ask as record_asked
from fairsmoke.setting_up.ask_answers import asked_of_answers
from fairsmoke.setting_up.at_hand import record_at_hand
from fairsmoke.setting_up.next_trial import carried_over
from fairsmoke.telling.numbers import show_size
from fairsmoke.telling.record_words import HUMIDITIES
from fairsmoke.telling.simulator_words import WRAPS
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.question import Trial

router = APIRouter()
PLACES = (
    NavigationLink(N_("Ask"), "ask_new", "notebook", 10, May.SET_UP),
    NavigationLink(N_("Ask"), "ask", "trial", 8, May.SEE_TRIALS),
)


@router.get("/ask", name="ask_new")
def ask_new(
    page: OnPage,
    book: Book,
    kept: FromAnswers,
    _: SettingUp,
    worth: Annotated[str, Query(max_length=40)] = "",
    after: Annotated[str, Query(max_length=60)] = "",
    measure: int = 0,
    row: int = 0,
) -> HTMLResponse:
    """Ask for a new trial by short questions.

    They are filled in when a contrast was found worth trying, and ``after`` an earlier trial.
    """
    if after:
        carried = ask_form.fields_of(carried_over(book, after))
        return _questions(page, book, carried, after=after)
    fields = trial_fields(kept, worth, measure, row) if worth else None
    return _questions(page, book, fields or ask_form.empty(page.way.units))


@router.post("/ask", name="ask_trial")
def ask_trial(page: OnPage, book: Book, person: SettingUp, sent: FormFields) -> Response:
    """Record the trial and what is at hand; what would spoil its answer is on its own page."""
    fields = dict(sent)
    try:
        handle = _asked(page, book, person.name, fields)
    except ValueError as error:
        return _questions(page, book, fields, problems_in(error, page.way))
    return page.go("ask", trial=handle)


def _asked(page: Page, book: Notebook, by: str, fields: Fields) -> str:
    known = book.list(Cooker)
    ticked = tuple(one.id for one in known if fields.get(f"cooker-{one.id}"))
    asked = asked_of_answers(ask_form.answers_of(fields, page.way.units, ticked))
    for cooker in asked.cookers:
        if cooker.id in {one.id for one in known}:
            raise JobError(N_("There is a cooker of that name already: tick it."), field="cooker")
    with book.reading() as connection:
        handle = free_handle(connection, "trial", "", asked.title)
    # Both the new one and those that were ticked.
    stand_in = (*ticked, *(cooker.id for cooker in asked.cookers))
    named = asked.model_copy(update={"id": handle, "stand_in": stand_in})
    return record_asked(book, named, by=by).trial.id


def _questions(
    page: Page,
    book: Notebook,
    fields: Fields,
    problems: list[PlaceProblem] | None = None,
    *,
    after: str = "",
) -> HTMLResponse:
    rows = {
        name: (rows_of(fields, name) + [{}] * count)[:count]
        for name, count in ask_form.ROWS.items()
    }
    return page.show(
        "ask_new.html",
        422 if problems else 200,
        fields=fields,
        after=next((one.title for one in book.trials() if one.id == after), ""),
        rows=rows,
        problems=problems or [],
        cookers=book.list(Cooker),
        species=SPECIES,
        wraps=WRAPS,
        humidities=HUMIDITIES,
        measure_kinds=MEASURE_KINDS,
    )


@router.get("/trials/{trial}/ask", name="ask")
def ask(page: OnPage, trial: FoundTrial, book: Book, stands: Stands, jobs: FromQueue) -> Response:
    """Show the question, what is at hand, and what would spoil the answer."""
    return _page(
        page, trial, book, stands, jobs, at_hand_form.fields_of(stands.plan, page.way.units)
    )


@router.post("/trials/{trial}/at-hand", name="put_at_hand")
def put_at_hand(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    stands: Stands,
    jobs: FromQueue,
    person: SettingUp,
    sent: FormFields,
) -> Response:
    """Record what is at hand; a layout that was drawn for something else is thrown away."""
    if stands.fixed is not None:
        raise AppError(409, "plan-fixed", stands.fixed)
    fields = dict(sent)
    why = fields.get("why", "").strip()
    try:
        at_hand = at_hand_form.at_hand_of(fields, page.way.units, stands.plan)
        reasons = tuple(at_hand_form.lines_of(fields.get("leave_out", "")))
        record_at_hand(book, trial.id, at_hand, reasons, by=person.name, why=why)
    except ValueError as error:
        problems = problems_in(error, page.way)
        return _page(page, trial, book, stands, jobs, fields, problems)
    return page.go("ask", trial=trial.id)


def _page(
    page: Page,
    trial: Trial,
    book: Notebook,
    stands: PlanStands,
    jobs: JobQueue,
    fields: Fields,
    problems: list[PlaceProblem] | None = None,
) -> HTMLResponse:
    look = looked_over(page, jobs, trial, stands)
    return page.show(
        "ask.html",
        422 if problems else 200,
        trial=trial,
        stands=stands,
        look=look,
        fields=fields,
        problems=problems or [],
        spots=place_names(book),
        species=SPECIES,
        kinds=MEASURE_KINDS,
        sizes={one.id: show_size(one, one.worthwhile) for one in trial.measures},
        changes=may_change(page),
        work=look.job,
        doing=N_("What would spoil the answer is looked for"),
    )
