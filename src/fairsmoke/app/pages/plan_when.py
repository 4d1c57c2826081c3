"""When: from a serving time back to the fire, worked out beside the app for each cook of a plan."""

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query
from fastapi.responses import HTMLResponse, Response

from fairsmoke.answers.queue import Job, JobQueue, Stage
from fairsmoke.answers.when_kept import KeptDay, kept_day, kept_days, note_asked, rests_on
from fairsmoke.answers.when_missing import (
    Missing,
    cut_is_known,
    missing_in_cook,
    missing_in_plan,
)
from fairsmoke.app.auth import Book, Recorder, Told
from fairsmoke.app.forms import FormFields
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages import plan_when_advice as advice
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import WAIT_S, FromQueue, PlanStands, Stands
from fairsmoke.app.pages.plan_when_chart import DayChart
from fairsmoke.app.pages.plan_when_form import USUAL, asked_of, form_of, now_utc, read_form
from fairsmoke.app.pages.plan_when_safety import safety_lines
from fairsmoke.app.pages.plan_when_words import Told as TheDay
from fairsmoke.app.pages.words import CUT_NAMES
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import Weighing

router = APIRouter()

_ASKED_BEFORE = 6
LACKS = {
    "mass": N_("how heavy it is"),
    "thickness": N_("how thick it is"),
    "length": N_("how long it is"),
    "width": N_("how wide it is"),
}


@dataclass(frozen=True)
class CookMeant:
    """The cook whose day is asked: a planned one by its number, or one that was begun."""

    handle: str
    number: int | None
    begun: Cook | None
    zone: ZoneInfo
    missing: tuple[Missing, ...]
    cut_needed: bool
    on_since: datetime | None
    """When its first piece went on."""
    rests_on: str
    planned_on: str
    """What its day rests on as a planned cook, from before it was begun."""

    def is_stale(self, kept: KeptDay) -> bool:
        """Tell whether what a day was worked out from has changed since."""
        of_plan = kept.asked.cook == str(self.number)
        return kept.asked.rests_on != (self.planned_on if of_plan else self.rests_on)

    def is_of(self, kept: KeptDay) -> bool:
        """Tell whether a day is this cook's; asked before it was begun, too."""
        return kept.asked.cook in (self.handle, str(self.number))


@dataclass(frozen=True)
class Cooks:
    """The cooks whose days can be asked: those of the plan not begun yet, those that run."""

    planned: tuple[int, ...]
    running: tuple[Cook, ...]
    meant: CookMeant | None


def _cooks(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    stands: Stands,
    cook: Annotated[str, Query(max_length=80)] = "",
) -> Cooks:
    """Find the cook that the address means; the next to be begun when it says none."""
    layout = None if stands.plan is None else stands.plan.layout
    slots = () if layout is None else layout.slots
    begun = {slot.cook for slot in slots if slot.piece in stands.begun}
    planned = tuple(sorted({slot.cook for slot in slots} - begun))
    cooks = {one.id: one for one in book.list(Cook, trial=trial.id)}
    running = sorted((one for one in cooks.values() if one.ends is None), key=lambda c: c.starts)
    zone = time_zone(page.kitchen.time_zone if page.kitchen else "UTC")
    meant: CookMeant | None = None
    if cook in cooks:
        meant = _begun(book, trial, stands, cooks[cook])
    elif cook.isdecimal() and int(cook) in {slot.cook for slot in slots}:
        meant = _planned(trial, stands, int(cook), zone)
    elif cook:
        raise AppError(404, "no-cook", N_("There is no such cook."))
    elif planned:
        meant = _planned(trial, stands, planned[0], zone)
    elif running:
        meant = _begun(book, trial, stands, running[-1])
    return Cooks(planned, tuple(running), meant)


FoundCooks = Annotated[Cooks, Depends(_cooks)]


def _planned(trial: Trial, stands: PlanStands, number: int, zone: ZoneInfo) -> CookMeant:
    plan = stands.plan
    assert plan is not None
    digest = rests_on(trial, plan, None)
    return CookMeant(
        str(number),
        number,
        None,
        zone,
        missing_in_plan(plan, number),
        not cut_is_known(plan.at_hand.cut, plan.at_hand.species),
        None,
        digest,
        digest,
    )


def _begun(book: Notebook, trial: Trial, stands: PlanStands, cook: Cook) -> CookMeant:
    found = book.list(Piece, trial=trial.id, cook=cook.id)
    pieces = [one for one in found if one.arm is not None]
    weighings = book.list(Weighing, trial=trial.id, cook=cook.id)
    handles = {one.id for one in pieces}
    layout = None if stands.plan is None else stands.plan.layout
    slots = () if layout is None else layout.slots
    events = book.list(Event, trial=trial.id, cook=cook.id)
    return CookMeant(
        cook.id,
        next((slot.cook for slot in slots if slot.piece in handles), None),
        cook,
        time_zone(cook.time_zone),
        missing_in_cook(pieces, weighings),
        any(not cut_is_known(one.cut, one.species) for one in pieces),
        min((one.at for one in events if one.kind is EventKind.ON), default=None),
        rests_on(trial, None, cook, pieces, weighings),
        rests_on(trial, stands.plan, None),
    )


@router.get("/trials/{trial}/plan/when", name="plan_when")
def when_page(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    told: Told,
    jobs: FromQueue,
    cooks: FoundCooks,
    day: Annotated[str, Query(max_length=40)] = "",
) -> HTMLResponse:
    """Show the latest day that was asked for a cook, or ``day`` of them; and the form."""
    days = [one for one in kept_days(told.results, book.path, trial.id) if _of(cooks.meant, one)]
    key = day or (days[0].key if days else "")
    kept = kept_day(told.results, book.path, trial.id, key) if key else None
    if day and kept is None:
        raise AppError(404, "no-day", N_("This day is no longer kept. Ask for it again."))
    work = None
    if kept is not None and kept.page is None:
        work = _work(jobs, kept)
        kept = kept_day(told.results, book.path, trial.id, key) if not work.going else kept
    return _page(page, trial, cooks, kept, days, work)


def _of(meant: CookMeant | None, kept: KeptDay) -> bool:
    return meant is not None and meant.is_of(kept)


def _work(jobs: JobQueue, kept: KeptDay) -> Job:
    """Return the work on a day, begun if it is not; what failed is not begun again."""
    work = jobs.find(kept.key)
    if work is None or work.stage is Stage.STOPPED:
        work = jobs.submit(kept.key, "when", asdict(kept.asked))
    if work.going:
        work.ended.wait(WAIT_S)
    return work


@router.post("/trials/{trial}/plan/when", name="ask_when")
def ask_when(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    told: Told,
    jobs: FromQueue,
    cooks: FoundCooks,
    person: Recorder,
    given: FormFields,
) -> Response:
    """Take a serving time in, and lead to its day."""
    meant = cooks.meant
    if meant is None:
        raise AppError(409, "no-cook", N_("There is no cook to plan for yet: draw, or begin one."))
    if meant.missing:
        raise AppError(409, "missing", N_("Something is not recorded yet; the page says what."))
    reading, now = read_form(dict(given)), now_utc()
    asked = asked_of(
        reading,
        meant.zone,
        now,
        cut_needed=meant.cut_needed,
        trial=trial.id,
        cook=meant.handle,
        by=person.name,
        # What is on already cannot be put on later: its day is planned as from the beginning.
        not_before="" if meant.on_since else now.isoformat(),
        rests_on=meant.rests_on,
    )
    if asked is None:
        return _page(page, trial, cooks, None, [], None, reading.given, reading.problems)
    kept = note_asked(asked, told.results, book.path)
    if kept.page is None:
        jobs.submit(kept.key, "when", asdict(asked))
    answer = page.go("plan_when", trial=trial.id)
    answer.headers["location"] += f"?cook={meant.handle}&day={kept.key}"
    return answer


def _page(
    page: Page,
    trial: Trial,
    cooks: Cooks,
    kept: KeptDay | None,
    days: list[KeptDay],
    work: Job | None,
    given: dict[str, str] | None = None,
    problems: list[tuple[str, Message | str]] | None = None,
) -> HTMLResponse:
    meant = cooks.meant
    fields = given or dict(USUAL)
    if given is None and kept is not None:
        fields = form_of(kept.asked, time_zone(kept.asked.zone))
    found = None if kept is None else kept.page
    here = page.request.url
    failed = work is not None and work.stage is Stage.FAILED
    person = page.person
    return page.show(
        "plan_when.html",
        422 if problems else 200,
        trial=trial,
        cooks=cooks,
        meant=meant,
        lacks=LACKS,
        may_ask=person is not None and person.may(May.RECORD),
        may_set_up=person is not None and person.may(May.SET_UP),
        fields=fields,
        problems=dict(problems or ()),
        names=NAMES,
        cuts=CUT_NAMES,
        kept=kept,
        stale=kept is not None and meant is not None and meant.is_stale(kept),
        asked_at=None if kept is None else datetime.fromisoformat(kept.asked.asked_at),
        before=[(one, datetime.fromisoformat(one.asked.serve)) for one in days[:_ASKED_BEFORE]],
        work=work if work is not None and work.going else None,
        failed=failed,
        problem=page.way.say(work.problem).replace("--", "") if work is not None and failed else "",
        doing=N_("The day is cooked four hundred times in the simulator"),
        stop="",
        here_again=f"{here.path}?{here.query}" if here.query else here.path,
        **_told(page, found),
    )


NAMES = {
    "serve": N_("Served at"),
    "certainty": N_("How sure to be in time, per cent"),
    "shortest": N_("Shortest hold"),
    "longest": N_("Longest hold"),
    "times": N_("Putting on"),
    "scatter": N_("How your pit scatters"),
    "shared": N_("Scatter of a cooker's day"),
    "own": N_("Scatter of a piece"),
    "heat_up": N_("From lighting until the cooker is hot"),
    "rest": N_("Opened, before it is sliced"),
    "fuel_every": N_("Fuel every"),
    "water_every": N_("Water every, where there is a pan"),
    "cut": N_("The cut that the pieces are most like"),
}
"""The fields of the form."""


def _told(page: Page, found: dict[str, Any] | None) -> dict[str, Any]:
    """Return what the page tells of a day that is worked out."""
    empty = {"day": None, "too_soon": None}
    if found is None:
        return empty
    if "too_soon" in found:
        return empty | {"too_soon": advice.too_soon_message(found, page.way)}
    day = TheDay.of(found, page.way)
    return empty | {
        "day": day,
        "chart": DayChart.of(day),
        "buffer": advice.buffer(day),
        "differ": advice.arms(day),
        "levers": advice.levers(day),
        "effects": advice.effects(day),
        "safety": safety_lines(found, page.way),
        "defers": advice.DEFERS,
        "given": advice.given(day),
        "assumed": found["assumed"],
    }
