"""The watched folder: its files, which of them are read as they grow, starting and ending that."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.files import OnPending, OnWatcher, cook_choices, cook_meant
from fairsmoke.app.pages.readings import cook_names, ways
from fairsmoke.arriving.watched_files import Looked, active

router = APIRouter()
SHOWN_FILES = 50


@router.get("/readings/folder", name="folder")
def folder_page(page: OnPage, book: Book, watcher: OnWatcher, _: SettingUp) -> HTMLResponse:
    """List the files of the folder, and those that are read as they grow."""
    with book.reading() as connection:
        watches = active(connection)
    watched = {watch.path for watch in watches}
    files = [
        (path.name, path.stat().st_size, datetime.fromtimestamp(path.stat().st_mtime, UTC))
        for path in watcher.files()[:SHOWN_FILES]
        if path not in watched
    ]
    return page.show(
        "folder.html",
        ways=ways(page),
        folder=watcher.folder,
        files=files,
        watches=[(one, watcher.looked.get(one.id, Looked())) for one in watches],
        names=cook_names(book),
        cooks=cook_choices(book),
    )


@router.post("/readings/folder", name="watch_file")
def watch_file(
    page: OnPage,
    book: Book,
    pending: OnPending,
    watcher: OnWatcher,
    person: SettingUp,
    cook: Annotated[str, Form(max_length=200)],
    file: Annotated[str, Form(max_length=300)],
) -> RedirectResponse:
    """Show how a file of the folder would be read, before it is."""
    trial, handle = cook_meant(book, cook)
    kept = pending.watch(watcher.file_named(file), trial, handle, person.id)
    return page.go("look_at_file", key=kept.key)


@router.post("/readings/folder/{number}/end", name="end_watch")
def end_watch(page: OnPage, watcher: OnWatcher, person: SettingUp, number: int) -> RedirectResponse:
    """Read a file no longer; what came of it stays."""
    watcher.end(number, person.name)
    return page.go("folder")
