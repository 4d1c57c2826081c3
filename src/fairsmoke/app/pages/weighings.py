"""What was weighed of each piece of a cook, and the yields that follow, with how sure they are."""

from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.doubted import WhatWaits
from fairsmoke.app.pages.finding import FromFindings
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.live.one_cook import weighings_of
from fairsmoke.messages.message import N_
from fairsmoke.telling.document import said
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.weighing import Scale, Weighing

router = APIRouter()
PLACES = (NavigationLink(N_("Weighings"), "weighings", "trial", 40, May.SEE_TRIALS),)


def newest_first(cooks: tuple[Cook, ...]) -> list[Cook]:
    """Return cooks, the one that began last before the others."""
    return sorted(cooks, key=lambda cook: cook.starts, reverse=True)


def chosen_cook(cooks: list[Cook], handle: str) -> Cook | None:
    """Return the cook that the address names, or the newest; raises AppError for an unknown one."""
    if not handle:
        return cooks[0] if cooks else None
    for cook in cooks:
        if cook.id == handle:
            return cook
    raise AppError(404, "no-cook", N_("There is no such cook."))


def _in_time(weighing: Weighing) -> tuple[bool, float, str]:
    at = weighing.at.timestamp() if weighing.at else 0.0
    return weighing.at is None, at, weighing.id


@router.get("/trials/{trial}/weighings", name="weighings")
def weighings_page(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    findings: FromFindings,
    waiting: WhatWaits,
    cook: Annotated[str, Query(max_length=60)] = "",
) -> HTMLResponse:
    """Show the weighings of a cook's pieces, and what the ledger makes of them."""
    cooks = newest_first(book.list(Cook, trial=trial.id))
    shown = chosen_cook(cooks, cook)
    if shown is None:
        return page.show("weighings.html", trial=trial, cooks=cooks, cook=None, work=None)
    pieces = [p for p in book.list(Piece, trial=trial.id, cook=shown.id) if p.arm is not None]
    own: dict[str, list[Weighing]] = {piece.id: [] for piece in pieces}
    shared = []
    for weighing in sorted(weighings_of(book, trial.id, shown.id, list(own)), key=_in_time):
        if weighing.piece in own:
            own[weighing.piece].append(weighing)
        elif weighing.piece is None:
            shared.append(weighing)
    seen = findings.look(trial.id)
    told = seen.document.pieces if seen.document is not None else {}
    working = seen.work is not None and seen.work.going
    return page.show(
        "weighings.html",
        trial=trial,
        cooks=cooks,
        cook=shown,
        zone=time_zone(shown.time_zone),
        pieces=pieces,
        own=own,
        doubted={one.handle: one.why for one in waiting if one.kind == "weighing"},
        shared=shared,
        scales={scale.id: scale.name for scale in book.list(Scale)},
        arms={arm.id: arm.name for arm in trial.arms},
        ledgers={piece.id: said(told.get(piece.id), page.way) for piece in pieces},
        seen=seen,
        work=seen.work if working else None,
        doing=N_("The yields are being worked out"),
        stop="",
    )
