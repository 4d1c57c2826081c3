"""In a real browser: the theme, signing out, without scripts, without a connection."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from playwright.sync_api import BrowserContext, Page, expect
from tests.app.clients import COOK, TRIAL
from tests.app.server import Server
from tests.browser.conftest import PHONE, Visit

from fairsmoke.app.people import register, sessions
from fairsmoke.app.people.permissions import Role
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Event

SignIn = Callable[[BrowserContext], Page]


def test_the_theme_is_chosen_by_hand_and_kept(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE, color_scheme="light"))
    paper = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(paper)
    page.goto("/you")
    page.get_by_label("dark", exact=True).check()
    page.get_by_role("button", name="Save", exact=True).click()
    page.goto("/")
    assert page.evaluate(paper) != light


RECORD = """async ([entry, photo]) => {
  const app = document.querySelector('script[type=module]').src;
  const { record } = await import(app.replace('app.js', 'record.js'));
  if (!photo) return record(entry);
  const canvas = document.createElement('canvas');
  canvas.width = 3000; canvas.height = 1500;
  const drawn = await new Promise((done) => canvas.toBlob(done, 'image/png'));
  const { small } = await import(app.replace('app.js', 'photo.js'));
  return record(entry, await small(drawn));
}"""


def note(number: int) -> dict[str, str]:
    at = datetime(2026, 5, 3, 5, number, tzinfo=UTC).isoformat()
    return {
        "kind": "event",
        "trial": TRIAL,
        "cook": COOK,
        "at": at,
        "event": "note",
        "note": f"offline {number}",
    }


def notes(server: Server) -> list[str]:
    with Notebook.open(server.notebook) as book:
        events = book.list(Event, trial=TRIAL)
    return [event.note for event in events if event.note.startswith("offline")]


def until_idle(page: Page) -> None:
    expect(page.locator("[data-queue]")).to_be_hidden(timeout=20_000)


def test_what_is_recorded_without_a_server_is_there_once_and_in_order(
    visit: Visit, sign_in: SignIn, server: Server
) -> None:
    context = visit(PHONE)
    page = sign_in(context)
    page.goto(f"/trials/{TRIAL}")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    # Once more under the worker, so that the page is kept.
    page.reload()
    server.kill()
    of = ""
    for number in range(10):
        of = page.evaluate(RECORD, [note(number), False])
    page.evaluate(RECORD, [{"kind": "photo", "trial": TRIAL, "of": of}, True])
    expect(page.locator("[data-queue-count]")).to_have_text("11")
    # The page opens without the server, and what waits is still there after it was closed.
    page.close()
    page = context.new_page()
    page.goto(f"/trials/{TRIAL}")
    expect(page.get_by_role("heading", name="What do I do now?")).to_be_visible()
    expect(page.locator("[data-offline]")).to_be_visible()
    for number in range(10, 15):
        page.evaluate(RECORD, [note(number), False])
    page.goto("/waiting")
    expect(page.locator("[data-waiting] li")).to_have_count(16)
    server.start()
    page.get_by_role("button", name="Send now").click()
    until_idle(page)
    assert notes(server) == [f"offline {number}" for number in range(15)]


def test_what_the_app_refuses_stays_on_the_phone_and_holds_nothing_up(
    visit: Visit, sign_in: SignIn, server: Server
) -> None:
    page = sign_in(visit(PHONE))
    page.evaluate(RECORD, [{**note(0), "cook": "no-fire"}, False])
    page.evaluate(RECORD, [note(1), False])
    page.goto("/waiting")
    expect(page.locator("[data-refused] li")).to_contain_text("no cook 'no-fire'")
    expect(page.locator("[data-waiting] li")).to_have_count(0)
    assert notes(server) == ["offline 1"]
    page.get_by_role("button", name="Remove").click()
    until_idle(page)


def test_signing_out_leaves_no_page_behind(visit: Visit, sign_in: SignIn, server: Server) -> None:
    context = visit(PHONE)
    page = sign_in(context)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.goto(f"/trials/{TRIAL}")
    page.goto("/you")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in")
    server.kill()
    page.goto(f"/trials/{TRIAL}")
    expect(page.get_by_role("heading", name="Waiting on this phone")).to_be_visible()


def test_without_scripts_pages_and_forms_work(visit: Visit, sign_in: SignIn) -> None:
    page = sign_in(visit(PHONE, java_script_enabled=False))
    page.goto("/people")
    page.get_by_label("Name").fill("Bea")
    page.get_by_role("button", name="Make a link for them").click()
    expect(page.get_by_role("heading", name="A link for Bea")).to_be_visible()


def link_for(server: Server, name: str, role: Role) -> str:
    with Notebook.open(server.notebook) as book, book.transaction() as transaction:
        person = register.add(transaction, name, role)
        return f"/enter/{sessions.make_link(transaction, person, timedelta(hours=1))}"


KEPT = """async () => {
  const found = [];
  for (const name of await caches.keys()) for (const one of await (await caches.open(name)).keys())
    found.push(new URL(one.url).pathname);
  return found;
}"""


def test_a_phone_keeps_no_page_of_somebody_else(
    visit: Visit, sign_in: SignIn, server: Server
) -> None:
    page = sign_in(visit(PHONE))
    page.goto(f"/trials/{TRIAL}")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    page.goto("/you")
    while f"/trials/{TRIAL}" not in page.evaluate(KEPT):
        page.wait_for_timeout(50)
    # What is downloaded is not kept, nor found without a connection.
    page.evaluate(f"fetch('/trials/{TRIAL}/cooks/{COOK}/curves.csv').then((one) => one.text())")
    assert not [path for path in page.evaluate(KEPT) if path.endswith((".csv", ".zip", ".pdf"))]
    # A taster signs in on the same phone, by their link, without the cook having signed out.
    page.goto(link_for(server, "Tess", Role.TASTER))
    page.get_by_role("button").click()
    page.wait_for_url(server.address + "/")
    assert f"/trials/{TRIAL}" not in page.evaluate(KEPT)
    # Their access ends: the next page they ask for is the sign-in, and theirs go too.
    page.goto("/you")
    with Notebook.open(server.notebook) as book, book.transaction() as transaction:
        tess = next(one for one in register.people(transaction.connection) if one.name == "Tess")
        register.let_go(transaction, tess)
    page.goto("/you")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    server.kill()
    for path in ("/", "/you", f"/trials/{TRIAL}"):
        page.goto(path)
        expect(page.get_by_role("heading", name="Waiting on this phone")).to_be_visible()


def test_a_full_disk_gives_no_tap_up(visit: Visit, sign_in: SignIn, server: Server) -> None:
    page = sign_in(visit(PHONE, service_workers="block"))
    page.goto("/waiting")
    refused = {"error": {"code": "storage", "message": "the disk is full", "problems": []}}
    page.route("**/api/entries", lambda route: route.fulfill(status=503, json=refused))
    for number in range(5):
        page.evaluate(RECORD, [note(number), False])
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("[data-waiting] li")).to_have_count(5)
    expect(page.locator("[data-waiting] li").first).to_contain_text("offline 0")
    expect(page.get_by_text("Nothing is waiting")).to_be_hidden()
    page.unroute("**/api/entries")
    page.get_by_role("button", name="Send now").click()
    until_idle(page)
    assert notes(server) == [f"offline {number}" for number in range(5)]


def test_what_was_set_aside_is_put_right_and_sent_again(
    visit: Visit, sign_in: SignIn, server: Server
) -> None:
    page = sign_in(visit(PHONE))
    page.goto("/waiting")
    page.evaluate(RECORD, [{**note(0), "event": "raise", "set": "2x5 °C"}, False])
    aside = page.locator("[data-refused] li")
    expect(aside).to_contain_text("offline 0")
    expect(page.get_by_text("everything recorded here was sent")).to_be_hidden()
    aside.get_by_label("Note").fill("offline put right")
    aside.get_by_label("Set to").fill("125 °C")
    aside.get_by_role("button", name="Send it again").click()
    until_idle(page)
    assert notes(server) == ["offline put right"]


def test_each_sends_their_own_and_nobody_waits_for_another(
    visit: Visit, sign_in: SignIn, server: Server
) -> None:
    page = sign_in(visit(PHONE))
    page.goto("/waiting")
    # Of somebody who does not come back, and for a notebook that lay at this address before.
    for data in ({"person": "99"}, {"notebook": "another"}):
        page.evaluate("(data) => Object.assign(document.body.dataset, data)", data)
        page.evaluate(RECORD, [note(1), False])
        page.reload()
    page.evaluate(RECORD, [note(2), False])
    expect(page.locator("[data-waiting] li")).to_have_count(2)
    assert notes(server) == ["offline 2"]
    # Whoever holds the phone reads nothing of theirs, and can do away with it.
    assert "offline" not in page.locator("[data-waiting]").inner_text()
    page.on("dialog", lambda dialog: dialog.accept())
    for left in (1, 0):
        page.get_by_role("button", name="Remove").first.click()
        expect(page.locator("[data-waiting] li")).to_have_count(left)
