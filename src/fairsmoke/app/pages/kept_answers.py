"""Answers that take a while: asked, worked out as jobs, kept in the store, shown and taken away."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response

from fairsmoke.answers.queue import Job, JobQueue, JobStage
from fairsmoke.answers.store import ResultKey, Store, StoredResult
from fairsmoke.app.auth import needs
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.plan_parts import FromQueue
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.telling.chart_style import write_picture
from fairsmoke.telling.document import from_json, sections_said

if TYPE_CHECKING:
    from fairsmoke.telling.chart_style import Drawable

WAIT_S = 1.0
"""How long a page waits for what is being worked out, before it says that it is."""
_STOPS_WITHIN_S = 3.0
_RECENT = 12
_TYPES = {"svg": "image/svg+xml", "png": "image/png"}


@dataclass(frozen=True)
class KeptQuestion:
    """One kind of question: its name in the store and in the routes, and its words."""

    name: str
    route: str
    title: Message
    doing: Message
    stopped: Message


class KeptAnswers:
    """The answers of a store, for whoever looks at a page."""

    def __init__(self, page: OnPage, jobs: FromQueue) -> None:
        self.page = page
        self.jobs: JobQueue = jobs
        self.store = Store(jobs.folder, jobs.owner)

    def entry(self, question: KeptQuestion, digest: str) -> StoredResult:
        """Return a kept entry. Raises AppError 404 where there is none."""
        found = self.store.find(question.name, digest)
        if found is None or found.request is None:
            message = N_("This answer is no longer kept. Ask it again.")
            raise AppError(404, "no-answer", message)
        return found

    def document(self, question: KeptQuestion, digest: str, name: str = "document") -> Any:
        """Return what is kept under a name; not to be changed. Raises AppError 404 without it."""
        found = _read(self.entry(question, digest), name)
        if found is None:
            raise AppError(404, "no-answer", N_("There is no such page."))
        return found

    def take(
        self, question: KeptQuestion, key: ResultKey, content: dict[str, Any]
    ) -> RedirectResponse:
        """Have it worked out where it is not kept, and lead to its page."""
        entry = self.store.find(key.question, key.digest)
        if entry is None or entry.get("document") is None:
            self.jobs.submit(key.digest, question.name, content)
        return self.page.go(f"{question.route}_answer", key=key.digest)

    def show(
        self, question: KeptQuestion, digest: str, subject: Words, **more: Any
    ) -> HTMLResponse:
        """Return the page of an answer about a subject, or how far it is.

        ``more`` goes to the template: where to ask ``again``; ``live`` and ``script`` of a chart
        that a script draws; which sections are ``opened``, and ``links`` by section, from 1.
        """
        entry = self.entry(question, digest)
        job = self.jobs.find(digest)
        if job is not None and job.going:
            job.ended.wait(WAIT_S)
        found = _read(entry, "document")
        page, route = self.page, question.route
        picture = page.path(f"{route}_picture", key=digest, form="svg")
        return page.show(
            "kept_answer.html",
            key=digest,
            route=route,
            heading=question.title,
            subject=subject,
            sections=None if found is None else sections_said(found, page.way),
            work=job if found is None and job is not None and job.going else None,
            problem=_problem(page, job) if found is None else "",
            doing=question.doing,
            stopped=question.stopped,
            stop=page.path(f"stop_{route}", key=digest),
            pictures=picture.removesuffix("chart.svg"),
            **{"live": "", "script": "", "opened": (), "links": {}, "more": (), **more},
        )

    def recent(self, question: KeptQuestion, subject: str = "") -> list[dict[str, Any]]:
        """Return what was asked lately: its path, its entry and whether it is done."""
        return [
            {
                "path": self.page.path(f"{question.route}_answer", key=entry.key.digest),
                "request": entry.request or {},
                "names": from_json(entry.get("names") or []),
                "done": entry.file("document.json") is not None,
            }
            for entry in self.store.asked(question.name, subject, _RECENT)
        ]


FromAnswers = Annotated[KeptAnswers, Depends()]


def add_answer_routes(
    router: APIRouter,
    question: KeptQuestion,
    what: May,
    chart: "Callable[[KeptAnswers, StoredResult], Drawable]",
) -> None:
    """Add what every kept answer has: stop, go on, its chart and its numbers to take away.

    ``what`` a person must be allowed; ``chart`` draws an entry's chart for whoever looks.
    """
    at, route, allowed = f"/{question.name}/{{key}}", question.route, [Depends(needs(what))]

    @router.post(f"{at}/stop", name=f"stop_{route}", dependencies=allowed)
    def stop(kept: FromAnswers, key: str) -> RedirectResponse:
        """Stop working it out; what was done is kept."""
        kept.jobs.stop(key)
        job = kept.jobs.find(key)
        if job is not None:
            job.ended.wait(_STOPS_WITHIN_S)
        return kept.page.go(f"{route}_answer", key=key)

    @router.post(f"{at}/go-on", name=f"go_on_{route}", dependencies=allowed)
    def go_on(kept: FromAnswers, key: str) -> RedirectResponse:
        """Go on with what was stopped, where it was."""
        entry = kept.entry(question, key)
        return kept.take(question, entry.key, entry.request)

    @router.get(f"{at}/pictures/chart.{{form}}", name=f"{route}_picture", dependencies=allowed)
    def picture(kept: FromAnswers, key: str, form: str) -> Response:
        """Hand out the chart as a picture, drawn once for each language and unit of temperature."""
        entry = kept.store.find(question.name, key)
        if entry is None or form not in _TYPES or entry.get("document") is None:
            raise AppError(404, "no-picture", N_("There is no such picture."))
        way = kept.page.way
        name = f"chart-{way.language}-{way.units.temperature}.{form}"
        if entry.file(name) is None:
            with entry.new_file(name) as path:
                write_picture(chart(kept, entry), path)
        return FileResponse(entry.file(name) or "", media_type=_TYPES[form])

    @router.get(f"{at}/numbers.json", name=f"{route}_numbers", dependencies=allowed)
    def numbers(kept: FromAnswers, key: str) -> Response:
        """Hand out every number, for other programs."""
        path = kept.entry(question, key).file("numbers.json")
        if path is None:
            raise AppError(404, "no-numbers", N_("There is no such page."))
        return FileResponse(path, filename=f"{question.name}-{key[:8]}.json")


def _problem(page: Page, job: Job | None) -> str:
    if job is None or job.stage is not JobStage.FAILED:
        return ""
    return page.way.say(job.problem or N_("Something went wrong in the program. Try again."))


def _read(entry: StoredResult, name: str) -> Any:
    path = entry.file(f"{name}.json")
    return None if path is None else _unchanged(path)


@lru_cache(maxsize=16)
def _unchanged(path: Path) -> Any:
    # Named by the digest of its content: what was read once stays so.
    try:
        return from_json(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError):
        return None
