"""Rendering a page: templates in the person's language, and what every page is given."""

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from fairsmoke.app.auth import Book, Told, Visiting, Visitor
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.people.person import Person
from fairsmoke.app.people.reader import show_for
from fairsmoke.app.security.csrf import csrf_token_for
from fairsmoke.messages.catalogue import LANGUAGES, preferred, translations
from fairsmoke.notebook import Notebook
from fairsmoke.telling.reader import FILTERS, Reader
from fairsmoke.trial.kitchen import Kitchen

WHOSE = "X-Page-Of"
"""Header of a page that was made for somebody signed in: the number of that person."""


@cache
def environment(language: str) -> Environment:
    """Return the templates in a language."""
    made = Environment(
        loader=PackageLoader("fairsmoke.app"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
        auto_reload=False,
    )
    made.install_gettext_translations(translations(language), newstyle=True)  # type: ignore[attr-defined]
    made.filters.update(FILTERS)
    return made


def kitchen_of(book: Notebook) -> Kitchen | None:
    """Return whose notebook it is, if that was recorded."""
    return next(iter(book.list(Kitchen)), None)


class Page:
    """What a page function needs to answer: ``page.show("trial.html", trial=trial)``."""

    def __init__(
        self, request: Request, visitor: Visitor, kitchen: Kitchen | None, secure: bool
    ) -> None:
        self.request = request
        self.visitor = visitor
        self.kitchen = kitchen
        self._secure = secure
        language = preferred(request.headers.get("accept-language", ""))
        self.way: Reader = show_for(visitor.person, kitchen, language)

    @property
    def person(self) -> Person | None:
        """Who is signed in."""
        return self.visitor.person

    def show(self, template: str, status: int = 200, **context: Any) -> HTMLResponse:
        """Return the page that a template makes."""
        response = HTMLResponse(self.part(template, **context), status)
        if self.person is not None:
            # The phone keeps pages for use without a connection by whom they were made for.
            response.headers[WHOSE] = str(self.person.id)
        if self.visitor.fresh:
            self.keep(response, self.visitor.cookie)
        return response

    def part(self, template: str, **context: Any) -> str:
        """Return the HTML that a template makes, as for a part of a page."""
        found = environment(self.way.language).get_template(template)
        return found.render(**self._always(), **context)

    def go(self, route: str, **where: Any) -> RedirectResponse:
        """Return the answer that leads to a page after something was done."""
        return RedirectResponse(self.path(route, **where), 303)

    def keep(self, response: HTMLResponse | RedirectResponse, cookie: str) -> None:
        """Give the visitor a cookie; scripts and other sites never see it."""
        response.set_cookie(
            self.request.app.state.cookie,
            cookie,
            max_age=400 * 24 * 3600,
            httponly=True,
            samesite="lax",
            secure=self._secure,
        )

    def path(self, route: str, **where: Any) -> str:
        """Return the path of a route."""
        app = self.request.app
        # By its name: looking through all routes takes a millisecond, and pages have many links.
        found = app.state.routes.get(route, app)
        return str(found.url_path_for(route, **where))

    def places(self, scope: str, **where: Any) -> list[tuple[NavigationLink, str]]:
        """Return the places of a scope that this person may see, with their paths, in order."""
        person = self.person
        if person is None:
            return []
        known: tuple[NavigationLink, ...] = self.request.app.state.places
        return [
            (place, self.path(place.route, **where))
            for place in known
            if place.scope == scope and (place.needs is None or person.may(place.needs))
        ]

    def _always(self) -> Mapping[str, Any]:
        preferences = self.person.preferences if self.person else None
        return {
            "page": self,
            "show": self.way,
            "person": self.person,
            "kitchen": self.kitchen,
            "language": self.way.language,
            "languages": LANGUAGES,
            "theme": preferences.theme if preferences else "auto",
            "csrf": csrf_token_for(self.visitor.cookie),
            "path": self.path,
            "here": self.request.url.path,
            "static": self.request.app.state.static,
            "notebook": self.request.app.state.notebook,
        }


def _page(request: Request, visitor: Visiting, book: Book, settings: Told) -> Page:
    return Page(request, visitor, kitchen_of(book), settings.secure)


OnPage = Annotated[Page, Depends(_page)]
"""What every function that answers with a page asks for."""
