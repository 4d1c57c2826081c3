"""Which method is worth trying, in a browser: on the phone, without scripts, and for everybody."""

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.browser.axe import OF_COLOURS, violations
from tests.browser.conftest import DESKTOP, PHONE, Visit

SignIn = Callable[[BrowserContext], Page]
PICTURES = os.environ.get("FAIRSMOKE_PICTURES", "")
METHODS = os.environ.get("FAIRSMOKE_METHODS", "8")
LONG_MS = 240_000
"""What is worked out in a process of its own may take a while on a busy machine."""
DRAWN_ANEW_MS = 700
"""The chart waits for 300 ms until a window keeps its size."""


def ask(page: Page) -> None:
    """Ask for a small sweep, from the notebook's first page on."""
    page.get_by_role("link", name="Which method is worth trying").click()
    page.wait_for_url("**/worth-trying")
    page.get_by_label("Price of a piece").fill("60")
    page.get_by_label("Price of a cook").fill("25")
    page.get_by_label("Currency").fill("EUR")
    page.get_by_text("The place, and how many methods").click()
    page.get_by_label("How many methods to cook").fill(METHODS)
    page.get_by_role("button", name="Cook them in the simulator").click()
    page.wait_for_url("**/worth-trying/*")


def screens(page: Page) -> float:
    """Return how many screens of this phone a page is long, before anything is opened."""
    return float(page.evaluate("document.documentElement.scrollHeight / innerHeight"))


def look(page: Page, name: str) -> None:
    """Look for violations in both sizes and themes, and whether anything sticks out."""
    found = {}
    for size, called in ((PHONE, "phone"), (DESKTOP, "desktop")):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme, reduced_motion="reduce")
            # Another size and theme is drawn anew, a moment later.
            page.wait_for_timeout(DRAWN_ANEW_MS)
            if wrong := violations(page, OF_COLOURS if theme == "dark" else None):
                found[name, called, theme] = wrong
            if PICTURES:
                path = Path(PICTURES) / f"{name}-{called}-{theme}.png"
                page.screenshot(path=path, full_page=True)
    page.set_viewport_size({"width": 320, "height": 640})
    page.wait_for_timeout(DRAWN_ANEW_MS)
    over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    page.set_viewport_size({"width": 640, "height": 900})
    page.evaluate("document.documentElement.style.setProperty('font-size', '225%')")
    page.wait_for_timeout(DRAWN_ANEW_MS)
    over_large = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    page.evaluate("document.documentElement.style.removeProperty('font-size')")
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    small = page.evaluate(
        """() => [...document.querySelectorAll('main a, main button, main summary')]
          .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 44)
          .map((one) => one.outerHTML)"""
    )
    assert found == {}
    assert (over, over_large) == (0, 0) or max(over, over_large) <= 0, name
    assert small == []


def test_it_is_asked_left_come_back_to_and_chosen_from(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE))
    ask(page)
    expect(page.locator("[data-working]")).to_be_visible()
    address = page.url
    if PICTURES:
        page.screenshot(path=Path(PICTURES) / "worth-working-phone-light.png", full_page=True)
    # It goes on while somebody is elsewhere, and every page still comes at once.
    page.goto("/")
    begin = time.monotonic()
    page.goto("/worth-trying")
    assert time.monotonic() - begin < 10
    page.locator("a", has_text=f"{METHODS} methods").first.click()
    page.wait_for_url(address)
    expect(page.get_by_role("heading", name="To choose from")).to_be_visible(timeout=LONG_MS)
    canvas = page.locator("[data-drawing] canvas")
    expect(canvas).to_be_visible(timeout=LONG_MS)
    assert page.locator("dl.facts").count() > 0
    assert screens(page) <= 4
    expect(page.get_by_text("try pit").first).to_be_visible()
    expect(page.get_by_text("Take this as a rough guide")).to_be_visible()
    look(page, "worth-answer")
    page.get_by_role("link", name="methods that keep the limits").click()
    page.wait_for_url("**/methods")
    look(page, "worth-methods")
    page.goto(address)
    page.get_by_role("link", name="Ask another way").click()
    expect(page.get_by_label("Price of a piece")).to_have_value("60")
    assert screens(page) <= 5
    look(page, "worth-form")
    page.goto(address)
    page.get_by_role("heading", name="The next trial").click()
    page.get_by_role("link", name="Ask it as a trial").first.click()
    page.wait_for_url("**/ask?**")
    assert page.locator("[name=arm-1-name]").input_value()
    assert violations(page) == []


def test_what_is_kept_is_said_in_german(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE))
    ask(page)
    expect(page.get_by_role("heading", name="To choose from")).to_be_visible(timeout=LONG_MS)
    address = page.url
    page.goto("/you")
    page.get_by_label("Deutsch").check()
    page.get_by_role("button", name="Save", exact=True).click()
    page.goto(address)
    expect(page.get_by_role("heading", name="Zur Auswahl")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    words = page.locator("main").inner_text()
    for english in (
        "draws",
        "points",
        "held",
        "Chance that",
        "keeps the limits",
        "Salmonella, log10 r",
    ):
        assert english not in words
    page.goto(address)
    look(page, "worth-answer-de")


def test_it_comes_without_scripts(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE, java_script_enabled=False))
    ask(page)
    # By itself: the page refreshes until the answer is there.
    expect(page.get_by_role("heading", name="To choose from")).to_be_visible(timeout=LONG_MS)
    picture = page.locator("[data-drawing] img")
    picture.scroll_into_view_if_needed()
    expect(picture).to_be_visible()
    assert picture.evaluate("(one) => one.decode().then(() => one.naturalWidth)") > 300
    page.get_by_role("heading", name="The next trial").click()
    expect(page.get_by_role("heading", name="By yield")).to_be_visible()


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "without"])
def test_it_can_be_stopped_and_gone_on_with(visit: Visit, sign_in: SignIn, scripts: bool) -> None:
    page = sign_in(visit(PHONE, java_script_enabled=scripts))
    page.goto("/worth-trying")
    page.get_by_role("button", name="Cook them in the simulator").click()
    page.wait_for_url("**/worth-trying/*")
    # Expected before it is tapped: what the page shows in its place is then told.
    expect(page.get_by_role("button", name="Stop")).to_be_visible(timeout=30_000)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("button", name="Go on")).to_be_visible(timeout=30_000)
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("[data-working]")).to_be_visible()
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_text("Stopped.")).to_be_visible(timeout=LONG_MS)
