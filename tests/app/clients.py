"""Browsers and entries for the tests of the app."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from starlette.testclient import TestClient

from fairsmoke.app.security.csrf import csrf_token_for

DATA = Path(__file__).parents[1] / "notebook" / "data" / "by-hand"
TRIAL, COOK = "paper-or-bare", "first-fire"


class Client(TestClient):
    """Somebody's browser. ``change`` posts a form or JSON with the CSRF token."""

    @property
    def csrf_token(self) -> str:
        return csrf_token_for(self.cookies.get("fairsmoke") or "")

    def form(self, path: str, **fields: object):  # type: ignore[no-untyped-def]
        return self.post(path, data={"csrf": self.csrf_token, **fields}, follow_redirects=False)

    def send_json(self, path: str, content: object):  # type: ignore[no-untyped-def]
        return self.post(path, json=content, headers={"X-CSRF-Token": self.csrf_token})


SignIn = Callable[..., Client]


def path_of_link(html: str) -> str:
    found = re.search(r"/enter/[\w-]+", html)
    assert found is not None
    return found[0]


def event_entry(entry_id: str, **more: object) -> dict[str, object]:
    return {
        "id": entry_id,
        "kind": "event",
        "trial": TRIAL,
        "cook": COOK,
        "at": datetime(2026, 5, 3, 4, tzinfo=UTC).isoformat(),
        "event": "note",
        "note": "smoke runs thin",
        **more,
    }
