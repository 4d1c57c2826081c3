"""Every page that the app knows, on the invented night that is running now.

Accessible (axe-core, best practices included) in both sizes, its colours in both themes; usable at
twice the text (WCAG 2.2, 1.4.4) and 320 CSS pixels wide (1.4.10); large targets (2.5.8 asks for 24
CSS pixels, we for 44).
"""

from collections.abc import Iterator
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


@pytest.fixture
def page(signed_in: BrowserContext) -> Iterator[Page]:
    made = signed_in.new_page()
    yield made
    made.close()


def each(page: Page, paths: dict[str, str]) -> Iterator[str]:
    """Open one page after the other; give its path, and stop at an answer that is none."""
    for path in (*paths.values(), "/no-such"):
        answer = page.goto(path)
        assert answer is not None
        assert answer.status == (404 if path == "/no-such" else 200), path
        # What is worked out beside the app comes in by itself, and would move a page looked at.
        page.locator("[data-working]").wait_for(state="detached", timeout=90_000)
        page.wait_for_load_state()
        yield path


def test_axe_finds_no_violation(page: Page, paths: dict[str, str]) -> None:
    found = {}
    for path in each(page, paths):
        for size in (PHONE, DESKTOP):
            page.set_viewport_size(size)  # type: ignore[arg-type]
            for theme in ("light", "dark"):
                page.emulate_media(color_scheme=theme)
                if wrong := violations(page, OF_COLOURS if theme == "dark" else None):
                    found[path, size["width"], theme] = wrong
    assert found == {}


def test_axe_finds_nothing_before_signing_in(browser: Browser, hall: Server) -> None:
    context = browser.new_context(base_url=hall.address, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto("/sign-in")
    assert violations(page) == []
    page.goto(hall.link)
    assert violations(page) == []
    context.close()


def test_text_at_twice_the_size_needs_no_sideways_scrolling(
    page: Page, paths: dict[str, str]
) -> None:
    # Twice the text where there is room for 320 CSS pixels of it; the page's own size is 112.5 %.
    page.set_viewport_size({"width": 640, "height": 900})
    too_wide = {}
    for path in each(page, paths):
        page.evaluate("document.documentElement.style.setProperty('font-size', '225%')")
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            too_wide[path] = over
    assert too_wide == {}


def test_nothing_is_cut_off_on_a_small_phone(page: Page, paths: dict[str, str]) -> None:
    page.set_viewport_size({"width": 320, "height": 640})
    too_wide = {}
    for path in each(page, paths):
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            too_wide[path] = over
    assert too_wide == {}


def test_targets_are_large(page: Page, paths: dict[str, str]) -> None:
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    small = {}
    for path in each(page, paths):
        found = page.evaluate(
            """() => [...document.querySelectorAll('a, button, input, label, select, summary')]
              .filter((one) => !one.matches('.skip, .card-link, label[for], [type=hidden]'))
              .filter((one) => !one.matches('main p a, footer a, .choice input'))
              .filter((one) => one.checkVisibility())
              .filter((one) => one.getBoundingClientRect().height < 44)
              .map((one) => one.outerHTML)"""
        )
        if found:
            small[path] = found
    assert small == {}


def test_the_keyboard_reaches_everything(page: Page, paths: dict[str, str]) -> None:
    """Tab leads to each link, button and field; and what has the focus can be seen to have it."""
    page.set_viewport_size(DESKTOP)  # type: ignore[arg-type]
    missed = {}
    for path in each(page, paths):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "Skip to the content", path
        count = page.evaluate(
            """() => {
              const fields = 'a[href], button, input, select, textarea, summary';
              const wanted = [...document.querySelectorAll(fields)]
                .filter((one) => !one.matches('[type=hidden], [type=radio], [aria-hidden]'))
                .filter((one) => !one.matches(':disabled'))
                .filter((one) => one.checkVisibility());
              wanted.forEach((one) => { one.dataset.wanted = ''; });
              document.addEventListener('focusin', (event) => {
                delete event.target.dataset.wanted;
              });
              delete document.activeElement.dataset.wanted;
              return wanted.length;
            }"""
        )
        for _ in range(count + 10):
            page.keyboard.press("Tab")
        left = page.evaluate(
            """() => [...document.querySelectorAll('[data-wanted]')]
              .filter((one) => one.checkVisibility()).map((one) => one.outerHTML)"""
        )
        if left:
            missed[path] = left
    assert missed == {}
