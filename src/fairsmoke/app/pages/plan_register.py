"""Registering a plan: freezing it, its digest, its amendments, and what was done otherwise."""

import json
from typing import Annotated, Any

from fastapi import APIRouter, Form, Response
from fastapi.responses import HTMLResponse

from fairsmoke.answers.queue import Job, JobQueue, Stage
from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import (
    FromQueue,
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
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.setting_up.register import amend, register
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
    except JobError:
        if plan_stands(book, trial.id) != stands:
            raise AppError(409, "changed", N_("The plan was changed meanwhile. Look again.")) from (
                None
            )
        # All that is left to hold it up is a result that was seen before.
        message = N_(
            "There are results already, and a plan is registered before the first. You can freeze "
            "it all the same; the trial stays exploratory, and every report says so."
        )
        return _page(page, trial, book, stands, jobs, message, late=True)
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
    if not why.strip():
        message = N_("Say why; every report shows it.")
        return _page(page, trial, book, stands, jobs, message, said=what)
    try:
        amend(book, trial.id, what=what.strip(), why=why.strip(), by=person.name)
    except JobError:
        message = N_(
            "Nothing differs from the registered plan and its amendments. Change the trial first, "
            "or say in words what is done otherwise."
        )
        return _page(page, trial, book, stands, jobs, message, why=why)
    return page.go("plan_register", trial=trial.id)


def _page(
    page: Page,
    trial: Trial,
    book: Notebook,
    stands: PlanStands,
    jobs: JobQueue,
    problem: Message | None = None,
    *,
    late: bool = False,
    said: str = "",
    why: str = "",
) -> HTMLResponse:
    work: Job | None
    if stands.registration is not None:
        state = state_of(book, trial.id)
        key = json.dumps(["deviations", trial.id, state])
        work = worked_out(jobs, key, "deviations", {"trial": trial.id})
    else:
        work = looked_over(jobs, trial, stands)
    done = work is not None and work.stage is Stage.DONE
    result: dict[str, Any] = work.result if work is not None and done else {}
    return page.show(
        "plan_register.html",
        422 if problem is not None else 200,
        trial=trial,
        stands=stands,
        registration=stands.registration,
        layout=None if stands.plan is None else stands.plan.layout,
        redraw=result.get("redraw"),
        remarks=len(result.get("remarks", ())),
        differs=result.get("found"),
        problem=problem,
        late=late,
        said=said,
        why=why,
        changes=may_change(page),
        file=page.path("registered_plan", trial=trial.id),
        work=work if work is not None and work.going else None,
        doing=N_("The plan is looked over"),
        stop="",
    )
