"""Begin a planned cook: its record, and its pieces with arm, partner and place as drawn."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, NN_, Listed
from fairsmoke.notebook import Notebook
from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.plan import Plan, PlannedPiece, Slot


@dataclass(frozen=True)
class Begun:
    """A cook that was begun as planned, its pieces, and where each stands and is moved to."""

    cook: Cook
    pieces: tuple[Piece, ...]
    slots: tuple[Slot, ...]


def begin(
    notebook: Notebook,
    trial_id: str,
    number: int,
    starts: datetime,
    *,
    handle: str = "",
    name: str = "",
    by: str = "",
) -> Begun:
    """Record the planned cook of that number (from 1) and its pieces as drawn, all or nothing.

    ``starts`` knows its time zone. Raises JobError when nothing is drawn, there is no such cook in
    the plan, it was begun before, or no cooker is named in the plan.
    """
    record = notebook.load_trial(trial_id, lazy=True)
    plan = record.plan
    if plan is None or plan.layout is None:
        raise JobError(N_("who gets what is not drawn yet; draw it first"), kind="conflict")
    slots = tuple(slot for slot in plan.layout.slots if slot.cook == number)
    if not slots:
        last = max(slot.cook for slot in plan.layout.slots)
        message = N_(
            "the plan has no cook %(number)s; it has 1 to %(last)s", number=number, last=last
        )
        raise JobError(message, kind="missing")
    there = {piece.id for piece in record.units}
    begun = [slot.piece for slot in slots if slot.piece in there]
    if begun:
        message = NN_(
            "cook %(number)s was begun before: %(pieces)s is recorded in it",
            "cook %(number)s was begun before: %(pieces)s are recorded in it",
            len(begun),
            number=number,
            pieces=Listed(begun, "and"),
        )
        raise JobError(message, kind="conflict")
    cookers = tuple(dict.fromkeys(slot.spot.cooker for slot in slots if slot.spot is not None))
    if not cookers:
        raise JobError(
            N_("the plan names no cooker; record the cook by hand, or say where pieces can stand"),
            kind="conflict",
        )
    cook = Cook(
        id=handle or f"cook-{number}",
        name=name or f"Cook {number}",
        time_zone=notebook.kitchen.time_zone,
        starts=starts,
        cookers=cookers,
    )
    if cook.id in {one.id for one in record.cooks}:
        message = N_(
            "a cook “%(cook)s” is recorded already; give this one another handle", cook=cook.id
        )
        raise JobError(message, field="id", kind="conflict")
    pieces = tuple(_piece(plan, slot, cook.id) for slot in slots)
    wholes = _wholes(plan, slots, {piece.id for piece in record.pieces})
    records: list[Record] = [cook, *wholes, *pieces]
    notebook.save(records, trial=trial_id, by=by, why=f"cook {number} of the plan was begun")
    return Begun(cook, pieces, slots)


def _piece(plan: Plan, slot: Slot, cook: str) -> Piece:
    planned = _planned(plan, slot.piece)
    return Piece(
        id=planned.id,
        name=planned.shown,
        cut=plan.at_hand.cut,
        species=plan.at_hand.species,
        grade=planned.grade,
        animal=planned.animal,
        cook=cook,
        arm=slot.arm,
        pair=slot.block,
        half_of=planned.half_of,
        spot=slot.spot,
        thick_m=planned.thick_m,
    )


def _planned(plan: Plan, handle: str) -> PlannedPiece:
    return next(piece for piece in plan.at_hand.pieces if piece.id == handle)


def _wholes(plan: Plan, slots: tuple[Slot, ...], there: set[str]) -> Iterator[Piece]:
    """Yield the wholes that pieces are cut from, where they are not recorded yet."""
    for handle in dict.fromkeys(_planned(plan, slot.piece).half_of for slot in slots):
        if handle is not None and handle not in there:
            yield Piece(id=handle, name=handle, cut=plan.at_hand.cut, species=plan.at_hand.species)
