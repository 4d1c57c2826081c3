"""Readings in a real browser: live texts without a reload, a channel named, a file confirmed."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2
import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.app.clients import TRIAL
from tests.app.devices import NOW_COOK, batch, device, place, reading, start_cook
from tests.app.server import Server
from tests.browser.axe import violations
from tests.browser.conftest import DESKTOP, PHONE, Visit

from fairsmoke.notebook import Notebook

SignIn = Callable[[BrowserContext], Page]


@pytest.fixture
def token(server: Server) -> str:
    """Record a cook that is on, and make a device's token."""
    with Notebook.open(server.notebook) as book:
        start = start_cook(book, probes=("grate",))
        place(book, "grate", start)
        return device(book)


def post(server: Server, token: str, value: float | None, seconds_ago: float = 0) -> None:
    at = datetime.now(UTC) - timedelta(seconds=seconds_ago)
    answer = httpx2.post(
        f"{server.address}/api/readings",
        json=batch(reading("pit", value, at)),
        headers={"Authorization": f"Bearer {token}"},
        timeout=20,
    )
    assert answer.status_code == 200, answer.text


def sound(page: Page) -> None:
    """Hold the page to what holds for every page, in both sizes and themes."""
    for size in (PHONE, DESKTOP):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for theme in ("light", "dark"):
            # Colours that fade over are between the two for a moment.
            page.emulate_media(color_scheme=theme, reduced_motion="reduce")
            assert violations(page) == []
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert over <= 0


def test_what_comes_in_is_shown_while_the_page_is_open(
    visit: Visit, sign_in: SignIn, server: Server, token: str
) -> None:
    page = sign_in(visit(PHONE))
    page.goto("/readings")
    expect(page.get_by_text("Nothing has come in by itself yet.")).to_be_visible()
    post(server, token, 107.5)
    # A channel that was never seen brings its card by itself.
    expect(page.get_by_role("heading", name="pit")).to_be_visible(timeout=15_000)
    expect(page.locator("[data-cell=waiting]")).to_contain_text("1 reading is kept and waits")
    sound(page)
    page.get_by_label("Which probe is it?").select_option("grate")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("[data-cell=waiting]")).to_be_hidden()
    page.evaluate("window.same = true")
    post(server, token, 111.5)
    expect(page.locator("[data-cell=last]")).to_have_text("111.5 °C", timeout=10_000)
    expect(page.locator("[data-cell=cook]")).to_have_text("Now")
    post(server, token, 999)
    expect(page.locator("[data-cell=state]")).to_contain_text("Not believed: unplugged or broken")
    post(server, token, None)
    expect(page.locator("[data-cell=state]")).to_contain_text("Unplugged")
    assert page.evaluate("window.same")
    sound(page)


def test_a_file_is_confirmed_on_screen_without_scripts(
    visit: Visit, sign_in: SignIn, server: Server, token: str, tmp_path: Path
) -> None:
    start = datetime.now(UTC) - timedelta(hours=1)
    rows = [
        f"{(start + timedelta(minutes=n)).isoformat(timespec='seconds')},{105 + n % 3},{n}"
        for n in range(60)
    ]
    path = tmp_path / "night.csv"
    path.write_text("\n".join(["time,Pit,Step", *rows]) + "\n")
    page = sign_in(visit(PHONE, java_script_enabled=False))
    page.goto("/readings/files")
    page.get_by_label("Whose readings it holds").select_option(f"{TRIAL}/{NOW_COOK}")
    page.get_by_label("File, at most 64 MB").set_input_files(path)
    page.get_by_role("button", name="Look at it").click()
    page.get_by_label("°C", exact=True).check()
    page.get_by_label("Taken as: Step").select_option("ignore")
    page.get_by_role("button", name="Look again").click()
    page.get_by_label("Pit", exact=True).select_option("grate")
    page.get_by_role("button", name="Look again").click()
    expect(page.get_by_text("is read as")).to_be_visible()
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("status")).to_contain_text("60 rows: 60 read")
    with Notebook.open(server.notebook) as book:
        assert len(book.readings(TRIAL, NOW_COOK, "grate")) == 60


def test_the_pages_of_a_file_and_a_token_are_sound(
    visit: Visit, sign_in: SignIn, server: Server, token: str, tmp_path: Path
) -> None:
    path = tmp_path / "night.csv"
    at = datetime.now(UTC)
    path.write_text(f"time,Pit,Fan\n{at:%d/%m/%Y %H:%M},105,3\n{at:%d/%m/%Y %H:%M},106,3\n")
    page = sign_in(visit(PHONE))
    page.goto("/readings/files")
    page.get_by_label("Whose readings it holds").select_option(f"{TRIAL}/{NOW_COOK}")
    page.get_by_label("File, at most 64 MB").set_input_files(path)
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_url("**/readings/files/*")
    sound(page)
    page.goto("/readings/devices")
    page.get_by_label("What it is called").fill("The new one")
    page.get_by_role("button", name="Make a token").click()
    expect(page.get_by_role("heading", name="The token of The new one")).to_be_visible()
    sound(page)
    page.get_by_role("link", name="Done").click()
    page.get_by_role("button", name=re.compile("Withdraw its token.*The new one")).click()
    expect(page.get_by_text("The new one")).to_have_count(0)
