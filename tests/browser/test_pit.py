"""At the pit, in a real browser: what is tapped is recorded, undone, put right, live and kept."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect
from tests.app.clients import TRIAL
from tests.app.server import Server
from tests.browser.conftest import PHONE, Visit
from tests.browser.hands import until_sent
from tests.weighing.test_plausible import BEFORE, CASES

from fairsmoke.app import static_files
from fairsmoke.app.pages.weigh_data import rules
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import ATTACHMENT
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece, Spot
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.weighing import Weighing

SignIn = Callable[[BrowserContext], Page]
COOK = "tonight"
PIT = f"/trials/{TRIAL}/cooks/{COOK}"


def readings(*values: tuple[float, float], now: datetime) -> Readings:
    """Return readings (hours ago, °C)."""
    times = [epoch_ms(now - timedelta(hours=hours)) for hours, _ in values]
    raw = np.array([round(10 * value) for _, value in values], dtype=np.int64)
    return Readings(np.array(times, dtype=np.int64), raw, 1, "degC", np.zeros(len(raw), np.uint8))


@pytest.fixture
def tonight(server: Server) -> datetime:
    """Add a cook that runs now: one piece has been on for two hours, with a probe in it."""
    now = datetime.now(UTC).replace(microsecond=0)
    spot = Spot(cooker="barrel", position="left")
    began = now - timedelta(hours=2)
    with Notebook.open(server.notebook) as book:
        book.save(
            [
                Cook(
                    id=COOK,
                    name="Tonight",
                    time_zone="Europe/London",
                    starts=began - timedelta(hours=1),
                    cookers=("barrel",),
                ),
                Piece(
                    id="shoulder-9",
                    name="Shoulder 9",
                    cut="shoulder",
                    species="pork",
                    cook=COOK,
                    arm="paper",
                    pair="pair-9",
                    spot=spot,
                ),
                Event(id="on-9", cook=COOK, at=began, kind=EventKind.ON, pieces=("shoulder-9",)),
                Placement(
                    id="in-9",
                    cook=COOK,
                    probe="core-1",
                    since=began,
                    measures="core",
                    piece="shoulder-9",
                ),
                Weighing(
                    id="raw-9",
                    cook=COOK,
                    piece="shoulder-9",
                    at=began,
                    scale="bench",
                    reading_kg=4.0,
                    sum=("trimmed meat",),
                ),
            ],
            trial=TRIAL,
        )
        steady = [(2 - number / 30, 5 + number) for number in range(60)]
        book.append_readings(TRIAL, COOK, {"core-1": readings(*steady, now=now)})
    return now


def recorded(server: Server, kind: type[Any] = Event) -> list[Any]:
    with Notebook.open(server.notebook) as book:
        return [one for one in book.list(kind, trial=TRIAL) if one.cook == COOK]


def at_the_pit(visit: Visit, sign_in: SignIn) -> Page:
    # The phone's own zone must not matter: times are those at the cooker.
    page = sign_in(visit(PHONE, timezone_id="America/Chicago"))
    page.goto(PIT)
    return page


def button(page: Page, act: str, of: str) -> Locator:
    return page.get_by_role("button", name=re.compile(f"^{act} ?: {of}"))


def test_a_tap_records_and_undo_takes_it_back(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    button(page, "Fuel", "Barrel").tap()
    expect(page.locator("[data-bar-what]")).to_contain_text("Fuel added")
    expect(page.locator("[data-bar-state]")).to_have_text("recorded")
    # The page itself hears of it from the app, without being opened anew.
    expect(page.locator("[data-part=events]")).to_contain_text("Fuel added", timeout=10_000)
    fuel = recorded(server)[-1]
    assert (fuel.kind, fuel.cooker) == (EventKind.FUEL, "barrel")
    assert abs((fuel.at - datetime.now(UTC)).total_seconds()) < 60
    page.locator("[data-bar-undo]").tap()
    expect(page.locator("[data-bar-state]")).to_have_text("taken back")
    until_sent(page)
    assert [one.kind for one in recorded(server)] == [EventKind.ON]


def test_time_note_and_photo_are_put_right_afterwards(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    button(page, "Wrap", "Shoulder 9").tap()
    page.locator("[data-bar-change]").tap()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="−15 min").tap()
    dialog.get_by_label("Note").fill("torn at a corner")
    picture = (Path(static_files.__file__).parent / "static/icons/icon-192.png").read_bytes()
    photo = {"name": "wrap.png", "mimeType": "image/png", "buffer": picture}
    dialog.get_by_label("Photo").set_input_files(photo)  # type: ignore[arg-type]
    dialog.get_by_role("button", name="Save").tap()
    expect(page.locator("[data-part=events]")).to_contain_text("torn at a corner", timeout=10_000)
    expect(page.locator("[data-part=events] img")).to_be_visible(timeout=10_000)
    until_sent(page)
    wrap = recorded(server)[-1]
    assert (wrap.kind, wrap.note) == (EventKind.WRAP, "torn at a corner")
    assert 13 * 60 <= (datetime.now(UTC) - wrap.at).total_seconds() <= 18 * 60
    with Notebook.open(server.notebook) as book, book.reading() as connection:
        (kept,) = connection.execute(ATTACHMENT.select()).all()
    assert (kept.event, kept.media_type) == (wrap.id, "image/jpeg")


def test_a_time_is_that_of_the_clocks_at_the_cooker(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    moment = "async ([text]) => { const js = document.querySelector('script[src*=\"pit.js\"]').src;"
    moment += "const { moment } = await import(js.replace('pit.js', 'pit_clock.js'));"
    moment += "return moment(text, 'Europe/London').toISOString(); }"
    # IANA time zone database: London is an hour ahead of UTC in summer, level in winter.
    for text, utc in (
        ("2026-07-01T12:00", "2026-07-01T11:00"),
        ("2026-01-15T12:00", "2026-01-15T12:00"),
        ("2026-10-25T00:30", "2026-10-24T23:30"),
        ("2026-10-25T03:00", "2026-10-25T03:00"),
    ):
        assert page.evaluate(moment, [text])[:16] == utc
    # 01:25 comes twice on 25 October: asked about, and each told from the other; 01:25 on 29 March
    # never comes.
    field = page.locator("#reading-at")
    page.get_by_text("A reading by hand").tap()
    problem = """async ([text, which]) => {
        const js = document.querySelector('script[src*="pit.js"]').src;
        const clock = js.replace("pit.js", "pit_clock.js");
        const { timeProblem, instants } = await import(clock), zone = "Europe/London";
        const field = document.querySelector("#reading-at");
        field.value = text;
        for (const one of field.closest("form").querySelectorAll("[data-which] input")) {
            one.checked = one.value === which;
        }
        const found = instants(text, zone).map((ms) => new Date(ms).toISOString().slice(0, 16));
        return [timeProblem(field, zone), field.validationMessage, found];
    }"""
    twice = page.evaluate(problem, ["2026-10-25T01:25", ""])
    assert twice[0]
    assert "twice" in twice[1]
    assert twice[2] == ["2026-10-25T00:25", "2026-10-25T01:25"]
    expect(
        field.locator("xpath=ancestor::form").get_by_text("the second, an hour later")
    ).to_be_visible()
    assert page.evaluate(problem, ["2026-10-25T01:25", "first"])[0] is False
    never = page.evaluate(problem, ["2026-03-29T01:25", ""])
    assert never[0]
    assert "an hour later" in never[1]
    assert page.evaluate(problem, ["2026-10-25T03:25", ""])[0] is False


def test_the_keypad_takes_a_reading_and_undo_leaves_it_out(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    page.get_by_text("A reading by hand").tap()
    for key in "715":
        page.get_by_role("button", name=key, exact=True).tap()
    page.get_by_role("button", name="Record the reading").tap()
    expect(page.locator("div[data-odd]")).to_contain_text("-5.0 – 110.0")
    page.locator("div[data-odd]").get_by_role("button").tap()
    expect(page.locator("[data-part=now-shoulder-9] .big")).to_have_text("715.0 °C", timeout=10_000)
    page.locator("[data-bar-undo]").tap()
    expect(page.locator("[data-part=now-shoulder-9] .big")).to_have_text("64.0 °C", timeout=10_000)


def test_what_comes_in_is_shown_without_a_new_page_and_rings(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    page.get_by_role("button", name=re.compile("Sound for alerts")).tap()
    expect(page.locator("[data-sound-state]")).to_have_text("on")
    expect(page.locator("[data-cook]")).to_have_attribute("data-beeps", "1")
    page.evaluate("window.same = true")
    with Notebook.open(server.notebook) as book:
        hot = readings((0, 74.5), now=datetime.now(UTC))
        book.append_readings(TRIAL, COOK, {"core-1": hot})
    expect(page.locator("[data-part=now-shoulder-9] .big")).to_have_text("74.5 °C", timeout=10_000)
    alert = page.locator("[data-alert]")
    expect(alert).to_contain_text("Shoulder 9 has reached its mark: Wrap")
    beeps = int(page.locator("[data-cook]").get_attribute("data-beeps") or 0)
    assert beeps > 1
    expect(page.locator(".legend")).to_contain_text("74.5 °C")
    expect(page.locator("[data-curve-table] tbody tr").first).to_contain_text("74.5")
    alert.get_by_role("button", name="Seen: silence this").tap()
    expect(page.locator("[data-alert].seen")).to_be_visible()
    assert page.evaluate("window.same")


def test_a_night_without_the_app_loses_nothing(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    # The weighing page was never opened, and is kept all the same.
    kept = f"caches.match('{PIT}/weigh').then(Boolean)"
    while not page.evaluate(kept):
        page.wait_for_timeout(100)
    server.kill()
    button(page, "Water", "Barrel").tap()
    expect(page.locator("[data-bar-state]")).to_have_text("waits on this phone")
    button(page, "Pull off", "Shoulder 9").tap()
    expect(page.locator("[data-bar-what]")).to_contain_text("Pulled off")
    page.goto(f"{PIT}/weigh")
    expect(page.get_by_role("heading", name="Weigh", exact=True)).to_be_visible()
    page.get_by_label("What lies on the scale").select_option("cooked meat")
    page.locator("#weight").fill("4.3")
    page.get_by_role("button", name="Record the weighing").tap()
    doubt = page.locator("[data-doubt]")
    expect(doubt).to_contain_text("at least 4.300 kg")
    expect(doubt).to_contain_text("a piece gains nothing")
    page.locator("#weight").fill("2.435")
    page.get_by_role("button", name="Record the weighing").tap()
    expect(page.locator("[data-queue-count]")).to_have_text("3")
    # What waits was weighed too: the next is held against it.
    page.get_by_label("What lies on the scale").select_option("held meat")
    page.locator("#weight").fill("2.8")
    page.get_by_role("button", name="Record the weighing").tap()
    expect(doubt).to_contain_text("at most 2.435 kg")
    doubt.get_by_role("button", name="Record it all the same").tap()
    expect(page.locator("[data-queue-count]")).to_have_text("4")
    server.start()
    # Pulled while its core was far from the planned end: asked once the app has seen it.
    page.goto("/waiting")
    page.get_by_role("button", name="Record it all the same, as doubted").tap()
    page.goto(PIT)
    until_sent(page)
    assert [one.kind for one in recorded(server)] == ["on", "water", "pull"]
    weighed = recorded(server, Weighing)
    assert [one.written for one in weighed] == ["", "2.435 kg", "2.8 kg"]
    assert [part.text for part in weighed[-1].sum] == ["held meat"]


def test_the_page_says_when_it_hears_nothing(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = sign_in(visit(PHONE))
    page.clock.install()
    page.goto(PIT)
    expect(page.locator("[data-stream-state]")).to_contain_text("Live")
    server.kill()
    page.clock.fast_forward(60_000)
    expect(page.locator("[data-stream-lost]")).to_be_visible()


def test_the_phones_check_of_a_weighing_is_the_programs(
    visit: Visit, sign_in: SignIn, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    page.goto(f"{PIT}/weigh")
    ask = "async ([rules, cases]) => {"
    ask += "const js = document.querySelector('script[src*=\"pit.js\"]');"
    ask += "const { doubtOf } = await import(js.src.replace('pit.js', 'plausible.js'));"
    ask += "const kind = ([all, parts, kg]) => doubtOf(rules, all, 'p', parts, kg, false)?.kind;"
    ask += "return cases.map((one) => kind(one)?.split(' ')[0] ?? null); }"
    found = page.evaluate(ask, [rules(), [[BEFORE, parts, kg] for parts, kg, _ in CASES]])
    assert found == [odd for *_, odd in CASES]


def test_a_probe_is_moved_on_the_phone(
    visit: Visit, sign_in: SignIn, server: Server, tonight: datetime
) -> None:
    page = at_the_pit(visit, sign_in)
    page.get_by_text("Move a probe").tap()
    page.get_by_label("Probe", exact=True).select_option("pit-1")
    page.get_by_label("It is now in").select_option("pit:barrel/left")
    page.get_by_role("button", name="Record the probe").tap()
    expect(page.locator("[data-bar-state]")).to_have_text("recorded")
    stays = recorded(server, Placement)
    assert [(one.probe, one.measures) for one in stays] == [("core-1", "core"), ("pit-1", "pit")]
    assert stays[-1].spot == Spot(cooker="barrel", position="left")
