"""What if: arms simulated side by side, asked in a form, worked out as a job, kept."""

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fairsmoke.answers.store import StoredResult, subject_of
from fairsmoke.answers.what_if import DRAWS, QUESTION, WhatIf, missing
from fairsmoke.app.auth import Book
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.pages.finding import FindingSeer
from fairsmoke.app.pages.kept_answers import (
    FromAnswers,
    KeptAnswers,
    KeptQuestion,
    add_answer_routes,
)
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.record import FormFields
from fairsmoke.app.pages.weighings import chosen_cook, newest_first
from fairsmoke.app.pages.what_if_form import METHOD_FIELDS, Form, filled, kept_form, usual_form
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.trial_state import trial_state
from fairsmoke.telling.document import from_json
from fairsmoke.telling.simulator_words import (
    AIRS,
    CUT_NAMES,
    HOLD_WRAPS,
    HUMIDITY,
    STANDING,
    WRAPS,
)
from fairsmoke.trial.cook import Cook, Piece

if TYPE_CHECKING:
    from fairsmoke.telling.chart_style import Drawable

router = APIRouter()
PLACES = (
    NavigationLink(N_("What if"), "what_if", "notebook", 20, May.SEE_FINDINGS),
    NavigationLink(N_("What if"), "trial_what_if", "trial", 65, May.SEE_FINDINGS),
)

WHAT_IF = KeptQuestion(
    QUESTION,
    "what_if",
    N_("What if?"),
    N_("The cooks are being simulated"),
    N_("Stopped. The cooks that were simulated are kept."),
)
_MOST_PIECES = 4


@router.get("/what-if", name="what_if")
def what_if_page(
    kept: FromAnswers, _: FindingSeer, again: Annotated[str, Query(max_length=40)] = ""
) -> HTMLResponse:
    """Show the form, empty or filled as in a what-if that was asked before; and the latest ones."""
    form = usual_form(kept.page.way.units)
    entry = kept.store.find(QUESTION, again)
    if entry is not None and entry.request and not entry.request["trial"]:
        form = kept_form(WhatIf(**entry.request))
    return _form_page(kept, form)


def _form_page(kept: KeptAnswers, form: Form, problem: Words = "") -> HTMLResponse:
    return kept.page.show(
        "what_if.html",
        status=422 if problem else 200,
        form=form,
        problem=problem,
        cuts=CUT_NAMES,
        wraps=WRAPS,
        hold_wraps=HOLD_WRAPS,
        humidity=HUMIDITY,
        airs=AIRS,
        standing=STANDING,
        draws=DRAWS,
        fields=METHOD_FIELDS,
        recent=_recent(kept),
    )


@router.post("/what-if", name="ask_what_if")
def ask(kept: FromAnswers, _: FindingSeer, given: FormFields) -> Response:
    """Take a what-if in, and lead to its page."""
    form = filled(given, kept.page.way.units)
    asked = form.asked()
    # Whatever can be seen to be wrong is said beside the form, not after waiting.
    if problem := missing(asked):
        return _form_page(kept, form, problem)
    kept.store.ask(asked.key, asdict(asked))
    return kept.take(WHAT_IF, asked.key, asdict(asked))


@router.get("/trials/{trial}/what-if", name="trial_what_if")
def trial_page(
    kept: FromAnswers,
    trial: FoundTrial,
    book: Book,
    _: FindingSeer,
    cook: Annotated[str, Query(max_length=60)] = "",
) -> HTMLResponse:
    """Show the form for the trial's own arms on pieces that were cooked."""
    cooks = newest_first(book.list(Cook, trial=trial.id))
    chosen = chosen_cook(cooks, cook)
    pieces = [] if chosen is None else book.list(Piece, trial=trial.id, cook=chosen.id)
    return kept.page.show(
        "trial_what_if.html",
        trial=trial,
        cooks=cooks,
        cook=chosen,
        pieces=[one for one in pieces if one.arm is not None],
        most=_MOST_PIECES,
        standing=STANDING,
        cuts=CUT_NAMES,
        draws=DRAWS,
        recent=_recent(kept, subject_of(book.path, trial.id)),
    )


@router.post("/trials/{trial}/what-if", name="ask_trial_what_if")
def ask_of_trial(
    kept: FromAnswers, trial: FoundTrial, book: Book, _: FindingSeer, given: FormFields
) -> RedirectResponse:
    """Take a what-if of a trial in, and lead to its page."""
    pieces = sorted(name.removeprefix("piece-") for name in given if name.startswith("piece-"))
    if not 0 < len(pieces) <= _MOST_PIECES:
        message = N_("Choose one to %(most)s pieces.", most=_MOST_PIECES)
        raise AppError(422, "pieces", message)
    with book.reading() as connection:
        state = trial_state(connection, trial.id)
    draws = given.get("draws", "")
    asked = WhatIf(
        trial=trial.id,
        state=json.dumps(asdict(state)),
        pieces=pieces,
        cuts={one: cut for one in pieces if (cut := given.get(f"cut-{one}", "")) in CUT_NAMES},
        measured=given.get("measured") == "yes",
        draws=int(draws) if draws in map(str, DRAWS) else DRAWS[0],
        whole_body=given.get("body") != "quick",
    )
    kept.store.ask(asked.key, asdict(asked), subject=subject_of(book.path, trial.id))
    return kept.take(WHAT_IF, asked.key, asdict(asked))


@router.get("/what-if/{key}", name="what_if_answer")
def answer(kept: FromAnswers, _: FindingSeer, key: str) -> HTMLResponse:
    """Show what came of a what-if, or how far it is."""
    asked = WhatIf(**kept.entry(WHAT_IF, key).request)
    again = kept.page.path("what_if") + f"?again={key}"
    if asked.trial:
        again = kept.page.path("trial_what_if", trial=asked.trial)
    return kept.show(WHAT_IF, key, _subject(asked), again=again)


def _chart(kept: KeptAnswers, entry: StoredResult) -> "Drawable":
    from fairsmoke.telling.simulated_chart import simulated_chart

    names, title = from_json(entry.get("names")), kept.document(WHAT_IF, entry.key.digest)[0].title
    return simulated_chart(entry.get("numbers"), names, title, kept.page.way)


add_answer_routes(router, WHAT_IF, May.SEE_FINDINGS, _chart)


def _subject(asked: WhatIf) -> Words:
    return CUT_NAMES.get(asked.piece.get("cut", ""), asked.trial)


def _recent(kept: KeptAnswers, subject: str = "") -> list[tuple[str, Words, bool]]:
    """Return the latest what-ifs: their path, their cut or trial with the arms, whether done."""
    found = []
    for one in kept.recent(WHAT_IF, subject):
        what = _subject(WhatIf(**one["request"]))
        arms = [kept.page.way.say(name) for name in one["names"]]
        label = N_("%(what)s: %(arms)s", what=what, arms=" / ".join(arms)) if arms else what
        found.append((one["path"], label, one["done"]))
    return found
