"""The plan of a trial: the draw, who gets what, and the cooks that are begun from it."""

import json
from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.answers.queue import JobStage
from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import (
    FromQueue,
    Stands,
    looked_over,
    may_change,
    place_names,
    planned_key,
)
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.design.estimability import one_line
from fairsmoke.messages.message import N_
from fairsmoke.setting_up.begin import begin
from fairsmoke.telling.plan import KINDS, free_line
from fairsmoke.trial.clock import Which, parse_instant, time_zone
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.plan import LayoutKind

router = APIRouter()
PLACES = (NavigationLink(N_("Plan"), "plan", "trial", 20, May.SEE_TRIALS),)

WAIT_S = 4.0
"""How long whoever draws waits for it, before the page says that it goes on."""
_LARGEST_SEED = 2**53 - 1


def _draw_key(trial: str) -> str:
    return json.dumps(["draw", trial])


@router.get("/trials/{trial}/plan", name="plan")
def plan_page(
    page: OnPage, trial: FoundTrial, book: Book, stands: Stands, jobs: FromQueue
) -> HTMLResponse:
    """Show who gets what, or what could be drawn; and the cooks of the plan."""
    look = looked_over(page, jobs, trial, stands)
    drawing = jobs.find(_draw_key(trial.id))
    going = drawing if drawing is not None and drawing.going else look.job
    layout = None if stands.plan is None else stands.plan.layout
    failed = drawing is not None and drawing.stage is JobStage.FAILED
    # Only of the plan as it is now: what was mended since is no problem any more.
    told = (
        failed
        and drawing is not None
        and drawing.content["of"] == planned_key("draw", trial, stands)
    )
    return page.show(
        "plan.html",
        trial=trial,
        stands=stands,
        layout=layout,
        look=look,
        failed=told,
        problem=drawing.problem if told and drawing is not None else "",
        free=one_line([page.way.say(one) for one in free_line(layout, trial)]) if layout else "",
        work=going,
        doing=N_("The layout is being drawn")
        if drawing is not None and drawing.going
        else N_("The plan is looked over"),
        stop="",
        kinds=KINDS,
        arms={arm.id: arm.name for arm in trial.arms},
        names={} if stands.plan is None else {p.id: p.shown for p in stands.plan.at_hand.pieces},
        spots=place_names(book),
        cooks=sorted({slot.cook for slot in layout.slots}) if layout is not None else [],
        cook_of={piece.id: piece.cook for piece in book.list(Piece, trial=trial.id)},
        placed=layout is not None and all(slot.spot is not None for slot in layout.slots),
        changes=may_change(page),
        zone=time_zone(page.kitchen.time_zone if page.kitchen else "UTC"),
        now=datetime.now(UTC),
    )


@router.post("/trials/{trial}/draw", name="draw_plan")
def draw_plan(
    page: OnPage,
    trial: FoundTrial,
    stands: Stands,
    jobs: FromQueue,
    person: SettingUp,
    kind: Annotated[str, Form(max_length=40)] = "",
    swap: Annotated[str, Form(max_length=5)] = "",
    seed: Annotated[str, Form(max_length=20)] = "",
    why: Annotated[str, Form(max_length=1000)] = "",
) -> RedirectResponse:
    """Draw who gets what, by chance, and record it with its seed."""
    if stands.plan is None:
        raise AppError(409, "no-plan", N_("Say first what is at hand; then it can be drawn."))
    if stands.fixed is not None:
        raise AppError(409, "plan-fixed", stands.fixed)
    if kind and kind not in list(LayoutKind):
        raise AppError(422, "no-kind", N_("There is no such kind of layout."))
    if stands.plan.layout is not None and not why.strip():
        message = N_(
            "A layout was drawn already, and drawing until one likes it is no draw. Say why it is "
            "thrown away; it stays in the history, and the new one says how many were."
        )
        raise AppError(422, "why", message)
    if seed.strip() and not (seed.strip().isdecimal() and int(seed) <= _LARGEST_SEED):
        raise AppError(422, "seed", N_("A seed is a whole number; leave it empty for chance."))
    content = {
        "trial": trial.id,
        "kind": kind,
        "swap": swap == "yes",
        "seed": int(seed) if seed.strip() else None,
        "by": person.name,
        "why": why.strip(),
        "of": planned_key("draw", trial, stands),
    }
    work = jobs.submit(_draw_key(trial.id), "draw", content)
    work.ended.wait(WAIT_S)
    return page.go("plan", trial=trial.id)


@router.post("/trials/{trial}/begin", name="begin_planned")
def begin_planned(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    stands: Stands,
    person: SettingUp,
    number: Annotated[int, Form(ge=1, le=1000)],
    starts: Annotated[str, Form(max_length=40)] = "",
    hour: Annotated[Which, Form()] = "",
) -> RedirectResponse:
    """Record a cook of the plan with its pieces, each with arm, partner and place as drawn."""
    layout = None if stands.plan is None else stands.plan.layout
    if layout is None:
        raise AppError(409, "not-drawn", N_("Who gets what is not drawn yet."))
    slots = [slot for slot in layout.slots if slot.cook == number]
    if not slots:
        raise AppError(404, "no-cook", N_("There is no such cook."))
    if any(slot.piece in stands.begun for slot in slots):
        raise AppError(409, "begun", N_("This cook was begun before."))
    if not any(slot.spot for slot in slots):
        raise AppError(409, "no-place", N_("The plan names no cooker: start the cook by hand."))
    zone = time_zone(page.kitchen.time_zone if page.kitchen else "UTC")
    at = parse_instant(starts, zone, hour) if starts else None
    moment = at or datetime.now(UTC).replace(microsecond=0)
    begun = begin(book, trial.id, number, moment, by=person.name)
    return page.go("cook_set_up", trial=trial.id, cook=begun.cook.id)
