"""A simulation written by hand: a YAML file with pieces, protocol and arms, as in docs."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from pydantic import Field, ValidationError

from fairsmoke.answers.simulation import Simulation
from fairsmoke.cooking import ArmToCook, Conditions, PieceToCook, SideBySide, Site
from fairsmoke.cooking import CookerModel as ModelCooker
from fairsmoke.cooking import MeasuredPiece as ModelPiece
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, InputField, Listed, Message, Words
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder.problems import record_problems
from fairsmoke.notebook.folder.yaml_text import read_yaml
from fairsmoke.quantity.values import Temperature
from fairsmoke.trial.base import (
    Id,
    LengthM,
    MassKg,
    Name,
    Record,
    TemperatureC,
    TemperatureDifferenceK,
    Text,
)
from fairsmoke.trial.protocol import ClockOfDay, Protocol
from fairsmoke.trial.question import Arm

DRAUGHTS = {"still": 5.0, "draught": 8.0, "fan": 25.0}
"""Heat by convection, W/(m²·K): still air 3–8, a smoker's draught 5–12, a fan 15–40 (textbook
ranges, from memory)."""

FUELS = ("fire", "electric")

TENDER_C = 94.0


class FilePiece(Record):
    """A piece as a cook can measure it. ``air`` is how much hotter than set its place is."""

    id: Id
    name: Name | None = None
    cut: Name
    mass_kg: MassKg
    length_m: LengthM
    width_m: LengthM
    thick_m: LengthM
    thin_m: LengthM | None = None
    fat_cap_m: LengthM | None = None
    start_c: TemperatureC = 4.0
    air_k: TemperatureDifferenceK = 0.0


class FileCooker(Record):
    """What is known of the cooker: ``air`` is still, draught or fan; ``fuel`` fire or electric.

    ``preheated``: it is as hot as set when the piece goes in.
    """

    air: Name = "draught"
    fuel: Name = "fire"
    preheated: bool = False


class SimulationFile(Record):
    """The whole file. Without ``arms`` the protocol is simulated alone."""

    title: Name = "Simulation"
    note: Text = ""
    altitude_m: Annotated[LengthM, Field(lt=9000)] = 0.0
    room_c: TemperatureC = 20.0
    starts: ClockOfDay = "00:00"
    tender_c: TemperatureC = TENDER_C
    cooker: FileCooker = FileCooker()
    pieces: Annotated[tuple[FilePiece, ...], Field(min_length=1)]
    protocol: Protocol
    arms: tuple[Arm, ...] = ()


def plan_of_file(
    path: Path, *, members: int = 100, seed: int = 1, whole_body: bool = True
) -> Simulation:
    """Read a file and return what it says to simulate.

    Raises FolderError, which names each line that is wrong and how to mend it.
    """
    problems: list[FolderProblem] = []
    marked = read_yaml(path.read_bytes(), str(path), problems)
    if marked is None or problems:
        raise FolderError(problems)
    try:
        content = SimulationFile.from_file(marked.value)
    except ValidationError as error:
        found = list(record_problems(marked, (), SimulationFile, error))
        raise FolderError(found) from error
    try:
        return plan_of(content, members=members, seed=seed, whole_body=whole_body)
    except ValueError as error:
        message = N_("%(file)s: %(why)s", file=str(path), why=message_of(error))
        raise JobError(message) from error


def plan_of(
    content: SimulationFile, *, members: int, seed: int, whole_body: bool = True
) -> Simulation:
    """Return what a file's content asks to simulate. Raises JobError for unknown words."""
    names: dict[str, Words] = {arm.id: arm.name for arm in content.arms}
    arms = tuple(
        ArmToCook(arm.id, arm.name, content.protocol.changed_by(arm.changes))
        for arm in content.arms
    )
    if not arms:
        names = {"protocol": N_("The protocol")}
        arms = (ArmToCook("protocol", str(names["protocol"]), content.protocol),)
    pieces = tuple(
        PieceToCook(one.id, one.name or one.id, _piece(one), conditions_of(content, one.air_k))
        for one in content.pieces
    )
    assumed = assumptions([arm.protocol for arm in arms], content.tender_c)
    plan = SideBySide(content.title, arms, pieces, members, seed, whole_body)
    return Simulation(plan, content.title, names, tuple(assumed))


def conditions_of(content: SimulationFile, air_k: float) -> Conditions:
    """Return the conditions of a place whose air is so much hotter than set."""
    air, fuel = content.cooker.air, content.cooker.fuel
    for name, word, known in (("air", air, DRAUGHTS), ("fuel", fuel, FUELS)):
        if word not in known:
            message = N_(
                "cooker, %(field)s: '%(word)s' is not known; write one of %(known)s",
                field=InputField(name),
                word=word,
                known=Listed(list(known)),
            )
            raise JobError(message, field=name)
    usual = ModelCooker()
    cooker = ModelCooker(
        convection_w_m2k=DRAUGHTS[air],
        fuel_water_kg_j=usual.fuel_water_kg_j if fuel == "fire" else 0.0,
        position_k=air_k,
        preheated=content.cooker.preheated,
    )
    hours, minutes = content.starts.split(":")
    return Conditions(
        cooker=cooker,
        site=Site(content.altitude_m, content.room_c),
        start_clock_s=3600.0 * int(hours) + 60.0 * int(minutes),
        tender_c=content.tender_c,
    )


def _piece(one: FilePiece) -> ModelPiece:
    return ModelPiece(
        one.cut,
        one.mass_kg,
        one.length_m,
        one.width_m,
        one.thick_m,
        one.thin_m,
        one.fat_cap_m,
        one.start_c,
    )


def assumptions(protocols: Sequence[Protocol], tender_c: float) -> list[Message]:
    """Return what is taken where a protocol leaves it to the cook."""
    ends = [end for protocol in protocols for stage in protocol.stages for end in stage.ends]
    return [
        N_(
            "'%(feel)s' is taken to be when the core is at %(core)s",
            feel=feel,
            core=Temperature(tender_c),
        )
        for feel in dict.fromkeys(end.feel for end in ends if end.feel is not None)
    ]
