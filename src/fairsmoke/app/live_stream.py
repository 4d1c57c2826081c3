"""What a live page is told: the parts of it that changed, and the curve; every two seconds."""

import asyncio
import json
from collections.abc import AsyncIterator
from datetime import UTC, datetime

from fastapi import Request

from fairsmoke.app.page import Page
from fairsmoke.app.pages.cook_parts import curve_content, parts
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.sessions import find
from fairsmoke.app.pit import Pit
from fairsmoke.notebook import Notebook, NotebookError

EVERY_S = 2.0
STILL_IN_EVERY = 5
"""Whether somebody may still see it is looked at every so many rounds."""


async def told(
    page: Page, request: Request, book: Notebook, trial: str, cook: str
) -> AsyncIterator[dict[str, str]]:
    """Yield events: ``parts`` (name of a part of the page: its HTML), ``curve``, ``bye``."""
    pit: Pit = request.app.state.pit
    sent: dict[str, str] = {}
    rounds = 0
    while not await request.is_disconnected():
        if rounds % STILL_IN_EVERY == 0 and not await asyncio.to_thread(_still_in, page, book):
            yield {"event": "bye", "data": "{}"}
            return
        try:
            now = await asyncio.to_thread(_content, pit, page, book, trial, cook)
        except NotebookError:
            rounds += 1
            # Busy, or struck out meanwhile: the page keeps what it has and is told later.
            await asyncio.sleep(EVERY_S)
            continue
        curve = now.pop("curve")
        changed = {name: html for name, html in now.items() if sent.get(name) != html}
        if changed:
            yield {"event": "parts", "data": json.dumps(changed)}
        if sent.get("curve") != curve:
            yield {"event": "curve", "data": curve}
        if rounds % STILL_IN_EVERY == 0:
            # So that a page on which nothing changes knows that it is still told.
            yield {"event": "still", "data": "{}"}
        sent = {**now, "curve": curve}
        rounds += 1
        await asyncio.sleep(EVERY_S)


def _content(pit: Pit, page: Page, book: Notebook, trial: str, cook: str) -> dict[str, str]:
    view = pit.view(trial, cook)
    return {**parts(page, book, view), "curve": json.dumps(curve_content(page, view))}


def _still_in(page: Page, book: Notebook) -> bool:
    with book.reading() as connection:
        found = find(connection, page.visitor.cookie, datetime.now(UTC))
    return found is not None and found[0].may(May.SEE_TRIALS)
