"""A finding to take away: charts, numbers, the printed report, the whole record."""

import json

from fastapi import APIRouter
from fastapi.responses import FileResponse, Response

from fairsmoke.answers.finding import picture_of, reader_fields
from fairsmoke.answers.queue import Job, JobStage
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.finding import WAIT_S, FindingSeer, FromFindings, working_page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_, Message
from fairsmoke.trial.question import Trial

router = APIRouter()


@router.get("/trials/{trial}/finding/pictures/{name}.svg", name="finding_picture")
def finding_picture(
    page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer, name: str
) -> Response:
    """Return a chart of the finding."""
    seen = findings.look(trial.id, start=False)
    path = None if seen.entry is None else picture_of(seen.entry, name, page.way)
    if path is None:
        raise AppError(404, "no-picture", N_("There is no such picture."))
    return FileResponse(path, media_type="image/svg+xml", headers={"Cache-Control": "no-cache"})


@router.get("/trials/{trial}/finding.json", name="finding_json")
def finding_as_json(
    page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer
) -> Response:
    """Hand out every number of the finding, for other programs."""
    seen = findings.wait(trial.id, WAIT_S)
    content = None if seen.entry is None else seen.entry.get("numbers")
    if content is None and seen.work is not None and seen.work.going:
        return working_page(page, trial, seen.work, N_("The finding is being worked out"))
    if content is None:
        raise AppError(404, "no-finding", N_("There is no finding yet."))
    name = f"{trial.id}-finding.json"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(json.dumps(content, indent=1), media_type="application/json", headers=headers)


@router.get("/trials/{trial}/report.pdf", name="report")
def report(page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer) -> Response:
    """Hand out the printed report; worked out first where it is not kept."""
    paper = "us-letter" if page.way.units.length == "in" else "a4"
    content = {"reader": reader_fields(page.way), "paper": paper}
    work = findings.ask("report", trial.id, content)
    return _handed_out(page, trial, work, N_("The report is being set"), f"{trial.id}-report.pdf")


@router.get("/trials/{trial}/record.zip", name="record_zip")
def record_zip(page: OnPage, trial: FoundTrial, findings: FromFindings, _: FindingSeer) -> Response:
    """Hand out everything recorded, as open files that ``fairsmoke read`` reads again."""
    work = findings.ask("data", trial.id, {})
    return _handed_out(page, trial, work, N_("The files are being written"), f"{trial.id}.zip")


def _handed_out(page: Page, trial: Trial, work: Job, doing: Message, name: str) -> Response:
    work.ended.wait(WAIT_S)
    if work.going:
        return working_page(page, trial, work, doing)
    if work.stage is JobStage.FAILED or "file" not in work.result:
        raise AppError(422, "not-made", N_("%(problem)s", problem=work.problem or "?"))
    return FileResponse(work.result["file"], filename=name)
