"""Who asks: the visitor, the person signed in, the device; and what they may."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated

from fastapi import Depends, Request
from fastapi.security import HTTPBearer

from fairsmoke.app.people import devices, sessions
from fairsmoke.app.people.devices import Device
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.people.secrets import new_token
from fairsmoke.app.problems import AppError
from fairsmoke.app.settings import Settings
from fairsmoke.app.text.messages import N_
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
    """Return a dependency that gives the person signed in if they may do that."""

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


def _device(
    book: Book,
    given: Annotated[object, Depends(_bearer)],
) -> Device:
    token = getattr(given, "credentials", "")
    with book.reading() as connection:
        found = devices.device_of(connection, token) if token else None
    if found is None:
        message = N_("This device is not known here; give it a new token.")
        raise AppError(401, "device", message, headers={"WWW-Authenticate": "Bearer"})
    return found


FromDevice = Annotated[Device, Depends(_device)]
"""The device that shows its token."""
