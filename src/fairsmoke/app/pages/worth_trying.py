"""Which method is worth trying: asked in a form, worked out in the background, kept, shown."""

from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fairsmoke.answers.queue import JobQueue, Stage
from fairsmoke.answers.what_if import write_json
from fairsmoke.answers.worth_trying_kept import FOLDER, MOST_PAIRS, WorthAsked, check_worth
from fairsmoke.app.auth import Told, needs
from fairsmoke.app.charts_script import script_name
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.plan_parts import FromQueue
from fairsmoke.app.pages.record import FormFields
from fairsmoke.app.pages.stored_answers import newest, read_for_good, read_kept, tidy
from fairsmoke.app.pages.what_if import WAIT_S
from fairsmoke.app.pages.words import CUT_NAMES, HOLD_WRAPS, STANDING_SAID, WRAPS
from fairsmoke.app.pages.worth_trying_form import (
    GOAL_NAMES,
    PANS,
    PIECE_FIELDS,
    SPAN_FIELDS,
    WRAP_KINDS,
    asked_of,
    usual_fields,
)
from fairsmoke.app.pages.worth_trying_shown import (
    CAUTIONS,
    GOAL_WORDS,
    LIMITS,
    MEASURE_TITLES,
    SAFETY_WORDS,
    Shown,
)
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.app.problems import AppError
from fairsmoke.messages.errors import is_for_a_person, message_of
from fairsmoke.messages.message import N_

router = APIRouter()

Planner = Annotated[Person, Depends(needs(May.SEE_TRIALS))]
"""Whoever may see plans."""

_RECENT = 12
_BARE = {code or "bare": words for code, words in WRAPS.items()}


@router.get("/worth-trying", name="worth_trying")
def worth_trying_page(
    page: OnPage,
    told: Told,
    _: Planner,
    again: Annotated[str, Query(max_length=40)] = "",
) -> HTMLResponse:
    """Show the form, with usual ranges or as it was asked before; and what was asked lately."""
    fields = usual_fields(page.way.units)
    if again:
        fields = read_kept(place_of(told.results, again) / "form.json") or fields
    return _form_page(page, told.results, fields)


def _form_page(
    page: Page, results: Path, fields: dict[str, str], problem: str = ""
) -> HTMLResponse:
    return page.show(
        "worth_trying.html",
        status=422 if problem else 200,
        fields=fields,
        problem=problem,
        cautioned=STANDING_SAID,
        cuts=CUT_NAMES,
        pieces=PIECE_FIELDS,
        spans=SPAN_FIELDS,
        wraps={kind: _BARE[kind] for kind in WRAP_KINDS},
        hold_wraps={code: words for code, words in HOLD_WRAPS.items() if code},
        pans=PANS,
        goals=GOAL_NAMES,
        recent=_recent(page, results),
    )


@router.post("/worth-trying", name="ask_worth_trying")
def ask(page: OnPage, told: Told, jobs: FromQueue, _: Planner, given: FormFields) -> Response:
    """Take the question in, and lead to its page."""
    fields = {name: value[:80] for name, value in given.items() if len(name) < 40}
    try:
        asked = asked_of(fields, page.way.units)
        # Whatever can be seen to be wrong is said beside the form, not after waiting.
        check_worth(asked)
    except ValueError as error:
        if not is_for_a_person(error):
            raise
        return _form_page(page, told.results, fields, str(message_of(error)).replace("--", ""))
    place = told.results / FOLDER / asked.key
    place.mkdir(parents=True, exist_ok=True)
    write_json(place / "form.json", fields)
    write_json(place / "asked.json", asdict(asked))
    return _taken(page, told.results, jobs, asked)


def _taken(page: Page, results: Path, jobs: JobQueue, asked: WorthAsked) -> RedirectResponse:
    place = results / FOLDER / asked.key
    tidy(place.parent)
    if not (place / "page.json").is_file():
        jobs.submit(asked.key, "worth-trying", asdict(asked))
    return page.go("worth_answer", key=asked.key)


@router.get("/worth-trying/{key}", name="worth_answer")
def answer(page: OnPage, told: Told, jobs: FromQueue, _: Planner, key: str) -> HTMLResponse:
    """Show which methods there are to choose from and what to turn next, or how far it is."""
    fields = _fields(told.results, key)
    work = jobs.find(key)
    if work is not None and work.going:
        work.ended.wait(WAIT_S)
    found = found_of(told.results, key)
    failed = work is not None and work.stage is Stage.FAILED and found is None
    shown = Shown(page.way)
    return page.show(
        "worth_answer.html",
        key=key,
        title=_title(page, fields),
        found=found,
        work=work if work is not None and work.going and found is None else None,
        failed=failed,
        problem=page.way.say(work.problem).replace("--", "") if work is not None and failed else "",
        doing=N_("The methods are being cooked in the simulator"),
        stop=page.path("stop_worth_trying", key=key),
        cautioned=STANDING_SAID,
        cautions=CAUTIONS,
        goal_words=GOAL_WORDS,
        safety_words=SAFETY_WORDS,
        limits=LIMITS,
        shown=shown,
        front_rows=_rows(found, front_only=True),
        measures=_measures(found, shown),
        most=MOST_PAIRS,
        asks=page.person is not None and page.person.may(May.SET_UP),
        script=page.path("charts_script", name=script_name()),
    )


@router.get("/worth-trying/{key}/methods", name="worth_methods")
def methods(page: OnPage, told: Told, _: Planner, key: str) -> HTMLResponse:
    """Show every method that keeps the limits, with the numbers that the chart draws."""
    found = found_of(told.results, key)
    if found is None:
        raise AppError(404, "no-answer", N_("There is no such page."))
    return page.show(
        "worth_methods.html",
        key=key,
        title=_title(page, _fields(told.results, key)),
        found=found,
        rows=_rows(found, front_only=False),
        goal_words=GOAL_WORDS,
        cautioned=STANDING_SAID,
        shown=Shown(page.way),
    )


def _rows(found: dict[str, Any] | None, *, front_only: bool) -> list[tuple[int, dict[str, Any]]]:
    """Return methods with their number: those listed first, then the front, then the others."""
    if found is None:
        return []
    methods, listed = found["methods"], found["listed"]
    rest = [at for at in range(len(methods)) if at not in set(listed)]
    front = [at for at in rest if methods[at]["front"]]
    beaten = [] if front_only else [at for at in rest if not methods[at]["front"]]
    ordered = (*listed, *front, *beaten)
    return [(number, methods[at]) for number, at in enumerate(ordered, start=1)]


def _measures(found: dict[str, Any] | None, shown: Shown) -> list[dict[str, Any]]:
    """Return the ranking of knobs by each measure, in words."""
    if found is None:
        return []
    ranking = []
    for at, one in enumerate(found["measures"]):
        kind = one["kind"]
        priced = any(cost is not None for cost in one["costs"])
        ranking.append(
            {
                "at": at,
                "id": f"by-{at}",
                "title": MEASURE_TITLES[kind],
                "by_chance": shown.size(kind, one["by_chance"]),
                "worthwhile": shown.size(kind, one["worthwhile"]),
                "rows": [shown.turned(kind, n, row) for n, row in enumerate(one["ranked"])],
                "costs": [shown.cost(c) for c in one["costs"]] if priced else [],
                "not_kept": [shown.turn(**row) for row in one["not_kept"]],
                "no_effect": [shown.turn(**row) for row in one["no_effect"]],
            }
        )
    return ranking


@router.post("/worth-trying/{key}/stop", name="stop_worth_trying")
def stop(page: OnPage, jobs: FromQueue, _: Planner, key: str) -> RedirectResponse:
    """Stop it; the methods that were cooked are kept."""
    jobs.stop(key)
    work = jobs.find(key)
    if work is not None:
        work.ended.wait(3.0)
    return page.go("worth_answer", key=key)


@router.post("/worth-trying/{key}/go-on", name="go_on_worth_trying")
def go_on(page: OnPage, told: Told, jobs: FromQueue, _: Planner, key: str) -> RedirectResponse:
    """Go on with what was stopped, where it was."""
    content = read_kept(place_of(told.results, key) / "asked.json")
    if content is None:
        raise _gone()
    return _taken(page, told.results, jobs, WorthAsked(**content))


def found_of(results: Path, key: str) -> dict[str, Any] | None:
    """Return the plain data of an answer, None while there is none; not to be changed."""
    found: dict[str, Any] | None = read_for_good(place_of(results, key) / "page.json")
    return found


def place_of(results: Path, key: str) -> Path:
    """Return the folder in which an answer is kept."""
    return results / FOLDER / Path(key).name


def _fields(results: Path, key: str) -> dict[str, str]:
    fields: dict[str, str] | None = read_kept(place_of(results, key) / "form.json")
    if fields is None:
        raise _gone()
    return fields


def _gone() -> AppError:
    return AppError(404, "no-answer", N_("This answer is no longer kept. Ask it again."))


def _title(page: Page, fields: dict[str, str]) -> str:
    cut = fields.get("piece-cut", "")
    return f"{page.way.say(CUT_NAMES.get(cut, cut))}, {fields.get('piece-mass', '')}"


def _recent(page: Page, results: Path) -> list[dict[str, Any]]:
    found = []
    for place in newest(results / FOLDER, _RECENT):
        fields = read_kept(place / "form.json")
        if fields is not None:
            done = (place / "page.json").is_file()
            methods = fields.get("methods", "")
            title = _title(page, fields)
            found.append({"key": place.name, "title": title, "methods": methods, "done": done})
    return found
