"""The demo: the invented trial recorded as a person would, judged, told and exported."""

import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from fairsmoke.arriving.take_in import LayoutAnswer, Taken, take_in
from fairsmoke.demo import DemoLoggerFile, demo_trial
from fairsmoke.intake.recognise import recognise
from fairsmoke.judging.finding import Finding
from fairsmoke.judging.judge import judge
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import export_notebook
from fairsmoke.telling.reader import ENGLISH, Reader
from fairsmoke.telling.report import Paper, write_report

NOTEBOOK_NAME = "village-hall.fairsmoke"
REPORT_NAME = "report.pdf"
FOLDER_NAME = "record"
LOGGER_FOLDER_NAME = "logger-files"
_OURS = (NOTEBOOK_NAME, REPORT_NAME, FOLDER_NAME, LOGGER_FOLDER_NAME)


@dataclass(frozen=True)
class Demonstration:
    """What the demo made, and where it lies."""

    notebook: Path
    report: Path
    folder: Path
    logger_files: Path
    trial: str
    taken: tuple[Taken, ...]
    finding: Finding


def demonstrate(
    out: Path, *, seed: int = 2026, reader: Reader = ENGLISH, paper: Paper = "a4"
) -> Demonstration:
    """Make the demo notebook, its finding, report for a reader and exported folder in ``out``.

    What an earlier demo left there is replaced. The finding is dated at the end of the last cook,
    so that the same seed gives the same files. Raises JobError when ``out`` is a file or holds
    anything but an earlier demo.
    """
    if out.exists() and not out.is_dir():
        raise JobError(N_("%(out)s is a file; give a folder for the demo", out=str(out)))
    if out.exists() and any(out.iterdir()) and not (out / NOTEBOOK_NAME).exists():
        raise JobError(
            N_(
                "%(out)s holds something else; give a new or empty folder for the demo",
                out=str(out),
            )
        )
    out.mkdir(parents=True, exist_ok=True)
    _clear(out)
    demo = demo_trial(seed)
    trial = demo.record.trial.id
    made = _moment(demo.record.cooks[-1].ends)
    loggers = out / LOGGER_FOLDER_NAME
    loggers.mkdir()
    taken: list[Taken] = []
    with Notebook.create(out / NOTEBOOK_NAME, demo.kitchen) as notebook:
        notebook.save_trial(demo.record)
        for file in demo.logger_files:
            (loggers / file.file_name).write_bytes(file.content)
            taken.append(
                take_in(
                    notebook,
                    trial,
                    file.cook_id,
                    file.content,
                    file.file_name,
                    answer_for(file),
                    now=made,
                )
            )
        finding = judge(notebook.load_trial(trial), made=made)
        write_report(finding, out / REPORT_NAME, reader, paper=paper)
        export_notebook(notebook, out / FOLDER_NAME)
    return Demonstration(
        notebook=out / NOTEBOOK_NAME,
        report=out / REPORT_NAME,
        folder=out / FOLDER_NAME,
        logger_files=loggers,
        trial=trial,
        taken=tuple(taken),
        finding=finding,
    )


def _moment(ends: datetime | None) -> datetime:
    assert ends is not None
    return ends


def _clear(out: Path) -> None:
    for name in _OURS:
        place = out / name
        if place.is_dir():
            shutil.rmtree(place)
        else:
            place.unlink(missing_ok=True)
            for tail in ("-wal", "-shm"):
                place.with_name(place.name + tail).unlink(missing_ok=True)


def answer_for(file: DemoLoggerFile) -> LayoutAnswer:
    """Return what a person would answer about one of the demo's logger files."""
    told = file.answers
    found = recognise(file.content)
    known = {"date_order": told["date_order"], "zone": told["time_zone"], "unit": told["unit"]}
    answers = {q.about: known[q.about] for q in found.questions if q.about in known}
    mapping = found.answered(answers)
    # The reader takes the unit off a column's header to name its probe; rows name theirs plainly.
    named = {mapping.columns[i].header: mapping.probe_name(i) for i in mapping.numbers("value")}
    return LayoutAnswer(
        mapping, {named.get(name, name): probe for probe, name in told["probes"].items()}
    )
