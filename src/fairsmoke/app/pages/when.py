"""When: from a serving time back to the fire, worked out beside the app for each cook of a plan."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query
from fastapi.responses import HTMLResponse, Response

from fairsmoke.answers.past_times import misses_said
from fairsmoke.answers.queue import Job, JobQueue, JobStage
from fairsmoke.answers.store import Store
from fairsmoke.answers.when import KeptDay, WhenRequest, ask_day, kept_day, kept_days, rests_on
from fairsmoke.answers.when_day import (
    LACKS,
    MissingOfPiece,
    cut_is_known,
    missing_in_cook,
    missing_in_plan,
)
from fairsmoke.app.auth import Book, Recorder
from fairsmoke.app.entries.from_form import which_said
from fairsmoke.app.forms import FormFields
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import WAIT_S, FromQueue, PlanStands, Stands
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import QuantityError, parse_duration, parse_temperature, show_duration
from fairsmoke.quantity.values import Duration
from fairsmoke.telling.day_chart import day_chart
from fairsmoke.telling.document import said
from fairsmoke.telling.field_labels import LABELS
from fairsmoke.telling.reminders import calendar_of
from fairsmoke.telling.run_sheet import run_sheet_pdf
from fairsmoke.telling.simulator_words import CUT_NAMES
from fairsmoke.trial.clock import ClockError, parse_instant, time_zone, which_of
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import Weighing

router = APIRouter()

_ASKED_BEFORE = 6
_STOP_WAIT_S = 3.0
_READING_TIME = timedelta(minutes=15)
"""Added to the earliest serving time that is offered: the clock goes on while one reads."""

USUAL = {
    "certainty": "90",
    "hold_shortest": "",
    "hold_longest": "",
    "times": "own",
    "last_cooks": "",
    "hold": "",
    "scatter": "own",
    "shared": "",
    "own": "",
    "heat_up": "1 h",
    "rest": "20 min",
    "fuel_every": "1 h",
    "water_every": "2 h",
    "cut": "",
    "serve": "",
    "hour": "",
}
"""Every field, as it is unless somebody says otherwise."""

_LENGTHS = ("hold_shortest", "hold_longest", "heat_up", "rest")
_EVERY = ("fuel_every", "water_every")
_NEVER = frozenset({"never", "nie", "none", "0"})


@dataclass
class FormReading:
    """What a form says, and what is wrong with it: each a field's name and words."""

    given: dict[str, str]
    problems: list[tuple[str, Words]] = field(default_factory=list)

    def length(self, name: str, *, most_s: float = 7 * 86_400.0) -> float | None:
        """Return a length in s; None for an empty field."""
        text = self.given[name]
        if not text:
            return None
        try:
            found = parse_duration(text.replace(",", "."))
        except QuantityError:
            self.problems.append((name, N_("Write a length of time, such as 1 h 30 min.")))
            return None
        if found > most_s:
            self.problems.append(
                (name, N_("That is too long: at most %(most)s.", most=Duration(most_s)))
            )
        return found

    def every(self, name: str) -> float:
        """Return how often something is done (s), 0 for never."""
        if self.given[name].casefold() in _NEVER:
            return 0.0
        found = self.length(name) or 0.0
        if found and not 900.0 <= found <= 86_400.0:
            self.problems.append((name, N_("Write 15 min to 24 h, or “never”.")))
        return found

    def number(self, name: str, least: float, most: float) -> float:
        """Return a number; ``least`` where there is none, with a problem."""
        try:
            found = float(self.given[name].replace(",", ".").removesuffix("%").strip())
        except ValueError:
            found = -1.0
        if not least <= found <= most:
            message = N_("Write a number from %(least)s to %(most)s.", least=least, most=most)
            self.problems.append((name, message))
            return least
        return found


def read_form(given: Mapping[str, str]) -> FormReading:
    """Return what a form says, with what it left out as usual."""
    return FormReading({name: given.get(name, usual).strip()[:60] for name, usual in USUAL.items()})


def request_of(
    reading: FormReading, zone: ZoneInfo, now: datetime, *, cut_needed: bool, **known: Any
) -> WhenRequest | None:
    """Return what a form asks; None when something is wrong, which the reading then says.

    ``known`` are the fields of what is asked that no form says.
    """
    serve = _serve(reading, zone, now)
    lengths = {f"{name}_s": reading.length(name) for name in _LENGTHS}
    shortest, longest = lengths["hold_shortest_s"], lengths["hold_longest_s"]
    if shortest is not None and longest is not None and shortest > longest:
        reading.problems.append(
            ("hold_longest", N_("The longest hold must be as long as the shortest, or longer."))
        )
    cut = reading.given["cut"] if cut_needed else ""
    if cut_needed and cut not in CUT_NAMES:
        reading.problems.append(("cut", N_("Choose the cut that the pieces are most like.")))
    content: dict[str, Any] = {
        **{name: value for name, value in lengths.items() if value is not None},
        **{f"{name}_s": reading.every(name) for name in _EVERY},
        "certainty": reading.number("certainty", 50, 99) / 100,
        "together": reading.given["times"] == "together",
        "log_sd": _log_sd(reading),
        "last_cooks": _last_cooks(reading),
        "strangers": reading.given["scatter"] == "logs",
        "hold_c": _hold(reading),
    }
    found = WhenRequest(
        serve.isoformat(), zone.key, asked_at=now.isoformat(), cut=cut, **content, **known
    )
    return None if reading.problems else found


def _serve(reading: FormReading, zone: ZoneInfo, now: datetime) -> datetime:
    text = reading.given["serve"]
    if not text:
        reading.problems.append(("serve", N_("Say when it is served.")))
        return now
    try:
        found = parse_instant(text, zone, which_said(reading.given))
    except ClockError as error:
        reading.problems.append(("serve", error.message))
        return now
    if found <= now:
        reading.problems.append(("serve", N_("That is past: say a time that is still to come.")))
    return found


def _log_sd(reading: FormReading) -> tuple[float, float] | None:
    kind = reading.given["scatter"]
    if kind in ("own", "logs"):
        return None
    if kind == "none":
        return 0.0, 0.0
    return reading.number("shared", 0, 2), reading.number("own", 0, 2)


def _last_cooks(reading: FormReading) -> str:
    """Return how the last cooks ran, as it was said; nothing where something else is chosen."""
    said = reading.given["last_cooks"]
    if not said or reading.given["scatter"] != "own":
        return ""
    try:
        misses_said(said)
    except JobError as error:
        reading.problems.append(("last_cooks", error.message))
    return said


def _hold(reading: FormReading) -> float | None:
    """Return the temperature of a hold that is put in; None for none."""
    if not reading.given["hold"]:
        return None
    try:
        return parse_temperature(reading.given["hold"])
    except QuantityError as error:
        reading.problems.append(("hold", error.message))
        return None


def form_of(asked: WhenRequest, zone: ZoneInfo) -> dict[str, str]:
    """Return the fields of a form that asks for the same."""
    serve = datetime.fromisoformat(asked.serve).astimezone(zone)
    log_sd = asked.log_sd
    kind = "none" if log_sd == (0.0, 0.0) else "mine"
    if log_sd is None:
        kind = "logs" if asked.strangers else "own"
    mine = log_sd if log_sd is not None and kind == "mine" else None
    lengths = {name: getattr(asked, f"{name}_s") for name in (*_LENGTHS, *_EVERY)}
    return {
        "serve": serve.strftime("%Y-%m-%dT%H:%M"),
        "hour": which_of(serve, zone),
        "certainty": f"{100 * asked.certainty:g}",
        **{name: "" if value is None else show_duration(value) for name, value in lengths.items()},
        **{name: "never" for name in _EVERY if not lengths[name]},
        "times": "together" if asked.together else "own",
        "last_cooks": asked.last_cooks,
        "hold": "" if asked.hold_c is None else f"{asked.hold_c:g} °C",
        "scatter": kind,
        "shared": "" if mine is None else f"{mine[0]:g}",
        "own": "" if mine is None else f"{mine[1]:g}",
        "cut": asked.cut,
    }


@dataclass(frozen=True)
class CookMeant:
    """The cook whose day is asked: a planned one by its number, or one that was begun."""

    handle: str
    number: int | None
    begun: Cook | None
    zone: ZoneInfo
    missing: tuple[MissingOfPiece, ...]
    cut_needed: bool
    on_since: datetime | None
    """When its first piece went on."""
    rests_on: str
    planned_on: str
    """What its day rests on as a planned cook, from before it was begun."""

    def is_stale(self, kept: KeptDay) -> bool:
        """Tell whether what a day was worked out from has changed since."""
        of_plan = kept.request.cook == str(self.number)
        return kept.request.rests_on != (self.planned_on if of_plan else self.rests_on)

    def is_of(self, kept: KeptDay) -> bool:
        """Tell whether a day is this cook's; asked before it was begun, too."""
        return kept.request.cook in (self.handle, str(self.number))


@dataclass(frozen=True)
class CooksToPlan:
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
) -> CooksToPlan:
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
    return CooksToPlan(planned, tuple(running), meant)


FoundCooks = Annotated[CooksToPlan, Depends(_cooks)]


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
    pieces = tuple(one for one in found if one.arm is not None)
    weighings = tuple(book.list(Weighing, trial=trial.id, cook=cook.id))
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
    jobs: FromQueue,
    cooks: FoundCooks,
    day: Annotated[str, Query(max_length=40)] = "",
) -> HTMLResponse:
    """Show the latest day that was asked for a cook, or ``day`` of them; and the form."""
    store, meant = _store(jobs), cooks.meant
    days = kept_days(store, book.path, trial.id)
    days = [one for one in days if meant is not None and meant.is_of(one)]
    key = day or (days[0].key if days else "")
    kept = kept_day(store, trial.id, key) if key else None
    if day and kept is None:
        raise _no_day()
    job = None
    if kept is not None and kept.document is None:
        job = _job(jobs, kept)
        kept = kept_day(store, trial.id, key) if not job.going else kept
    return _page(page, trial, cooks, kept, days, job)


def _store(jobs: JobQueue) -> Store:
    """Return the store of results, as whoever asks of the queue asks of it."""
    return Store(jobs.folder, jobs.owner)


def _no_day() -> AppError:
    return AppError(404, "no-day", N_("This day is no longer kept. Ask for it again."))


def _job(jobs: JobQueue, kept: KeptDay) -> Job:
    """Return the job of a day, begun if it is not; what failed is not begun again."""
    job = jobs.find(kept.key)
    if job is None or job.stage in (JobStage.STOPPED, JobStage.DONE):
        job = jobs.submit(kept.key, "when", asdict(kept.request))
    if job.going:
        job.ended.wait(WAIT_S)
    return job


@router.post("/trials/{trial}/plan/when", name="ask_when")
def ask_when(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
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
    reading, now = read_form(dict(given)), datetime.now(UTC).replace(microsecond=0)
    request = request_of(
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
    if request is None:
        return _page(page, trial, cooks, None, [], None, reading)
    kept = ask_day(request, _store(jobs), book.path)
    if kept.document is None:
        jobs.submit(kept.key, "when", asdict(request))
    answer = page.go("plan_when", trial=trial.id)
    answer.headers["location"] += f"?cook={meant.handle}&day={kept.key}"
    return answer


@router.post("/trials/{trial}/plan/when/{day}/stop", name="stop_when")
def stop_when(
    page: OnPage, trial: FoundTrial, jobs: FromQueue, _person: Recorder, day: str
) -> Response:
    """Stop working a day out; what was simulated so far is kept."""
    kept = kept_day(_store(jobs), trial.id, day)
    if kept is None:
        raise _no_day()
    jobs.stop(kept.key)
    job = jobs.find(kept.key)
    if job is not None:
        job.ended.wait(_STOP_WAIT_S)
    return page.go("plan_when", trial=trial.id)


@router.get("/trials/{trial}/plan/when/{day}/run-sheet.pdf", name="run_sheet")
def run_sheet(page: OnPage, trial: FoundTrial, jobs: FromQueue, day: str) -> Response:
    """Hand out the run sheet, in the language, units and clock of whoever asks."""
    kept, content = _whole(_store(jobs), trial.id, day)
    paper: Any = "us-letter" if page.way.units.length == "in" else "a4"
    pdf = run_sheet_pdf(content["sheet"], content["made"], page.way, paper=paper)
    return _handed_out(pdf, "application/pdf", f"run-sheet-{trial.id}-{kept.request.cook}.pdf")


@router.get("/trials/{trial}/plan/when/{day}/reminders.ics", name="reminders")
def reminders(page: OnPage, trial: FoundTrial, jobs: FromQueue, day: str) -> Response:
    """Hand out the reminders as an iCalendar file."""
    kept, content = _whole(_store(jobs), trial.id, day)
    calendar = calendar_of(content["calendar"], content["made"], page.way)
    return _handed_out(calendar, "text/calendar", f"reminders-{trial.id}-{kept.request.cook}.ics")


def _whole(store: Store, trial: str, day: str) -> tuple[KeptDay, dict[str, Any]]:
    """Return a day that was worked out, and its document."""
    kept = kept_day(store, trial, day)
    if kept is not None and kept.document is not None and "sections" in kept.document:
        if "sheet" not in kept.document:
            message = N_("No run sheet is printed for this day; its page says what would mend it.")
            raise AppError(409, "no-sheet", message)
        return kept, kept.document
    raise _no_day()


def _handed_out(content: bytes, kind: str, name: str) -> Response:
    disposition = f'attachment; filename="{name}"'
    return Response(content, media_type=kind, headers={"content-disposition": disposition})


def _page(
    page: Page,
    trial: Trial,
    cooks: CooksToPlan,
    kept: KeptDay | None,
    days: list[KeptDay],
    job: Job | None,
    reading: FormReading | None = None,
) -> HTMLResponse:
    meant = cooks.meant
    fields = dict(USUAL) if reading is None else reading.given
    if reading is None and kept is not None:
        fields = form_of(kept.request, time_zone(kept.request.zone))
    problems = [] if reading is None else reading.problems
    here, person = page.request.url, page.person
    failed = job is not None and job.stage is JobStage.FAILED
    may_ask = person is not None and person.may(May.RECORD)
    going = job is not None and job.going
    stop = page.path("stop_when", trial=trial.id, day=kept.key) if going and kept else ""
    return page.show(
        "when.html",
        422 if problems else 200,
        trial=trial,
        cooks=cooks,
        meant=meant,
        lacks=LACKS,
        may_ask=may_ask,
        may_set_up=person is not None and person.may(May.SET_UP),
        fields=fields,
        problems=dict(problems),
        names=NAMES,
        cuts=CUT_NAMES,
        kept=kept,
        stale=kept is not None and meant is not None and meant.is_stale(kept),
        asked_at=None if kept is None else datetime.fromisoformat(kept.request.asked_at),
        before=[(one, datetime.fromisoformat(one.request.serve)) for one in days[:_ASKED_BEFORE]],
        work=job if going else None,
        failed=failed,
        problem=page.way.say(job.problem) if job is not None and failed else "",
        doing=N_("The day is cooked four hundred times in the simulator"),
        stop=stop if may_ask else "",
        here_again=f"{here.path}?{here.query}" if here.query else here.path,
        **_told(page, None if kept is None else kept.document),
    )


def _told(page: Page, document: dict[str, Any] | None) -> dict[str, Any]:
    """Return what the page tells of a day that is worked out, said to its reader."""
    empty: dict[str, Any] = {"parts": {}, "too_soon": None, "printed": False, "offers_hold": ""}
    if document is None:
        return empty
    if "too_soon" in document:
        later = document["too_soon"]["earliest"] + _READING_TIME
        return empty | {"too_soon": {**said(document["too_soon"], page.way), "later": later}}
    parts = said(document["sections"], page.way)
    chart = day_chart(document["chart"], page.way)
    offered = document.get("offers_hold_c")
    hold = "" if offered is None else f"{offered:g} °C"
    told = {"parts": parts, "chart": chart, "printed": "sheet" in document, "offers_hold": hold}
    return empty | told


NAMES = {
    **LABELS,
    "serve": N_("Served at"),
    "times": N_("Putting on"),
    "shared": N_("Scatter of a cooker's day"),
    "own": N_("Scatter of a piece"),
    "cut": N_("The cut that the pieces are most like"),
}
"""The fields of the form."""
