"""How many pairs it takes: the answer, its curve and table, worked out beside the app."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from fairsmoke.answers.how_many import HowManyRequest, how_many_key
from fairsmoke.answers.queue import JobStage
from fairsmoke.answers.store import Store
from fairsmoke.app.auth import Book
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import WAIT_S, FromQueue, Stands
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.telling.document import from_json, said
from fairsmoke.trial.question import TIMES

router = APIRouter()

Short = Annotated[str, Query(max_length=30)]


@router.get("/trials/{trial}/plan/how-many", name="plan_how_many")
def how_many_page(
    page: OnPage,
    request: Request,
    trial: FoundTrial,
    book: Book,
    stands: Stands,
    jobs: FromQueue,
    usual_time: Short = "",
    measuring: Short = "",
    per_cook: Short = "",
    each: Short = "",
    pairs: Short = "",
) -> HTMLResponse:
    """Show how many it takes for each measure, or that it is being worked out."""
    asked = {
        "each": _few(each) or 1,
        "per_cook": _few(per_cook),
        "pairs": _few(pairs),
        "usual_time": usual_time.strip(),
        "measuring": measuring.strip(),
    }
    key = how_many_key(book, trial.id, HowManyRequest.from_json(asked))
    entry = Store(jobs.folder, jobs.owner).find(key.question, key.digest)
    found = None if entry is None else entry.get("document")
    job = None
    if found is None:
        job = jobs.find(key.digest)
        if job is None or job.stage in (JobStage.STOPPED, JobStage.DONE):
            job = jobs.submit(key.digest, key.question, {"trial": trial.id, "request": asked})
        job.ended.wait(WAIT_S)
    return page.show(
        "plan_how_many.html",
        trial=trial,
        stands=stands,
        answers=[] if found is None else _answers(page, found),
        details=[] if found is None else said(from_json(found["details"]), page.way),
        aim=0.0 if found is None else found["aim"],
        failed=job is not None and job.stage is JobStage.FAILED,
        problem=job.problem if job is not None else "",
        asked=asked,
        timed=any(one.kind in TIMES for one in trial.measures),
        work=job if job is not None and job.stage is not JobStage.FAILED else None,
        # Looking again asks the same.
        here_again=f"{request.url.path}?{request.url.query}",
        doing=N_("Trials are drawn and judged, for each number of pairs"),
    )


def _answers(page: OnPage, found: dict[str, Any]) -> list[tuple[dict[str, Any], "ChanceFigure"]]:
    sections = said(from_json(found["answers"]), page.way)
    curves = [ChanceFigure.of(**one, aim=found["aim"]) for one in found["curves"]]
    return list(zip(sections, curves, strict=True))


def _few(text: str) -> int | None:
    """Return a small number; None for nothing. Raises AppError for anything else."""
    if not text.strip():
        return None
    if text.strip() not in map(str, range(1, 13)):
        raise AppError(422, "few", N_("Write a whole number from 1 to 12."))
    return int(text)


@dataclass(frozen=True)
class ChanceFigure:
    """A curve in a box of 640 by 306: the chance of a settled and of a wrong verdict."""

    settled: str
    wrong: str
    points: tuple[tuple[float, float], ...]
    marks: tuple[tuple[float, int], ...]
    """Where each number of pairs stands, along."""
    levels: tuple[tuple[float, int], ...]
    """Where each per cent stands, downwards."""
    aim: float

    LEFT, TOP, WIDTH, HEIGHT = 84.0, 16.0, 540.0, 232.0

    @classmethod
    def of(
        cls, blocks: list[int], settled: list[float], wrong: list[float], aim: float
    ) -> "ChanceFigure":
        """Return the curve of the chances for each number of repeats."""
        last = max(2, len(blocks)) - 1
        xs = [round(cls.LEFT + cls.WIDTH * n / last, 1) for n in range(len(blocks))]

        def down(chance: float) -> float:
            return round(cls.TOP + cls.HEIGHT * (1.0 - chance), 1)

        def line(chances: list[float]) -> str:
            return " ".join(f"{x},{down(y)}" for x, y in zip(xs, chances, strict=True))

        return cls(
            settled=line(settled),
            wrong=line(wrong),
            points=tuple((x, down(y)) for x, y in zip(xs, settled, strict=True)),
            marks=tuple(zip(xs, blocks, strict=True)),
            levels=tuple((down(percent / 100), percent) for percent in (0, 25, 50, 75, 100)),
            aim=down(aim),
        )
