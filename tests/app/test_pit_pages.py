"""A whole trial through the pages' forms, as a browser without scripts sends them; the stream."""

import json
import re
import time
from collections.abc import Generator, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.app.clients import TRIAL, Client, SignIn, event_entry
from tests.app.server import Server

from fairsmoke.app.entries.from_form import entry_of_form
from fairsmoke.app.factory import create_app
from fairsmoke.app.people import register, sessions
from fairsmoke.app.people.permissions import Role
from fairsmoke.app.set_up.trial_form import fields_of
from fairsmoke.app.settings import Settings
from fairsmoke.live.alert_limits import AlertThresholds, watch_of
from fairsmoke.live.trial_status import NextStep, standing
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import METRIC
from fairsmoke.trial.clock import ClockError, time_zone
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.weighing import Weighing


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Notebook]:
    kitchen = Kitchen(name="Hall", time_zone="Europe/London", units="metric")
    with Notebook.create(tmp_path / "empty.db", kitchen) as notebook:
        yield notebook


@pytest.fixture
def alone(empty: Notebook) -> Client:
    client = Client(create_app(Settings(empty.path), empty), base_url="http://127.0.0.1")
    with empty.transaction() as transaction:
        person = register.first_cook(transaction)
        token = sessions.begin(transaction, person, timedelta(days=1), "test")
    client.cookies.set("fairsmoke", token)
    return client


QUESTION = {
    "title": "Paper or bare",
    "question": "Does paper keep more?",
    "differs": "paper at 74 °C",
    "stage-0-name": "Smoke",
    "stage-0-surround": "121",
    "stage-0-core": "74",
    "stage-1-name": "Finish",
    "stage-1-surround": "121",
    "stage-1-core": "95",
    "arm-0-name": "Bare",
    "arm-1-name": "Paper",
    "change-0-arm": "1",
    "change-0-stage": "1",
    "change-0-how": "change",
    "change-0-above": "paper",
    "change-0-below": "paper",
    "measure-0-name": "Yield",
    "measure-0-kind": "yield",
    "measure-0-better": "higher",
    "measure-0-worthwhile": "2",
    "main": "0",
    "draw_how": "drawn",
    "draw_within": "pair",
    "sure": "0.95",
}


def done(answer: Any) -> str:
    assert answer.status_code == 303, re.sub("<[^>]+>|\\s+", " ", answer.text)[:800]
    where: str = answer.headers["location"]
    return where


def test_a_trial_is_set_up_cooked_weighed_and_ended_by_forms_alone(
    alone: Client, empty: Notebook
) -> None:
    for path, fields in (
        ("/kitchen/cookers", {"name": "The barrel", "positions": "Left\nRight, by the fire"}),
        ("/kitchen/probes", {"name": "Core 1", "accuracy": "1"}),
        ("/kitchen/probes", {"name": "Grate", "accuracy": ""}),
        ("/kitchen/scales", {"name": "Bench", "resolution": "5"}),
    ):
        done(alone.form(path, **fields))
    assert done(alone.form("/new-trial", **QUESTION)) == "/trials/paper-or-bare/set-up"
    (trial,) = empty.trials()
    assert standing(empty, trial.id).step[0] is NextStep.SET_UP_COOK
    start = (datetime.now(UTC) - timedelta(hours=2)).astimezone(time_zone("Europe/London"))
    fields = {"name": "First fire", "cookers": "the-barrel"}
    local = start.strftime("%Y-%m-%dT%H:%M")
    where = done(alone.form("/trials/paper-or-bare/new-cook", starts=local, **fields))
    base = where.removesuffix("/set-up")
    assert empty.list(Cook, trial=trial.id)[0].starts == start.replace(second=0, microsecond=0)
    assert standing(empty, trial.id).step[0] is NextStep.ADD_PIECES
    meat = {"cut": "shoulder", "species": "pork", "pair": "Pair 1"}
    for name, arm, spot in (("One", "bare", "left"), ("Two", "paper", "right-by-the-fire")):
        stands = {"arm": arm, "spot": f"the-barrel/{spot}", "thick": "11.5"}
        done(alone.form(f"{base}/pieces", name=name, **stands, **meat))
    one, two = empty.list(Piece, trial=trial.id)
    assert (one.id, two.pair) == ("one", "pair-1")
    assert one.thick_m == pytest.approx(0.115)

    def act(**entry: object) -> None:
        done(alone.form(f"{base}/record", **entry))

    act(kind="probe", probe="core-1", place="core:two", where="thickest part")
    act(kind="probe", probe="grate", place="pit:the-barrel/left")
    assert len(empty.list(Placement, trial=trial.id)) == 2
    for piece, weight in (("one", "4.1"), ("two", "4.3")):
        lies = {"piece": piece, "sum": "trimmed meat", "scale": "bench"}
        done(alone.form(f"{base}/weigh", reading=weight, unit="kg", **lies))
    act(kind="event", event="on", pieces=["one", "two"])
    act(kind="reading", probe="core-1", value="74,6", unit="degC")
    act(kind="event", event="raise", cooker="the-barrel", set="130", unit="°C")
    html = alone.get(base).text
    assert "74.6 °C" in html
    assert "Two has reached its mark: Wrap" in html
    assert "130 °C" in html
    act(kind="event", event="wrap", pieces="two")
    assert "has reached its mark" not in alone.get(base).text
    early = alone.form(f"{base}/record", kind="event", event="pull", pieces=["one", "two"])
    assert early.status_code == 409
    assert "with 95 °C planned" in early.text
    act(kind="event", event="pull", pieces=["one", "two"], insist="yes")
    asked = alone.form(
        f"{base}/weigh", piece="two", sum="cooked meat", scale="bench", reading="4.7", unit="kg"
    )
    assert asked.status_code == 409
    assert "a piece gains nothing" in asked.text
    assert len(empty.list(Weighing, trial=trial.id)) == 2
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', asked.text))
    assert hidden.pop("csrf")
    done(alone.form(f"{base}/weigh", **hidden))
    lies = {"piece": "one", "sum": "cooked meat", "other": "green tray + clinging fat"}
    done(alone.form(f"{base}/weigh", scale="bench", lb="5", oz="8.5", **lies))
    weighed = empty.list(Weighing, trial=trial.id)
    assert [part.text for part in weighed[-1].sum] == ["cooked meat", "green tray", "clinging fat"]
    assert weighed[-1].written == "5 lb 8.5 oz"
    act(kind="event", event="slice", pieces=["one", "two"])
    act(kind="end")
    assert standing(empty, trial.id).step[0] is NextStep.LOOK
    kinds = [event.kind for event in empty.list(Event, trial=trial.id)]
    assert kinds == [EventKind(k) for k in ("on", "raise", "wrap", "pull", "slice")]
    assert empty.load_trial(trial.id).problems() == []
    assert "This cook ended" in alone.get(base).text


def test_a_form_that_is_wrong_says_where_and_keeps_what_was_typed(
    alone: Client, empty: Notebook
) -> None:
    answer = alone.form(
        "/new-trial", **{**QUESTION, "stage-1-core": "hot", "measure-0-worthwhile": ""}
    )
    assert answer.status_code == 422
    assert "protocol.stages.1.ends.0" in answer.text
    assert "measures.0.worthwhile" in answer.text
    assert 'value="hot"' in answer.text
    more = alone.form("/new-trial", **{**QUESTION, "more": "stage"})
    assert (more.status_code, more.text.count("One more stage")) == (200, 1)
    assert 'name="stage-2-name"' in more.text
    assert empty.trials() == ()


def test_a_change_of_the_trial_is_kept_beside_what_was(cook: Client, book: Notebook) -> None:
    html = cook.get(f"/trials/{TRIAL}/question").text
    fields = dict(re.findall(r'<input id="([\w-]+)" name="[\w-]+" value="([^"]*)"', html))
    assert fields["question"]
    was = fields_of(book.trials()[0], METRIC)
    changed = {**was, "question": "Is it so?", "why": "said better"}
    done(cook.form(f"/trials/{TRIAL}/question", **changed))
    assert book.trials()[0].question == "Is it so?"
    assert book.history("trial", TRIAL)[-1].why == "said better"
    # An arm that pieces have cannot go.
    gone = {**changed, "arm-1-name": "", "arm-0-name": "Left bare", "change-0-arm": ""}
    assert cook.form(f"/trials/{TRIAL}/question", **gone).status_code == 422
    assert len(book.trials()[0].arms) == 2


def test_who_may_not_set_up_does_not(sign_in: SignIn) -> None:
    helper, taster = sign_in(Role.HELPER), sign_in(Role.TASTER)
    cook = f"/trials/{TRIAL}/cooks/first-fire"
    for path in ("/kitchen", "/new-trial", f"/trials/{TRIAL}/set-up", f"{cook}/set-up"):
        assert helper.get(path).status_code == 403
    assert helper.get(cook).status_code == 200
    for path in (cook, f"{cook}/weigh", f"{cook}/probes", f"{cook}/alerts", f"{cook}/stream"):
        assert taster.get(path).status_code == 403, path
    assert taster.form(f"{cook}/record", kind="event", event="fuel").status_code == 403


def test_thresholds_are_set_in_ones_own_units(cook: Client, book: Notebook) -> None:
    page = f"/trials/{TRIAL}/cooks/first-fire/alerts"
    assert watch_of(book, TRIAL, "first-fire") == AlertThresholds()
    fields = {"band": "20", "out": "10", "lost": "5", "hold": "57", "come_up": "5", "cooled": "3"}
    done(cook.form(page, warn="30", **fields))
    found = watch_of(book, TRIAL, "first-fire")
    assert (found.pit_band_k, found.pit_out_s, found.hold_least_c) == (20, 600, 57)
    ours = {"temperature": "F", "mass": "lb", "clock": "12", "language": "en", "theme": "auto"}
    cook.form("/you", **ours)
    assert 'value="134.6"' in cook.get(page).text
    done(cook.form(page, warn="30", **{**fields, "band": "36", "hold": "140"}))
    found = watch_of(book, TRIAL, "first-fire")
    assert [found.pit_band_k, found.hold_least_c] == pytest.approx([20, 60])
    assert cook.form(page, warn="30", **{**fields, "hold": "500"}).status_code == 422


def test_times_of_forms_are_those_at_the_cooker() -> None:
    now, london = datetime(2026, 10, 25, 3, tzinfo=UTC), time_zone("Europe/London")
    fields = [("kind", "event"), ("event", "fuel"), ("at", "2026-10-24T23:30")]
    assert entry_of_form(fields, "t", "c", london, now).at == datetime(
        2026, 10, 24, 22, 30, tzinfo=UTC
    )
    assert entry_of_form(fields[:2], "t", "c", london, now).at == now
    # Clocks went back on 25 October 2026 (IANA): 01:30 was twice, and is not guessed.
    with pytest.raises(ClockError, match="twice"):
        entry_of_form([*fields[:2], ("at", "2026-10-25T01:30")], "t", "c", london, now)
    # Said which, it is taken: 00:30 UTC the first time, 01:30 the second.
    for which, hour in (("first", 0), ("second", 1)):
        given = [*fields[:2], ("at", "2026-10-25T01:30"), ("hour", which)]
        at = entry_of_form(given, "t", "c", london, now).at
        assert at == datetime(2026, 10, 25, hour, 30, tzinfo=UTC)


Told = Generator[tuple[str, str], None, None]
STREAM = f"/trials/{TRIAL}/cooks/first-fire/stream"


def _events(answer: Any) -> Told:
    kind = ""
    with closing(answer.iter_lines()) as rows:
        for row in rows:
            if row.startswith("event:"):
                kind = row.removeprefix("event:").strip()
            elif row.startswith("data:"):
                yield kind, row.removeprefix("data:").strip()


@contextmanager
def listening(server: Server) -> Iterator[tuple[Any, Told]]:
    """Give a client and the name and data of each event that its live page is told."""
    with closing(server.client()) as client, client.stream("GET", STREAM) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        with closing(_events(answer)) as told:
            yield client, told


def test_the_stream_tells_what_changed_and_nothing_else(server: Server) -> None:
    with Notebook.open(server.notebook) as book:
        book.correct("cook", "first-fire", {"ends": None}, why="goes on", trial=TRIAL)
    server.start()
    fuel = event_entry("00000000-0000-4000-8000-000000000077", event="fuel", cooker="barrel")
    with listening(server) as (client, told):
        parts = (json.loads(data) for name, data in told if name == "parts")
        first = next(parts)
        assert client.post("/api/entries", json=fuel).status_code == 200
        second = next(one for one in parts if "events" in one)
    assert {"alerts", "pit", "events", "now-shoulder-1", "acts-shoulder-2"} <= first.keys()
    assert "Fuel added" in second["events"]
    assert "acts-shoulder-1" not in second


def test_an_open_page_does_not_keep_the_app_from_stopping(server: Server) -> None:
    server.start()
    with listening(server) as (_, told):
        assert next(told)[0] == "still"
        began = time.monotonic()
        assert server.stop() == 0
        assert time.monotonic() - began < 8


def test_the_stream_ends_when_somebody_may_no_longer_see(server: Server) -> None:
    server.start()
    with listening(server) as (client, told):
        assert next(told)[0] == "still"
        form = {"csrf": client.headers["X-CSRF-Token"]}
        assert client.post("/sign-out", data=form).status_code == 303
        assert "bye" in (name for name, _ in told)
