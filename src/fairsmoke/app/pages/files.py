"""Taking in a logger's file on screen: sent, looked at, confirmed; and taken back when wrong."""

from typing import Annotated

from fastapi import APIRouter, Depends, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fairsmoke.app.auth import Book, SettingUp, Told
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages import arriving_view as shown
from fairsmoke.app.pages.readings import cook_names, ways
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.app.security.rate_limiter import TooLargeError
from fairsmoke.arriving import file_layout as looking
from fairsmoke.arriving.doubts import DoubtError
from fairsmoke.arriving.pending import Pending, PendingFiles
from fairsmoke.arriving.take_in import Taken, take_in, zone_notes
from fairsmoke.arriving.watched_files import Watcher, whole_lines
from fairsmoke.intake.text import IntakeError
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook, NotebookError
from fairsmoke.trial.clock import instant_of_ms
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.reading import Flag
from fairsmoke.trial.source import STREAM, Source

router = APIRouter()

USES = {
    "time": N_("the time"),
    "date": N_("the date"),
    "clock": N_("the time of day"),
    "value": N_("a probe"),
    "probe name": N_("which probe"),
    "unit": N_("the unit"),
    "ignore": N_("not used"),
}
UNITS = {"degC": "°C", "degF": "°F", "K": "K"}
SHOWN_SOURCES = 20


async def _pending(request: Request) -> PendingFiles:
    found: PendingFiles = request.app.state.pending
    return found


async def _watcher(request: Request) -> Watcher:
    found: Watcher = request.app.state.watcher
    return found


async def _fields(request: Request) -> FormData:
    return await request.form()


OnPending = Annotated[PendingFiles, Depends(_pending)]
OnWatcher = Annotated[Watcher, Depends(_watcher)]
Fields = Annotated[FormData, Depends(_fields)]


def cook_choices(book: Notebook) -> list[tuple[str, str]]:
    """Return every cook to choose from, those that are on first, then the latest."""
    by_trial = book.list_by_trial(Cook)
    found = [
        (cook.ends is None, cook.starts, f"{trial.id}/{cook.id}", f"{cook.name} ({trial.title})")
        for trial in book.trials()
        for cook in by_trial.get(trial.id, ())
    ]
    found.sort(key=lambda one: one[:2], reverse=True)
    return [one[2:] for one in found]


def cook_meant(book: Notebook, text: str) -> tuple[str, str]:
    """Return the trial and cook that a form names; raises AppError when there is none."""
    if text not in {value for value, _ in cook_choices(book)}:
        raise AppError(422, "no-cook", N_("Say which cook it belongs to."))
    trial, _, cook = text.partition("/")
    return trial, cook


@router.get("/readings/files", name="take_in")
def files_page(page: OnPage, book: Book, _: SettingUp) -> HTMLResponse:
    """Ask for a file, and list those that were taken in."""
    names = cook_names(book)
    known = {trial.id for trial in book.trials()}
    sources = [
        (source, trial, names[(trial, source.cook)])
        for trial, of_trial in book.list_by_trial(Source).items()
        for source in of_trial
        if source.layout != STREAM and trial in known
    ]
    sources.sort(key=lambda one: one[0].taken_in, reverse=True)
    return page.show(
        "files.html",
        ways=ways(page),
        cooks=cook_choices(book),
        sources=sources[:SHOWN_SOURCES],
        has_probes=bool(book.list(Probe)),
    )


@router.post("/readings/files", name="send_file")
def send_file(
    page: OnPage,
    book: Book,
    told: Told,
    pending: OnPending,
    person: SettingUp,
    cook: Annotated[str, Form(max_length=200)],
    file: Annotated[UploadFile, File()],
) -> RedirectResponse:
    """Keep a file aside and show how it would be read."""
    trial, handle = cook_meant(book, cook)
    content = file.file.read(told.limits.upload + 1)
    if len(content) > told.limits.upload:
        raise TooLargeError(told.limits.upload)
    if not content:
        raise AppError(422, "no-file", N_("Choose a file that is not empty."))
    name = (file.filename or "").replace("\\", "/").rpartition("/")[2][:150].strip() or "file"
    kept = pending.keep(content, name, trial, handle, person.id)
    return page.go("look_at_file", key=kept.key)


@router.get("/readings/files/{key}", name="look_at_file")
def look_at_file(
    page: OnPage, book: Book, pending: OnPending, person: SettingUp, key: str
) -> HTMLResponse:
    """Show how a file would be read, and ask what only a person can tell."""
    return _looked_at(page, book, _found(pending, key, person), {})


@router.post("/readings/files/{key}", name="settle_file")
def settle_file(
    page: OnPage,
    book: Book,
    told: Told,
    pending: OnPending,
    watcher: OnWatcher,
    person: SettingUp,
    key: str,
    form: Fields,
) -> Response:
    """Look again with what was said, or take the file in."""
    kept = _found(pending, key, person)
    fields = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    if fields.get("do") != "take":
        return _looked_at(page, book, kept, fields)
    data, cook = _content(kept), book.get(Cook, kept.cook, trial=kept.trial)
    seen = looking.look(book, cook, data, kept.name, fields)
    if seen.answer is None or seen.read is None:
        return _looked_at(page, book, kept, fields)
    try:
        if kept.watched:
            watcher.begin(kept, seen.answer, seen.read, person.name, fields.get("why", ""))
            pending.let_go(key)
            return page.go("folder")
        taken = take_in(
            book,
            kept.trial,
            kept.cook,
            data,
            kept.name,
            seen.answer,
            by=person.name,
            why=fields.get("why", ""),
            anyway=fields.get("anyway") == "yes",
            found=seen.read,
        )
    except DoubtError as error:
        return _looked_at(page, book, kept, fields, doubts=error.doubts)
    except (JobError, IntakeError, NotebookError) as error:
        return _looked_at(page, book, kept, fields, wrong=(str(error),))
    pending.let_go(key)
    return _taken(page, kept, taken)


@router.post("/readings/sources/{trial}/{source}/strike", name="strike_source")
def strike_source(
    page: OnPage,
    book: Book,
    person: SettingUp,
    trial: str,
    source: str,
    why: Annotated[str, Form(max_length=500)],
) -> RedirectResponse:
    """Take back a file that was taken in wrongly; its readings stay in the history."""
    book.strike(Source, source, why=why, by=person.name, trial=trial)
    return page.go("take_in")


def _found(pending: PendingFiles, key: str, person: Person) -> Pending:
    kept = pending.find(key, person.id)
    if kept is None:
        message = N_("This file is no longer kept aside. Send it again; nothing was taken in.")
        raise AppError(404, "no-file", message)
    return kept


def _content(kept: Pending) -> bytes:
    return whole_lines(kept.path) if kept.watched else kept.path.read_bytes()


def _looked_at(
    page: Page,
    book: Notebook,
    kept: Pending,
    fields: dict[str, str],
    *,
    doubts: tuple[Message, ...] = (),
    wrong: tuple[str, ...] = (),
) -> HTMLResponse:
    cook = book.get(Cook, kept.cook, trial=kept.trial)
    context = {"ways": ways(page), "kept": kept, "cook": cook}
    try:
        seen = looking.look(book, cook, _content(kept), kept.name, fields)
    except IntakeError as error:
        return page.show("file_refused.html", 422, why=str(error), **context)
    first = None
    if seen.read is not None and seen.read.first_ms is not None:
        first = (seen.read.first_time, instant_of_ms(seen.read.first_ms))
    return page.show(
        "file_look.html",
        422 if wrong or doubts else 200,
        look=seen,
        probes=book.list(Probe),
        uses=USES,
        units=UNITS.items(),
        choice_names=UNITS,
        spans=[
            (name, count, instant_of_ms(a), va, instant_of_ms(b), vb)
            for name, count, a, va, b, vb in looking.first_and_last(seen.read)
        ]
        if seen.read
        else [],
        first=first,
        notes=(*zone_notes(seen.read, cook), *seen.read.notes) if seen.read else (),
        doubts=doubts,
        wrong=(*seen.wrong, *wrong),
        fields=fields,
        **context,
    )


def _taken(page: Page, kept: Pending, taken: Taken) -> HTMLResponse:
    flags = {str(flag.name): words for flag, words in shown.FLAGS.items()}
    assert set(flags) == {str(flag.name) for flag in Flag}
    return page.show("file_taken.html", ways=ways(page), taken=taken, flags=flags, trial=kept.trial)
