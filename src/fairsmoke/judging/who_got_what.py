"""Who got what: the units of a record as labels that the model and the tests take."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fairsmoke.trial.cook import Piece
from fairsmoke.trial.record import TrialRecord

IntArray = NDArray[np.intp]


def factors_of(record: TrialRecord) -> dict[str, IntArray]:
    """Return the grouping factors that the units share levels of, as labels (n,) by name.

    Pieces of which a factor is not known get a level of their own. Positions count even when no
    two pieces shared one: they differ, and that is part of how unsure the answer is. One animal or
    one whole piece for all of them counts too: what is cut from one differs less.
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
        if told and several and (name == "position" or len(levels) < len(units)):
            found[name] = numbers.astype(np.intp)
    return found


def blocks_of(record: TrialRecord) -> IntArray:
    """Return the blocks within which arms were drawn, as labels (n,); own blocks where unknown."""
    within = record.trial.draw.within
    key: dict[str, Callable[[Piece], str | None]] = {
        "pair": lambda piece: piece.pair,
        "cook": lambda piece: piece.cook,
        "whole piece": lambda piece: piece.half_of,
        "trial": lambda _: record.trial.id,
    }
    labels = [key[within](piece) or f"(own) {piece.id}" for piece in record.units]
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)
