"""Write the run sheet of a day, and its reminders."""

from datetime import datetime
from pathlib import Path
from tempfile import NamedTemporaryFile

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

    Files are replaced only when whole. Raises OSError when one cannot be written.
    """
    parts = [(sheet, run_sheet_pdf(told, made, paper=paper, clock=clock))]
    if calendar is not None:
        parts.append((calendar, calendar_of(told, made, clock=clock)))
    for path, content in parts:
        with NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as part:
            part.write(content)
        ready = Path(part.name)
        try:
            ready.replace(path)
        except OSError:
            ready.unlink()
            raise
    return tuple(path for path, _ in parts)


__all__ = ["write_run_sheet"]
