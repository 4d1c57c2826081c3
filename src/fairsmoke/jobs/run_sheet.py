"""Write the run sheet of a day, and its reminders."""

import os
from datetime import datetime
from pathlib import Path

from fairsmoke.jobs.errors import JobError
from fairsmoke.planning.day_plan import DayPlan
from fairsmoke.telling.reminders import calendar_of
from fairsmoke.telling.run_sheet import Paper, run_sheet_pdf


def write_run_sheet(
    told: DayPlan,
    sheet: Path,
    calendar: Path | None = None,
    *,
    made: datetime,
    paper: Paper = "a4",
    clock: str = "24",
) -> tuple[Path, ...]:
    """Write the PDF and, where asked, the iCalendar file; return what was written.

    Files are replaced only when whole. Raises JobError for a folder that is not there, OSError when
    one cannot be written.
    """
    for path in (sheet, *(() if calendar is None else (calendar,))):
        if not path.parent.is_dir():
            raise JobError(f"{path}: there is no folder {path.parent}; make it first")
    parts = [(sheet, run_sheet_pdf(told, made, paper=paper, clock=clock))]
    if calendar is not None:
        parts.append((calendar, calendar_of(told, made, clock=clock)))
    for path, content in parts:
        beside = path.with_name(f"{path.name}.{os.getpid()}.part")
        try:
            beside.write_bytes(content)
            beside.replace(path)
        except OSError:
            beside.unlink(missing_ok=True)
            raise
    return tuple(path for path, _ in parts)


__all__ = ["write_run_sheet"]
