"""Registering a plan: freezing it, its digest, its amendments, and what was done otherwise."""

import json
from typing import Annotated

from fastapi import APIRouter, Form, Response
from fastapi.responses import HTMLResponse

from fairsmoke.answers.queue import JobQueue
from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import (
    FromQueue,
    PlanLook,
    PlanStands,
    Stands,
    looked_over,
    may_change,
    plan_stands,
    state_of,
    worked_out,
)
from fairsmoke.app.problems import AppError
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook import Notebook
from fairsmoke.setting_up.register import amend, register
from fairsmoke.telling.document import from_json
from fairsmoke.telling.numbers import show_size
from fairsmoke.trial.question import Trial

router = APIRouter()


@router.get("/trials/{trial}/plan/register", name="plan_register")
def register_page(
    page: OnPage, trial: FoundTrial, book: Book, stands: Stands, jobs: FromQueue
) -> HTMLResponse:
    """Show what would be frozen, or what was, with its amendments and what differs."""
    return _page(page, trial, book, stands, jobs)


@router.post("/trials/{trial}/plan/register", name="register_plan")
def register_plan(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    stands: Stands,
    jobs: FromQueue,
    person: SettingUp,
    sure: Annotated[str, Form(max_length=5)] = "",
    late: Annotated[str, Form(max_length=5)] = "",
) -> Response:
    """Freeze the plan; what was seen already makes the trial exploratory all the same."""
    if stands.registration is not None:
        raise AppError(409, "registered", N_("This plan is registered already."))
    if stands.plan is not None and stands.plan.layout is None:
        raise AppError(409, "not-drawn", N_("Who gets what is not drawn yet."))
    if sure != "yes":
        message = N_("Tick that nothing of it can be changed afterwards.")
        return _page(page, trial, book, stands, jobs, message)
    try:
        register(book, trial.id, by=person.name, late=late == "yes")
    except JobError as error:
        if plan_stands(book, trial.id) != stands:
            message = N_("The plan was changed meanwhile. Look again.")
            raise AppError(409, "changed", message) from None
        return _page(page, trial, book, stands, jobs, error.message, late=error.field == "late")
    return page.go("plan_register", trial=trial.id)


@router.post("/trials/{trial}/plan/amend", name="amend_plan")
def amend_plan(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    stands: Stands,
    jobs: FromQueue,
    person: SettingUp,
    what: Annotated[str, Form(max_length=4000)] = "",
    why: Annotated[str, Form(max_length=4000)] = "",
) -> Response:
    """Keep a dated amendment that tells what differs from the registered plan, and why."""
    if stands.registration is None:
        raise AppError(409, "not-registered", N_("This plan is not registered: just change it."))
    try:
        amend(book, trial.id, what=what.strip(), why=why.strip(), by=person.name)
    except JobError as error:
        return _page(page, trial, book, stands, jobs, error.message, said=what, why=why)
    return page.go("plan_register", trial=trial.id)


def _page(
    page: Page,
    trial: Trial,
    book: Notebook,
    stands: PlanStands,
    jobs: JobQueue,
    problem: Words | None = None,
    *,
    late: bool = False,
    said: str = "",
    why: str = "",
) -> HTMLResponse:
    look, work = PlanLook(), None
    if stands.registration is not None:
        state = state_of(book, trial.id)
        key = json.dumps(["deviations", trial.id, state])
        work = worked_out(jobs, key, "deviations", {"trial": trial.id})
    else:
        look = looked_over(page, jobs, trial, stands)
    found = look.found or {}
    kept = work.result.get("found") if work is not None else None
    differs = None if kept is None else from_json(kept)
    going = work if work is not None and work.going else look.job
    return page.show(
        "plan_register.html",
        422 if problem is not None else 200,
        trial=trial,
        stands=stands,
        registration=stands.registration,
        layout=None if stands.plan is None else stands.plan.layout,
        redraw=found.get("redraw"),
        remarks=len(found.get("remarks", ())),
        differs=differs,
        worthwhile=show_size(trial.main_measure, trial.main_measure.worthwhile),
        problem=problem,
        late=late,
        said=said,
        why=why,
        changes=may_change(page),
        file=page.path("registered_plan", trial=trial.id),
        work=going,
        doing=N_("The plan is looked over"),
    )


@router.get("/trials/{trial}/plan/registered-plan.json", name="registered_plan")
def registered_plan(trial: FoundTrial, stands: Stands) -> Response:
    """Hand out the canonical file of a registered plan."""
    if stands.registration is None:
        raise AppError(404, "not-registered", N_("The plan of this trial is not registered."))
    name = f"registered-plan-{trial.id}.json"
    return Response(
        stands.registration.plan.encode(),
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
