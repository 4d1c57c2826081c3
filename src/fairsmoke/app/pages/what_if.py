"""What if: arms simulated side by side, asked in a form, run in the background, kept."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fairsmoke.answers.queue import JobQueue, Stage
from fairsmoke.answers.what_if import DRAWS, WhatIf, note_asked, plan_by_hand
from fairsmoke.app.auth import Book, Told
from fairsmoke.app.navigation import Place
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.finding import FindingSeer
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import FromQueue
from fairsmoke.app.pages.record import FormFields
from fairsmoke.app.pages.stored_answers import newest, read_kept, tidy
from fairsmoke.app.pages.weighings import chosen_cook, newest_first
from fairsmoke.app.pages.what_if_form import METHOD_FIELDS, Form, filled, kept_form, usual_form
from fairsmoke.app.pages.words import AIRS, CUT_NAMES, HOLD_WRAPS, HUMIDITY, STANDING_SAID, WRAPS
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.trial_state import trial_state
from fairsmoke.trial.cook import Cook, Piece

router = APIRouter()
PLACES = (
    Place(N_("What if"), "what_if", "notebook", 20, May.SEE_FINDINGS),
    Place(N_("What if"), "trial_what_if", "trial", 65, May.SEE_FINDINGS),
)

WAIT_S = 1.0
_RECENT = 12
_MOST_PIECES = 4


@router.get("/what-if", name="what_if")
def what_if_page(
    page: OnPage,
    told: Told,
    _: FindingSeer,
    again: Annotated[str, Query(max_length=40)] = "",
) -> HTMLResponse:
    """Show the form, empty or filled as in a what-if that was asked before; and the latest ones."""
    form = usual_form(page.way.units)
    if again:
        asked = _asked(told.results, again)
        form = kept_form(asked) if not asked.trial else form
    return _form_page(page, told.results, form)


def _form_page(page: Page, results: Path, form: Form, problem: str = "") -> HTMLResponse:
    return page.show(
        "what_if.html",
        status=422 if problem else 200,
        form=form,
        problem=problem,
        cuts=CUT_NAMES,
        wraps=WRAPS,
        hold_wraps=HOLD_WRAPS,
        humidity=HUMIDITY,
        airs=AIRS,
        cautioned=STANDING_SAID,
        draws=DRAWS,
        fields=METHOD_FIELDS,
        recent=_recent(results),
    )


@router.post("/what-if", name="ask_what_if")
def ask(page: OnPage, told: Told, jobs: FromQueue, _: FindingSeer, given: FormFields) -> Response:
    """Take a what-if in, and lead to its page."""
    form = filled(given, page.way.units)
    asked = form.asked(page.way.units)
    try:
        # Whatever can be seen to be wrong is said beside the form, not after waiting.
        plan_by_hand(asked)
    except JobError as error:
        return _form_page(page, told.results, form, str(error).replace("--", ""))
    return _taken(page, told.results, jobs, asked)


@router.get("/trials/{trial}/what-if", name="trial_what_if")
def trial_page(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    told: Told,
    _: FindingSeer,
    cook: Annotated[str, Query(max_length=60)] = "",
) -> HTMLResponse:
    """Show the form for the trial's own arms on pieces that were cooked."""
    cooks = newest_first(book.list(Cook, trial=trial.id))
    chosen = chosen_cook(cooks, cook)
    pieces = _pieces(book, trial.id, chosen)
    return page.show(
        "trial_what_if.html",
        trial=trial,
        cooks=cooks,
        cook=chosen,
        pieces=pieces,
        most=_MOST_PIECES,
        cautioned=STANDING_SAID,
        cuts=CUT_NAMES,
        draws=DRAWS,
        recent=[one for one in _recent(told.results) if one["trial"] == trial.id],
    )


def _pieces(book: Notebook, trial: str, cook: Cook | None) -> list[Piece]:
    if cook is None:
        return []
    return [one for one in book.list(Piece, trial=trial, cook=cook.id) if one.arm is not None]


@router.post("/trials/{trial}/what-if", name="ask_trial_what_if")
def ask_of_trial(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    told: Told,
    jobs: FromQueue,
    _: FindingSeer,
    given: FormFields,
) -> RedirectResponse:
    """Take a what-if of a trial in, and lead to its page."""
    pieces = sorted(name.removeprefix("piece-") for name in given if name.startswith("piece-"))
    if not 0 < len(pieces) <= _MOST_PIECES:
        message = N_("Choose one to %(most)s pieces.", most=_MOST_PIECES)
        raise AppError(422, "pieces", message)
    with book.reading() as connection:
        state = trial_state(connection, trial.id)
    asked = WhatIf(
        units=asdict(page.way.units),
        trial=trial.id,
        state=json.dumps(asdict(state)),
        pieces=pieces,
        cuts={one: cut for one in pieces if (cut := given.get(f"cut-{one}", "")) in CUT_NAMES},
        measured=given.get("measured") == "yes",
        draws=_draws(given),
        whole_body=given.get("body") != "quick",
    )
    return _taken(page, told.results, jobs, asked)


def _draws(given: dict[str, str]) -> int:
    said = given.get("draws", "")
    return int(said) if said in map(str, DRAWS) else DRAWS[0]


def _taken(page: Page, results: Path, jobs: JobQueue, asked: WhatIf) -> RedirectResponse:
    place = note_asked(asked, results)
    tidy(place.parent)
    if not (place / "page.json").is_file():
        jobs.submit(asked.key, "what-if", asdict(asked))
    return page.go("what_if_answer", key=asked.key)


@router.get("/what-if/{key}", name="what_if_answer")
def answer(page: OnPage, told: Told, jobs: FromQueue, _: FindingSeer, key: str) -> HTMLResponse:
    """Show what came of a what-if, or how far it is."""
    asked = _asked(told.results, key)
    work = jobs.find(key)
    if work is not None and work.going:
        work.ended.wait(WAIT_S)
    place = told.results / "what-ifs" / key
    found = read_kept(place / "page.json")
    going = work is not None and work.going and found is None
    problem = work.problem if work is not None and work.stage is Stage.FAILED else ""
    return page.show(
        "what_if_answer.html",
        key=key,
        asked=asked,
        found=found,
        work=work if going else None,
        failed=work is not None and work.stage is Stage.FAILED,
        problem=page.way.say(problem).replace("--", ""),
        doing=N_("The cooks are being simulated"),
        stop=page.path("stop_what_if", key=key),
        pictures=page.path("what_if_picture", key=key, name="X", form="svg").removesuffix("X.svg"),
    )


@router.post("/what-if/{key}/stop", name="stop_what_if")
def stop(page: OnPage, jobs: FromQueue, _: FindingSeer, key: str) -> RedirectResponse:
    """Stop a what-if; the cooks that were run are kept."""
    jobs.stop(key)
    work = jobs.find(key)
    if work is not None:
        work.ended.wait(3.0)
    return page.go("what_if_answer", key=key)


@router.post("/what-if/{key}/go-on", name="go_on_what_if")
def go_on(page: OnPage, told: Told, jobs: FromQueue, _: FindingSeer, key: str) -> RedirectResponse:
    """Go on with a what-if that was stopped."""
    return _taken(page, told.results, jobs, _asked(told.results, key))


def _asked(results: Path, key: str) -> WhatIf:
    content = read_kept(results / "what-ifs" / Path(key).name / "asked.json")
    if content is None:
        raise AppError(404, "no-what-if", N_("This what-if is no longer kept. Ask it again."))
    return WhatIf(**content)


def _recent(results: Path) -> list[dict[str, Any]]:
    """Return the latest what-ifs: their key, title, arms and trial."""
    found = []
    for place in newest(results / "what-ifs", _RECENT):
        asked, shown = read_kept(place / "asked.json"), read_kept(place / "page.json")
        if asked is not None:
            title = shown["title"] if shown else asked["trial"] or asked["piece"].get("cut", "")
            arms = shown["arms"] if shown else []
            found.append({"key": place.name, "title": title, "arms": arms, "trial": asked["trial"]})
    return found
