"""Stopping what is worked out for a page, and the page that says that it was stopped."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fairsmoke.answers.queue import JobStage
from fairsmoke.app.auth import Seer
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.plan_parts import FromQueue
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_

router = APIRouter()

STOPS_WITHIN_S = 3.0
"""How long an answer waits for a process to end."""


@router.post("/work/stop", name="stop_work", response_class=HTMLResponse)
def stop_work(
    page: OnPage,
    jobs: FromQueue,
    _: Seer,
    job: Annotated[str, Form(max_length=64)],
    back: Annotated[str, Form(max_length=2000)] = "/",
) -> Response:
    """Stop a job by its handle; only who asked for it, or who sets trials up, may.

    ``back`` is the page that waited for it: it would begin the job again, so it is not gone to.
    """
    found = jobs.named(job)
    if found is not None and not page.may_stop(found):
        raise AppError(403, "not-allowed", N_("This is not open to you here."))
    # Only to a page of ours: no scheme, no other host.
    back = back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"
    if found is not None:
        jobs.stop(found.key)
        found.ended.wait(STOPS_WITHIN_S)
    if found is None or found.stage in (JobStage.DONE, JobStage.FAILED):
        return RedirectResponse(back, 303)
    return page.show("stopped.html", back=back)
