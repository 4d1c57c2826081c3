"""The answers that set up a trial, and the trial and plan that they make."""

import re
from typing import Annotated, Self

from pydantic import Field, model_validator

from fairsmoke.messages.message import N_, InputField, Listed
from fairsmoke.planning.errors import PlanError
from fairsmoke.trial.base import Id, LengthM, Name, Record, Text
from fairsmoke.trial.cook import Cooker, Spot
from fairsmoke.trial.plan import AtHand, Plan
from fairsmoke.trial.protocol import Protocol, Stage, StageChange
from fairsmoke.trial.question import Arm, Draw, Measure, Trial, VerdictRule

_LONGEST_HANDLE = 60


class TrialAnswers(Record):
    """All answers that set a trial up, as they stand in a file.

    ``id`` is made of the title when it is not given. ``cookers`` are those that the notebook does
    not know yet. ``stand_in`` names the cookers whose positions are used, where ``at_hand`` names
    no spots itself; without either, all positions of ``cookers``.
    """

    id: Id | None = None
    title: Name
    question: Name
    differs: Name
    invented: bool = False
    protocol: Protocol
    arms: Annotated[tuple[Arm, ...], Field(min_length=2)]
    measures: Annotated[tuple[Measure, ...], Field(min_length=1)]
    verdict: VerdictRule = VerdictRule()
    altitude_m: Annotated[LengthM, Field(lt=9000)] = 0.0
    cookers: tuple[Cooker, ...] = ()
    stand_in: tuple[Id, ...] = ()
    at_hand: AtHand
    leave_out: tuple[Annotated[Text, Field(min_length=1)], ...] = ()
    note: Text = ""

    @model_validator(mode="after")
    def _pieces_have_known_arms(self) -> Self:
        arms = [arm.id for arm in self.arms]
        for piece in self.at_hand.pieces:
            if piece.arm is not None and piece.arm not in arms:
                raise ValueError(
                    f"piece '{piece.id}' is of arm '{piece.arm}'; the arms are {', '.join(arms)}"
                )
        return self


def trial_of(asked: TrialAnswers) -> Trial:
    """Return the trial that the answers describe; nothing is drawn yet, so it says "by hand"."""
    return Trial(
        id=asked.id or handle_of(asked.title),
        title=asked.title,
        question=asked.question,
        invented=asked.invented,
        differs=asked.differs,
        protocol=asked.protocol,
        arms=asked.arms,
        measures=asked.measures,
        draw=Draw(how="by hand", within="trial", note="Not drawn yet."),
        verdict=asked.verdict,
        altitude_m=asked.altitude_m,
        note=asked.note,
    )


def plan_of(asked: TrialAnswers, known: tuple[Cooker, ...] = ()) -> Plan:
    """Return the plan that the answers describe; ``known`` are the notebook's own cookers.

    Raises PlanError when they name a cooker or a position that is not there.
    """
    cookers = {cooker.id: cooker for cooker in (*known, *asked.cookers)}
    spots = asked.at_hand.spots
    if not spots:
        names = asked.stand_in or tuple(cooker.id for cooker in asked.cookers)
        spots = tuple(
            Spot(cooker=name, position=position.id)
            for name in names
            for position in _cooker(cookers, name).positions
        )
    for spot in spots:
        positions = [one.id for one in _cooker(cookers, spot.cooker).positions]
        if spot.position not in positions:
            raise PlanError(
                N_(
                    "cooker “%(cooker)s” has no position “%(position)s”; it has %(known)s",
                    cooker=spot.cooker,
                    position=spot.position,
                    known=Listed(positions),
                )
            )
    used = {spot.cooker for spot in spots}
    for cooker in asked.cookers:
        if cooker.id not in used:
            raise PlanError(
                N_(
                    "nothing would stand in “%(cooker)s”, a new cooker (%(new)s): name it among "
                    "those that are used (%(used)s) too, or leave it out",
                    cooker=cooker.id,
                    new=InputField("cooker"),
                    used=InputField("stand_in"),
                )
            )
    at_hand = asked.at_hand.model_copy(update={"spots": spots})
    return Plan(at_hand=at_hand, leave_out=asked.leave_out)


def _cooker(cookers: dict[str, Cooker], name: str) -> Cooker:
    if name not in cookers:
        known = Listed(list(cookers)) if cookers else N_("none recorded yet")
        raise PlanError(
            N_(
                "there is no cooker “%(name)s” (known: %(known)s); describe it as a new one "
                "(%(new)s)",
                name=name,
                known=known,
                new=InputField("cooker"),
            )
        )
    return cookers[name]


def handle_of(words: str) -> str:
    """Return a handle made of words: "Paper, or bare?" becomes "paper-or-bare".

    Raises PlanError when nothing of them can stand in a handle.
    """
    found = re.sub(r"[^a-z0-9]+", "-", words.casefold()).strip("-")[:_LONGEST_HANDLE].strip("-")
    if not found:
        raise PlanError(
            N_(
                "no handle can be made of “%(words)s”: use a letter from a to z or a figure in it",
                words=words,
            )
        )
    return found


def protocol_changes(shared: Protocol, own: Protocol) -> tuple[StageChange, ...]:
    """Return what turns the shared protocol into an arm's own.

    Stages go by their handle; raises PlanError when the arm has them in another order, or one
    before the first shared stage.
    """
    theirs = {stage.id: stage for stage in shared.stages}
    changes: list[StageChange] = []
    for stage in shared.stages:
        mine = next((one for one in own.stages if one.id == stage.id), None)
        if mine is None:
            changes.append(StageChange(stage=stage.id, leave_out=True))
        elif changed := _fields_changed(stage, mine):
            changes.append(StageChange.model_validate({"stage": stage.id, **changed}))
    before: str | None = None
    for mine in own.stages:
        if mine.id not in theirs:
            if before is None:
                raise PlanError(
                    N_("stage “%(stage)s” comes before all shared stages; share it", stage=mine.id)
                )
            changes.append(StageChange(stage=before, put_after=mine))
        before = mine.id
    if shared.changed_by(tuple(changes)) != own:
        raise PlanError(N_("the stages of an arm stand in another order than the shared ones"))
    return tuple(changes)


def _fields_changed(shared: Stage, own: Stage) -> dict[str, object]:
    fields = ("surround_c", "place", "humidity", "wrap", "adds", "ends", "note")
    return {
        name: getattr(own, name) for name in fields if getattr(own, name) != getattr(shared, name)
    }
