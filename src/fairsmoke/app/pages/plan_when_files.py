"""A day to take away: the run sheet to write on, and the reminders for a calendar."""

from fastapi import APIRouter
from fastapi.responses import FileResponse

from fairsmoke.answers.when_kept import calendar_name, kept_day, sheet_name
from fairsmoke.app.auth import Book, Told
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_

router = APIRouter()


@router.get("/trials/{trial}/plan/when/{day}/run-sheet.pdf", name="run_sheet")
def run_sheet(page: OnPage, trial: FoundTrial, book: Book, told: Told, day: str) -> FileResponse:
    """Hand out the run sheet, on the paper and by the clock of whoever asks."""
    paper = "us-letter" if page.way.units.length == "in" else "a4"
    return _handed_out(trial.id, book, told, day, sheet_name(paper, page.way.clock), "run-sheet")


@router.get("/trials/{trial}/plan/when/{day}/reminders.ics", name="reminders")
def reminders(page: OnPage, trial: FoundTrial, book: Book, told: Told, day: str) -> FileResponse:
    """Hand out the reminders as an iCalendar file."""
    return _handed_out(trial.id, book, told, day, calendar_name(page.way.clock), "reminders")


def _handed_out(
    trial: str, book: Book, told: Told, day: str, kept_as: str, called: str
) -> FileResponse:
    kept = kept_day(told.results, book.path, trial, day)
    path = None if kept is None else kept.folder / kept_as
    if kept is None or path is None or not path.is_file():
        raise AppError(404, "no-day", N_("This day is no longer kept. Ask for it again."))
    kind = "text/calendar" if path.suffix == ".ics" else "application/pdf"
    name = f"{called}-{trial}-{kept.asked.cook}{path.suffix}"
    return FileResponse(path, filename=name, media_type=kind)
