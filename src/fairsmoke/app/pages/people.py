"""The people of the notebook: who there is, letting somebody in, ending their access."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from fairsmoke.app.auth import Book, Manager, Told
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.people import register, sessions
from fairsmoke.app.people.permissions import May, Role
from fairsmoke.app.people.person import Person
from fairsmoke.app.settings import Settings
from fairsmoke.app.tls.reach import qr_svg
from fairsmoke.messages.message import N_
from fairsmoke.trial.tasting import Taster

router = APIRouter()
PLACES = (NavigationLink(N_("People"), "people", "notebook", 90, May.MANAGE_PEOPLE),)

ROLES = {
    Role.COOK: N_("Head cook"),
    Role.HELPER: N_("Helper"),
    Role.TASTER: N_("Taster"),
}
DUTIES = {
    Role.COOK: N_("sees and does everything"),
    Role.HELPER: N_("sees the trials and records at the pit"),
    Role.TASTER: N_("tastes blind, and sees nothing of the trials"),
}


@router.get("/people", name="people")
def list_people(page: OnPage, book: Book, _: Manager) -> HTMLResponse:
    """List who may come in."""
    with book.reading() as connection:
        everybody = register.people(connection)
    return page.show(
        "people.html", people=everybody, roles=ROLES, duties=DUTIES, tasters=book.list(Taster)
    )


@router.post("/people", name="add_person")
def add_person(
    page: OnPage,
    book: Book,
    told: Told,
    manager: Manager,
    name: Annotated[str, Form(max_length=200)],
    role: Annotated[Role, Form()],
    taster: Annotated[str, Form(max_length=60)] = "",
) -> HTMLResponse:
    """Add somebody, and show the link that lets them in."""
    with book.transaction(by=manager.name) as transaction:
        person = register.add(transaction, name, role, taster or None)
        token = sessions.make_link(transaction, person, told.link)
    return link_page(page, person, token)


@router.post("/people/{number}/link", name="link_person")
def new_link(page: OnPage, book: Book, told: Told, manager: Manager, number: int) -> HTMLResponse:
    """Show a new link for somebody."""
    with book.transaction(by=manager.name) as transaction:
        person = register.find(transaction.connection, number)
        token = sessions.make_link(transaction, person, told.link)
    return link_page(page, person, token)


@router.post("/people/{number}/sign-out", name="sign_out_person")
def sign_out_person(page: OnPage, book: Book, manager: Manager, number: int) -> RedirectResponse:
    """Sign somebody out everywhere, as when their phone is lost; a new link lets them in again."""
    with book.transaction(by=manager.name) as transaction:
        sessions.end_others(transaction, register.find(transaction.connection, number))
    return page.go("people")


@router.post("/people/{number}/leave", name="let_go")
def let_go(page: OnPage, book: Book, manager: Manager, number: int) -> RedirectResponse:
    """End somebody's access."""
    with book.transaction(by=manager.name) as transaction:
        register.let_go(transaction, register.find(transaction.connection, number))
    return page.go("people")


def address_of(request: Request, path: str) -> str:
    """Return the whole address of a path, as a phone must call it.

    Someone at the machine itself calls it localhost, which on a phone is the phone.
    """
    public: str | None = request.app.state.public
    base = public or str(request.base_url)
    return base.rstrip("/") + path


def link_page(page: Page, person: Person, token: str) -> HTMLResponse:
    """Return the page with a link and its QR code."""
    link = address_of(page.request, page.path("enter", token=token))
    told: Settings = page.request.app.state.settings
    return page.show(
        "link.html",
        whom=person,
        link=link,
        qr=Markup(qr_svg(link)),
        steps=told.steps,
        steps_qr=Markup(qr_svg(told.steps)) if told.steps else "",
    )
