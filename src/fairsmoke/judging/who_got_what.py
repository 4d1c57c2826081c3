"""Who got what: the units of a record as labels that the model and the tests take."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.trial.cook import Piece
from fairsmoke.trial.record import TrialRecord

IntArray = NDArray[np.intp]


def factors_of(record: TrialRecord) -> dict[str, IntArray]:
    """Return the grouping factors that the units share levels of, as labels (n,) by name.

    Pieces of which a factor is not known get a level of their own. Cooks and positions count even
    when no two pieces shared one: they differ, and that is part of how unsure the answer is. One
    animal or one whole piece for all of them counts too: what is cut from one differs less.
    """
    units = record.units
    wanted: dict[str, Callable[[Piece], str | None]] = {
        "cook": lambda piece: piece.cook,
        "animal": lambda piece: piece.animal,
        "parent": lambda piece: piece.half_of,
        "position": lambda piece: piece.spot.text if piece.spot else None,
    }
    found: dict[str, IntArray] = {}
    for name, key in wanted.items():
        named = [key(piece) for piece in units]
        labels = [value or f"(own) {piece.id}" for value, piece in zip(named, units, strict=True)]
        levels, numbers = np.unique(labels, return_inverse=True)
        told = any(value is not None for value in named)
        several = len(levels) > 1 or (name in ("animal", "parent") and len(units) > 1)
        if told and several and (name in ("cook", "position") or len(levels) < len(units)):
            found[name] = numbers.astype(np.intp)
    return found


@dataclass(frozen=True, eq=False)
class EvenDraw:
    """A draw in which only layouts that spread the arms evenly over the positions were allowed.

    The first rows (m,) are the units of the record, the others the planned pieces still to come,
    which were drawn together with them: ``arm`` numbers, ``blocks`` and ``places`` labels.
    """

    arm: IntArray
    blocks: IntArray
    places: IntArray


def even_draw_of(record: TrialRecord, arm_numbers: Mapping[str, int]) -> EvenDraw | None:
    """Return the even draw of a trial, None where it was none or a position is not known."""
    if not record.trial.draw.even or any(piece.spot is None for piece in record.units):
        return None
    within = record.trial.draw.within
    layout = record.plan.layout if record.plan is not None else None
    slots = layout.slots if layout is not None else ()
    units = {piece.id: piece for piece in record.units}
    held = {slot.cook for slot in slots if slot.piece in units}
    coming = [slot for slot in slots if slot.cook not in held and slot.spot is not None]
    arms = [piece.arm or "" for piece in record.units] + [slot.arm for slot in coming]
    blocks = [_BLOCK_KEYS[within](piece) or f"(own) {piece.id}" for piece in record.units]
    blocks += [f"cook {slot.cook}" if within == "cook" else slot.block for slot in coming]
    spots = [piece.spot for piece in record.units] + [slot.spot for slot in coming]
    return EvenDraw(
        np.array([arm_numbers[arm] for arm in arms], dtype=np.intp),
        _numbered(blocks),
        _numbered([spot.text for spot in spots if spot is not None]),
    )


_BLOCK_KEYS: dict[str, Callable[[Piece], str | None]] = {
    "pair": lambda piece: piece.pair,
    "cook": lambda piece: piece.cook,
    "whole piece": lambda piece: piece.half_of,
    "trial": lambda _: "the trial",
}


def _numbered(labels: Sequence[str]) -> IntArray:
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)


def blocks_of(record: TrialRecord) -> IntArray:
    """Return the blocks within which arms were drawn, as labels (n,); own blocks where unknown."""
    key = _BLOCK_KEYS[record.trial.draw.within]
    return _numbered([key(piece) or f"(own) {piece.id}" for piece in record.units])


def whole_cooks_of(record: TrialRecord) -> IntArray | None:
    """Return the cook of each unit (n,) where whole cooks were given an arm, None elsewhere.

    So it is where the draw says so, and where it cannot have been otherwise: no cook held two arms,
    and some held several pieces.
    """
    arms: dict[str, list[str]] = {}
    for piece in record.units:
        arms.setdefault(piece.cook or "", []).append(piece.arm or "")
    parted = len(arms) > 1 and all(len(set(own)) == 1 for own in arms.values())
    seen = parted and any(len(own) > 1 for own in arms.values())
    if record.trial.draw.given_to == "pieces" and not seen:
        return None
    return _numbered([piece.cook or "" for piece in record.units])
