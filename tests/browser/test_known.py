"""What is known, in a real browser: curves under the strict policy, what-ifs, no scripts."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.app.clients import TRIAL
from tests.app.server import Server
from tests.browser.axe import violations
from tests.browser.conftest import DESKTOP, PHONE, Visit

from fairsmoke.answers.demonstration_tonight import make_tonight
from fairsmoke.telling.simulator_words import STANDING

SignIn = Callable[[BrowserContext], Page]
CURVES = f"/trials/{TRIAL}/curves"
LONG_MS = 120_000
"""What is worked out in a process of its own may take a while on a busy machine."""


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Give a running app on the invented trial, whose last night is running now."""
    path = tmp_path / "tonight.db"
    make_tonight(path, datetime.now(UTC))
    running = Server(path).start()
    yield running
    running.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_curves_are_drawn_by_our_own_script_and_nothing_is_refused(
    visit: Visit, sign_in: SignIn, size: dict[str, int], theme: str
) -> None:
    page = sign_in(visit(size, color_scheme=theme, reduced_motion="reduce"))
    warned: list[str] = []
    page.on("console", lambda said: warned.append(said.text) if said.type == "warning" else None)
    page.goto(CURVES)
    canvas = page.locator("[data-drawing] canvas")
    expect(canvas).to_be_visible(timeout=LONG_MS)
    # Something is drawn: more than the ground and the axes' two or three colours.
    colours = canvas.evaluate(
        """(one) => {
          const { data } = one.getContext('2d').getImageData(0, 0, one.width, one.height);
          const seen = new Set();
          for (let at = 0; at < data.length; at += 4) {
            if (data[at + 3] > 250) seen.add(`${data[at]},${data[at + 1]},${data[at + 2]}`);
          }
          return seen.size;
        }"""
    )
    assert colours > 10
    assert violations(page) == []
    assert [one for one in warned if "WARN" in one] == []


def test_a_stretch_is_marked_and_looked_at_closer(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(DESKTOP))
    page.goto(CURVES)
    canvas = page.locator("[data-drawing] canvas")
    expect(canvas).to_be_visible(timeout=LONG_MS)
    box = canvas.bounding_box()
    assert box is not None
    y = box["y"] + box["height"] * 0.7
    page.mouse.move(box["x"] + box["width"] * 0.4, y)
    expect(page.locator("[data-readout]")).to_contain_text("°C")
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, y, steps=4)
    page.mouse.move(box["x"] + box["width"] * 0.6, y, steps=4)
    page.mouse.up()
    page.wait_for_url("**since=**")
    expect(canvas).to_be_visible(timeout=LONG_MS)
    expect(page.get_by_role("link", name="Whole cook")).to_be_visible()
    expect(page.get_by_role("link", name="Earlier")).to_be_visible()
    page.get_by_role("link", name="Whole cook").click()
    expect(page.get_by_role("link", name="Whole cook")).to_have_count(0)


def test_without_scripts_there_are_a_picture_buttons_and_the_numbers(
    visit: Visit, sign_in: SignIn
) -> None:
    page = sign_in(visit(PHONE, java_script_enabled=False))
    page.goto(CURVES)
    picture = page.locator("[data-drawing] img")
    expect(picture).to_be_visible()
    page.get_by_role("link", name="Nearer").click()
    expect(page.get_by_role("link", name="Whole cook")).to_be_visible()
    page.locator("summary").first.click()
    expect(page.locator("details[open] tbody tr").first).to_be_visible()


def test_a_finding_comes_without_scripts(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE, java_script_enabled=False))
    page.goto(f"/trials/{TRIAL}/finding")
    # By itself: the page refreshes until the finding is there.
    expect(page.get_by_role("heading", name="What it rests on")).to_be_visible(timeout=LONG_MS)
    expect(page.locator(".answer")).to_contain_text("interval")


def test_a_what_if_is_asked_and_answered_while_one_waits(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE, reduced_motion="reduce"))
    page.goto("/what-if")
    page.get_by_label("quick").check()
    page.get_by_role("button", name="Simulate").click()
    page.wait_for_url("**/what-if/*")
    expect(page.get_by_role("heading", name="What to expect")).to_be_visible(timeout=LONG_MS)
    expect(page.locator("main .minded").first).to_contain_text(str(STANDING)[:40])
    assert violations(page) == []
    page.get_by_role("link", name="Ask another way").click()
    expect(page.get_by_label("quick")).to_be_checked()
