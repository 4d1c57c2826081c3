"""A notebook with a cook in progress, the app on it, and clients signed in as each role."""

import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from tests.app.clients import DATA, Client, SignIn
from tests.app.server import Server

from fairsmoke.app.factory import create_app
from fairsmoke.app.people import register, sessions
from fairsmoke.app.people.permissions import Role
from fairsmoke.app.settings import Settings
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import notebook_of_folder


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("app") / "hall.db"
    notebook_of_folder(path, DATA).close()
    return path


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Iterator[Notebook]:
    with Notebook.open(shutil.copy(made, tmp_path / "hall.db")) as notebook:
        yield notebook


@pytest.fixture
def app(book: Notebook, tmp_path: Path) -> Iterator[FastAPI]:
    made = create_app(Settings(book.path, results=tmp_path / "results"), book)
    yield made
    made.state.jobs.close()


@pytest.fixture
def visitor(app: FastAPI) -> Client:
    return Client(app, base_url="http://127.0.0.1")


@pytest.fixture
def sign_in(app: FastAPI, book: Notebook) -> SignIn:
    """Return a function that gives a client signed in as a role, with a person of its own."""

    def signed_in(role: Role = Role.COOK, name: str = "") -> Client:
        client = Client(app, base_url="http://127.0.0.1")
        with book.transaction() as transaction:
            person = register.add(transaction, name or role.title(), role)
            token = sessions.begin(transaction, person, timedelta(days=1), "test")
        client.cookies.set("fairsmoke", token)
        return client

    return signed_in


@pytest.fixture
def cook(sign_in: SignIn) -> Client:
    return sign_in(Role.COOK)


@pytest.fixture
def link(book: Notebook) -> Callable[[], str]:
    """Return a function that makes the token of a link for the first cook."""

    def made(lasts: timedelta = timedelta(hours=1)) -> str:
        with book.transaction() as transaction:
            person = register.first_cook(transaction)
            return sessions.make_link(transaction, person, lasts)

    return made


@pytest.fixture
def server(made: Path, tmp_path: Path) -> Iterator[Server]:
    """Give a running app in a process of its own; start it with ``server.start()``."""
    running = Server(Path(shutil.copy(made, tmp_path / "live.db")))
    yield running
    running.close()
