"""Forged forms, rebound names, floods, large bodies, headers."""

from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from tests.app.clients import TRIAL, Client

from fairsmoke.app.factory import create_app
from fairsmoke.app.security.hosts import host_of, is_ours
from fairsmoke.app.settings import IntakeLimits, Settings
from fairsmoke.notebook import Notebook

FIRST = "00000000-0000-4000-8000-000000000001"


def test_a_form_without_its_mark_changes_nothing(cook: Client) -> None:
    for data in ({}, {"csrf": ""}, {"csrf": "0" * 64}):
        assert cook.post("/you/theme", data={"theme": "dark", **data}).status_code == 403
    assert cook.post("/api/entries", json={}).json()["error"]["code"] == "form-mark"
    assert cook.get("/api/me").json()["theme"] == "auto"
    assert cook.form("/you/theme", theme="dark").status_code == 303
    assert cook.get("/api/me").json()["theme"] == "dark"


@pytest.mark.parametrize(
    "headers", [{"Origin": "http://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}]
)
def test_another_site_is_refused_whatever_it_knows(cook: Client, headers: dict[str, str]) -> None:
    fields = {"csrf": cook.csrf_token, "theme": "dark"}
    assert cook.post("/you/theme", data=fields, headers=headers).status_code == 403


@pytest.mark.parametrize(
    ("header", "ours"),
    [
        ("127.0.0.1:8420", True),
        ("[::1]:8420", True),
        ("192.168.1.7", True),
        ("localhost:1", True),
        ("pit.local", True),
        ("elsewhere.example:8420", False),
        ("127.0.0.1.elsewhere.example", False),
        ("", False),
    ],
)
def test_only_our_own_names(header: str, ours: bool) -> None:
    assert is_ours(host_of(header), {"pit.local"}) is ours


def test_a_rebound_name_gets_no_answer(visitor: Client) -> None:
    answer = visitor.get("/sign-in", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "fairsmoke" not in answer.headers.get("set-cookie", "")


def test_headers_stand_on_every_answer(cook: Client) -> None:
    for path in ("/", "/sign-in", "/no-such", "/api/me", "/worker.js", f"/trials/{TRIAL}"):
        headers = cook.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] in ("no-store", "no-cache")
    cookie = cook.app.state.cookie  # type: ignore[attr-defined]
    assert cookie == "fairsmoke"


def test_the_cookie_is_out_of_reach(visitor: Client) -> None:
    said = visitor.get("/sign-in").headers["set-cookie"]
    assert "HttpOnly" in said
    assert "SameSite=lax" in said


def test_over_tls_the_cookie_stays_there(book: Notebook) -> None:
    app = create_app(Settings(book.path, secure=True), book)
    said = Client(app, base_url="https://127.0.0.1").get("/sign-in").headers["set-cookie"]
    assert said.startswith("__Host-fairsmoke=")
    assert "Secure" in said


def test_no_page_has_an_inline_script_or_style(cook: Client) -> None:
    for path in ("/", f"/trials/{TRIAL}", "/people", "/you", "/waiting", "/sign-in"):
        html = cook.get(path).text
        assert "<style" not in html
        assert " style=" not in html
        assert " onclick=" not in html
        assert html.count("<script") == html.count('<script type="module" src="/static/')


def limited(book: Notebook, **limits: object) -> FastAPI:
    return create_app(Settings(book.path, limits=IntakeLimits(**limits)), book)  # type: ignore[arg-type]


def test_a_flood_is_held_back(book: Notebook) -> None:
    client = Client(limited(book, per_client="5 per minute"), base_url="http://127.0.0.1")
    answers = [client.get("/api/me") for _ in range(6)]
    assert [one.status_code for one in answers] == [401] * 5 + [429]
    assert answers[-1].json()["error"]["code"] == "too-often"
    assert int(answers[-1].headers["retry-after"]) > 0


def test_a_large_body_is_refused_even_when_its_length_is_not_said(book: Notebook) -> None:
    client = Client(limited(book, body=1000), base_url="http://127.0.0.1")
    client.get("/sign-in")
    headers = {"X-CSRF-Token": client.csrf_token, "Content-Type": "application/json"}
    said = client.post("/api/entries", content=b"x" * 1001, headers=headers)
    assert (said.status_code, said.json()["error"]["code"]) == (413, "too-large")

    def unsaid() -> Iterator[bytes]:
        for _ in range(11):
            yield b"x" * 100

    assert client.post("/api/entries", content=unsaid(), headers=headers).status_code == 413


def test_a_fault_of_ours_says_so_and_tells_nothing(
    book: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = create_app(Settings(book.path), book)
    monkeypatch.setattr("fairsmoke.app.auth.sessions.find", lambda *_: 1 / 0)
    client = Client(app, base_url="http://127.0.0.1", raise_server_exceptions=False)
    client.cookies.set("fairsmoke", "x")
    answer = client.get("/api/me")
    assert (answer.status_code, answer.json()["error"]["code"]) == (500, "fault")
    assert "division" not in answer.text


def test_nothing_large_is_taken_from_a_stranger(app: FastAPI, cook: Client) -> None:
    stranger = Client(app, base_url="http://127.0.0.1")
    stranger.get("/sign-in")
    for path in ("/readings/files", "/api/photos", "/api/entries", "/sign-in"):
        answer = stranger.post(path, content=b"x" * 20_000)
        assert (path, answer.status_code) == (path, 413)
    stranger.cookies.set("fairsmoke", "made-up")
    assert stranger.post("/readings/files", content=b"x" * 20_000).status_code == 413
    headers = {"Authorization": "Bearer made-up"}
    assert stranger.post("/api/readings", content=b"x" * 20_000, headers=headers).status_code == 413
    # What a cook fills in goes through, and a form of a megabyte does not.
    form = {"csrf": cook.csrf_token, "name": "x" * 20_000}
    assert cook.post("/you/name", data=form).status_code != 413
    assert cook.post("/you/name", data={**form, "name": "x" * 300_000}).status_code == 413
