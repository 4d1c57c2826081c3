"""Signing in by link or PIN, and signing out."""

from datetime import UTC, datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fairsmoke.app.auth import Book, Told, Visiting
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.people import sessions
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.app.security.rate_limiter import RateLimiter
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook

router = APIRouter()


def within(target: str) -> str:
    """Return a path of this app, whatever was asked for: a link must not lead elsewhere."""
    plain = target.startswith("/") and not target.startswith(("//", "/\\"))
    return target if plain and target.isprintable() and "\\" not in target else "/"


@router.get("/sign-in", name="sign_in")
def ask(page: OnPage, next: str = "/") -> Response:  # noqa: A002
    """Ask who is there."""
    if page.person is not None:
        return RedirectResponse(within(next), 303)
    return page.show("sign_in.html", next=within(next), wrong=False)


@router.post("/sign-in", name="sign_in_with_pin")
def with_pin(
    page: OnPage,
    request: Request,
    book: Book,
    told: Told,
    name: Annotated[str, Form(max_length=200)],
    pin: Annotated[str, Form(max_length=40)],
    next: Annotated[str, Form(max_length=2000)] = "/",  # noqa: A002
) -> Response:
    """Sign somebody in by name and PIN."""
    tries: RateLimiter = request.app.state.sign_ins
    who = " ".join(name.split()).casefold()
    tries.check("client", _client(request))
    tries.check("name", who)
    with book.reading() as connection:
        person = sessions.person_of_pin(connection, name, pin.strip())
    if person is None:
        return page.show("sign_in.html", 422, next=within(next), wrong=True)
    tries.forget("client", _client(request))
    tries.forget("name", who)
    return _begun(page, book, told.session, person, within(next))


@router.get("/enter/{token}", name="enter")
def look_at_link(page: OnPage, request: Request, book: Book, token: str) -> HTMLResponse:
    """Show whom a link signs in. It is used up by the button only: programs look at links too."""
    tries: RateLimiter = request.app.state.sign_ins
    tries.check("link", _client(request))
    with book.reading() as connection:
        person = sessions.person_of_link(connection, token, datetime.now(UTC))
    if person is None:
        raise _used_up()
    return page.show("enter.html", token=token, whom=person)


@router.post("/enter/{token}", name="enter_with_link")
def with_link(page: OnPage, book: Book, told: Told, token: str) -> Response:
    """Sign somebody in by link."""
    with book.transaction() as transaction:
        person = sessions.use_link(transaction, token)
    if person is None:
        raise _used_up()
    return _begun(page, book, told.session, person, "/")


@router.post("/sign-out", name="sign_out")
def sign_out(page: OnPage, book: Book, visitor: Visiting) -> RedirectResponse:
    """End the session."""
    with book.transaction() as transaction:
        sessions.end(transaction, [visitor.cookie])
    response = page.go("sign_in")
    response.delete_cookie(page.request.app.state.cookie)
    # The pages that the phone kept for use without a connection go too; what waits stays.
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


def _client(request: Request) -> str:
    return request.client.host if request.client else ""


def _used_up() -> AppError:
    message = N_("This link was used before or is too old. Ask for a new one.")
    return AppError(404, "link", message)


def _begun(page: Page, book: Notebook, lasts: timedelta, person: Person, target: str) -> Response:
    what = page.request.headers.get("user-agent", "")
    with book.transaction() as transaction:
        # A cookie from before the sign-in may be known to others: it ends here.
        sessions.end(transaction, [page.visitor.cookie])
        token = sessions.begin(transaction, person, lasts, what)
    response = RedirectResponse(target, 303)
    page.keep(response, token)
    return response
