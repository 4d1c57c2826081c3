"""Entries of the live screen: putting right, moving probes, leaving out, ending, undo."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from tests.app.clients import COOK, TRIAL, Client, SignIn, event_entry

from fairsmoke.app.people.permissions import Role
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Cook, Event
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.probe import Placement


def new() -> str:
    return str(uuid4())


def send(client: Client, kind: str, **more: object):  # type: ignore[no-untyped-def]
    entry = {"id": new(), "kind": kind, "trial": TRIAL, **more}
    return client.send_json("/api/entries", entry)


@pytest.fixture
def running(book: Notebook) -> None:
    book.correct("cook", COOK, {"ends": None}, why="goes on", trial=TRIAL)


def last_event(book: Notebook) -> Event:
    return book.list(Event, trial=TRIAL)[-1]


def test_an_event_is_put_right_by_the_entry_that_made_it(cook: Client, book: Notebook) -> None:
    made = event_entry(new())
    assert cook.send_json("/api/entries", made).status_code == 200
    at = "2026-05-03T03:40:00+00:00"
    assert send(cook, "mend", of=made["id"], at=at, note="thick smoke").status_code == 200
    event = last_event(book)
    assert (event.at, event.note) == (datetime(2026, 5, 3, 3, 40, tzinfo=UTC), "thick smoke")
    first, second = book.history("event", event.id, trial=TRIAL)
    assert first.body["note"] == "smoke runs thin"
    assert (second.by, second.why) == ("Cook", "at put right at once, note put right at once")


def test_an_event_is_put_right_by_its_handle_but_not_another_helpers(
    cook: Client, sign_in: SignIn, book: Notebook
) -> None:
    assert send(cook, "mend", event="first-fire-event-2", note="torn").status_code == 200
    assert book.get(Event, "first-fire-event-2", trial=TRIAL).note == "torn"
    helper = sign_in(Role.HELPER)
    assert send(helper, "mend", event="first-fire-event-2", note="no").status_code == 403
    own = event_entry(new())
    assert helper.send_json("/api/entries", own).status_code == 200
    assert send(helper, "mend", of=own["id"], note="mine").status_code == 200


def test_what_would_not_fit_together_is_refused_and_not_written(
    cook: Client, book: Notebook
) -> None:
    digest = book.digest()
    early = send(cook, "mend", event="first-fire-event-4", at="2026-05-02T21:00:00+00:00")
    assert early.status_code == 422
    assert "before it went on" in early.text
    late = event_entry(new(), at="2026-05-03T20:00:00Z")
    assert "after cook 'first-fire' ended" in cook.send_json("/api/entries", late).text
    assert send(cook, "mend", note="of nothing").status_code == 422
    assert book.digest() == digest


def test_a_probe_moves_and_moves_back(cook: Client, book: Notebook, running: None) -> None:
    at = "2026-05-03T02:00:00+00:00"
    moved = send(
        cook, "probe", cook=COOK, probe="core-1", at=at, measures="core", piece="shoulder-1"
    )
    assert moved.status_code == 200, moved.text
    old, new_stay = (one for one in book.list(Placement, trial=TRIAL) if one.probe == "core-1")
    assert old.until == new_stay.since == datetime(2026, 5, 3, 2, tzinfo=UTC)
    assert book.load_trial(TRIAL).problems() == []
    # Not into its own past.
    before = send(cook, "probe", cook=COOK, probe="core-1", at="2026-05-03T01:00:00Z")
    assert before.status_code == 422
    assert send(cook, "undo", of=moved.json()["id"]).status_code == 200
    (only,) = (one for one in book.list(Placement, trial=TRIAL) if one.probe == "core-1")
    assert only.id == old.id
    assert only.until is None


def test_a_probe_is_taken_out_and_that_is_taken_back(
    cook: Client, book: Notebook, running: None
) -> None:
    out = send(cook, "probe", cook=COOK, probe="pit-1", at="2026-05-03T02:00:00Z")
    (stay,) = (one for one in book.list(Placement, trial=TRIAL) if one.probe == "pit-1")
    assert stay.until == datetime(2026, 5, 3, 2, tzinfo=UTC)
    assert (
        send(cook, "probe", cook=COOK, probe="pit-1", at="2026-05-03T03:00:00Z").status_code == 422
    )
    assert send(cook, "undo", of=out.json()["id"]).status_code == 200
    (stay,) = (one for one in book.list(Placement, trial=TRIAL) if one.probe == "pit-1")
    assert stay.until is None


def test_a_wrong_reading_is_left_out_and_stays_recorded(cook: Client, book: Notebook) -> None:
    at = "2026-05-03T04:00:00.123+00:00"
    slip = {"cook": COOK, "probe": "core-1", "at": at, "value": "715", "unit": "degC"}
    asked = send(cook, "reading", **slip)
    assert asked.status_code == 409
    assert {"value": "71.5", "unit": "degC"} in [
        one["changes"] for one in asked.json()["error"]["likely"]
    ]
    assert send(cook, "reading", **slip, insist=True).status_code == 200
    until = "2026-05-03T04:00:00.124+00:00"
    assert (
        send(cook, "omit", cook=COOK, probe="core-1", since=at, until=until, at=until).status_code
        == 200
    )
    exclusion = book.list(Exclusion, trial=TRIAL)[-1]
    assert exclusion.by == "Cook"
    record = book.load_trial(TRIAL)
    (stay,) = (one for one in record.placements if one.probe == "core-1")
    found = record.readings_of(stay)
    assert 715 in found.value
    assert 715 not in found.value[found.believed]


def test_a_cook_ends_once_and_not_before_what_happened(
    cook: Client, book: Notebook, running: None
) -> None:
    early = send(cook, "end", cook=COOK, at="2026-05-03T09:00:00Z")
    assert early.status_code == 422
    ended = send(cook, "end", cook=COOK, at="2026-05-03T12:30:00Z")
    assert ended.status_code == 200
    assert book.get(Cook, COOK, trial=TRIAL).ends == datetime(2026, 5, 3, 12, 30, tzinfo=UTC)
    assert send(cook, "end", cook=COOK, at="2026-05-03T13:00:00Z").status_code == 422
    assert send(cook, "undo", of=ended.json()["id"]).status_code == 200
    assert book.get(Cook, COOK, trial=TRIAL).ends is None


def test_a_late_mend_does_not_undo_what_somebody_put_right_meanwhile(
    cook: Client, sign_in: SignIn, book: Notebook
) -> None:
    helper = sign_in(Role.HELPER, "Hal")
    own = send(
        helper, "event", event="note", note="thin smoke", cook=COOK, at="2026-05-03T04:00:00+00:00"
    ).json()
    assert send(helper, "mend", of=own["id"], note="thin, blue smoke").status_code == 200
    assert (
        send(cook, "mend", event=own["handle"], note="thick smoke", why="seen").status_code == 200
    )
    # Written on a phone without a connection before the cook's, and sent after it.
    before = {"made": (datetime.now(UTC) - timedelta(hours=1)).isoformat()}
    late = send(helper, "mend", of=own["id"], note="no smoke", **before)
    assert (late.status_code, late.json()["error"]["code"]) == (409, "changed")
    assert "Cook" in late.json()["error"]["message"]
    assert book.get("event", own["handle"], trial=TRIAL).note == "thick smoke"  # type: ignore[attr-defined]
    assert (
        send(helper, "mend", of=own["id"], note="no smoke", overrule=True, **before).status_code
        == 200
    )
    # Whoever has seen it as it stands changes it as ever.
    now = {"made": datetime.now(UTC).isoformat()}
    assert send(cook, "mend", event=own["handle"], note="none", **now).status_code == 200
