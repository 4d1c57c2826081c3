"""A day as an app asks for it: worked out in the background, kept with its sheet and calendar.

What is kept can be worked out again from the notebook and what was asked; only that it was asked is
lost with it. It lies in a folder of the trial of one notebook, for other notebooks may have a trial
of the same handle.
"""

import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import fairsmoke
from fairsmoke.answers.tasks import Context
from fairsmoke.answers.when_missing import is_trimmed
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import Weighing

if TYPE_CHECKING:
    from fairsmoke.planning.day.day_plan import Day, DayPlan

FORM = 1
"""Raised when what is kept of a day changes its meaning: it is then worked out anew."""
KEPT_DAYS = 30
"""Days kept of a trial, the latest."""
CLOCKS: tuple[str, ...] = ("24", "12")
PAPERS: tuple[Literal["a4", "us-letter"], ...] = ("a4", "us-letter")

_KEY = re.compile(r"[0-9a-f]{24}")

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class WhenAsked:
    """What is asked of a day, SI; None leaves it to the protocol or common practice.

    ``cook`` is a planned cook's number or a begun one's handle; ``serve``, ``asked_at`` and
    ``not_before`` ("" for any time) are instants as text. ``scatter`` is None for the cooks' logs.
    ``cut`` of the model where the piece's own words name none. ``rests_on`` is the digest of the
    record that it is worked out from.
    """

    trial: str
    cook: str
    serve: str
    zone: str
    asked_at: str
    by: str = ""
    not_before: str = ""
    certainty: float = 0.9
    shortest_s: float | None = None
    longest_s: float | None = None
    together: bool = False
    scatter: tuple[float, float] | None = None
    heat_up_s: float = 3600.0
    rest_s: float = 1200.0
    fuel_every_s: float = 3600.0
    water_every_s: float = 7200.0
    cut: str = ""
    rests_on: str = ""

    @property
    def key(self) -> str:
        """The name under which it is kept."""
        content = json.dumps([fairsmoke.__version__, FORM, asdict(self)], sort_keys=True)
        return hashlib.sha256(content.encode()).hexdigest()[:24]


@dataclass(frozen=True)
class KeptDay:
    """A day that was asked: its key, its folder, what was asked, and what came of it if it did."""

    key: str
    folder: Path
    asked: WhenAsked
    page: dict[str, Any] | None


def rests_on(
    trial: Trial,
    plan: Plan | None,
    cook: Cook | None,
    pieces: Sequence[Piece] = (),
    weighings: Sequence[Weighing] = (),
) -> str:
    """Return the digest of what a day is worked out from: the plan, or a begun cook's pieces."""
    told: list[Any] = [trial.model_dump(mode="json")]
    if cook is None:
        told.append(None if plan is None else plan.model_dump(mode="json"))
    else:
        told += [one.model_dump(mode="json") for one in pieces]
        told += [one.model_dump(mode="json") for one in weighings if is_trimmed(one)]
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:24]


def folder_of(results: Path, notebook: Path, trial: str) -> Path:
    """Return where the days of a trial of a notebook are kept."""
    owner = hashlib.sha256(f"{notebook.resolve()}\0{trial}".encode()).hexdigest()[:24]
    return results / "days" / owner


def note_asked(asked: WhenAsked, results: Path, notebook: Path) -> KeptDay:
    """Keep what is asked, and forget the oldest days of the trial."""
    home = folder_of(results, notebook, asked.trial)
    place = home / asked.key
    place.mkdir(parents=True, exist_ok=True)
    _write(place / "asked.json", json.dumps(asdict(asked)).encode())
    places = sorted(home.iterdir(), key=lambda one: one.stat().st_mtime)
    for old in places[:-KEPT_DAYS]:
        shutil.rmtree(old, ignore_errors=True)
    return KeptDay(asked.key, place, asked, _page(place))


def kept_day(results: Path, notebook: Path, trial: str, key: str) -> KeptDay | None:
    """Return a day that was asked, None when it is not kept."""
    if not _KEY.fullmatch(key):
        return None
    place = folder_of(results, notebook, trial) / key
    asked = _read(place / "asked.json")
    return None if asked is None else KeptDay(place.name, place, _asked(asked), _page(place))


def kept_days(results: Path, notebook: Path, trial: str) -> tuple[KeptDay, ...]:
    """Return every day of a trial that is kept, the latest asked first, without what came of it."""
    home = folder_of(results, notebook, trial)
    places = list(home.iterdir()) if home.is_dir() else []
    found = [(place, _read(place / "asked.json")) for place in places]
    days = [KeptDay(place.name, place, _asked(said), None) for place, said in found if said]
    return tuple(sorted(days, key=lambda one: one.asked.asked_at, reverse=True))


def run_when(
    content: dict[str, Any], notebook: Path, folder: Path, progress: Progress
) -> dict[str, Any]:
    """Work a day out and keep it; raises KeyboardInterrupt when it was stopped.

    A serving time that cannot be met is an answer too. Raises JobError, PlanError or ProtocolError
    for a day that cannot be.
    """
    from fairsmoke.answers.simulation_file import assumptions
    from fairsmoke.answers.simulation_trial import Choices
    from fairsmoke.answers.when import plan_day
    from fairsmoke.answers.when_day import day_of_trial
    from fairsmoke.planning.day.constraints import Asked
    from fairsmoke.planning.day.schedule import TooSoonError
    from fairsmoke.planning.day.time_errors import FROM_LOGS, Scatter
    from fairsmoke.telling.when_page import too_soon, when_page
    from fairsmoke.trial.clock import time_zone

    said = _asked(content)
    place = folder_of(folder, notebook, said.trial) / said.key
    record = Notebook.open(notebook).load_trial(said.trial, lazy=True)
    serve, zone = datetime.fromisoformat(said.serve), time_zone(said.zone)
    cuts: dict[str, str] = {}
    if said.cut:
        # One for all: whose words name a cut of the model would not have been asked.
        planned = () if record.plan is None else record.plan.at_hand.pieces
        handles = [*(one.id for one in planned), *(one.id for one in record.units)]
        cuts = dict.fromkeys(handles, said.cut)
    day = day_of_trial(record, said.cook, serve, zone, told=Choices(cuts=cuts))
    asked = Asked(
        certainty=said.certainty,
        hold_shortest_s=said.shortest_s,
        hold_longest_s=said.longest_s,
        heat_up_s=said.heat_up_s,
        rest_s=said.rest_s,
        together=said.together,
        fuel_every_s=said.fuel_every_s,
        water_every_s=said.water_every_s,
    )
    try:
        told = plan_day(
            day,
            asked,
            scatter=FROM_LOGS if said.scatter is None else Scatter(*said.scatter),
            not_before=datetime.fromisoformat(said.not_before) if said.not_before else None,
            folder=folder / "simulations",
            # A core is left to the app, where there is more than one.
            workers=max(1, (os.cpu_count() or 2) - 1),
            progress=progress,
        )
    except JobError as error:
        if not isinstance(error.__cause__, TooSoonError):
            raise
        page: dict[str, Any] = {"too_soon": too_soon(day, error.__cause__, asked)}
    else:
        if told is None:
            raise KeyboardInterrupt
        _write_files(place, told, datetime.fromisoformat(said.asked_at))
        page = when_page(told)
        # What the page says in its reader's own words and units need not stand in ours.
        known = {*day.guessed.values()}
        known |= {*assumptions([arm.protocol for arm in day.sides.arms], _tender_c(day))}
        page["assumed"] = [text for text in told.assumed if text not in known]
    place.mkdir(parents=True, exist_ok=True)
    _write(place / "page.json", json.dumps({"form": FORM, **page}, allow_nan=False).encode())
    return {"folder": str(place)}


def sheet_name(paper: str, clock: str) -> str:
    """Return the file that the run sheet for a paper and a clock is kept in."""
    return f"run-sheet-{paper}-{clock}.pdf"


def calendar_name(clock: str) -> str:
    """Return the file that the reminders with times by a clock are kept in."""
    return f"reminders-{clock}.ics"


def _write_files(place: Path, told: "DayPlan", made: datetime) -> None:
    from fairsmoke.answers.run_sheet import write_run_sheet

    place.mkdir(parents=True, exist_ok=True)
    for clock in CLOCKS:
        for paper in PAPERS:
            sheet, calendar = place / sheet_name(paper, clock), place / calendar_name(clock)
            write_run_sheet(told, sheet, calendar, made=made, paper=paper, clock=clock)


def _tender_c(day: "Day") -> float:
    return day.sides.pieces[0].conditions.tender_c


def _asked(content: dict[str, Any]) -> WhenAsked:
    scatter = content.get("scatter")
    return WhenAsked(**{**content, "scatter": None if scatter is None else tuple(scatter)})


def _page(place: Path) -> dict[str, Any] | None:
    found: dict[str, Any] | None = _read(place / "page.json")
    return found if found is not None and found.get("form") == FORM else None


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return None


def _write(path: Path, content: bytes) -> None:
    with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as part:
        part.write(content)
    Path(part.name).replace(path)


def when_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Work a day out as a job."""
    return run_when(content, at.notebook, at.folder, progress)


__all__ = [
    "CLOCKS",
    "PAPERS",
    "KeptDay",
    "WhenAsked",
    "calendar_name",
    "kept_day",
    "kept_days",
    "note_asked",
    "rests_on",
    "run_when",
    "sheet_name",
]
