"""A trial's page: what to do now, and where each piece stands."""

from datetime import UTC, datetime

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.alert_words import said
from fairsmoke.app.pages.doubted import WhatWaits
from fairsmoke.app.pages.mark_words import then_message
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.words import STANDS, step_message
from fairsmoke.app.people.permissions import May
from fairsmoke.app.running_cooks import RunningCooks
from fairsmoke.live.snapshot import spot_names
from fairsmoke.live.trial_status import CookStand, NextStep, standing
from fairsmoke.messages.message import N_, Message
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cooker

COOKS_AT_ONCE = 30
"""Cooks that the page lists; all are a tap away."""

router = APIRouter()
PLACES = (NavigationLink(N_("Now"), "trial", "trial", 0, May.SEE_TRIALS),)

MOST_RUNNING = 3
"""Of so many running cooks the page says what each asks for; nobody tends more at once."""

_TARGETS = {
    NextStep.DRAW: ("plan", N_("Draw"), May.SET_UP),
    NextStep.REGISTER: ("plan_register", N_("Register"), May.SET_UP),
    NextStep.SET_UP_COOK: ("cook_new", N_("Start a cook"), May.SET_UP),
    NextStep.PLAN_DAY: ("plan_when", N_("When to do what"), May.SEE_TRIALS),
    NextStep.ADD_PIECES: ("cook_set_up", N_("Set up this cook"), May.SET_UP),
    NextStep.PUT_ON: ("cook", N_("To the pit"), May.SEE_TRIALS),
    NextStep.TEND: ("cook", N_("To the pit"), May.SEE_TRIALS),
    NextStep.REST: ("cook", N_("To the pit"), May.SEE_TRIALS),
    NextStep.END_COOK: ("cook", N_("To the pit"), May.SEE_TRIALS),
    NextStep.WEIGH: ("cook_weigh", N_("Weigh"), May.RECORD),
    NextStep.LOOK: ("finding", N_("Look at the finding"), May.SEE_FINDINGS),
}


def _target(
    page: Page, trial: str, step: NextStep, cook: CookStand | None
) -> tuple[str, Message] | None:
    """Return where to do what is to be done now, and how that is called."""
    route, name, needs = _TARGETS.get(step, ("", N_("Look"), May.SEE_TRIALS))
    if not route or page.person is None or not page.person.may(needs):
        return None
    where = {"trial": trial} | ({"cook": cook.cook.id} if cook else {})
    return page.path(route, **where), name


@router.get("/trials/{trial}", name="trial")
def trial_page(
    page: OnPage,
    request: Request,
    trial: FoundTrial,
    book: Book,
    waiting: WhatWaits,
    every: bool = False,
) -> HTMLResponse:
    """Show where a trial stands; ``every`` lists all of its cooks, else only the newest."""
    found = standing(book, trial.id)
    cooks = sorted(found.cooks, key=lambda cook: cook.starts, reverse=True)
    step, cook = found.step
    pit: RunningCooks = request.app.state.running_cooks
    views = [pit.view(trial.id, one.cook.id) for one in found.running[:MOST_RUNNING]]
    return page.show(
        "trial.html",
        trial=trial,
        waiting=waiting,
        standing=found,
        step=step_message(step, cook),
        target=_target(page, trial.id, step, cook),
        stands=STANDS,
        alerts={
            view.now.cook.id: [
                said(alert, page.way, time_zone(view.now.cook.time_zone)) for alert in view.alerts
            ]
            for view in views
        },
        pieces={piece.piece.id: piece for view in views for piece in view.now.pieces},
        then=then_message,
        arms={arm.id: arm.name for arm in trial.arms},
        spots=spot_names(book.list(Cooker)) if found.running else {},
        now=datetime.now(UTC),
        cooks=cooks if every else cooks[:COOKS_AT_ONCE],
        more=0 if every else max(0, len(cooks) - COOKS_AT_ONCE),
    )
