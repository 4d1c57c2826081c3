"""What pages say: to whom, in which units and language, and with nothing recorded."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from fastapi import FastAPI
from tests.app.clients import COOK, TRIAL, Client, SignIn, event_entry

from fairsmoke.app.factory import API_MODULES, PAGE_MODULES, create_app
from fairsmoke.app.people.person import Preferences
from fairsmoke.app.people.reader import show_for
from fairsmoke.app.settings import Settings
from fairsmoke.messages.catalogue import LANGUAGES, SOURCE, catalogue, catalogue_path, preferred
from fairsmoke.messages.extract import used
from fairsmoke.notebook import Notebook
from fairsmoke.trial.kitchen import Kitchen


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != SOURCE])
def test_every_message_is_in_every_language(language: str) -> None:
    there = catalogue(language)
    wanted = {message.id for message in used() if message.id}
    assert {message.id for message in there if message.id} == wanted
    for message in there:
        if not message.id:
            continue
        english = message.id if isinstance(message.id, tuple) else (message.id,)
        other = message.string if isinstance(message.string, tuple) else (message.string,)
        assert all(other), message.id
        assert not message.fuzzy, message.id
        names = [set(re.findall(r"%\((\w+)\)", text)) for text in (*english, *other)]
        if len(english) == 2:
            # The singular may write its "one" out; nothing but the count may be left unsaid.
            for one in (names[0], *names[2:3]):
                assert names[1] - {"count"} <= one <= names[1], message.id
            # A language's singular takes the values of the English singular, and so the plural.
            assert names[2] == names[0], message.id
            names = [names[1], *names[3:]]
        assert all(one == names[0] for one in names), message.id


def test_a_catalogue_reads_without_a_complaint() -> None:
    for language in LANGUAGES:
        if language != SOURCE:
            with catalogue_path(language).open("rb") as file:
                read_po(file, locale=language, abort_invalid=True)


@pytest.mark.parametrize(
    ("accepted", "language"),
    [("de-AT,de;q=0.9,en;q=0.5", "de"), ("fr,en-GB;q=0.7", "en"), ("", "en"), ("*", "en")],
)
def test_the_browser_says_which_language(accepted: str, language: str) -> None:
    assert preferred(accepted) == language


def test_numbers_are_shown_in_ones_own_way() -> None:
    kitchen = Kitchen(name="Hall", time_zone="Europe/Berlin", units="metric")
    moment = datetime(2026, 5, 2, 17, 5, tzinfo=UTC)
    metric = show_for(None, kitchen, "de")
    assert metric.temperature(121.1111) == "121 °C"
    assert metric.mass(5.57) == "5,570 kg"
    # CLDR's forms for German and British English.
    assert metric.moment(moment) == "02.05.2026, 19:05"
    assert metric.count(5_000_000) == "5.000.000"
    way = Preferences(temperature="F", mass="lb", clock="12").units("metric")
    assert (way.temperature, way.mass, way.length) == ("F", "lb", "in")
    english = show_for(None, kitchen, "en")
    assert english.moment(moment) == "2 May 2026, 19:05"


def test_preferences_are_ones_own(cook: Client, sign_in: SignIn) -> None:
    fields = {"temperature": "F", "mass": "lb", "clock": "12", "language": "de", "theme": "dark"}
    assert cook.form("/you", **fields).status_code == 303
    html = cook.get("/you").text
    assert '<html lang="de" data-theme="dark">' in html
    assert "Abmelden" in html
    other = sign_in(name="Other").get("/you").text
    assert '<html lang="en" data-theme="auto">' in other
    assert cook.form("/you", **{**fields, "language": "xx"}).status_code == 422


def test_the_home_page_lists_what_there_is(cook: Client, book: Notebook) -> None:
    html = cook.get("/").text
    for name in (book.trials()[0].title, book.list("cooker")[0].name):  # type: ignore[attr-defined]
        assert str(name) in html


def test_a_trial_says_what_to_do_and_where_each_piece_stands(cook: Client, book: Notebook) -> None:
    assert "What do I do now?" in cook.get(f"/trials/{TRIAL}").text
    book.correct("cook", COOK, {"ends": None}, why="goes on", trial=TRIAL)
    html = cook.get(f"/trials/{TRIAL}").text
    assert "weigh each piece as it comes off" in html
    pieces = [one for one in book.list("piece", trial=TRIAL) if one.arm]  # type: ignore[attr-defined]
    entry = event_entry(
        "00000000-0000-4000-8000-000000000009",
        event="slice",
        pieces=[one.id for one in pieces],  # type: ignore[attr-defined]
        at="2026-05-03T20:00:00Z",
    )
    assert cook.send_json("/api/entries", entry).status_code == 200
    html = cook.get(f"/trials/{TRIAL}").text
    assert "Everything is sliced" in html
    assert html.count("Sliced") == len(pieces)


def test_an_empty_notebook_says_how_to_begin(tmp_path: Path, sign_in: SignIn) -> None:
    from datetime import timedelta

    from fairsmoke.app.people import register, sessions

    with Notebook.create(tmp_path / "empty.db") as book:
        client = Client(create_app(Settings(book.path), book), base_url="http://127.0.0.1")
        with book.transaction() as transaction:
            person = register.first_cook(transaction)
            token = sessions.begin(transaction, person, timedelta(days=1), "test")
        client.cookies.set("fairsmoke", token)
        html = client.get("/").text
    assert "No trial yet" in html
    # In the words of the face: a phone has no shell.
    assert "Ask a new question" in html
    assert "fairsmoke read" not in html


def test_what_does_not_exist_is_said_so(cook: Client) -> None:
    for path in ("/trials/no-such", "/no-such", "/static/000000000000/css/app.css"):
        answer = cook.get(path)
        assert answer.status_code == 404
    assert cook.get("/api/no-such").json()["error"]["code"] == "not-found"


def test_no_two_routes_have_one_name(app: FastAPI) -> None:
    # Paths are made from names: the first route of a name would hide the other.
    names = [
        (route.name, route.path)
        for module in (*API_MODULES, *PAGE_MODULES)
        for route in module.router.routes
    ]
    paths: dict[str, set[str]] = {}
    for name, path in names:
        paths.setdefault(name, set()).add(path)
    assert {name: found for name, found in paths.items() if len(found) > 1} == {}


def test_every_place_leads_to_a_page(app: FastAPI, cook: Client) -> None:
    for place in app.state.places:
        known = {"trial": TRIAL, "cook": COOK}
        wanted = {"trial": ("trial",), "cook": ("trial", "cook")}.get(place.scope, ())
        path = app.url_path_for(place.route, **{name: known[name] for name in wanted})
        assert cook.get(path).headers["content-type"].startswith("text/html"), path


def test_the_shell_is_all_there(visitor: Client) -> None:
    worker = visitor.get("/worker.js")
    assert worker.headers["content-type"].startswith("text/javascript")
    for path in re.findall(r'"(/[^"]+)"', worker.text):
        assert visitor.get(path).status_code == 200, path
    manifest = visitor.get("/app.webmanifest").json()
    for icon in manifest["icons"]:
        content = visitor.get(icon["src"]).content
        if icon["src"].endswith(".png"):
            width = int.from_bytes(content[16:20], "big")
            assert f"{width}x{width}" == icon["sizes"]


def test_the_first_view_is_small(cook: Client) -> None:
    html = cook.get(f"/trials/{TRIAL}").text
    paths = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', html))
    scripts = ["queue", "send", "app"]
    version = next(iter(paths)).split("/")[2]
    paths |= {f"/static/{version}/js/{name}.js" for name in scripts}
    total = len(html) + sum(len(cook.get(path).content) for path in paths)
    assert total < 150_000
