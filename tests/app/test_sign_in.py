"""Signing in by link and PIN, sessions, roles, and what an intruder meets."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi import FastAPI
from sqlalchemy import select
from tests.app.clients import TRIAL, Client, SignIn, path_of_link

from fairsmoke.app.pages.sign_in import within
from fairsmoke.app.people import register, secrets, sessions
from fairsmoke.app.people.permissions import ALLOWED, May, Role
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import LINK, PERSON, SESSION


def test_a_link_signs_in_once_and_looking_at_it_does_not_use_it_up(
    visitor: Client, link: Callable[[], str]
) -> None:
    path = f"/enter/{link()}"
    assert "Cook" in visitor.get(path).text
    assert visitor.get(path).status_code == 200
    before = visitor.cookies.get("fairsmoke")
    assert visitor.form(path).headers["location"] == "/"
    # A cookie that somebody planted before would otherwise be signed in now.
    assert visitor.cookies.get("fairsmoke") != before
    assert visitor.get("/api/me").json()["role"] == "cook"
    assert visitor.form(path).status_code == 404
    assert visitor.get(path).status_code == 404


def test_a_link_ends(visitor: Client, link: Callable[..., str]) -> None:
    assert visitor.get(f"/enter/{link(timedelta(seconds=-1))}").status_code == 404


def test_the_notebook_holds_no_secret_that_lets_anyone_in(
    visitor: Client, book: Notebook, link: Callable[[], str]
) -> None:
    token = link()
    visitor.get("/sign-in")
    visitor.form(f"/enter/{token}")
    visitor.form("/you/pin", pin="271828")
    cookie = visitor.cookies["fairsmoke"]
    with book.reading() as connection:
        rows = [
            *connection.execute(select(LINK)),
            *connection.execute(select(SESSION)),
            *connection.execute(select(PERSON)),
        ]
    book.settle()
    text = repr(rows)
    assert token not in text
    assert cookie not in text
    assert "271828" not in text
    assert token.encode() not in book.path.read_bytes()


def test_a_pin_signs_in_whatever_the_case_of_the_name(cook: Client, visitor: Client) -> None:
    assert cook.form("/you/name", name="Örjan").status_code == 303
    assert cook.form("/you/pin", pin="271828").status_code == 303
    visitor.get("/sign-in")
    wrong = visitor.form("/sign-in", name="örjan", pin="271829")
    assert (wrong.status_code, "do not fit" in wrong.text) == (422, True)
    right = visitor.form("/sign-in", name=" örjan ", pin="271828", next=f"/trials/{TRIAL}")
    assert right.headers["location"] == f"/trials/{TRIAL}"
    assert visitor.get("/").status_code == 200


@pytest.mark.parametrize("pin", ["12345", "1234567890123", "12345a", "１２３４５６"])
def test_a_weak_pin_is_refused(cook: Client, pin: str) -> None:
    assert cook.form("/you/pin", pin=pin).status_code == 422


def test_guessing_is_stopped(visitor: Client, book: Notebook) -> None:
    visitor.get("/sign-in")
    answers = [visitor.form("/sign-in", name="Cook", pin="000000") for _ in range(11)]
    assert [one.status_code for one in answers] == [422] * 10 + [429]
    assert 0 < int(answers[-1].headers["retry-after"]) <= 15 * 60


def test_scrypt_is_the_one_of_the_standard() -> None:
    # RFC 7914 section 12, third vector (N=16384, r=8, p=1), from memory of its first bytes.
    import hashlib

    found = hashlib.scrypt(
        b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1, maxmem=2**26, dklen=64
    )
    assert found.hex().startswith("7023bdcb3afd7348")
    kept = secrets.kept_pin("271828")
    assert secrets.pin_is("271828", kept)
    assert not secrets.pin_is("271829", kept)
    assert not secrets.pin_is("271828", None)
    assert secrets.kept_pin("271828") != kept


def test_signing_out_ends_the_session_at_the_server(cook: Client) -> None:
    cookie = cook.cookies["fairsmoke"]
    assert cook.form("/sign-out").headers["location"] == "/sign-in"
    cook.cookies.set("fairsmoke", cookie)
    assert cook.get("/api/me").status_code == 401


def test_a_page_leads_to_the_sign_in_and_the_api_says_401(visitor: Client) -> None:
    answer = visitor.get(f"/trials/{TRIAL}", follow_redirects=False)
    assert answer.headers["location"] == f"/sign-in?next=%2Ftrials%2F{TRIAL}"
    assert visitor.get("/api/me").json()["error"]["code"] == "sign-in"


@pytest.mark.parametrize(
    "target", ["https://elsewhere.example", "//elsewhere.example", "/\\elsewhere", "", "/a\nb"]
)
def test_a_sign_in_never_leads_elsewhere(target: str) -> None:
    assert within(target) == "/"


def test_nobody_sees_the_key_and_tastes() -> None:
    for role, allowed in ALLOWED.items():
        assert not {May.SEE_TRIALS, May.TASTE} <= allowed, role


def test_a_taster_sees_nothing_of_a_trial(sign_in: SignIn, book: Notebook) -> None:
    taster = sign_in(Role.TASTER)
    home = taster.get("/")
    assert home.status_code == 200
    trial = book.trials()[0]
    for secret in (trial.title, trial.id, *(arm.name for arm in trial.arms)):
        assert secret not in home.text
    for path in (f"/trials/{TRIAL}", "/people", f"/api/photos/{TRIAL}/{'0' * 64}"):
        assert taster.get(path).status_code == 403
    assert taster.get("/trials/no-such").status_code == 403


def test_a_helper_lets_nobody_in(sign_in: SignIn) -> None:
    helper = sign_in(Role.HELPER)
    assert helper.get(f"/trials/{TRIAL}").status_code == 200
    assert helper.get("/people").status_code == 403
    assert helper.form("/people", name="Mallory", role="cook").status_code == 403


def test_a_cook_lets_somebody_in_and_out(cook: Client, visitor: Client, book: Notebook) -> None:
    made = cook.form("/people", name="Bea", role="helper")
    assert "<svg" in made.text
    visitor.get("/sign-in")
    assert visitor.form(path_of_link(made.text)).status_code == 303
    assert visitor.get("/api/me").json()["name"] == "Bea"
    with book.reading() as connection:
        bea = next(one for one in register.people(connection) if one.name == "Bea")
    assert cook.form(f"/people/{bea.id}/leave").status_code == 303
    assert visitor.get("/api/me").status_code == 401
    assert "Bea" not in cook.get("/people").text


def test_the_last_cook_stays(cook: Client) -> None:
    number = cook.get("/api/me").json()["id"]
    assert cook.form(f"/people/{number}/leave").status_code == 409


def test_two_people_have_two_names(cook: Client) -> None:
    cook.form("/people", name="Bea", role="helper")
    assert cook.form("/people", name=" bea ", role="taster").status_code == 422


def test_a_lost_phone_is_signed_out_from_another(
    visitor: Client, app: FastAPI, book: Notebook, sign_in: SignIn
) -> None:
    kept = sign_in(Role.HELPER, "Hal")

    def second() -> Client:
        """Return another phone of the same person."""
        with book.transaction() as transaction:
            hal = next(one for one in register.people(transaction.connection) if one.name == "Hal")
            token = sessions.begin(transaction, hal, timedelta(days=1), "an old phone")
        phone = Client(app, base_url="http://127.0.0.1")
        phone.cookies.set("fairsmoke", token)
        assert phone.get("/api/me").status_code == 200
        return phone

    lost = second()
    shown = kept.get("/you").text
    assert "an old phone" in shown
    assert lost.cookies["fairsmoke"] not in shown
    named = re.findall(r'name="session" value="([^"]+)"', shown)
    assert len(named) == 1
    # Whoever knows the name of a session is not let in by it, nor can end somebody else's.
    sign_in(Role.COOK, "Other").form("/you/sessions", session=named[0])
    assert lost.get("/api/me").status_code == 200
    kept.form("/you/sessions", session=named[0])
    assert lost.get("/api/me").status_code == 401
    for everywhere in ({"path": "/you/sessions"}, {"path": "/you/pin", "pin": "271828"}):
        lost = second()
        kept.form(**everywhere)
        assert lost.get("/api/me").status_code == 401
        assert kept.get("/api/me").status_code == 200
    manager = sign_in(Role.COOK, "Third")
    number = kept.get("/api/me").json()["id"]
    assert sign_in(Role.HELPER, "No").form(f"/people/{number}/sign-out").status_code == 403
    assert manager.form(f"/people/{number}/sign-out").status_code == 303
    assert kept.get("/api/me").status_code == 401
