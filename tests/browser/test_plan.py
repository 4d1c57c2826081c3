"""Asking and planning in a browser: without scripts, on the phone, and for everybody.

Accessible (axe-core, best practices included), in both sizes and themes, at every step of a plan.
"""

import os
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar
from playwright.sync_api import BrowserContext, Page
from pypdf import PdfReader
from tests.app.server import Server
from tests.browser.axe import OF_COLOURS, violations
from tests.browser.conftest import DESKTOP, PHONE, Visit

from fairsmoke.notebook import Notebook
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.registration import Registration

TRIAL = "sheet-or-nothing"
SignIn = Callable[[BrowserContext], Page]
PICTURES = os.environ.get("FAIRSMOKE_PICTURES", "")


def ask(page: Page) -> None:
    page.goto("/ask")
    for label, said in (
        ("What do you want to know?", "Does a shoulder keep more in paper?"),
        ("Short title", "Sheet or nothing"),
        ("What differs between the arms, and nothing else", "paper at the stall, or none"),
        ("Which cut?", "pork shoulder"),
        ("Its places, with commas between", "Left, Right"),
        ("A new cooker", "Hall smoker"),
        ("Price of a piece", "30"),
        ("Currency", "EUR"),
    ):
        page.get_by_label(label, exact=True).fill(said)
    page.locator("[name=pieces]").fill("s-1: 3.4, 11\ns-2: 3.5, 11\ns-3: 4.2, 12\ns-4: 4.4, 12")
    page.locator("[name=arm-0-name]").fill("Left bare")
    page.locator("[name=arm-1-name]").fill("In paper")
    page.locator("[name=arm-1-wrap]").select_option("paper")
    page.get_by_role("button", name="Ask it so").click()
    page.wait_for_url(f"**/trials/{TRIAL}/ask")


def until(page: Page, path: str, words: str) -> None:
    """Look again until what is worked out beside the app is there."""
    for _ in range(60):
        page.goto(path)
        if words in page.content():
            return
        page.wait_for_timeout(1000)
    pytest.fail(f"{words!r} never came on {path}")


def look(page: Page, name: str) -> None:
    """Look for violations in both sizes and themes, and whether anything sticks out."""
    found = {}
    for size, called in ((PHONE, "phone"), (DESKTOP, "desktop")):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme, reduced_motion="reduce")
            if wrong := violations(page, OF_COLOURS if theme == "dark" else None):
                found[name, called, theme] = wrong
            if PICTURES:
                path = Path(PICTURES) / f"{name}-{called}-{theme}.png"
                page.screenshot(path=path, full_page=True)
    page.set_viewport_size({"width": 320, "height": 640})
    over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    assert found == {}
    assert over <= 0, name


def when(page: Page, base: str, *, scripts: bool) -> None:
    """From a registered plan to the day: what the trial's page points at, one tap from the plan."""
    page.goto(base)
    page.get_by_role("link", name="When to do what").click()
    page.wait_for_url(f"**{base}/plan/when")
    page.goto(f"{base}/plan")
    page.get_by_role("link", name=re.compile("When to do what.*1")).click()
    page.wait_for_url(f"**{base}/plan/when?cook=1")
    if scripts:
        look(page, "when-asked")
    serve = datetime.now(UTC) + timedelta(hours=4)
    page.locator("#serve").fill(serve.strftime("%Y-%m-%dT%H:%M"))
    page.get_by_role("button", name="Work the day out").click()
    until(page, page.url, "The earliest possible is")
    if scripts:
        look(page, "when-too-soon")
    # The time that is offered can be met.
    page.get_by_role("button", name=re.compile("Plan for")).click()
    until(page, page.url, "The day, for one pair of hands")
    # Nobody knows yet how this kitchen's cooks run: a day below an even chance gets no sheet, and
    # the page says what would mend it. The kitchen says how its last cooks ran, and takes the hold.
    assert page.get_by_role("link", name="Run sheet to print (PDF)").count() == 0
    assert "No run sheet is printed" in page.inner_text("main")
    if scripts:
        look(page, "when-no-sheet")
    page.get_by_text("Ask for another day").click()
    page.locator("#last_cooks").fill("+5 %, on time, -5 %")
    page.locator("#hold").fill("66 °C")
    without_sheet = page.url
    page.get_by_role("button", name="Work the day out").click()
    page.wait_for_url(lambda url: url != without_sheet)
    until(page, page.url, "The day, for one pair of hands")
    if scripts:
        look(page, "when")
    with page.expect_download() as sheet:
        page.get_by_role("link", name="Run sheet to print (PDF)").click()
    words = PdfReader(sheet.value.path()).pages[0].extract_text()
    assert "s-1" in words
    assert "In paper" in words
    with page.expect_download() as reminders:
        page.get_by_role("link", name="Reminders for a calendar (.ics)").click()
    calendar = Calendar.from_ical(Path(reminders.value.path()).read_bytes())
    assert any("put on" in str(one["summary"]) for one in calendar.walk("VEVENT"))


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "without"])
def test_from_a_question_to_a_cook_begun(
    visit: Visit, sign_in: SignIn, server: Server, scripts: bool
) -> None:
    context: BrowserContext = visit(PHONE, java_script_enabled=scripts)
    page = sign_in(context)
    ask(page)
    base = f"/trials/{TRIAL}"
    until(page, f"{base}/ask", "Weigh a dry wrap before")
    if scripts:
        look(page, "ask")
    until(page, f"{base}/plan", "is free of the cook")
    if scripts:
        look(page, "plan-to-draw")
    page.get_by_label("Seed, if it was agreed on; else chance makes one").fill("7")
    page.get_by_role("button", name="Draw who gets what").click()
    until(page, f"{base}/plan", "The same: this layout is what its seed gives.")
    if scripts:
        look(page, "plan-drawn")
        until(page, f"{base}/plan/how-many", "would settle it from one pair")
        look(page, "how-many")
        until(page, f"{base}/plan/register", "would still spoil")
        look(page, "register")
    page.goto(f"{base}/plan/register")
    page.get_by_label("I know that nothing of it can be changed afterwards").check()
    page.get_by_role("button", name="Register the plan").click()
    until(page, f"{base}/plan/register", "Nothing so far.")
    page.locator("[name=what]").fill("Charcoal from another bag.")
    page.locator("[name=why]").fill("The first was wet.")
    page.get_by_role("button", name="Keep this amendment").click()
    until(page, f"{base}/plan/register", "Charcoal from another bag.")
    if scripts:
        look(page, "registered")
        page.goto("/ask")
        look(page, "ask-new")
    when(page, base, scripts=scripts)
    page.goto(f"{base}/plan")
    page.get_by_role("button", name=re.compile("Begin this cook.*1")).click()
    page.wait_for_url(f"**{base}/cooks/cook-1/set-up")
    page.goto(f"{base}/plan")
    if scripts:
        look(page, "plan-begun")
    with Notebook.open(server.notebook) as book:
        plan = book.get(Plan, "plan", trial=TRIAL)
        (registration,) = book.list(Registration, trial=TRIAL)
    assert plan.layout is not None
    assert plan.layout.seed == 7
    assert registration.amendments[0].why == "The first was wet."


def test_the_keyboard_alone_reaches_all_of_the_questions(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(DESKTOP))
    page.goto("/ask")
    seen = set()
    for _ in range(140):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.name || document.activeElement.tagName"))
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('main input, main select, main textarea')]
          .filter((one) => one.type !== 'hidden' && one.checkVisibility()).map((one) => one.name)"""
    )
    assert set(wanted) <= seen
    assert {"SUMMARY", "BUTTON"} <= seen
