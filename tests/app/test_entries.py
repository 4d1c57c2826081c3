"""Entries: each kind recorded, each exactly once, refused with its place."""

import io
from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from tests.app.clients import COOK, TRIAL, Client, SignIn, event_entry

from fairsmoke.app.people.permissions import Role
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Event
from fairsmoke.trial.weighing import Weighing

JPEG = b"\xff\xd8\xff\xe0" + bytes(200)


def new() -> str:
    return str(uuid4())


def test_an_event_is_recorded_as_sent_and_by_whom(cook: Client, book: Notebook) -> None:
    entry = event_entry(new(), event="raise", set="275 °F", cooker="barrel")
    answer = cook.send_json("/api/entries", entry)
    assert answer.status_code == 200, answer.text
    event = book.get(Event, answer.json()["handle"], trial=TRIAL)
    assert event.set_c == pytest.approx(135)
    assert (event.by, event.note, event.kind) == ("Cook", "smoke runs thin", "raise")
    assert book.check() == ()


def test_sent_again_it_is_there_once_and_the_answer_is_the_same(
    cook: Client, book: Notebook
) -> None:
    entry = event_entry(new())
    before = len(book.list(Event, trial=TRIAL))
    answers = [cook.send_json("/api/entries", entry).json() for _ in range(3)]
    assert answers[0] == answers[1] == answers[2]
    assert len(book.list(Event, trial=TRIAL)) == before + 1


def test_sent_at_once_by_many_it_is_there_once(cook: Client, book: Notebook) -> None:
    entry = event_entry(new())
    before = len(book.list(Event, trial=TRIAL))
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda _: cook.send_json("/api/entries", entry).json(), range(8)))
    assert all(one == answers[0] for one in answers)
    assert len(book.list(Event, trial=TRIAL)) == before + 1


def test_an_id_with_other_content_is_refused(cook: Client) -> None:
    entry = event_entry(new())
    assert cook.send_json("/api/entries", entry).status_code == 200
    other = cook.send_json("/api/entries", {**entry, "note": "something else"})
    assert (other.status_code, other.json()["error"]["code"]) == (409, "other-content")


def test_what_is_refused_leaves_its_id_free(cook: Client, book: Notebook) -> None:
    digest = book.digest()
    entry = event_entry(new(), event="moved", pieces=[book.list("piece", trial=TRIAL)[0].id])  # type: ignore[attr-defined]
    refused = cook.send_json("/api/entries", entry)
    assert refused.status_code == 422
    assert "needs 'to'" in refused.text
    assert book.digest() == digest
    assert cook.send_json("/api/entries", {**entry, "event": "note"}).status_code == 200


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"cook": "no-fire"}, "no cook 'no-fire'"),
        ({"trial": "no-trial"}, "no such trial"),
        ({"at": "2026-05-03T04:00"}, "at"),
        ({"at": None}, "at"),
        ({"event": "dance"}, "event"),
        ({"set": "250"}, "250"),
        ({"extra": 1}, "extra"),
    ],
)
def test_a_refusal_names_the_place(cook: Client, change: dict[str, object], place: str) -> None:
    answer = cook.send_json("/api/entries", event_entry(new(), **change))
    assert answer.status_code == 422
    assert place in answer.text
    assert set(answer.json()["error"]) == {"code", "message", "problems"}


def test_a_reading_keeps_its_digits(cook: Client, book: Notebook) -> None:
    entry = {
        "id": new(),
        "kind": "reading",
        "trial": TRIAL,
        "cook": COOK,
        "probe": "pit-1",
        "at": "2026-05-03T04:00:00.250+02:00",
        "value": "203,50",
        "unit": "degF",
    }
    assert cook.send_json("/api/entries", entry).status_code == 200
    # 2026-05-03T02:00:00Z is 1777773600 s after 1970 (date -u -d ... +%s).
    one = book.readings(TRIAL, COOK, "pit-1", 1_777_773_600_250, 1_777_773_600_251)
    assert one.time_ms.tolist() == [1_777_773_600_250]
    assert (one.raw.tolist(), one.decimals, one.unit) == ([20350], 2, "degF")


def test_a_weighing_keeps_what_was_written(cook: Client, book: Notebook) -> None:
    scale = book.list("scale")[0]
    piece = book.list("piece", trial=TRIAL)[0]
    entry = {
        "id": new(),
        "kind": "weighing",
        "trial": TRIAL,
        "cook": COOK,
        "piece": piece.id,  # type: ignore[attr-defined]
        "scale": scale.id,  # type: ignore[attr-defined]
        "at": "2026-05-03T12:00:00+01:00",
        "reading": "4 lb 6 oz",
        "sum": ["held meat", "used wrap"],
    }
    answer = cook.send_json("/api/entries", entry)
    assert answer.status_code == 200, answer.text
    weighing = book.get(Weighing, answer.json()["handle"], trial=TRIAL)
    assert weighing.written == "4 lb 6 oz"
    assert weighing.reading_kg == pytest.approx(70 * 0.028349523125)
    assert [part.text for part in weighing.sum] == ["held meat", "used wrap"]


def undo(of: str) -> dict[str, object]:
    return {"id": new(), "kind": "undo", "trial": TRIAL, "of": of}


def test_an_undo_strikes_out_and_keeps(cook: Client, book: Notebook) -> None:
    entry = event_entry(new())
    handle = cook.send_json("/api/entries", entry).json()["handle"]
    assert cook.send_json("/api/entries", undo(str(entry["id"]))).status_code == 200
    assert handle not in [event.id for event in book.list(Event, trial=TRIAL)]
    states = book.history("event", handle, trial=TRIAL)
    assert [one.struck for one in states] == [False, True]
    # The next one takes a handle of its own.
    assert cook.send_json("/api/entries", event_entry(new())).json()["handle"] != handle


def test_a_helper_undoes_only_what_is_theirs(cook: Client, sign_in: SignIn) -> None:
    helper = sign_in(Role.HELPER)
    entry = event_entry(new())
    cook.send_json("/api/entries", entry)
    assert helper.send_json("/api/entries", undo(str(entry["id"]))).status_code == 403
    own = event_entry(new())
    helper.send_json("/api/entries", own)
    assert cook.send_json("/api/entries", undo(str(own["id"]))).status_code == 200


def test_a_taster_records_nothing(sign_in: SignIn, book: Notebook) -> None:
    digest = book.digest()
    taster = sign_in(Role.TASTER)
    assert taster.send_json("/api/entries", event_entry(new())).status_code == 403
    assert book.digest() == digest


def photo(client: Client, content: bytes, **fields: str):  # type: ignore[no-untyped-def]
    return client.post(
        "/api/photos",
        data={"trial": TRIAL, **fields},
        files={"photo": ("bark.jpg", io.BytesIO(content), "image/jpeg")},
        headers={"X-CSRF-Token": client.csrf_token},
    )


def test_a_photo_belongs_to_an_event_and_comes_back_byte_by_byte(cook: Client) -> None:
    entry = event_entry(new())
    cook.send_json("/api/entries", entry)
    known = {"id": new(), "of": str(entry["id"])}
    first = photo(cook, JPEG, **known)
    assert first.status_code == 200, first.text
    assert photo(cook, JPEG, **known).json() == first.json()
    assert photo(cook, JPEG + b"x", **known).status_code == 409
    sha256 = first.json()["handle"]
    back = cook.get(f"/api/photos/{TRIAL}/{sha256}")
    assert (back.content, back.headers["content-type"]) == (JPEG, "image/jpeg")
    assert cook.get(f"/api/photos/{TRIAL}/{'0' * 64}").status_code == 404


def test_what_is_no_picture_or_of_no_event_is_refused(cook: Client) -> None:
    assert photo(cook, b"<svg>", id=new(), event="first-fire-event-1").status_code == 415
    assert photo(cook, JPEG, id=new(), event="no-event").status_code == 422
    assert photo(cook, JPEG, id=new()).status_code == 422
