"""A real browser on a running app: Debian's Chromium, on phone and desktop."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright
from tests.app.clients import DATA
from tests.app.server import Server

from fairsmoke.notebook.folder.transfer import notebook_of_folder

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 800}


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """Give the one driver of browsers that a process may have at a time."""
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    path = shutil.which("chromium")
    if path is None:
        pytest.fail("there is no chromium; run scripts/system-tools.sh")
    launched = playwright.chromium.launch(executable_path=path, args=FLAGS)
    yield launched
    launched.close()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Give a running app on a notebook with a trial, started."""
    path = tmp_path / "live.db"
    notebook_of_folder(path, DATA).close()
    running = Server(path).start()
    yield running
    running.close()


Visit = Callable[..., BrowserContext]


@pytest.fixture
def visit(browser: Browser, server: Server) -> Iterator[Visit]:
    """Return a function that gives a browser's context of a size and theme, not signed in.

    Every request that would leave the app, and every complaint in the console, fails the test.
    """
    contexts: list[BrowserContext] = []
    wrong: list[str] = []

    def context(size: dict[str, int] | None = None, **more: object) -> BrowserContext:
        made = browser.new_context(
            viewport=size or PHONE,  # type: ignore[arg-type]
            base_url=server.address,
            has_touch=size is PHONE,
            **more,  # type: ignore[arg-type]
        )
        made.on(
            "request",
            lambda request: (
                None
                if request.url.startswith((server.address, "data:", "blob:"))
                else wrong.append(f"left the app: {request.url}")
            ),
        )
        made.on(
            "console",
            lambda said: (
                wrong.append(said.text)
                # That an answer was 404 or the server gone is what some tests are about.
                if said.type == "error" and not said.text.startswith("Failed to load resource")
                else None
            ),
        )
        made.on(
            "response",
            # 503: the disk is full, which is what some tests are about.
            lambda answer: (
                wrong.append(answer.url) if answer.status >= 500 and answer.status != 503 else None
            ),
        )
        made.on("weberror", lambda error: wrong.append(str(error.error)))
        contexts.append(made)
        return made

    yield context
    for one in contexts:
        one.close()
    assert wrong == []


@pytest.fixture
def sign_in(server: Server) -> Callable[[BrowserContext], Page]:
    """Return a function that signs a context in by the printed link, which works once."""

    def signed_in(context: BrowserContext) -> Page:
        page = context.new_page()
        page.goto(server.link)
        page.get_by_role("button").click()
        page.wait_for_url(server.address + "/")
        return page

    return signed_in
