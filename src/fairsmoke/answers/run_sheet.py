"""Write the run sheet of a day, and its reminders."""

import os
from datetime import datetime
from pathlib import Path

from fairsmoke.messages.errors import JobError
from fairsmoke.planning.day.day_plan import DayPlan
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

    Files are replaced only when whole. Raises what `check_targets` raises, OSError when one
    cannot be written.
    """
    check_targets(sheet, calendar)
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


def check_targets(sheet: Path, calendar: Path | None = None) -> None:
    """Raise JobError, before anybody waits, for a name or a place that cannot be written to."""
    _check(sheet, ".pdf", b"%PDF")
    if calendar is not None:
        _check(calendar, ".ics", b"BEGIN:VCALENDAR")


def _check(path: Path, ending: str, mark: bytes) -> None:
    """Refuse a name that is none of ours, so that no notebook or input is ever written over."""
    if path.suffix.lower() != ending:
        raise JobError(f"{path}: give it a name that ends in {ending}")
    if not path.parent.is_dir():
        raise JobError(f"{path}: there is no folder {path.parent}; make it first")
    if path.is_dir():
        raise JobError(f"{path}: is a folder; name a file")
    if path.exists():
        with path.open("rb") as there:
            if there.read(len(mark)) not in (mark, b""):
                raise JobError(f"{path}: holds something else; name another file")


__all__ = ["check_targets", "write_run_sheet"]
