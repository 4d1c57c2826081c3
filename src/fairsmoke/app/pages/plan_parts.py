"""What the pages of a plan have in common: what is recorded of it, and looking it over."""

import json
from dataclasses import asdict, dataclass
from typing import Annotated, Any

from fastapi import Depends, Request

from fairsmoke.answers.queue import Job, JobQueue, JobStage
from fairsmoke.app.auth import Book, Visiting
from fairsmoke.app.page import Page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.trial_state import trial_state
from fairsmoke.telling.document import from_json, said
from fairsmoke.trial.cook import Cooker, Piece
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial
from fairsmoke.trial.registration import Registration

WAIT_S = 0.02
"""A page that is looked at does not wait; what is worked out comes at a later look."""


@dataclass(frozen=True)
class PlanStands:
    """What is recorded of a trial's plan."""

    plan: Plan | None
    registration: Registration | None
    begun: frozenset[str]
    """Pieces that are recorded in a cook."""

    @property
    def fixed(self) -> Message | None:
        """Why the layout and what is at hand can no longer be changed; None while they can."""
        if self.registration is not None:
            return N_("The plan is registered: tell what is done otherwise in an amendment.")
        if self.begun:
            return N_("Pieces are being cooked, so the plan stays as it is.")
        return None


def plan_stands(book: Notebook, trial: str) -> PlanStands:
    """Return what is recorded of a trial's plan."""
    return PlanStands(
        next(iter(book.list(Plan, trial=trial)), None),
        next(iter(book.list(Registration, trial=trial)), None),
        frozenset(piece.id for piece in book.list(Piece, trial=trial) if piece.cook is not None),
    )


def _stands(trial: FoundTrial, book: Book) -> PlanStands:
    return plan_stands(book, trial.id)


Stands = Annotated[PlanStands, Depends(_stands)]
"""What is recorded of the plan of the trial in the address."""


def _jobs(request: Request, visitor: Visiting) -> JobQueue:
    found: JobQueue = request.app.state.jobs
    return found.for_owner("" if visitor.person is None else visitor.person.owner)


FromQueue = Annotated[JobQueue, Depends(_jobs)]
"""The job queue, as the person signed in asks of it."""


def planned_key(kind: str, trial: Trial, stands: PlanStands, more: Any = None) -> str:
    """Return the key of work that rests on the question and the plan alone."""
    plan = None if stands.plan is None else stands.plan.model_dump(mode="json")
    return json.dumps([kind, trial.model_dump(mode="json"), plan, more], sort_keys=True)


def state_of(book: Notebook, trial: str) -> dict[str, int]:
    """Return the state of all that is recorded of a trial."""
    with book.reading() as connection:
        return asdict(trial_state(connection, trial))


def worked_out(jobs: JobQueue, key: str, kind: str, content: dict[str, Any]) -> Job:
    """Return the work under a key, begun if it never was; what failed is not begun again."""
    there = jobs.find(key)
    if there is None or there.stage is JobStage.STOPPED:
        there = jobs.submit(key, kind, content)
    if there.going:
        there.ended.wait(WAIT_S)
    return there


@dataclass(frozen=True)
class PlanLook:
    """What came of looking a plan over so far, said to who reads; ``job`` while it goes on."""

    found: dict[str, Any] | None = None
    failed: bool = False
    problem: str = ""
    job: Job | None = None


def looked_over(page: Page, jobs: JobQueue, trial: Trial, stands: PlanStands) -> PlanLook:
    """Return the look at a plan; an empty one when there is none to look at."""
    if stands.plan is None:
        return PlanLook()
    key = planned_key("look-at-plan", trial, stands)
    job = worked_out(jobs, key, "look-at-plan", {"trial": trial.id})
    found = said(from_json(job.result), page.way) if job.stage is JobStage.DONE else None
    failed = job.stage is JobStage.FAILED
    return PlanLook(found, failed, page.way.say(job.problem), job if job.going else None)


def place_names(book: Notebook) -> dict[str, str]:
    """Return each place in words by its text: {"barrel/left": "Barrel smoker, Left"}."""
    return {
        f"{cooker.id}/{position.id}": f"{cooker.name}, {position.name}"
        for cooker in book.list(Cooker)
        for position in cooker.positions
    }


def may_change(page: Page) -> bool:
    """Tell whether who looks may also change the plan."""
    return page.person is not None and page.person.may(May.SET_UP)
