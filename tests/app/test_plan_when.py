"""When, in the app: a serving time becomes a day to work by, a sheet and reminders."""

import io
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from icalendar import Calendar
from pypdf import PdfReader
from tests.app.clients import COOK, TRIAL, Client, SignIn
from tests.app.test_plan_pages import ANSWERS, MINE, settled

from fairsmoke.answers.store import Store
from fairsmoke.answers.when import KeptDay, kept_day, kept_days
from fairsmoke.app.pages.when import USUAL, form_of, read_form, request_of
from fairsmoke.app.people.permissions import Role
from fairsmoke.notebook import Notebook
from fairsmoke.telling.safety_notes import DEFER
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Event, EventKind

WHEN = f"/trials/{MINE}/plan/when"
ZONE = time_zone("Europe/London")


def days_on(days: float) -> str:
    """A serving time for a form, in the kitchen's zone."""
    at = datetime.now(UTC) + timedelta(days=days)
    return at.astimezone(ZONE).strftime("%Y-%m-%dT%H:%M")


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html.split("<main")[1]).split())


@pytest.fixture
def planned(cook: Client, app: FastAPI) -> Client:
    """A trial asked and drawn in the app: four shoulders in two cooks, each with a hold."""
    answer = cook.form("/ask", **{**ANSWERS, "hold": "66 °C"})
    assert answer.status_code == 303, answer.text
    assert cook.form(f"/trials/{MINE}/draw", seed="5").status_code == 303
    settled(app)
    return cook


def answer_of(client: Client, app: FastAPI, path: str = WHEN, **fields: object) -> str:
    """Ask for a day and return its page, worked out."""
    # As a cook who knows the pit: a day that most likely goes otherwise has no sheet.
    steady = {"scatter": "mine", "shared": "0.1", "own": "0.1"}
    asked = client.form(path, **{**steady, **fields})
    assert asked.status_code == 303, asked.text
    client.get(asked.headers["location"])
    settled(app)
    answer = client.get(asked.headers["location"])
    assert answer.status_code == 200
    return str(answer.text)


def day_of(app: FastAPI, book: Notebook) -> KeptDay:
    """The only day that is kept, with its document."""
    store = Store(app.state.settings.results)
    (listed,) = kept_days(store, book.path, MINE)
    kept = kept_day(store, MINE, listed.key)
    assert kept is not None
    return kept


def test_a_serving_time_becomes_a_day_a_sheet_and_reminders(
    planned: Client, app: FastAPI, book: Notebook, sign_in: SignIn
) -> None:
    assert f"{WHEN}?cook=1" in planned.get(f"/trials/{MINE}/plan").text
    html = answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6))
    words = text_of(html)
    for said in ("light the fire", "put on", "into the hold", "slice", "Serve", "90 of 100 days"):
        assert said in words
    assert "guessed from its mass and thickness" in words
    assert "Left open" in words
    assert "In paper" in words
    assert DEFER.english in words
    kept = day_of(app, book)
    assert kept.document is not None
    starts = [event["starts"] for event in kept.document["calendar"]]
    assert starts == sorted(starts)
    sheet = planned.get(f"{WHEN}/{kept.key}/run-sheet.pdf")
    assert sheet.headers["content-type"] == "application/pdf"
    assert len(PdfReader(io.BytesIO(sheet.content)).pages) == 1
    reminders = planned.get(f"{WHEN}/{kept.key}/reminders.ics")
    events = Calendar.from_ical(reminders.content).walk("VEVENT")
    serve = datetime.fromisoformat(kept.request.serve)
    assert serve in [event.decoded("dtstart") for event in events]
    # Asked again in German, by another clock and in other units, nothing is worked out anew.
    mine = {"temperature": "F", "mass": "lb", "clock": "12", "language": "de", "theme": "auto"}
    assert planned.form("/you", **mine).status_code == 303
    # The names of tables stay as they are published.
    german = text_of(re.sub(r"Nachgelesen in: .*?</p>", "", planned.get(WHEN).text))
    assert "°F" in german
    assert "°C" not in german
    assert "light the fire" not in german
    assert "of 100" not in german
    sheet = planned.get(f"{WHEN}/{kept.key}/run-sheet.pdf")
    printed = PdfReader(io.BytesIO(sheet.content)).pages[0].extract_text()
    calendar = planned.get(f"{WHEN}/{kept.key}/reminders.ics").text
    for said in (printed, calendar):
        assert "anzünden" in said
        assert "light the fire" not in said
    assert "°F" in printed
    assert "°C" not in printed
    helper = sign_in(Role.HELPER)
    assert "light the fire" in text_of(helper.get(f"{WHEN}?cook=1").text)


def test_too_soon_says_the_earliest_and_why(planned: Client, app: FastAPI) -> None:
    html = answer_of(planned, app, f"{WHEN}?cook=2", serve=days_on(0.2), certainty="80")
    words = text_of(html)
    assert "The earliest possible is" in words
    assert "half of the days it takes" in words
    assert "run-sheet.pdf" not in html
    # The offered time can be met.
    found = re.search(r'name="serve" value="([^"]+)"', html)
    assert found is not None
    later = answer_of(planned, app, f"{WHEN}?cook=2", serve=found[1], certainty="80")
    assert "run-sheet.pdf" in later


def test_what_is_wrong_in_the_form_is_said_and_nothing_is_lost(
    planned: Client, app: FastAPI
) -> None:
    for field, value in (
        ("serve", ""),
        ("serve", "2020-01-01T12:00"),
        ("serve", "noon"),
        ("certainty", "100"),
        ("certainty", "very"),
        ("hold_shortest", "long"),
        ("hold_longest", "30 d"),
        ("fuel_every", "1 min"),
        ("last_cooks", "late"),
        ("hold", "warm"),
    ):
        answer = planned.form(WHEN, **{"serve": days_on(6), field: value})
        assert answer.status_code == 422, (field, value)
        assert 'role="alert"' in answer.text
        assert f'value="{value}"' in answer.text
    answer = planned.form(WHEN, serve=days_on(6), hold_shortest="4 h", hold_longest="2 h")
    assert answer.status_code == 422
    answer = planned.form(WHEN, serve=days_on(6), scatter="mine", shared="9", own="0,1")
    assert answer.status_code == 422
    # IANA's rule for London: 01:30 comes twice on 31 October 2100, and never on 28 March.
    answer = planned.form(WHEN, serve="2100-10-31T01:30")
    assert answer.status_code == 422
    assert "say which is meant, the first" in answer.text
    answer = planned.form(WHEN, serve="2100-03-28T01:30")
    assert "never happened" in answer.text


def test_the_form_comes_back_as_it_was_asked() -> None:
    given = {
        **USUAL,
        "serve": "2026-05-03T13:00",
        "hour": "",
        "certainty": "82.5",
        "hold_shortest": "1 h 30 min",
        "hold_longest": "5 h",
        "times": "together",
        "scatter": "mine",
        "shared": "0.1",
        "own": "0.15",
        "fuel_every": "never",
    }
    reading, now = read_form(given), datetime(2026, 5, 1, tzinfo=UTC)
    asked = request_of(reading, ZONE, now, cut_needed=False, trial="t", cook="1")
    assert asked is not None, reading.problems
    assert asked.serve == "2026-05-03T12:00:00+00:00"
    assert (asked.certainty, asked.fuel_every_s, asked.log_sd) == (0.825, 0.0, (0.1, 0.15))
    assert form_of(asked, ZONE) == given


def test_a_piece_without_its_mass_is_named_with_where_to_say_it(cook: Client, app: FastAPI) -> None:
    pieces = "s-1: 3.41 kg, 11.5 cm\ns-2: 3.5, 11\ns-3: 4.2 kg\ns-4: 4.4 kg"
    assert cook.form("/ask", **{**ANSWERS, "pieces": pieces}).status_code == 303
    assert cook.form(f"/trials/{MINE}/draw", seed="5").status_code == 303
    settled(app)
    lacking = [text_of(cook.get(f"{WHEN}?cook={n}").text) for n in (1, 2)]
    assert any("s-3: say how thick it is" in words for words in lacking)
    number = next(n for n, words in enumerate(lacking, 1) if "s-3: say" in words)
    html = cook.get(f"{WHEN}?cook={number}").text
    assert f'href="/trials/{MINE}/ask"' in html
    assert "Work the day out" not in html
    assert cook.form(f"{WHEN}?cook={number}", serve=days_on(6)).status_code == 409


def test_a_begun_cook_says_what_to_weigh_and_measure(cook: Client, book: Notebook) -> None:
    html = cook.get(f"/trials/{TRIAL}/plan/when?cook={COOK}").text
    words = text_of(html)
    on = [one for one in book.list(Event, trial=TRIAL) if one.kind is EventKind.ON]
    assert ("as if nothing were on yet" in words) == bool(on)
    assert "Before this day can be worked out" in words
    assert f"/trials/{TRIAL}/cooks/{COOK}/set-up" in html


def test_what_changed_since_is_said(planned: Client, app: FastAPI, book: Notebook) -> None:
    answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6))
    changed = "were changed after this day was worked out"
    assert changed not in planned.get(f"{WHEN}?cook=1").text
    drawn = planned.form(f"/trials/{MINE}/draw", seed="6", why="another seed was agreed on")
    assert drawn.status_code == 303
    settled(app)
    assert changed in planned.get(f"{WHEN}?cook=1").text


def test_a_day_stays_with_its_cook_when_that_is_begun(planned: Client, app: FastAPI) -> None:
    answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6))
    begun = planned.form(f"/trials/{MINE}/begin", number="1")
    assert begun.status_code == 303, begun.text
    cook = begun.headers["location"].split("/")[4]
    words = text_of(planned.get(f"{WHEN}?cook={cook}").text)
    assert "The day, for one pair of hands" in words
    assert "were changed after this day was worked out" not in words
    # For a day of its own it has to be weighed and measured first.
    assert "say how heavy it is" in words


def test_a_registered_plan_leads_here(planned: Client, app: FastAPI) -> None:
    assert planned.form(f"/trials/{MINE}/plan/register", sure="yes").status_code == 303
    html = planned.get(f"/trials/{MINE}").text
    assert f'href="{WHEN}"' in html
    assert "Say when it shall be served" in html


def test_tasters_see_nothing_of_it(
    planned: Client, app: FastAPI, book: Notebook, sign_in: SignIn, visitor: Client
) -> None:
    """The day names which piece has which arm: the key, which tasters must never see."""
    answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6))
    kept = day_of(app, book)
    files = [f"{WHEN}/{kept.key}/run-sheet.pdf", f"{WHEN}/{kept.key}/reminders.ics"]
    taster = sign_in(Role.TASTER)
    for path in (WHEN, f"{WHEN}?cook=1", *files):
        assert planned.get(path).status_code == 200
        assert taster.get(path).status_code == 403
        assert visitor.get(path, follow_redirects=False).status_code in (303, 401)
    assert taster.form(WHEN, serve=days_on(6)).status_code == 403
    assert planned.post(WHEN, data={"serve": days_on(6)}).status_code == 403


@pytest.mark.parametrize("key", ["0" * 24, "..", "no-such"])
def test_a_day_that_is_not_kept_is_said(planned: Client, key: str) -> None:
    assert planned.get(f"{WHEN}?day={key}").status_code == 404
    assert planned.get(f"{WHEN}/{key}/run-sheet.pdf").status_code == 404


def test_a_day_is_kept_by_notebook(
    planned: Client, app: FastAPI, book: Notebook, tmp_path: Path
) -> None:
    html = answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6), scatter="logs")
    store = Store(app.state.settings.results)
    assert kept_days(store, tmp_path / "another.db", MINE) == []
    # A stranger's pit: no sheet for what most likely goes otherwise, but what would mend it.
    (listed,) = kept_days(store, book.path, MINE)
    words = text_of(html)
    assert "No run sheet is printed" in words
    assert "Cook it the day before" in words
    assert "How far did your last three cooks run from plan?" in words
    assert "run-sheet.pdf" not in html
    assert planned.get(f"{WHEN}/{listed.key}/run-sheet.pdf").status_code == 409


@pytest.mark.parametrize("name", ["document", "request"])
def test_a_damaged_day_is_as_good_as_none(
    planned: Client, app: FastAPI, book: Notebook, name: str
) -> None:
    answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6))
    kept = day_of(app, book)
    (path,) = app.state.settings.results.glob(f"when/{kept.key}/{name}.*.json")
    for damaged in (b"", b"[1, 2", b'{"$": "Message"}', path.read_bytes()[:-40]):
        path.write_bytes(damaged)
        assert planned.get(f"{WHEN}?cook=1").status_code == 200
        assert planned.get(f"{WHEN}/{kept.key}/run-sheet.pdf").status_code == 404
        assert planned.get(f"{WHEN}?day={kept.key}").status_code in (200, 404)
        settled(app)


def test_a_day_that_waits_can_be_stopped(planned: Client, app: FastAPI, book: Notebook) -> None:
    asked = planned.form(f"{WHEN}?cook=1", serve=days_on(6))
    key = asked.headers["location"].rpartition("=")[2]
    html = planned.get(asked.headers["location"]).text
    if f"{WHEN}/{key}/stop" in html:  # It may be done already.
        assert planned.form(f"{WHEN}/{key}/stop").status_code == 303
    settled(app)
    assert planned.form(f"{WHEN}/{'0' * 24}/stop").status_code == 404
