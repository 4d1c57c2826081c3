"""What a trial found: the answer and what it rests on, and the same to take away."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.answers.finding_queue import Findings, FindingState
from fairsmoke.answers.queue import Job
from fairsmoke.app.auth import needs
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_, Message
from fairsmoke.telling.document import said
from fairsmoke.trial.question import Trial

router = APIRouter()
PLACES = (NavigationLink(N_("Finding"), "finding", "trial", 60, May.SEE_FINDINGS),)

FindingSeer = Annotated[Person, Depends(needs(May.SEE_FINDINGS))]

WAIT_S = 2.0
"""How long a page waits for what is being worked out, before it says that it is."""

ROWS_AT_ONCE = 12
"""Rows of a long table that stand on the first page; all are a tap away."""

_BEHIND = ("overview", "plan", "conduct", "left-out", "methods", "cautions", "check")


def _findings(request: Request) -> Findings:
    found: Findings = request.app.state.findings
    return found


FromFindings = Annotated[Findings, Depends(_findings)]


@router.get("/trials/{trial}/finding", name="finding")
def finding_page(
    page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer
) -> HTMLResponse:
    """Show what was found; the newest that is kept, and what is being worked out anew."""
    seen = findings.wait(trial.id, WAIT_S)
    return _shown(page, trial, seen)


@router.post("/trials/{trial}/finding", name="find_again")
def find_again(
    page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer
) -> RedirectResponse:
    """Have the finding worked out of the record as it is now."""
    findings.look(trial.id, again=True)
    return page.go("finding", trial=trial.id)


def _shown(page: Page, trial: Trial, seen: FindingState) -> HTMLResponse:
    document = seen.document
    working = seen.work is not None and seen.work.going
    if document is None and working:
        return working_page(page, trial, seen.work, N_("The finding is being worked out"))
    if document is None:
        problem = seen.problem or N_("Something went wrong in the program. Try again.")
        return page.show("finding_none.html", trial=trial, problem=problem)
    titles = {name: section.title for name, section in document.sections.items()}
    rests = document.sections["measure-0"]
    pictures = [block for block in rests.blocks if block["kind"] == "figure"]
    return page.show(
        "finding.html",
        trial=trial,
        seen=seen,
        work=seen.work if working else None,
        doing=N_("Something was recorded since: it is being worked out anew"),
        brief=document.brief,
        front=said(document.front, page.way),
        rests=said([one for one in rests.blocks if one not in pictures], page.way),
        made=datetime.fromisoformat(document.brief["made"]),
        parts=[name for name in titles if name.startswith("measure-") or name in _BEHIND],
        titles=titles,
        rows=ROWS_AT_ONCE,
        pictures=_pictures(page, trial),
    )


def _pictures(page: Page, trial: Trial) -> str:
    return page.path("finding_picture", trial=trial.id, name="X").removesuffix("X.svg")


def working_page(page: Page, trial: Trial | None, work: Job | None, doing: Message) -> HTMLResponse:
    """Return the page that says what is being worked out, and looks again."""
    heading = trial.title if trial else page.way.say(doing)
    return page.show("working.html", trial=trial, work=work, doing=doing, heading=heading)


@router.get("/trials/{trial}/finding/parts/{part}", name="finding_part")
def finding_part(
    page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer, part: str
) -> HTMLResponse:
    """Show one part of what stands behind the answer, with all of its rows."""
    seen = findings.wait(trial.id, WAIT_S)
    document = seen.document
    if document is None and seen.work is not None and seen.work.going:
        return working_page(page, trial, seen.work, N_("The finding is being worked out"))
    shown = part.startswith("measure-") or part in _BEHIND
    if document is None or not shown or part not in document.sections:
        raise AppError(404, "no-part", N_("There is no such page."))
    section = document.sections[part]
    # The answer's own charts stand with the main measure's numbers as well.
    figures = [one for one in document.front["blocks"] if one["kind"] == "figure"]
    shown_blocks = [*(figures if part == "measure-0" else []), *section.blocks]
    return page.show(
        "finding_part.html",
        trial=trial,
        title=page.way.say(section.title),
        blocks=said(shown_blocks, page.way),
        pictures=_pictures(page, trial),
    )
