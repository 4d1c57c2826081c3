"""What has to be recorded before a day can be worked out, and where: cheap enough for a page."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fairsmoke.answers.simulation_trial import Choices, cut_of
from fairsmoke.messages.errors import JobError
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.weighing import MeatState, PartKind, Weighing


@dataclass(frozen=True)
class Missing:
    """What a piece lacks: "mass", "thickness", "length", "width"; ``begun`` when it has a cook."""

    piece: str
    what: str
    begun: bool


def missing_in_plan(plan: Plan, number: int) -> tuple[Missing, ...]:
    """Return what the pieces of a planned cook lack."""
    assert plan.layout is not None
    handles = {slot.piece for slot in plan.layout.slots if slot.cook == number}
    return tuple(
        Missing(one.shown, what, begun=False)
        for one in plan.at_hand.pieces
        if one.id in handles
        for what, value in (("mass", one.mass_kg), ("thickness", one.thick_m))
        if value is None
    )


def missing_in_cook(pieces: Sequence[Piece], weighings: Iterable[Weighing]) -> tuple[Missing, ...]:
    """Return what the pieces of a begun cook lack."""
    weighed = {one.piece for one in weighings if one.piece is not None and is_trimmed(one)}
    found = []
    for one in pieces:
        sizes = (("thickness", one.thick_m), ("length", one.length_m), ("width", one.width_m))
        if one.id not in weighed:
            found.append(Missing(one.name, "mass", begun=True))
        found += [Missing(one.name, what, begun=True) for what, value in sizes if value is None]
    return tuple(found)


def is_trimmed(weighing: Weighing) -> bool:
    """Tell whether the trimmed meat of a piece lay on the scale."""
    return any(
        part.kind is PartKind.MEAT and part.label == MeatState.TRIMMED for part in weighing.sum
    )


def cut_is_known(cut: str, species: str) -> bool:
    """Tell whether the simulator has a cut for a piece's free words."""
    try:
        cut_of("piece", cut, species, Choices())
    except JobError:
        return False
    return True


__all__ = ["Missing", "cut_is_known", "is_trimmed", "missing_in_cook", "missing_in_plan"]
