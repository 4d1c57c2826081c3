"""One's own page: units, clock, language, theme, name, PIN, another phone."""

from datetime import UTC, datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, SignedIn, Told
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.people import link_page
from fairsmoke.app.people import register, sessions
from fairsmoke.app.people.person import Preferences, Theme
from fairsmoke.app.problems import AppError
from fairsmoke.messages.catalogue import LANGUAGES
from fairsmoke.messages.message import N_

router = APIRouter()
PLACES = (NavigationLink(N_("You"), "me", "person", 0),)


@router.get("/you", name="me")
def show_me(page: OnPage, book: Book, person: SignedIn) -> HTMLResponse:
    """Show what somebody prefers, and where they are signed in."""
    with book.reading() as connection:
        found = sessions.of_person(connection, person, page.visitor.cookie, datetime.now(UTC))
    return page.show("me.html", preferences=person.preferences, sessions=found)


@router.post("/you", name="prefer")
def prefer(
    page: OnPage,
    book: Book,
    person: SignedIn,
    temperature: Annotated[Literal["C", "F"], Form()],
    mass: Annotated[Literal["kg", "lb"], Form()],
    clock: Annotated[Literal["12", "24"], Form()],
    language: Annotated[str, Form(max_length=10)],
    theme: Annotated[Theme, Form()],
) -> RedirectResponse:
    """Keep what somebody prefers."""
    if language not in LANGUAGES:
        raise AppError(422, "language", N_("There is no such language here."))
    chosen = Preferences(
        temperature=temperature, mass=mass, clock=clock, language=language, theme=theme
    )
    with book.transaction(by=person.name) as transaction:
        register.prefer(transaction, person, chosen)
    return page.go("me")


@router.post("/you/theme", name="set_theme")
def set_theme(
    page: OnPage, book: Book, person: SignedIn, theme: Annotated[Theme, Form()]
) -> RedirectResponse:
    """Switch between light and dark."""
    chosen = person.preferences.model_copy(update={"theme": theme})
    with book.transaction(by=person.name) as transaction:
        register.prefer(transaction, person, chosen)
    return page.go("me")


@router.post("/you/name", name="rename")
def rename(
    page: OnPage, book: Book, person: SignedIn, name: Annotated[str, Form(max_length=200)]
) -> RedirectResponse:
    """Take another name."""
    with book.transaction(by=person.name) as transaction:
        register.rename(transaction, person, name)
    return page.go("me")


@router.post("/you/pin", name="set_pin")
def set_pin(
    page: OnPage, book: Book, person: SignedIn, pin: Annotated[str, Form(max_length=40)] = ""
) -> RedirectResponse:
    """Set a PIN, or with nothing written take it away; whoever knew the old one is signed out."""
    kept = register.pin_to_keep(pin.strip())
    with book.transaction(by=person.name) as transaction:
        register.set_pin(transaction, person, kept)
        sessions.end_others(transaction, person, page.visitor.cookie)
    return page.go("me")


@router.post("/you/sessions", name="end_sessions")
def end_sessions(
    page: OnPage,
    book: Book,
    person: SignedIn,
    session: Annotated[str, Form(max_length=64)] = "",
) -> RedirectResponse:
    """Sign somebody out on one of their phones, or with nothing named on all but this one."""
    with book.transaction(by=person.name) as transaction:
        if session:
            sessions.end_one(transaction, person, session)
        else:
            sessions.end_others(transaction, person, page.visitor.cookie)
    return page.go("me")


@router.post("/you/link", name="link_me")
def another_phone(page: OnPage, book: Book, told: Told, person: SignedIn) -> HTMLResponse:
    """Show a link that signs one's other phone in."""
    with book.transaction(by=person.name) as transaction:
        token = sessions.make_link(transaction, person, told.link)
    return link_page(page, person, token)
