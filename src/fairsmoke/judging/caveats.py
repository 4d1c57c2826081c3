"""What the layout of a trial mixes up, in the words of a cook: side and wrap, day and method."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.design import NotSeparable
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing.rows import listed

FloatArray = NDArray[np.float64]

STRONG = 0.6
"""Cramér's V of arm and place from which they can hardly be told apart; own choice (5 of 6)."""

_WORDS = {
    "position": ("stood at", "place"),
    "cook": ("was cooked in", "day"),
    "animal": ("came from", "animal"),
    "parent": ("was cut from", "whole piece"),
}


@dataclass(frozen=True)
class MixUp:
    """A factor that ran with the arms: ``factor`` as in the model, in full or nearly, and how."""

    factor: str
    whole: bool
    sentence: str


def mix_ups(record: TrialRecord, used: Sequence[bool]) -> tuple[MixUp, ...]:
    """Name what ran with the arms among the pieces that have a value, ``used`` (n,) of the units.

    In full when no place (cook, animal, whole piece) saw two arms; nearly when arm and place go
    together so strongly that one all but says the other. Levels which are not known count for
    nothing; animals and wholes only matter where pieces share them.
    """
    units = [piece for piece, use in zip(record.units, used, strict=True) if use]
    found = []
    for factor, names in _levels(record).items():
        known = [(p.arm or "", names[p.id]) for p in units if p.id in names]
        mixed = _mixed(record, factor, known) if len(known) == len(units) else None
        if mixed is not None:
            found.append(mixed)
    return tuple(found)


def _levels(record: TrialRecord) -> dict[str, dict[str, str]]:
    """Return the name of the level of each factor by piece, without those that are not known."""
    cooks = {cook.id: cook.name for cook in record.cooks}
    wholes = {piece.id: piece.name for piece in record.pieces}
    spots = {
        f"{cooker.id}/{place.id}": f"“{place.name}”"
        + (f" of “{cooker.name}”" if len(record.cookers) > 1 else "")
        for cooker in record.cookers
        for place in cooker.positions
    }

    def named(piece: Piece) -> dict[str, str | None]:
        return {
            "position": spots.get(piece.spot.text) if piece.spot else None,
            "cook": f"“{cooks[piece.cook]}”" if piece.cook in cooks else None,
            "animal": f"animal “{piece.animal}”" if piece.animal else None,
            "parent": f"“{wholes[piece.half_of]}”" if piece.half_of in wholes else None,
        }

    return {
        factor: {p.id: name for p in record.units if (name := named(p)[factor]) is not None}
        for factor in _WORDS
    }


def _mixed(record: TrialRecord, factor: str, known: Sequence[tuple[str, str]]) -> MixUp | None:
    arms = list(dict.fromkeys(arm for arm, _ in known))
    by_arm = {arm: [level for one, level in known if one == arm] for arm in arms}
    levels = {level for _, level in known}
    if len(levels) < 2 or len(arms) < 2:
        return None
    own_each = all(len(set(mine)) == 1 for mine in by_arm.values())
    if len(levels) == len(known) and not own_each:
        return None
    if sum(len(set(mine)) for mine in by_arm.values()) == len(levels):
        return MixUp(factor, True, _in_full(record, factor, by_arm))
    for first, second in combinations(arms, 2):
        if association(by_arm[first], by_arm[second]) >= STRONG:
            pair = {arm: by_arm[arm] for arm in (first, second)}
            return MixUp(factor, False, _nearly(record, factor, pair))
    return None


def association(first: Sequence[str], second: Sequence[str]) -> float:
    """Return Cramér's V of two groups' levels: 0 where both have the same mix, 1 where none is
    shared.

    Source: Cramér, Mathematical Methods of Statistics, 1946, chapter 21 (from memory).

    >>> association(["left", "left"], ["right", "right"])
    1.0
    """
    levels = sorted({*first, *second})
    counts = np.array([[list(group).count(level) for level in levels] for group in (first, second)])
    expected = counts.sum(axis=1, keepdims=True) * counts.sum(axis=0) / counts.sum()
    return float(np.sqrt(np.sum((counts - expected) ** 2 / expected) / counts.sum()))


def _in_full(record: TrialRecord, factor: str, by_arm: Mapping[str, Sequence[str]]) -> str:
    verb, noun = _WORDS[factor]
    always = "always " if all(len(mine) > 1 for mine in by_arm.values()) else ""
    parts = [
        f"“{record.trial.arm(arm).name}” {always}{verb} {' or '.join(dict.fromkeys(mine))}"
        for arm, mine in by_arm.items()
    ]
    return (
        f"In this trial {listed(parts)}, so the {noun} and what was tried cannot be told "
        f"apart: the {noun} may have made the difference."
    )


def _nearly(record: TrialRecord, factor: str, by_arm: Mapping[str, Sequence[str]]) -> str:
    verb, noun = _WORDS[factor]
    parts = []
    for arm, mine in by_arm.items():
        most = max(dict.fromkeys(mine), key=list(mine).count)
        name = record.trial.arm(arm).name
        parts.append(f"“{name}” {verb} {most} {list(mine).count(most)} times in {len(mine)}")
    return (
        f"In this trial {listed(parts)}, so the {noun} and what was tried can hardly be told "
        f"apart: part of the difference may be the {noun}'s."
    )


def plain_notes(found: Sequence[NotSeparable], told: Sequence[MixUp]) -> Iterator[str]:
    """Yield in plain words what else the layout leaves open; what ``told`` says is not repeated."""
    named = {one.factor for one in told if one.whole}
    said: set[frozenset[str]] = set()
    for one in found:
        pair = frozenset((one.factor, one.merged_with))
        if one.factor in named and one.merged_with == "arm":
            continue
        if pair not in said:
            said.add(pair)
            yield _plain(one.factor, one.merged_with)


def _plain(factor: str, merged: str) -> str:
    names = {factor: words[1] for factor, words in _WORDS.items()} | {"cook": "cook"}
    noun = names.get(factor, factor)
    if merged == "level":
        return f"There was one {noun} only, so the answer is for that one; others may differ."
    if merged == "arm" and factor == "piece":
        return (
            "No arm had two pieces, so this trial does not show how far pieces treated alike "
            "differ; that is taken from what was believed before."
        )
    if merged == "arm":
        return (
            f"Each arm had a {noun} of its own, so part of the difference may be the {noun}'s; the "
            "answer is less sure for it."
        )
    if merged == "rest":
        return (
            f"How far one {noun} differs from another cannot be told from what else changed; the "
            "answer allows for it."
        )
    return (
        f"How far one {noun} differs from another, and one {names.get(merged, merged)} from "
        "another, cannot be told apart in this trial; the answer allows for both together."
    )
