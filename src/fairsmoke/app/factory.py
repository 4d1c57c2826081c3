"""Putting the app together: one router for each place, and what stands around them all."""

import asyncio
import contextlib
from collections.abc import AsyncIterator
from types import ModuleType
from uuid import uuid4

from fastapi import Depends, FastAPI

import fairsmoke
from fairsmoke.answers.finding_queue import Findings
from fairsmoke.answers.queue import JobQueue
from fairsmoke.answers.store import Store
from fairsmoke.app import errors
from fairsmoke.app.api import charts as charts_api
from fairsmoke.app.api import entries as entries_api
from fairsmoke.app.api import me as me_api
from fairsmoke.app.api import readings as readings_api
from fairsmoke.app.auth import KnownDevices, KnownSenders
from fairsmoke.app.background import incoming
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.pages import (
    ask,
    broker,
    cook,
    cook_estimate,
    cook_probes,
    cook_score,
    cook_set_up,
    cook_watch,
    cook_weigh,
    curves,
    curves_files,
    devices,
    files,
    finding,
    finding_files,
    folder,
    home,
    kitchen,
    me,
    people,
    plan,
    plan_how_many,
    plan_register,
    readings,
    record,
    shell,
    sign_in,
    stopping,
    trial,
    trial_set_up,
    weighings,
    what_if,
    when,
    worth_trying,
)
from fairsmoke.app.pages.arriving_view import Lines
from fairsmoke.app.running_cooks import RunningCooks
from fairsmoke.app.security.csrf import check_csrf_token
from fairsmoke.app.security.headers import Headers
from fairsmoke.app.security.hosts import Hosts
from fairsmoke.app.security.rate_limiter import RateLimiter, RequestLimits
from fairsmoke.app.settings import Settings
from fairsmoke.app.static_files import FOLDER, KeptFiles, static, version
from fairsmoke.app.supervisor import Supervisor
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.mqtt import MqttWay
from fairsmoke.arriving.pending import PendingFiles
from fairsmoke.arriving.watched_files import Watcher
from fairsmoke.arriving.writer import Writer
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.transaction import set_to, setting

API_MODULES: tuple[ModuleType, ...] = (me_api, entries_api, readings_api, charts_api)
"""Modules with a ``router`` whose functions answer in JSON; all documented."""

PAGE_MODULES: tuple[ModuleType, ...] = (
    home,
    kitchen,
    ask,
    plan,
    plan_how_many,
    when,
    plan_register,
    trial_set_up,
    trial,
    cook_set_up,
    cook,
    cook_weigh,
    cook_estimate,
    cook_score,
    cook_probes,
    cook_watch,
    readings,
    files,
    folder,
    devices,
    broker,
    curves,
    weighings,
    finding,
    what_if,
    worth_trying,
    stopping,
    record,
    people,
    me,
    sign_in,
    shell,
)
"""Modules with a ``router`` whose functions answer with pages, and perhaps ``PLACES``."""

FILE_MODULES: tuple[ModuleType, ...] = (
    finding_files,
    curves_files,
)
"""Modules with a ``router`` whose functions hand out pictures and files for pages."""


def create_app(settings: Settings, book: Notebook, *, public: str | None = None) -> FastAPI:
    """Return the app on an open notebook, which stays the caller's to close.

    ``public`` is the address by which phones call it, when that differs from how it was called.
    """
    app = FastAPI(
        title="Fairsmoke",
        version=fairsmoke.__version__,
        description="Records side-by-side cooks at the pit. Quantities with units in their text, "
        "moments with their offset; every refusal has one shape.",
        openapi_url="/api/openapi.json",
        # These pages would load scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
        dependencies=[Depends(check_csrf_token)],
        lifespan=_lifespan,
    )
    app.state.notebook = _notebook_id(book)
    app.state.settings, app.state.book, app.state.public = settings, book, public
    app.state.cookie = "__Host-fairsmoke" if settings.secure else "fairsmoke"
    app.state.sign_ins = RateLimiter(settings.limits.sign_ins)
    app.state.static = static
    app.state.devices = KnownDevices(book)
    app.state.hub, app.state.lines = Hub(), Lines()
    app.state.supervisor = Supervisor()
    app.state.writer = Writer(book, app.state.hub)
    app.state.pending = PendingFiles()
    app.state.watcher = Watcher(
        book, app.state.writer, app.state.hub, settings.watch, settings.limits.upload
    )
    app.state.mqtt = MqttWay(book, app.state.writer, app.state.hub, settings.broker)
    app.state.waiting = {}
    app.state.running_cooks = RunningCooks(book)
    app.state.jobs = JobQueue(book.path, settings.results)
    app.state.findings = Findings(book, app.state.jobs, Store(settings.results))
    for module in API_MODULES:
        app.include_router(module.router)
    for module in (*PAGE_MODULES, *FILE_MODULES):
        app.include_router(module.router, include_in_schema=False)
    app.state.routes = {
        route.name: route
        for module in (*API_MODULES, *PAGE_MODULES, *FILE_MODULES)
        for route in module.router.routes
    }
    app.state.places = places()
    app.mount(f"/static/{version()}", KeptFiles(directory=FOLDER), name="static")
    errors.install(app)
    larger = (
        ("/api/photos", settings.limits.photo + 100_000),
        ("/readings/files", settings.limits.upload + 100_000),
    )
    # The last added stands outermost.
    app.add_middleware(
        RequestLimits, limits=settings.limits, larger=larger, known=KnownSenders(app).known
    )
    app.add_middleware(Hosts, names=settings.hosts)
    app.add_middleware(Headers)
    return app


def places() -> tuple[NavigationLink, ...]:
    """Return every place that a module names, in the order of the job."""
    found = [place for module in PAGE_MODULES for place in getattr(module, "PLACES", ())]
    return tuple(sorted(found, key=lambda place: place.order))


@contextlib.asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    async with incoming(app):
        yield
    await asyncio.to_thread(app.state.jobs.close)


def _notebook_id(book: Notebook) -> str:
    """Return the id of a notebook, made the first time; copies of its file have the same.

    A phone that finds another notebook at the same address sends it nothing.
    """
    name = "notebook/id"
    with book.reading() as connection:
        found = setting(connection, name)
    if found is None:
        with book.transaction() as transaction:
            found = setting(transaction.connection, name) or str(uuid4())
            set_to(transaction, name, found)
    return str(found)
