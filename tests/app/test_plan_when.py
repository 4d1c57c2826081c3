"""When, in the app: a serving time becomes a day to work by, a sheet and reminders."""

import io
import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from fastapi import FastAPI
from icalendar import Calendar
from pypdf import PdfReader
from tests.app.clients import COOK, TRIAL, Client, SignIn
from tests.app.test_plan_pages import ANSWERS, MINE, settled
from tests.telling.test_when_page import SAFETY

from fairsmoke.answers.when_kept import kept_days
from fairsmoke.app.pages.plan_when_advice import DEFERS, effects
from fairsmoke.app.pages.plan_when_chart import DayChart
from fairsmoke.app.pages.plan_when_form import USUAL, asked_of, form_of, read_form
from fairsmoke.app.pages.plan_when_safety import safety_lines
from fairsmoke.app.pages.plan_when_words import Told as TheDay
from fairsmoke.app.people.permissions import Role
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.planning.day.safety import DEFER, safety_notes
from fairsmoke.quantity import METRIC, US, Units
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.when_page import gathered
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
    asked = client.form(path, **fields)
    assert asked.status_code == 303, asked.text
    client.get(asked.headers["location"])
    settled(app)
    answer = client.get(asked.headers["location"])
    assert answer.status_code == 200
    return str(answer.text)


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
    assert DEFERS.english in words
    # The same figures as the command line tells of the same day.
    (kept,) = kept_days(app.state.settings.results, book.path, MINE)
    page = json.loads((kept.folder / "page.json").read_text())
    assert f"ready in time in {100 * page['ready']:.0f} of 100" in words
    assert all(abs(row["at"]) < 6 * 86_400 for row in page["day"])
    assert [row["at"] for row in page["day"]] == sorted(row["at"] for row in page["day"])

    sheet = planned.get(f"{WHEN}/{kept.key}/run-sheet.pdf")
    assert sheet.headers["content-type"] == "application/pdf"
    assert len(PdfReader(io.BytesIO(sheet.content)).pages) == 1
    reminders = planned.get(f"{WHEN}/{kept.key}/reminders.ics")
    events = Calendar.from_ical(reminders.content).walk("VEVENT")
    serve = datetime.fromisoformat(page["serve"])
    assert serve in [event.decoded("dtstart") for event in events]
    # Asked again in German, by another clock and in other units, nothing is worked out anew.
    mine = {"temperature": "F", "mass": "lb", "clock": "12", "language": "de", "theme": "auto"}
    assert planned.form("/you", **mine).status_code == 303
    # The names of tables stay as they are published.
    german = text_of(re.sub(r'<span lang="en">.*?</span>', "", planned.get(WHEN).text))
    assert "°F" in german
    assert "°C" not in german
    assert "light the fire" not in german
    assert "of 100" not in german
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
        ("shortest", "long"),
        ("longest", "30 d"),
        ("fuel_every", "1 min"),
    ):
        answer = planned.form(WHEN, **{"serve": days_on(6), field: value})
        assert answer.status_code == 422, (field, value)
        assert 'role="alert"' in answer.text
        assert f'value="{value}"' in answer.text
    answer = planned.form(WHEN, serve=days_on(6), shortest="4 h", longest="2 h")
    assert answer.status_code == 422
    answer = planned.form(WHEN, serve=days_on(6), scatter="mine", shared="9", own="0,1")
    assert answer.status_code == 422


def test_the_form_comes_back_as_it_was_asked() -> None:
    given = {
        **USUAL,
        "serve": "2026-05-03T13:00",
        "certainty": "82.5",
        "shortest": "1 h 30 min",
        "longest": "5 h",
        "times": "together",
        "scatter": "mine",
        "shared": "0.1",
        "own": "0.15",
        "fuel_every": "never",
    }
    reading, now = read_form(given), datetime(2026, 5, 1, tzinfo=UTC)
    asked = asked_of(reading, ZONE, now, cut_needed=False, trial="t", cook="1")
    assert asked is not None, reading.problems
    assert asked.serve == "2026-05-03T12:00:00+00:00"
    assert (asked.certainty, asked.fuel_every_s, asked.scatter) == (0.825, 0.0, (0.1, 0.15))
    assert form_of(asked, ZONE) == given


def test_the_caution_is_the_one_of_the_tables() -> None:
    assert DEFERS.english == DEFER


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
    (kept,) = kept_days(app.state.settings.results, book.path, MINE)
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


def test_a_day_is_kept_by_notebook(planned: Client, app: FastAPI, tmp_path: Path) -> None:
    answer_of(planned, app, f"{WHEN}?cook=1", serve=days_on(6))
    results = app.state.settings.results
    assert kept_days(results, tmp_path / "another.db", MINE) == ()


def way(language: str, units: Units, clock: str = "24") -> Reader:
    return Reader(units, language, clock, ZONE)


@pytest.mark.parametrize("name", SAFETY)
def test_every_note_of_safety_has_words_in_each_language_and_unit(name: str) -> None:
    notes = gathered(safety_notes(SAFETY[name]))
    page = {"safety": json.loads(json.dumps(notes))}
    for language, units, other in (("en", US, "°C"), ("de", US, "°C"), ("de", METRIC, "°F")):
        shown = way(language, units)
        lines = safety_lines(page, shown)
        assert [one["table"] for one in lines] == [one["table"] for one in notes]
        said = " ".join(shown.say(words) for one in lines for words in one["words"])
        assert said
        assert other not in said
        assert "%" not in said.replace("90 %", "")
        assert not re.search(r"\bsafe(ly)?\b|\bsicher\b", said)


def row(kind: str, **more: object) -> dict[str, object]:
    usual = {
        "kind": kind,
        "piece": "One",
        "cooker": "Barrel",
        "place": "Left",
        "to": "cooker",
        "above": "foil",
        "below": "bare",
        "adds": [],
        "wraps": True,
        "to_c": 135.0,
        "core_c": None,
        "feel": None,
        "at": -3600.0,
        "between": None,
    }
    return {**usual, **more}


@pytest.mark.parametrize(
    ("step", "english", "german"),
    [
        (row("put on"), "One: put on (Barrel, Left), pit at 275 °F", "One: auflegen"),
        (row("put on", to_c=None, place=""), "One: put on (Barrel)", "One: auflegen (Barrel)"),
        (row("raise"), "One: raise the pit to 275 °F", "erhöhen"),
        (row("lower"), "One: lower the pit to 275 °F", "senken"),
        (row("move", to="counter"), "One: move it (counter)", "umsetzen"),
        (row("unwrap"), "One: unwrap", "auswickeln"),
        (row("wrap"), "One: wrap (foil above, bare below)", "einwickeln (oben Alufolie"),
        (row("wrap", adds=["tallow"]), "One: wrap (foil above, bare below), add tallow", "tallow"),
        (row("wrap", wraps=False, adds=["stock"]), "One: add stock", "stock dazugeben"),
        (row("pull", to=None), "One: pull, off to rest", "ruhen"),
        (row("pull", to="dry cooler"), "One: pull, into the hold (dry cooler)", "warm halten"),
        (row("open", held=True), "One: take it out of the hold, open it, let it rest", "öffnen"),
        (row("open", held=False), "One: open it, let it rest", "öffnen"),
        (row("slice"), "One: slice", "aufschneiden"),
        (row("light"), "Barrel: light the fire", "anzünden"),
    ],
)
def test_every_step_has_words(step: dict[str, object], english: str, german: str) -> None:
    page = {"day": [step], "serve": "2026-05-03T12:00:00+00:00", "zone": ZONE.key}
    for language, words in (("en", english), ("de", german)):
        shown = way(language, US, "12")
        ((_, rows),) = TheDay.of(page, shown).days()
        assert words in shown.say(rows[0].what)
        assert shown.say(rows[-1].what) == shown.say(N_("Serve"))
        # Babel writes a narrow space before the half of the day.
        assert rows[0].clock.split() == ["12:00", "PM" if language == "de" else "pm"]


def test_a_lever_says_sooner_or_later_without_signs() -> None:
    spans = {
        "sooner": {"low": -4 * 3600.0, "middle": -2 * 3600.0, "high": -3600.0},
        "later": {"low": 3600.0, "middle": 2 * 3600.0, "high": None},
    }
    usual = {"arm": "Bare", "stage": "Smoke", "sooner_k": 5.0, "to_c": 135.0}
    levers = [
        {**usual, "id": "hotter", "when": "late", "longer": spans["sooner"], "kept": -0.012},
        {**usual, "id": "wrap sooner", "when": "late", "longer": spans["sooner"], "kept": 0.0},
        {**usual, "id": "foil", "when": "late", "longer": spans["sooner"], "kept": 0.02},
        {**usual, "id": "cooler", "when": "early", "longer": spans["later"], "kept": 0.02},
    ]
    page = {"levers": levers, "serve": "2026-05-03T12:00:00+00:00", "zone": ZONE.key}
    shown = way("de", METRIC)
    found = effects(TheDay.of(page, shown))
    said = [(shown.say(what), shown.say(does)) for _, some in found for what, does in some]
    assert [len(some) for _, some in found] == [3, 1]
    assert said[0] == (
        "Bare: ab „Smoke“ der Ofen auf 135 °C",
        "2 h früher (1 h bis 4 h), Ausbeute 1,0 Punkte weniger",
    )
    assert said[1][0] == "Bare: 5 °C Kerntemperatur früher einwickeln"
    assert said[1][1].endswith("Ausbeute etwa gleich")
    assert said[3][1] == "2 h später (1 h bis kein Ende in Sicht), Ausbeute 2,0 Punkte mehr"


@pytest.mark.parametrize(
    ("serve", "hours"),
    [
        ("2026-05-03T12:00:00+00:00", 30.0),
        # The clocks of London go back on 25 October 2026 at 01:00 UTC (IANA time zone database).
        ("2026-10-25T12:00:00+00:00", 30.0),
        ("2026-05-03T12:00:00+00:00", 3.0),
        ("2026-05-03T12:00:00+00:00", 150.0),
    ],
)
def test_the_drawing_has_a_few_whole_hours_and_keeps_within_its_box(
    serve: str, hours: float
) -> None:
    begin = -3600.0 * hours
    piece = {
        "name": "One",
        "on": 0.9 * begin,
        "pull": {"low": 2 * begin, "middle": 0.5 * begin, "high": None},
        "open": -1200.0,
    }
    rows = [
        row("light", at=begin, piece=""),
        row("wrap", at=0.7 * begin),
        row("pull", at=0.5 * begin),
    ]
    page = {"day": rows, "pieces": [piece], "serve": serve, "zone": ZONE.key}
    chart = DayChart.of(TheDay.of(page, way("en", METRIC)))
    (bar,) = chart.bars
    assert bar.low <= bar.on < bar.steps[0] < bar.off < bar.opened < chart.serve == bar.high
    # Half of the way in time is half of the way along, to the pixel's tenth.
    assert bar.off == pytest.approx((bar.low + chart.serve) / 2, abs=0.1)
    assert 1 <= len(chart.ticks) <= 6
    assert all(tick.time.endswith(":00") for tick in chart.ticks)
    gaps = np.diff([tick.x for tick in chart.ticks])
    if "10-25" in serve:
        # Midnight to six of that day lasts seven hours.
        assert gaps.max() / gaps.min() == pytest.approx(7 / 6, abs=0.01)
    elif gaps.size:
        assert np.ptp(gaps) < 0.3
