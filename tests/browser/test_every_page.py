"""Every page that the app knows, on the invented night that is running now.

Accessible (axe-core, best practices included) in both sizes, its colours in both themes; usable at
twice the text (WCAG 2.2, 1.4.4) and 320 CSS pixels wide (1.4.10); large targets (2.5.8 asks for 24
CSS pixels, we for 44). Each page is opened once and looked at in every way: opening takes longer.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from benchmarks.app_pages import TONIGHT, page_paths
from playwright.sync_api import Browser, BrowserContext, Page
from tests.app.server import Server
from tests.browser.axe import OF_COLOURS, violations
from tests.browser.conftest import DESKTOP, PHONE

from fairsmoke.answers.demonstration_tonight import make_tonight
from fairsmoke.app.factory import create_app
from fairsmoke.app.people import register, sessions
from fairsmoke.app.settings import Settings
from fairsmoke.notebook import Notebook


@pytest.fixture(scope="module")
def hall(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    path = tmp_path_factory.mktemp("hall") / "tonight.db"
    make_tonight(path, datetime.now(UTC))
    running = Server(path).start()
    yield running
    running.close()


@pytest.fixture(scope="module")
def signed_in(browser: Browser, hall: Server) -> Iterator[BrowserContext]:
    """Give one browser for all of them, signed in."""
    with Notebook.open(hall.notebook) as book, book.transaction() as transaction:
        cook = register.first_cook(transaction)
        token = sessions.begin(transaction, cook, timedelta(days=1), "test")
    # Without motion: colours that still change would be measured half-way.
    made = browser.new_context(base_url=hall.address, has_touch=True, reduced_motion="reduce")
    made.add_cookies([{"name": "fairsmoke", "value": token, "url": hall.address}])
    yield made
    made.close()


@pytest.fixture(scope="module")
def paths(hall: Server) -> dict[str, str]:
    with Notebook.open(hall.notebook) as book:
        return page_paths(create_app(Settings(hall.notebook), book), TONIGHT)


SKIP_LINK = "Skip to the content"

SMALL_TARGETS = """() => [...document.querySelectorAll('a, button, input, label, select, summary')]
  .filter((one) => !one.matches('.skip, .card-link, label[for], [type=hidden]'))
  .filter((one) => !one.matches('main p a, footer a, .choice input'))
  .filter((one) => one.checkVisibility())
  .filter((one) => one.getBoundingClientRect().height < 44)
  .map((one) => one.outerHTML)"""

MARK_WHAT_TAB_SHOULD_REACH = """() => {
  const fields = 'a[href], button, input, select, textarea, summary';
  const wanted = [...document.querySelectorAll(fields)]
    .filter((one) => !one.matches('[type=hidden], [type=radio], [aria-hidden]'))
    .filter((one) => !one.matches(':disabled'))
    .filter((one) => one.checkVisibility());
  wanted.forEach((one) => { one.dataset.wanted = ''; });
  document.addEventListener('focusin', (event) => { delete event.target.dataset.wanted; });
  delete document.activeElement.dataset.wanted;
  return wanted.length;
}"""

NOT_REACHED = """() => [...document.querySelectorAll('[data-wanted]')]
  .filter((one) => one.checkVisibility()).map((one) => one.outerHTML)"""


@dataclass
class Looked:
    """What is wrong, by page: nothing at all when all is well."""

    opened: list[str] = field(default_factory=list)
    violations: dict[tuple[str, int, str], list[object]] = field(default_factory=dict)
    too_wide_at_twice_the_text: dict[str, int] = field(default_factory=dict)
    too_wide_on_a_small_phone: dict[str, int] = field(default_factory=dict)
    small_targets: dict[str, list[str]] = field(default_factory=dict)
    without_skip_link: list[str] = field(default_factory=list)
    not_reached_by_keyboard: dict[str, list[str]] = field(default_factory=dict)


@pytest.fixture(scope="module")
def looked(signed_in: BrowserContext, paths: dict[str, str]) -> Looked:
    """Open one page after the other and look at each in every way."""
    page, found = signed_in.new_page(), Looked()
    for path in (*paths.values(), "/no-such"):
        answer = page.goto(path)
        assert answer is not None
        assert answer.status == (404 if path == "/no-such" else 200), path
        # What is worked out beside the app comes in by itself, and would move a page looked at.
        page.locator("[data-working]").wait_for(state="detached", timeout=240_000)
        page.wait_for_load_state()
        by_keyboard(page, path, found)
        in_sizes_and_themes(page, path, found)
        by_width(page, path, found)
        found.opened.append(path)
    page.close()
    return found


def by_keyboard(page: Page, path: str, found: Looked) -> None:
    """Go through all with Tab, from where a page begins: first of all, for focus is lost later."""
    page.set_viewport_size(DESKTOP)  # type: ignore[arg-type]
    page.keyboard.press("Tab")
    if page.evaluate("document.activeElement.textContent") != SKIP_LINK:
        found.without_skip_link.append(path)
    for _ in range(page.evaluate(MARK_WHAT_TAB_SHOULD_REACH) + 10):
        page.keyboard.press("Tab")
    if left := page.evaluate(NOT_REACHED):
        found.not_reached_by_keyboard[path] = left


def in_sizes_and_themes(page: Page, path: str, found: Looked) -> None:
    for size in (PHONE, DESKTOP):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            if wrong := violations(page, OF_COLOURS if theme == "dark" else None):
                found.violations[path, size["width"], theme] = wrong
    page.emulate_media(color_scheme="light")


def by_width(page: Page, path: str, found: Looked) -> None:
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    if small := page.evaluate(SMALL_TARGETS):
        found.small_targets[path] = small
    over = "document.documentElement.scrollWidth - innerWidth"
    page.set_viewport_size({"width": 320, "height": 640})
    if (wide := page.evaluate(over)) > 0:
        found.too_wide_on_a_small_phone[path] = wide
    # Twice the text where there is room for 320 CSS pixels of it; the page's own size is 112.5 %.
    page.set_viewport_size({"width": 640, "height": 900})
    page.evaluate("document.documentElement.style.setProperty('font-size', '225%')")
    if (wide := page.evaluate(over)) > 0:
        found.too_wide_at_twice_the_text[path] = wide


def test_every_page_was_opened(looked: Looked, paths: dict[str, str]) -> None:
    assert len(looked.opened) == len(paths) + 1 > 20


def test_axe_finds_no_violation(looked: Looked) -> None:
    assert looked.violations == {}


def test_axe_finds_nothing_before_signing_in(browser: Browser, hall: Server) -> None:
    context = browser.new_context(base_url=hall.address, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto("/sign-in")
    assert violations(page) == []
    page.goto(hall.link)
    assert violations(page) == []
    context.close()


def test_text_at_twice_the_size_needs_no_sideways_scrolling(looked: Looked) -> None:
    assert looked.too_wide_at_twice_the_text == {}


def test_nothing_is_cut_off_on_a_small_phone(looked: Looked) -> None:
    assert looked.too_wide_on_a_small_phone == {}


def test_targets_are_large(looked: Looked) -> None:
    assert looked.small_targets == {}


def test_the_keyboard_reaches_everything(looked: Looked) -> None:
    """Tab leads to each link, button and field; and what has the focus can be seen to have it."""
    assert looked.without_skip_link == []
    assert looked.not_reached_by_keyboard == {}
