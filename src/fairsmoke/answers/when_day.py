"""The day to plan: from a YAML file, or from a trial of the notebook; and what it still lacks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import Field, ValidationError

from fairsmoke.answers.simulation_file import FilePiece, SimulationFile, assumptions, plan_of
from fairsmoke.answers.simulation_trial import SimulationOptions, cut_of, plan_of_trial
from fairsmoke.cooking import ArmToCook, Conditions, PieceToCook, SideBySide, Site
from fairsmoke.cooking import CookerModel as ModelCooker
from fairsmoke.cooking import MeasuredPiece as ModelPiece
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder.problems import record_problems
from fairsmoke.notebook.folder.yaml_text import read_yaml
from fairsmoke.planning.day.day_plan import Day, OnTheDay
from fairsmoke.planning.day.usual_holds import LEAST_HOLD_C, has_hold, with_hold
from fairsmoke.quantity.values import Temperature
from fairsmoke.trial.base import Id, Name, Text
from fairsmoke.trial.cook import Piece, Spot
from fairsmoke.trial.plan import Plan, Slot
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, PartKind, Weighing

DRAWS = 400
_HOTTEST_HOLD_C = 85.0
_DENSITY_KG_M3 = 1050.0
_LONG_TO_WIDE = 1.5
_FILLS = {"brisket": 0.5, "brisket flat": 0.55}
_FILLS_ELSE = 0.62
"""How much of its own box a cut fills, and how much longer than wide it is: common practice, no
source; only for pieces whose length and width nobody measured yet."""


class WhenPiece(FilePiece):
    """A piece with its arm and where it stands; the arm may be left out where there is one."""

    arm: Id | None = None
    in_cooker: Name = "the cooker"
    place: Text = ""


class WhenFile(SimulationFile):
    """A file for `simulate` in which pieces say their arm, cooker and place."""

    pieces: Annotated[tuple[WhenPiece, ...], Field(min_length=1)]


def day_of_file(
    path: Path, serve: datetime, zone: ZoneInfo, *, draws: int = DRAWS, seed: int = 1
) -> Day:
    """Read a file. Raises FolderError that names each wrong line; JobError for a missing arm."""
    problems: list[FolderProblem] = []
    marked = read_yaml(path.read_bytes(), str(path), problems)
    if marked is None or problems:
        raise FolderError(problems)
    try:
        content = WhenFile.from_file(marked.value)
    except ValidationError as error:
        raise FolderError(list(record_problems(marked, (), WhenFile, error))) from error
    sides = plan_of(content, members=draws, seed=seed, whole_body=False).plan
    names = [arm.id for arm in sides.arms]
    who = []
    for one in content.pieces:
        arm = one.arm or (names[0] if len(names) == 1 else None)
        if arm not in names:
            raise JobError(
                N_(
                    "%(file)s: piece “%(piece)s” does not say its arm; add “arm:” with one of "
                    "%(arms)s.",
                    file=str(path),
                    piece=one.id,
                    arms=", ".join(names),
                )
            )
        who.append(OnTheDay(one.id, arm, one.in_cooker, one.place))
    return Day(sides, tuple(who), serve, zone)


def day_of_trial(
    record: TrialRecord,
    cook: str,
    serve: datetime,
    zone: ZoneInfo,
    *,
    draws: int = DRAWS,
    seed: int = 1,
    choices: SimulationOptions | None = None,
) -> Day:
    """Return the day of a begun cook (its handle) or of a planned one (its number, from 1).

    Raises JobError that names what is missing and how to record it.
    """
    begun = [piece for piece in record.units if piece.cook == cook]
    choices = replace(choices or SimulationOptions(), members=draws, seed=seed, whole_body=False)
    trial = record.trial
    if begun:
        handles = tuple(piece.id for piece in begun)
        found = plan_of_trial(record, replace(choices, pieces=handles))
        who = tuple(_standing(record, one.id, one.arm or "", one.spot) for one in begun)
        told = assumptions([arm.protocol for arm in found.plan.arms], choices.tender_c)
        notes = tuple(note for note in found.assumed if note not in told)
        return Day(found.plan, who, serve, zone, trial.invented, notes=notes)
    slots = _slots(record, cook)
    pieces = tuple(_planned(record, slot, choices) for slot in slots)
    arms = tuple(ArmToCook(arm.id, arm.name, trial.protocol_of(arm.id)) for arm in trial.arms)
    sides = SideBySide(trial.title, arms, pieces, draws, seed, False)
    who = tuple(_standing(record, slot.piece, slot.arm, slot.spot) for slot in slots)
    return Day(sides, who, serve, zone, trial.invented, frozenset(one.id for one in pieces))


def with_holds(day: Day, hold_c: float | None) -> Day:
    """Return the day with a hold at so many °C for every arm that has none; as it is for None.

    Raises JobError that names the field for a hold that is too cool, and where nothing lacks one.
    """
    if hold_c is None:
        return day
    if not LEAST_HOLD_C <= hold_c <= _HOTTEST_HOLD_C:
        message = N_(
            "%(field)s of %(hold)s: hold at %(least)s to %(most)s; cooler is below the published "
            "limits for hot holding, and hotter goes on cooking.",
            field=InputField("hold"),
            hold=Temperature(hold_c),
            least=Temperature(LEAST_HOLD_C),
            most=Temperature(_HOTTEST_HOLD_C),
        )
        raise JobError(message, field="hold")
    if all(has_hold(arm.protocol) for arm in day.sides.arms):
        message = N_(
            "%(field)s: every arm's protocol has its hold already; leave it out.",
            field=InputField("hold"),
        )
        raise JobError(message, field="hold")
    cut = day.sides.pieces[0].piece.cut
    arms = tuple(
        replace(arm, protocol=with_hold(arm.protocol, cut, hold_c)) for arm in day.sides.arms
    )
    return replace(day, sides=replace(day.sides, arms=arms), hold_c=hold_c)


def _slots(record: TrialRecord, cook: str) -> tuple[Slot, ...]:
    layout = None if record.plan is None else record.plan.layout
    cooks = ", ".join(one.id for one in record.cooks) or "–"
    if layout is None:
        raise JobError(
            N_(
                "There is no cook “%(cook)s” with pieces, and nothing is drawn yet (begun cooks: "
                "%(cooks)s). Draw first who gets what.",
                cook=cook,
                cooks=cooks,
            ),
            field="cook",
        )
    numbers = sorted({slot.cook for slot in layout.slots})
    slots = tuple(slot for slot in layout.slots if str(slot.cook) == cook)
    if not slots:
        raise JobError(
            N_(
                "There is no cook “%(cook)s”; give %(field)s a number of the plan (%(first)s to "
                "%(last)s) or a begun cook (%(cooks)s).",
                cook=cook,
                field=InputField("cook"),
                first=numbers[0],
                last=numbers[-1],
                cooks=cooks,
            ),
            field="cook",
        )
    return slots


def _standing(record: TrialRecord, piece: str, arm: str, spot: Spot | None) -> OnTheDay:
    """Return a piece with the names of its cooker and place; handles where they are not listed."""
    if spot is None:
        return OnTheDay(piece, arm)
    names = {
        f"{cooker.id}/{position.id}": (cooker.name, position.name)
        for cooker in record.cookers
        for position in cooker.positions
    }
    return OnTheDay(piece, arm, *names.get(spot.text, (spot.cooker, spot.position)))


def _planned(record: TrialRecord, slot: Slot, choices: SimulationOptions) -> PieceToCook:
    assert record.plan is not None
    at_hand = record.plan.at_hand
    planned = next(one for one in at_hand.pieces if one.id == slot.piece)
    if planned.mass_kg is None or planned.thick_m is None:
        raise JobError(
            N_(
                "Piece “%(piece)s”: the plan does not say %(what)s; ask again with it, or begin "
                "the cook and record it there.",
                piece=planned.id,
                what=LACKS["mass" if planned.mass_kg is None else "thickness"],
            )
        )
    mass, thick = planned.mass_kg, planned.thick_m
    cut = cut_of(planned.id, at_hand.cut, at_hand.species, choices)
    plan_m2 = mass / (_DENSITY_KG_M3 * thick * _FILLS.get(cut, _FILLS_ELSE))
    wide = (plan_m2 / _LONG_TO_WIDE) ** 0.5
    model = ModelPiece(cut, mass, _LONG_TO_WIDE * wide, wide, thick)
    conditions = Conditions(
        cooker=ModelCooker(),
        site=Site(record.trial.altitude_m, choices.room_c),
        tender_c=choices.tender_c,
    )
    return PieceToCook(planned.id, planned.shown, model, conditions)


LACKS = {
    "mass": N_("how heavy it is"),
    "thickness": N_("how thick it is"),
    "length": N_("how long it is"),
    "width": N_("how wide it is"),
}
"""What a piece can lack, in words."""


@dataclass(frozen=True)
class MissingOfPiece:
    """What a piece lacks, a key of `LACKS`."""

    piece: str
    what: str


def missing_in_plan(plan: Plan, number: int) -> tuple[MissingOfPiece, ...]:
    """Return what the pieces of a planned cook lack; cheap enough for a page."""
    assert plan.layout is not None
    handles = {slot.piece for slot in plan.layout.slots if slot.cook == number}
    return tuple(
        MissingOfPiece(one.shown, what)
        for one in plan.at_hand.pieces
        if one.id in handles
        for what, value in (("mass", one.mass_kg), ("thickness", one.thick_m))
        if value is None
    )


def missing_in_cook(
    pieces: Sequence[Piece], weighings: Iterable[Weighing]
) -> tuple[MissingOfPiece, ...]:
    """Return what the pieces of a begun cook lack."""
    weighed = {one.piece for one in weighings if one.piece is not None and is_trimmed(one)}
    found = []
    for one in pieces:
        sizes = (("thickness", one.thick_m), ("length", one.length_m), ("width", one.width_m))
        if one.id not in weighed:
            found.append(MissingOfPiece(one.name, "mass"))
        found += [MissingOfPiece(one.name, what) for what, value in sizes if value is None]
    return tuple(found)


def is_trimmed(weighing: Weighing) -> bool:
    """Tell whether the trimmed meat of a piece lay on the scale."""
    return any(
        part.kind is PartKind.MEAT and part.label == MeatState.TRIMMED for part in weighing.sum
    )


def cut_is_known(cut: str, species: str) -> bool:
    """Tell whether the simulator has a cut for a piece's free words."""
    try:
        cut_of("piece", cut, species, SimulationOptions())
    except JobError:
        return False
    return True
