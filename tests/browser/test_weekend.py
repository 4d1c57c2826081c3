"""A whole weekend on a phone: two trials from the question to the finding, with no shell.

The village hall, its helpers and every number are invented. The second trial begins from the first
one's finding and has three arms.
"""

import os
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.app.server import Server
from tests.browser.conftest import PHONE, Visit
from tests.browser.hands import until_sent

from fairsmoke.notebook import Notebook
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.tasting import Ballot
from fairsmoke.trial.weighing import PartEstimate, Weighing

ZONE = ZoneInfo("Europe/Berlin")
SignIn = Callable[[BrowserContext], Page]
PICTURES = os.environ.get("FAIRSMOKE_PICTURES", "")


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Give a running app on an empty notebook."""
    path = tmp_path / "hall.db"
    kitchen = Kitchen(name="Village hall (invented)", time_zone=ZONE.key, invented=True)
    Notebook.create(path, kitchen).close()
    running = Server(path).start()
    yield running
    running.close()


class Weekend:
    """Somebody's thumb on one phone, and the time that it shows."""

    def __init__(self, page: Page, lit: datetime) -> None:
        self.page, self.lit, self.pictures = page, lit, 0
        self.base = self.cook = ""

    def after(self, hours: float) -> None:
        self.page.clock.set_fixed_time(self.lit + timedelta(hours=hours))

    def look(self, name: str) -> None:
        """Nothing may stick out of the phone; keep a picture where one is wanted."""
        page = self.page
        if PICTURES:
            self.pictures += 1
            path = Path(PICTURES) / f"{self.pictures:02}-{name}.png"
            page.screenshot(path=path, full_page=True)
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert over <= 0, name

    def fill(self, **fields: str) -> None:
        for name, value in fields.items():
            field = self.page.locator(f"#{name.replace('__', '-')}")
            tag = field.evaluate("(one) => one.tagName")
            field.select_option(value) if tag == "SELECT" else field.fill(value)

    def until(self, path: str, words: str) -> None:
        """Look again until what is worked out beside the app is there."""
        for _ in range(120):
            self.page.goto(path)
            if words in self.page.content():
                return
            self.page.wait_for_timeout(250)
        pytest.fail(f"{words!r} never came on {path}")

    # --- the steps of a trial ------------------------------------------------------------------

    def add_to_kitchen(self) -> None:
        page = self.page
        for kind, fields in (
            ("scale", {"name": "Gram scale", "unit": "g", "resolution": "1"}),
            ("scale", {"name": "Hanging scale", "unit": "lb", "resolution": "0.5"}),
            ("probe", {"name": "Pen", "unit": "°F", "accuracy": "2"}),
        ):
            page.goto("/kitchen")
            box = page.locator("details", has=page.locator(f"#new-{kind}-name"))
            if box.get_attribute("open") is None:
                box.locator("summary").click()
            self.fill(**{f"new__{kind}__{name}": value for name, value in fields.items()})
            box.get_by_role("button", name=re.compile("^Save")).click()
            expect(page.locator("summary", has_text=fields["name"])).to_be_visible()
        self.look("kitchen")

    def ask(self, pieces: str) -> None:
        page = self.page
        page.locator("[name=pieces]").fill(pieces)
        page.get_by_role("button", name="Ask it so").click()
        page.wait_for_url("**/trials/*/ask")
        self.base = page.url.removesuffix("/ask")
        self.look("asked")

    def draw_and_register(self) -> None:
        page = self.page
        page.goto(f"{self.base}/plan")
        page.get_by_label("Seed, if it was agreed on").fill("7")
        page.get_by_role("button", name="Draw who gets what").click()
        self.until(f"{self.base}/plan", "Who gets what")
        self.look("drawn")
        page.goto(f"{self.base}/plan/register")
        page.get_by_label("I know that nothing of it can be changed afterwards").check()
        page.get_by_role("button", name="Register the plan").click()
        expect(page.get_by_role("heading", name="Amendments")).to_be_visible()

    def begin(self) -> None:
        page = self.page
        page.goto(f"{self.base}/plan")
        local = self.lit.astimezone(ZONE).strftime("%Y-%m-%dT%H:%M")
        page.locator("#starts-1").fill(local)
        page.get_by_role("button", name=re.compile("Begin this cook.*1")).click()
        page.wait_for_url("**/cooks/*/set-up")
        self.cook = page.url.removesuffix("/set-up")
        self.look("set-up")

    def record(self, button: str, says: str) -> None:
        close = self.page.locator("[data-bar-close]")
        # What the bar said of the entry before must not pass for this one.
        if close.is_visible():
            close.click()
            expect(self.page.locator("[data-bar]")).to_be_hidden()
        self.page.get_by_role("button", name=button, exact=True).click()
        # A closed bar keeps its words: only one that is open again speaks of this entry.
        expect(self.page.locator("[data-bar]")).to_be_visible()
        expect(self.page.locator("[data-bar-what]")).to_contain_text(says)

    def weigh(self, piece: str, what: str, shows: str, other: str = "", scale: str = "") -> None:
        page = self.page
        if not page.url.endswith("/weigh"):
            page.goto(f"{self.cook}/weigh")
        page.get_by_role("group", name="Piece").get_by_label(piece, exact=True).check()
        page.locator("#weigh-sum").select_option(what)
        page.locator("#scale").select_option(label=scale or "Gram scale")
        self.fill(other=other, weight=shows)
        self.record("Record the weighing", "Weighing")

    def do(self, act: str, piece: str) -> None:
        page = self.page
        if page.url != self.cook:
            page.goto(self.cook)
        card = page.locator("article.piece", has=page.get_by_role("heading", name=piece))
        card.locator(f"button[name=event][value='{act}']").click()
        expect(page.locator("[data-bar-state]")).to_have_text("recorded")

    def score(self, taster: str, points: dict[str, str], *, cooked: bool = False) -> None:
        page = self.page
        if not page.url.endswith("/score"):
            page.goto(f"{self.cook}/score")
        known = page.get_by_role("group", name="Who tasted").get_by_label(taster, exact=True)
        if known.count():
            known.check()
        else:
            page.get_by_label("somebody new").check()
            page.get_by_label("Their name").fill(taster)
        page.get_by_label("had a hand in the cook").set_checked(cooked)
        for piece, point in points.items():
            row = page.get_by_role("group", name=piece, exact=True)
            if "." in point:
                row.locator("[data-between]").fill(point)
            else:
                row.get_by_label(point, exact=True).check()
        self.record("Record the scores", "Tenderness")
        # The count of what waits follows a moment later; the bar says it of this entry.
        expect(page.locator("[data-bar-state]")).to_have_text("recorded")

    def end(self) -> None:
        self.page.goto(self.cook)
        self.record("End this cook", "Cook ended")
        until_sent(self.page)

    def estimate_what_is_open(self) -> int:
        """From the finding to the form for each part that was not weighed."""
        page = self.page
        listed = page.get_by_role("list", name="Not weighed, and not estimated")
        paths = [one.get_attribute("href") or "" for one in listed.get_by_role("link").all()]
        for path in paths:
            page.goto(path)
            expect(page.locator("#part")).to_have_value("clinging fat")
            self.fill(low="10", high="40", why="a spoonful on the fat side")
            self.record("Record the estimate", "Estimate")
            until_sent(page)
        return len(paths)

    def finding_anew(self, name: str) -> None:
        """Have the finding worked out again, and wait for a number in it."""
        page = self.page
        page.goto(f"{self.base}/finding")
        again = page.get_by_role("button", name="Work it out again now")
        if again.count():
            again.click()
        expect(page.locator("p.figure-line").first).to_be_visible(timeout=60_000)
        self.look(name)

    def finding(self, name: str) -> None:
        page = self.page
        page.goto(f"{self.base}/finding")
        # The page looks again by itself while it is worked out.
        expect(page.locator("p.verdict").first).to_be_visible(timeout=60_000)
        self.look(name)


def cook_through(weekend: Weekend, raw: dict[str, str], cooked: dict[str, str]) -> None:
    """Weigh, put on, read, pull, weigh: what every cook of the weekend is."""
    page = weekend.page
    weekend.after(0.5)
    for piece, shows in raw.items():
        weekend.weigh(piece, "trimmed meat", shows)
    weekend.look("weigh")
    weekend.after(1)
    for piece in raw:
        weekend.do("on", piece)
    page.goto(f"{weekend.cook}/probes")
    page.locator("#move-probe").select_option(label="Pen")
    choice = page.locator("#move-place option[value^='core:']").first
    page.locator("#move-place").select_option(choice.get_attribute("value"))
    weekend.record("Record the probe", "Probe moved")
    # The list of probes on the live screen says where they are as of its opening.
    until_sent(page)
    weekend.after(6)
    page.goto(weekend.cook)
    page.get_by_text("A reading by hand").click()
    # The pen shows °F in a kitchen of °C: a bare number is in its own unit.
    expect(page.locator("form:has(#reading-value) [data-unit]")).to_have_value("degF")
    page.locator("#reading-value").fill("160")
    weekend.record("Record the reading", "160")
    weekend.look("pit")
    weekend.after(10)
    for piece in raw:
        weekend.do("pull", piece)
    weekend.after(10.2)
    for piece, shows in cooked.items():
        weekend.weigh(piece, "cooked meat", shows, "clinging fat")


def test_a_weekend_from_the_first_question_to_the_next_trial(
    visit: Visit, server: Server, sign_in: SignIn
) -> None:
    now = datetime.now(UTC).replace(microsecond=0)
    page = sign_in(visit(PHONE, timezone_id="America/Chicago"))
    page.set_default_timeout(20_000)
    weekend = Weekend(page, now - timedelta(hours=30))
    weekend.look("first-page")
    assert "fairsmoke " not in page.locator("main").inner_text()
    weekend.add_to_kitchen()
    page.goto("/")
    page.get_by_role("link", name="Ask a new question").click()
    weekend.fill(question="Does foil keep a collar more tender?", title="Foil or bare")
    weekend.fill(differs="foil at the stall, or none", cut="pork collar", cooker="Drum")
    weekend.fill(positions="Left, Right", cooks="1", tasters="3", blind="no")
    weekend.fill(arm__0__name="Bare", arm__1__name="In foil", arm__1__wrap="foil")
    second = page.locator("fieldset", has=page.locator("#measure-1-kind"))
    weekend.fill(measure__1__kind="score", measure__1__worthwhile="1")
    second.locator("summary").click()
    weekend.fill(measure__1__name="Tenderness", measure__1__scale_low="0")
    weekend.fill(measure__1__scale_high="10")
    weekend.look("ask")
    weekend.ask("collar-1: 2.1 kg, 10 cm\ncollar-2: 2.05 kg, 10 cm")
    weekend.draw_and_register()
    weekend.begin()
    cook_through(
        weekend, {"collar-1": "2104", "collar-2": "2048"}, {"collar-1": "1310", "collar-2": "1342"}
    )
    # One was weighed on the scale that shows pounds, in grams all the same: what is written counts.
    weekend.weigh("collar-2", "drippings", "180 g", scale="Hanging scale")
    page.get_by_role("link", name="Not weighed? Give an estimate").click()
    weekend.look("estimate")
    page.get_by_role("group", name="Piece").get_by_label("collar-1", exact=True).check()
    weekend.fill(part="clinging fat", low="60", high="10", why="a spoonful on the fat side")
    weekend.record("Record the estimate", "Estimate")
    # What the app refuses comes back as it was typed, with the reason.
    expect(page.locator("[data-refused]")).to_contain_text("low must be below high")
    expect(page.locator("#why")).to_have_value("a spoonful on the fat side")
    weekend.look("estimate-refused")
    weekend.fill(low="10", high="60")
    weekend.record("Record the estimate", "Estimate")
    until_sent(page)
    page.get_by_role("group", name="Piece").get_by_label("collar-2", exact=True).check()
    weekend.fill(part="clinging fat", low="0.5 oz", high="60", why="about the same")
    weekend.record("Record the estimate", "Estimate")
    until_sent(page)
    weekend.score("Nell", {"collar-1": "5", "collar-2": "7"})
    weekend.score("Una", {"collar-1": "6", "collar-2": "7.5"})
    weekend.score("Cook", {"collar-1": "6", "collar-2": "8"}, cooked=True)
    until_sent(page)
    page.reload()
    weekend.look("score")
    expect(page.locator("main")).to_contain_text("The cook scored too.")
    weekend.end()
    weekend.finding("finding")
    expect(page.locator("main")).to_contain_text("Tenderness (not blind, the cook scored too)")
    # From the finding to the next trial, with what this one said.
    page.get_by_role("link", name="Plan the next trial").click()
    expect(page.locator("#question")).to_have_value("Does foil keep a collar more tender?")
    expect(page.locator("#arm-1-wrap")).to_have_value("foil")
    expect(page.locator("#measure-1-name")).to_have_value("Tenderness")
    weekend.fill(title="Foil, paper or bare", differs="the wrap at the stall")
    weekend.fill(arm__2__name="In paper", cooker="Kettle", positions="Middle")
    third = page.locator("fieldset", has=page.locator("#arm-2-name"))
    third.locator("summary").click()
    weekend.fill(arm__2__wrap="paper")
    weekend.look("next")
    weekend.ask("c-1: 2.0 kg, 10 cm\nc-2: 2.1 kg, 10 cm\nc-3: 2.2 kg, 10 cm")
    weekend.lit = now - timedelta(hours=14)
    weekend.draw_and_register()
    weekend.begin()
    raw = {"c-1": "2010", "c-2": "2105", "c-3": "2190"}
    cook_through(weekend, raw, {"c-1": "1251", "c-2": "1300", "c-3": "1370"})
    weekend.score("Nell", {"c-1": "5", "c-2": "7", "c-3": "6"})
    until_sent(page)
    weekend.end()
    weekend.finding("second-finding-open")
    # No yield is known yet: the finding says why, and leads to the form that settles it.
    expect(page.locator("main")).to_contain_text("say what it weighs at least and at most")
    assert weekend.estimate_what_is_open() == 3
    weekend.finding_anew("second-finding")
    assert page.locator("p.verdict").count() == 2
    expect(page.get_by_role("link", name="Plan the next trial")).to_be_visible()
    page.goto("/")
    weekend.look("home")
    recorded(server)


def recorded(server: Server) -> None:
    """Hold what the notebook holds against what was typed."""
    with Notebook.open(server.notebook) as book:
        assert not book.check()
        first, second = (one.id for one in book.trials())
        weighed = [one.written for one in book.list(Weighing, trial=first)]
        assert weighed == ["2104 g", "2048 g", "1310 g", "1342 g", "180 g"]
        assert len(book.list(Weighing, trial=second)) == 6
        limits = [(one.low_kg, one.high_kg) for one in book.list(PartEstimate, trial=first)]
        # 0.5 oz is 14.1747615625 g (international avoirdupois ounce).
        assert limits == [(0.01, 0.06), (pytest.approx(0.0141747615625), 0.06)]
        ballots = book.list(Ballot, trial=first)
        assert [one.cooked for one in ballots] == [False, False, True]
        assert not any(one.blind for one in ballots)
        arms = [arm.name for arm in book.trials()[1].arms]
        assert arms == ["Bare", "In foil", "In paper"]
