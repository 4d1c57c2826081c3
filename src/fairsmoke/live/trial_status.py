"""Where a trial stands: its cooks, each piece, and what is to be done now.

Reads only the cooks that run, so that a page costs the same after two hundred cooks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal

from sqlalchemy import func, select

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.tables import TABLES
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece, Spot
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial
from fairsmoke.trial.registration import Registration


class Stand(StrEnum):
    """How far a piece has come."""

    WAITING = "waiting"
    ON = "on"
    WRAPPED = "wrapped"
    OFF = "off"
    HELD = "held"
    OUT_OF_HOLD = "out of hold"
    SLICED = "sliced"


_AFTER = {
    EventKind.ON: Stand.ON,
    EventKind.WRAP: Stand.WRAPPED,
    EventKind.UNWRAP: Stand.ON,
    EventKind.PULL: Stand.OFF,
    EventKind.HOLD: Stand.HELD,
    EventKind.HOLD_END: Stand.OUT_OF_HOLD,
    EventKind.SLICE: Stand.SLICED,
}


_WRAPPING = frozenset({EventKind.WRAP, EventKind.UNWRAP})
_ON_COOKER = frozenset({Stand.ON, Stand.WRAPPED})


class NextStep(StrEnum):
    """What is to be done now, in the order in which the first that applies is said."""

    DRAW = "draw"
    """What is at hand is said, and who gets what is not drawn."""
    REGISTER = "register"
    """It is drawn, and not registered."""
    SET_UP_COOK = "set up cook"
    """The trial has no cook yet, and no plan: it is cooked by hand."""
    PLAN_DAY = "plan day"
    """The plan is registered, with who gets what, and no cook was begun."""
    ADD_PIECES = "add pieces"
    """The next cook has no piece."""
    PUT_ON = "put on"
    TEND = "tend"
    """Pieces are on the cooker."""
    REST = "rest"
    """Pieces are off or in the hold."""
    END_COOK = "end cook"
    """All pieces are sliced, and the cook has not been ended."""
    WEIGH = "weigh"
    """The last cook has ended with fewer than two weighings a piece: raw and cooked."""
    LOOK = "look"
    """All that was begun has ended: look at the finding, or cook again."""


Planned = Literal["no", "asked", "drawn", "registered"]

_BEFORE_A_COOK: Mapping[Planned, NextStep] = {
    "no": NextStep.SET_UP_COOK,
    "asked": NextStep.DRAW,
    "drawn": NextStep.REGISTER,
    "registered": NextStep.PLAN_DAY,
}


@dataclass(frozen=True)
class PieceStand:
    """One piece: how far it has come, since when, and where it is."""

    piece: Piece
    stand: Stand
    since: datetime | None
    spot: Spot | None


@dataclass(frozen=True)
class CookStand:
    """One cook with its pieces."""

    cook: Cook
    pieces: tuple[PieceStand, ...]

    def in_stand(self, *stands: Stand) -> tuple[PieceStand, ...]:
        """Return the pieces that have come so far."""
        return tuple(one for one in self.pieces if one.stand in stands)


@dataclass(frozen=True)
class Standing:
    """Where a trial stands. ``running`` are the cooks that have not ended, in order of starting."""

    trial: Trial
    cooks: tuple[Cook, ...]
    running: tuple[CookStand, ...]
    counts: Mapping[str, Mapping[str, int]]
    planned: Planned = "no"
    """How far its plan has come; looked at only while there is no cook."""

    @property
    def step(self) -> tuple[NextStep, CookStand | None]:
        """What is to be done now, and in which cook."""
        if not self.cooks:
            return _BEFORE_A_COOK[self.planned], None
        if self.running:
            one = self.running[0]
            return _step_in(one), one
        last = max(self.cooks, key=lambda cook: cook.starts)
        said = self.counts.get(last.id, {})
        if said.get("weighing", 0) < 2 * said.get("piece", 0):
            return NextStep.WEIGH, CookStand(last, ())
        return NextStep.LOOK, None


def _step_in(one: CookStand) -> NextStep:
    if not one.pieces:
        return NextStep.ADD_PIECES
    if one.in_stand(Stand.ON, Stand.WRAPPED):
        return NextStep.TEND
    if one.in_stand(Stand.WAITING):
        return NextStep.PUT_ON
    if one.in_stand(Stand.OFF, Stand.HELD, Stand.OUT_OF_HOLD):
        return NextStep.REST
    return NextStep.END_COOK


def piece_stand(piece: Piece, events: Sequence[Event]) -> PieceStand:
    """Return how far a piece has come by the events of its cook, in any order."""
    stand, since, spot = Stand.WAITING, None, piece.spot
    for event in sorted(events, key=lambda one: one.at):
        if piece.id not in event.pieces:
            continue
        # Off the cooker, paper on or off changes nothing about where a piece stands.
        if event.kind in _AFTER and (event.kind not in _WRAPPING or stand in _ON_COOKER):
            stand, since = _AFTER[event.kind], event.at
        if event.kind is EventKind.MOVED and event.to is not None:
            spot = event.to
    return PieceStand(piece, stand, since, spot)


def cook_stand(book: Notebook, trial: str, cook: Cook) -> CookStand:
    """Return a cook with how far each of its pieces has come; wholes that were cut up are none."""
    events = book.list(Event, trial=trial, cook=cook.id)
    pieces = [one for one in book.list(Piece, trial=trial, cook=cook.id) if one.arm is not None]
    return CookStand(cook, tuple(piece_stand(piece, events) for piece in pieces))


def standing(book: Notebook, handle: str) -> Standing:
    """Return where a trial stands. Raises NotebookError when there is none."""
    trial = book.get(Trial, handle)
    cooks = book.list(Cook, trial=handle)
    open_cooks = sorted((cook for cook in cooks if cook.ends is None), key=lambda one: one.starts)
    running = tuple(cook_stand(book, handle, cook) for cook in open_cooks)
    planned = "no" if cooks else planned_so_far(book, handle)
    return Standing(trial, cooks, running, book.counts(handle), planned)


def planned_so_far(book: Notebook, trial: str) -> Planned:
    """Return how far the plan of a trial has come."""
    plans = book.list(Plan, trial=trial)
    if not plans:
        return "no"
    if not any(plan.layout is not None for plan in plans):
        return "asked"
    return "registered" if book.list(Registration, trial=trial) else "drawn"


def cooks_of_trials(book: Notebook) -> dict[str, tuple[int, int]]:
    """Return how many cooks each trial has, and how many of them run; trials without one are out.

    Without unpacking a record.
    """
    cook = TABLES["cook"].c
    query = (
        select(cook.trial_id, func.count(), func.count() - func.count(cook.ends))
        .where(~cook.struck)
        .group_by(cook.trial_id)
    )
    with book.reading() as connection:
        return {row[0]: (row[1], row[2]) for row in connection.execute(query)}
