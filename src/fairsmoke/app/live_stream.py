"""What a live page is told: the parts of it that changed, and the curve; every two seconds."""

import asyncio
import json
import logging
from collections.abc import AsyncIterator
from datetime import UTC, datetime

from fastapi import Request

from fairsmoke.app.page import Page
from fairsmoke.app.pages.cook_parts import curve_content, parts
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.sessions import find
from fairsmoke.app.running_cooks import RunningCooks, View
from fairsmoke.notebook import Notebook, NotebookError

_log = logging.getLogger("fairsmoke.app")

EVERY_S = 2.0
CURVE = "curve"
STILL_EVERY = 5
"""That nothing changed is said every so many rounds."""


async def told(
    page: Page, request: Request, book: Notebook, trial: str, cook: str
) -> AsyncIterator[dict[str, str]]:
    """Yield events: ``parts`` (name of a part: its HTML), ``curve``, ``still``, ``bye``.

    ``still`` says now and then that nothing changed; ``bye`` that this person may no longer see it.
    """
    pit: RunningCooks = request.app.state.running_cooks
    sent: dict[str, str] = {}
    before: View | None = None
    rounds = 0
    while not await request.is_disconnected():
        # Every round: a lost phone that was signed out shows nothing more after two seconds.
        if not await asyncio.to_thread(_still_in, page, book):
            yield {"event": "bye", "data": "{}"}
            return
        if rounds % STILL_EVERY == 0:
            yield {"event": "still", "data": "{}"}
        rounds += 1
        try:
            view = await asyncio.to_thread(pit.view, trial, cook)
            if view is not before:
                now = await asyncio.to_thread(_content, page, book, view)
                changed = {name: html for name, html in now.items() if sent.get(name) != html}
                if curve := changed.pop(CURVE, None):
                    yield {"event": CURVE, "data": curve}
                if changed:
                    yield {"event": "parts", "data": json.dumps(changed)}
                sent, before = now, view
        except NotebookError:
            # Busy, or struck out meanwhile: the page keeps what it has and is told later.
            _log.warning("A live page waits for cook %s", cook, exc_info=True)
        await asyncio.sleep(EVERY_S)


def _content(page: Page, book: Notebook, view: View) -> dict[str, str]:
    return {**parts(page, book, view), CURVE: json.dumps(curve_content(page, view))}


def _still_in(page: Page, book: Notebook) -> bool:
    with book.reading() as connection:
        found = find(connection, page.visitor.cookie, datetime.now(UTC))
    return found is not None and found[0].may(May.SEE_TRIALS)
