"""How many pairs it takes: a table and a curve for each measure, worked out beside the app."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from fairsmoke.answers.queue import Stage
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import FromQueue, Stands, planned_key, worked_out
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.trial.question import TIMES

router = APIRouter()

MOST = 12
_UNPRICED = {
    "piece": N_("pieces"),
    "cook": N_("cooks"),
    "sitting": N_("tasters"),
}
Short = Annotated[str, Query(max_length=30)]


@router.get("/trials/{trial}/plan/how-many", name="plan_how_many")
def how_many_page(
    page: OnPage,
    request: Request,
    trial: FoundTrial,
    stands: Stands,
    jobs: FromQueue,
    usual_time: Short = "",
    measuring: Short = "",
    per_cook: Short = "",
    each: Short = "",
) -> HTMLResponse:
    """Show the table of each measure, or that it is being worked out."""
    choices = {
        "most": MOST,
        "each": _few(each) or 1,
        "per_cook": _few(per_cook),
        "usual_time": usual_time.strip(),
        "measuring": measuring.strip(),
    }
    key = planned_key("how-many", trial, stands, choices)
    content = {"trial": trial.id, "choices": choices}
    work = worked_out(jobs, key, "how-many", content)
    done = work.stage is Stage.DONE
    found: list[dict[str, Any]] = work.result["measures"] if done else []
    return page.show(
        "plan_how_many.html",
        trial=trial,
        stands=stands,
        found=[(one, Curve.of(one["rows"], one["aim"])) for one in found],
        trials=work.result.get("trials", 0),
        failed=work.stage is Stage.FAILED,
        problem=page.way.say(work.problem).replace("--", ""),
        usual_time=usual_time,
        measuring=measuring,
        per_cook=choices["per_cook"],
        each=choices["each"],
        timed=any(one.kind in TIMES for one in trial.measures),
        unpriced=_UNPRICED,
        work=work if work.going else None,
        # Looking again asks the same.
        here_again=f"{request.url.path}?{request.url.query}",
        doing=N_("Trials are drawn and judged, for each number of pairs"),
        stop="",
    )


def _few(text: str) -> int | None:
    """Return a small number; None for nothing. Raises AppError for anything else."""
    if not text.strip():
        return None
    if text.strip() not in map(str, range(1, 13)):
        raise AppError(422, "few", N_("Write a whole number from 1 to 12."))
    return int(text)


@dataclass(frozen=True)
class Curve:
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
    def of(cls, rows: list[dict[str, Any]], aim: float) -> "Curve":
        """Return the curve of the rows of a table."""
        last = max(2, len(rows)) - 1

        def along(number: int) -> float:
            return round(cls.LEFT + cls.WIDTH * number / last, 1)

        def down(chance: float) -> float:
            return round(cls.TOP + cls.HEIGHT * (1.0 - chance), 1)

        def line(name: str) -> str:
            return " ".join(f"{along(n)},{down(row[name])}" for n, row in enumerate(rows))

        return cls(
            settled=line("settled"),
            wrong=line("misled"),
            points=tuple((along(n), down(row["settled"])) for n, row in enumerate(rows)),
            marks=tuple((along(n), row["blocks"]) for n, row in enumerate(rows)),
            levels=tuple((down(percent / 100), percent) for percent in (0, 25, 50, 75, 100)),
            aim=down(aim),
        )
