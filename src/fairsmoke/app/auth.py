"""Auth dependencies: the session's visitor, the person signed in, the device, their permissions."""

import asyncio
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

from fastapi import Depends, FastAPI, Request
from fastapi.security import HTTPBearer
from starlette.requests import cookie_parser

from fairsmoke.app.people import devices, sessions
from fairsmoke.app.people.devices import Device
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.people.secrets import digest_of, new_token
from fairsmoke.app.problems import AppError
from fairsmoke.app.settings import Settings
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook


async def _book(request: Request) -> Notebook:
    found: Notebook = request.app.state.book
    return found


async def _settings(request: Request) -> Settings:
    found: Settings = request.app.state.settings
    return found


Book = Annotated[Notebook, Depends(_book)]
"""The open notebook; safe to use from any thread."""
Told = Annotated[Settings, Depends(_settings)]


@dataclass(frozen=True)
class Visitor:
    """Whoever asks. ``cookie`` is theirs even before they sign in; ``fresh`` when just made."""

    cookie: str
    person: Person | None = None
    fresh: bool = False


def _visitor(request: Request, book: Book, settings: Told) -> Visitor:
    cookie = request.cookies.get(request.app.state.cookie, "")
    if not cookie:
        return Visitor(new_token(), fresh=True)
    now = datetime.now(UTC)
    with book.reading() as connection:
        found = sessions.find(connection, cookie, now)
    if found is None:
        return Visitor(cookie)
    person, seen_at = found
    if now - seen_at > sessions.SEEN_EVERY:
        with book.transaction() as transaction:
            sessions.seen(transaction, cookie, settings.session)
    return Visitor(cookie, person)


Visiting = Annotated[Visitor, Depends(_visitor)]


def _signed_in(visitor: Visiting) -> Person:
    if visitor.person is None:
        raise AppError(401, "sign-in", N_("Sign in first."))
    return visitor.person


SignedIn = Annotated[Person, Depends(_signed_in)]
"""The person signed in, whatever they may; an answer 401 or the sign-in page otherwise."""


def needs(what: May) -> Callable[[Person], Person]:
    """Return the auth dependency that yields the person signed in if they have a permission."""

    def allowed(person: SignedIn) -> Person:
        if not person.may(what):
            raise AppError(403, "not-allowed", N_("This is not open to you here."))
        return person

    return allowed


Seer = Annotated[Person, Depends(needs(May.SEE_TRIALS))]
Recorder = Annotated[Person, Depends(needs(May.RECORD))]
SettingUp = Annotated[Person, Depends(needs(May.SET_UP))]
Manager = Annotated[Person, Depends(needs(May.MANAGE_PEOPLE))]

_bearer = HTTPBearer(auto_error=False, description="The token of a device.")


class KnownDevices:
    """Cache of device tokens, so that a post each second asks no thread for its device.

    ``forget`` when a token is withdrawn; ``MOMENT_S`` is for other programs on the notebook.
    """

    MOMENT_S = 5.0

    def __init__(self, book: Notebook) -> None:
        self._book = book
        self._known: dict[str, tuple[float, Device]] = {}

    async def find(self, token: str) -> Device | None:
        """Return the device whose token that is."""
        digest, now_s = digest_of(token), time.monotonic()
        until_s, device = self._known.get(digest, (0.0, None))
        if device is not None and now_s < until_s:
            return device
        found = await asyncio.to_thread(self._look, token)
        if found is None:
            self._known.pop(digest, None)
        else:
            self._known[digest] = (now_s + self.MOMENT_S, found)
        return found

    def forget(self) -> None:
        """Ask the notebook again."""
        self._known.clear()

    def _look(self, token: str) -> Device | None:
        with self._book.reading() as connection:
            return devices.device_of(connection, token)


class KnownSenders:
    """Tells from a request's headers alone whether its sender is somebody, before its body.

    An answer stands for a moment, so that each of many posts asks no thread. That costs no
    safety: who may do what is decided anew behind it.
    """

    MOMENT_S = 5.0
    MOST = 5000

    def __init__(self, app: FastAPI) -> None:
        self._state = app.state
        self._known: dict[str, tuple[float, bool]] = {}

    async def known(self, headers: Mapping[bytes, bytes]) -> bool:
        """Tell whether the cookie or the bearer token belongs to somebody."""
        bearer = headers.get(b"authorization", b"").decode("latin-1")
        if bearer.lower().startswith("bearer "):
            return await self._state.devices.find(bearer[7:].strip()) is not None
        cookie = cookie_parser(headers.get(b"cookie", b"").decode("latin-1"))
        token = cookie.get(self._state.cookie, "")
        if not token:
            return False
        digest, now_s = digest_of(token), time.monotonic()
        until_s, found = self._known.get(digest, (0.0, False))
        if now_s >= until_s or not found:
            found = await asyncio.to_thread(self._look, token)
            if len(self._known) >= self.MOST:
                self._known.clear()
            self._known[digest] = (now_s + self.MOMENT_S, found)
        return found

    def _look(self, token: str) -> bool:
        try:
            with self._state.book.reading() as connection:
                return sessions.find(connection, token, datetime.now(UTC)) is not None
        except ValueError:
            # The notebook is what is wrong: that is said where it is asked for.
            return True


async def _device(request: Request, given: Annotated[object, Depends(_bearer)]) -> Device:
    known: KnownDevices = request.app.state.devices
    token = getattr(given, "credentials", "")
    found = await known.find(token) if token else None
    if found is None:
        message = N_("This device is not known here; give it a new token.")
        raise AppError(401, "device", message, headers={"WWW-Authenticate": "Bearer"})
    return found


FromDevice = Annotated[Device, Depends(_device)]
"""The device that shows its token."""
