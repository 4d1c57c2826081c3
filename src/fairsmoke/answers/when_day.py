"""The day to plan: from a YAML file, or from a trial of the notebook."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import Field, ValidationError

from fairsmoke.answers.simulation_file import FilePiece, SimulationFile, assumptions, plan_of
from fairsmoke.answers.simulation_trial import Choices, cut_of, plan_of_trial
from fairsmoke.cooking import ArmToCook, Conditions, PieceToCook, SideBySide, Site
from fairsmoke.cooking import Cooker as ModelCooker
from fairsmoke.cooking import Piece as ModelPiece
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder.problems import record_problems
from fairsmoke.notebook.folder.yaml_text import read_yaml
from fairsmoke.planning.day.day_plan import Day, OnTheDay
from fairsmoke.trial.base import Id, Name, Text
from fairsmoke.trial.cook import Piece, Spot
from fairsmoke.trial.plan import PlannedPiece, Slot
from fairsmoke.trial.record import TrialRecord

DRAWS = 400
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
    sides = plan_of(content, members=draws, seed=seed, whole_body=False)
    names = [arm.id for arm in sides.arms]
    who = []
    for one in content.pieces:
        arm = one.arm or (names[0] if len(names) == 1 else None)
        if arm is None:
            raise JobError(
                f"{path}: piece '{one.id}' does not say its arm; add 'arm:' with one of "
                f"{', '.join(names)}"
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
    told: Choices | None = None,
) -> Day:
    """Return the day of a begun cook (its handle) or of a planned one (its number, from 1).

    Raises JobError that names what is missing and how to record it.
    """
    begun = [piece for piece in record.units if piece.cook == cook]
    told = replace(told or Choices(), members=draws, seed=seed, whole_body=False)
    if begun:
        sides = plan_of_trial(record, replace(told, pieces=tuple(piece.id for piece in begun)))
        who = tuple(_placed(record, piece) for piece in begun)
        return Day(sides, who, serve, zone, record.trial.invented)
    slots = _slots(record, cook)
    guessed: dict[str, str] = {}
    pieces = tuple(_planned(record, slot, told, guessed) for slot in slots)
    trial = record.trial
    arms = tuple(ArmToCook(arm.id, arm.name, trial.protocol_of(arm.id)) for arm in trial.arms)
    notes = [*guessed.values(), *assumptions([arm.protocol for arm in arms], told.tender_c)]
    sides = SideBySide(
        trial.title, arms, pieces, draws, seed, False, assumed=tuple(dict.fromkeys(notes))
    )
    who = tuple(_standing(record, slot.piece, slot.arm, slot.spot) for slot in slots)
    return Day(sides, who, serve, zone, trial.invented, guessed)


def _slots(record: TrialRecord, cook: str) -> tuple[Slot, ...]:
    layout = None if record.plan is None else record.plan.layout
    cooks = ", ".join(one.id for one in record.cooks) or "none"
    if layout is None:
        raise JobError(
            f"there is no cook '{cook}' with pieces, and nothing is drawn yet; begun cooks: "
            f"{cooks}. Draw with 'fairsmoke draw -t {record.trial.id}'"
        )
    numbers = sorted({slot.cook for slot in layout.slots})
    slots = tuple(slot for slot in layout.slots if str(slot.cook) == cook)
    if not slots:
        raise JobError(
            f"there is no cook '{cook}'; say --cook with a number of the plan "
            f"({numbers[0]} to {numbers[-1]}) or a begun cook ({cooks})"
        )
    return slots


def _placed(record: TrialRecord, piece: Piece) -> OnTheDay:
    assert piece.arm is not None
    return _standing(record, piece.id, piece.arm, piece.spot)


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


def _planned(
    record: TrialRecord, slot: Slot, told: Choices, guessed: dict[str, str]
) -> PieceToCook:
    assert record.plan is not None
    at_hand = record.plan.at_hand
    planned = next(one for one in at_hand.pieces if one.id == slot.piece)
    mass, thick = _need(planned.mass_kg, "mass", planned), _need(planned.thick_m, "thick", planned)
    cut = cut_of(planned.id, at_hand.cut, at_hand.species, told)
    plan_m2 = mass / (_DENSITY_KG_M3 * thick * _FILLS.get(cut, _FILLS_ELSE))
    wide = (plan_m2 / _LONG_TO_WIDE) ** 0.5
    guessed[planned.id] = (
        f"{planned.shown}: {100 * _LONG_TO_WIDE * wide:.0f} by {100 * wide:.0f} cm, from its mass "
        "and thickness; 4 °C when it goes on"
    )
    model = ModelPiece(cut, mass, _LONG_TO_WIDE * wide, wide, thick)
    conditions = Conditions(
        cooker=ModelCooker(),
        site=Site(record.trial.altitude_m, told.room_c),
        tender_c=told.tender_c,
    )
    return PieceToCook(planned.id, planned.shown, model, conditions)


def _need(value: float | None, what: str, planned: PlannedPiece) -> float:
    if value is None:
        raise JobError(
            f"piece '{planned.id}': its {what} is not in the plan; ask again with it, or begin the "
            "cook and record it there"
        )
    return value


__all__ = ["DRAWS", "WhenFile", "day_of_file", "day_of_trial"]
