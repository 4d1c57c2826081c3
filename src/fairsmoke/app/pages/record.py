"""One record with every state that it had; correcting it, striking it out, bringing it back."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, Seer, needs
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.doubted import WhatWaits, choices_of
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.words import KIND_NAMES
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.arriving.doubted import DoubtedError
from fairsmoke.arriving.doubted import bring_back as bring_back_asking
from fairsmoke.arriving.doubted import correct as correct_asking
from fairsmoke.live.changes import Field, fields_shown, latest, steps_of, zone_of
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook import Notebook, Revision
from fairsmoke.notebook.kinds import KINDS, Kind
from fairsmoke.trial.base import file_key
from fairsmoke.trial.question import Trial

router = APIRouter()
PLACES = (NavigationLink(N_("History"), "history", "trial", 85, May.SEE_TRIALS),)

Mender = Annotated[Person, Depends(needs(May.MEND))]

CHANGES_AT_ONCE = 40
_NOT_HERE = ("registration", "kitchen", "known_layout", "trial")
"""Kinds that pages do not change: what is frozen, and what other pages set up."""


@router.get("/trials/{trial}/history", name="history")
def history(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    kind: Annotated[str, Query(max_length=40)] = "",
    before: Annotated[int | None, Query(ge=1, le=2**62)] = None,
    every: bool = False,
) -> HTMLResponse:
    """Show what was changed in a trial, newest first; ``every`` shows first states too."""
    if kind and kind not in KINDS:
        raise AppError(404, "no-kind", N_("There is no such kind of record."))
    steps = latest(book, trial.id, kind or None, before, CHANGES_AT_ONCE + 1, changed=not every)
    shown = steps[:CHANGES_AT_ONCE]
    return page.show(
        "history.html",
        trial=trial,
        steps=shown,
        kind=kind,
        every=every,
        older=shown[-1].place if len(steps) > len(shown) else None,
        kinds={k: KIND_NAMES[k] for k, one in KINDS.items() if one.of_trial and k in KIND_NAMES},
        names=KIND_NAMES,
    )


def _kind(kind: str) -> Kind:
    found = KINDS.get(kind)
    if found is None:
        raise AppError(404, "no-kind", N_("There is no such kind of record."))
    return found


def _last(book: Notebook, trial: Trial, kind: Kind, handle: str) -> Revision:
    owner = trial.id if kind.of_trial else ""
    states = book.history(kind.name, handle, trial=owner)
    if not states:
        raise AppError(404, "no-record", N_("There is no such record."))
    return states[-1]


@router.get("/trials/{trial}/records/{kind}/{handle}", name="record_page")
def record_page(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    person: Seer,
    waiting: WhatWaits,
    kind: str,
    handle: str,
) -> HTMLResponse:
    """Show a record, its history, and the forms that mend it."""
    return _record(page, trial, book, person, waiting, _kind(kind), handle)


def _record(
    page: Page,
    trial: Trial,
    book: Notebook,
    person: Person,
    waiting: WhatWaits,
    known: Kind,
    handle: str,
    *,
    given: Mapping[str, str] | None = None,
    problem: Words = "",
    status: int = 200,
) -> HTMLResponse:
    """Return the page of a record; with what was ``given`` in its form, and why it was refused."""
    kind = known.name
    last = _last(book, trial, known, handle)
    zone = zone_of(book, last.body, trial.id, kind)
    return page.show(
        "record.html",
        status,
        given=given or {},
        problem=problem,
        trial=trial,
        kind=known,
        names=KIND_NAMES,
        last=last,
        fields=fields_shown(last, zone),
        steps=steps_of(book, last.key, zone),
        zone=zone,
        may_mend=person.may(May.MEND) and kind not in _NOT_HERE,
        doubts=[w.why for w in waiting if w.kind == kind and handle in (w.handle, w.also)],
    )


async def _form(request: Request) -> dict[str, str]:
    content = await request.form()
    return {name: value for name, value in content.items() if isinstance(value, str)}


FormFields = Annotated[dict[str, str], Depends(_form)]


@router.post("/trials/{trial}/records/{kind}/{handle}", name="correct")
def correct(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    mender: Mender,
    kind: str,
    handle: str,
    waiting: WhatWaits,
    given: FormFields,
) -> Response:
    """Correct the fields that were changed on the page; the old values stay in the history.

    Asks first when what is said then hardly can be true; nothing that was typed is lost, also
    when it is refused or somebody else changed the record meanwhile.
    """
    known, why = _open_kind(kind), given.get("why", "")
    last = _last(book, trial, known, handle)
    if given.get("number") != str(last.number):
        problem = N_("Somebody changed this meanwhile. Look at it again before you correct it.")
        return _record(
            page, trial, book, mender, waiting, known, handle,
            given=given, problem=problem, status=409,
        )  # fmt: skip
    zone = zone_of(book, last.body, trial.id, kind)
    changes: dict[str, Any] = {}
    for field in fields_shown(last, zone):
        said = given.get(f"field-{field.name}")
        if field.open and said is not None and _tidied(said) != _tidied(field.value):
            changes[field.name] = _value(field, said.strip())
    if changes:
        said_by = {"why": why, "by": mender.name, "trial": trial.id if known.of_trial else ""}
        try:
            correct_asking(book, kind, handle, changes, **said_by, insist="insist" in given)
        except DoubtedError as error:
            return _asked(page, trial, known, handle, given, error)
        except InputError as error:
            if error.kind not in ("invalid", "conflict"):
                raise
            return _record(
                page, trial, book, mender, waiting, known, handle,
                given=given, problem=error.message, status=422,
            )  # fmt: skip
    return page.go("record_page", trial=trial.id, kind=kind, handle=handle)


def _asked(
    page: Page,
    trial: Trial,
    kind: Kind,
    handle: str,
    given: dict[str, str],
    error: DoubtedError,
) -> Response:
    """Ask about what hardly can be true, with the form as it was sent behind each answer."""
    own = [one for one in error.asked if one.key.handle == handle]
    names = {file_key(name): f"field-{file_key(name)}" for name in kind.model.model_fields}
    return page.show(
        "record_ask.html",
        409,
        trial=trial,
        doubts=[one.question for one in error.asked],
        choices=choices_of(list(given.items()), own[0].likely if own else (), names),
        insisted=[*given.items(), ("insist", "yes")],
        back=page.path("history", trial=trial.id)
        if not handle
        else page.path("record_page", trial=trial.id, kind=kind.name, handle=handle),
    )


@router.post("/trials/{trial}/records/{kind}/{handle}/confirm", name="confirm")
def confirm(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    mender: Mender,
    kind: str,
    handle: str,
    why: Annotated[str, Form(max_length=2000)] = "",
) -> RedirectResponse:
    """Confirm a doubted record: it is right as it stands, and counts again."""
    book.confirm(kind, handle, why=why, by=mender.name, trial=trial.id)
    return page.go("record_page", trial=trial.id, kind=kind, handle=handle)


@router.post("/trials/{trial}/records/{kind}/{handle}/strike", name="strike")
def strike(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    mender: Mender,
    kind: str,
    handle: str,
    why: Annotated[str, Form(max_length=2000)] = "",
) -> RedirectResponse:
    """Strike a record out; it stays in the history and can be brought back."""
    owner = trial.id if _open_kind(kind).of_trial else ""
    book.strike(kind, handle, why=why, by=mender.name, trial=owner)
    return page.go("record_page", trial=trial.id, kind=kind, handle=handle)


@router.post("/trials/{trial}/records/{kind}/{handle}/bring-back", name="bring_back")
def bring_back(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    mender: Mender,
    kind: str,
    handle: str,
    why: Annotated[str, Form(max_length=2000)] = "",
    insist: Annotated[bool, Form()] = False,
) -> Response:
    """Bring back a record that was struck out; ask first when it hardly can be true."""
    known = _open_kind(kind)
    owner = trial.id if known.of_trial else ""
    said_by = {"why": why, "by": mender.name, "trial": owner}
    try:
        bring_back_asking(book, kind, handle, **said_by, insist=insist)
    except DoubtedError as error:
        # As it may have been meant it is corrected once it is back.
        return _asked(page, trial, known, "", {"why": why}, error)
    return page.go("record_page", trial=trial.id, kind=kind, handle=handle)


def _open_kind(kind: str) -> Kind:
    if kind in _NOT_HERE:
        raise AppError(403, "not-here", N_("This is not changed here."))
    return _kind(kind)


def _tidied(text: str) -> str:
    return " ".join(text.split())


def _value(field: Field, said: str) -> Any:
    if not said:
        return None
    return [part.strip() for part in said.split("+")] if field.several else said
