"""What the layout of a trial mixes up, as a cook says it: side and wrap, day and method."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.design import NotSeparable
from fairsmoke.messages.message import N_, Listed, Message
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.record import TrialRecord

FloatArray = NDArray[np.float64]

STRONG = 0.6
"""Cramér's V of arm and place from which they can hardly be told apart; own choice (5 of 6)."""

_NOUNS = {
    "position": N_("place"),
    "cook": N_("day"),
    "animal": N_("animal"),
    "parent": N_("whole piece"),
}


@dataclass(frozen=True)
class MixUp:
    """A factor that ran with the arms: ``factor`` as in the model, in full or nearly, and how."""

    factor: str
    whole: bool
    sentence: Message


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
    several = len(record.cookers) > 1
    spots = {
        f"{cooker.id}/{place.id}": f"{cooker.name}: {place.name}" if several else place.name
        for cooker in record.cookers
        for place in cooker.positions
    }

    def named(piece: Piece) -> dict[str, str | None]:
        return {
            "position": spots.get(piece.spot.text) if piece.spot else None,
            "cook": cooks.get(piece.cook or ""),
            "animal": piece.animal or None,
            "parent": wholes.get(piece.half_of or ""),
        }

    return {
        factor: {p.id: name for p in record.units if (name := named(p)[factor]) is not None}
        for factor in _NOUNS
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


def _in_full(record: TrialRecord, factor: str, by_arm: Mapping[str, Sequence[str]]) -> Message:
    always = all(len(mine) > 1 for mine in by_arm.values())
    parts = []
    for arm, mine in by_arm.items():
        where = Listed([f"“{one}”" for one in dict.fromkeys(mine)], "or", " or ")
        parts.append(_was(factor, record.trial.arm(arm).name, where, always=always))
    return N_(
        "In this trial %(parts)s, so the %(factor)s and what was tried cannot be told apart: the "
        "%(factor)s may have made the difference.",
        parts=Listed(parts, "and"),
        factor=_NOUNS[factor],
    )


def _was(factor: str, arm: str, where: Listed, *, always: bool) -> Message:
    """Say at which levels of a factor an arm was."""
    match factor, always:
        case "position", True:
            return N_("“%(arm)s” always stood at %(where)s", arm=arm, where=where)
        case "position", False:
            return N_("“%(arm)s” stood at %(where)s", arm=arm, where=where)
        case "cook", True:
            return N_("“%(arm)s” was always cooked in %(where)s", arm=arm, where=where)
        case "cook", False:
            return N_("“%(arm)s” was cooked in %(where)s", arm=arm, where=where)
        case "animal", True:
            return N_("“%(arm)s” always came from animal %(where)s", arm=arm, where=where)
        case "animal", False:
            return N_("“%(arm)s” came from animal %(where)s", arm=arm, where=where)
        case _, True:
            return N_("“%(arm)s” was always cut from %(where)s", arm=arm, where=where)
        case _:
            return N_("“%(arm)s” was cut from %(where)s", arm=arm, where=where)


def _nearly(record: TrialRecord, factor: str, by_arm: Mapping[str, Sequence[str]]) -> Message:
    parts = []
    for arm, mine in by_arm.items():
        most = max(dict.fromkeys(mine), key=list(mine).count)
        was = _was(factor, record.trial.arm(arm).name, Listed([f"“{most}”"]), always=False)
        times = list(mine).count(most)
        parts.append(N_("%(was)s %(times)s times in %(of)s", was=was, times=times, of=len(mine)))
    return N_(
        "In this trial %(parts)s, so the %(factor)s and what was tried can hardly be told apart: "
        "part of the difference may be due to the %(factor)s.",
        parts=Listed(parts, "and"),
        factor=_NOUNS[factor],
    )


def plain_notes(found: Sequence[NotSeparable], told: Sequence[MixUp]) -> Iterator[Message]:
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


def _plain(factor: str, merged: str) -> Message:
    names = {**_NOUNS, "cook": N_("cook"), "piece": N_("piece")}
    noun: Message | str = names.get(factor, factor)
    if merged == "level":
        return N_(
            "There was one %(factor)s only, so the answer is for that one; others may differ.",
            factor=noun,
        )
    if merged == "arm" and factor == "piece":
        return N_(
            "No arm had two pieces, so this trial does not show how far pieces treated alike "
            "differ; that is taken from what was believed before."
        )
    if merged == "arm":
        return N_(
            "Each arm had a %(factor)s of its own, so part of the difference may be due to the "
            "%(factor)s; the answer is less sure for it.",
            factor=noun,
        )
    if merged == "rest":
        return N_(
            "How far one %(factor)s differs from another cannot be told from what else changed; "
            "the answer allows for it.",
            factor=noun,
        )
    return N_(
        "How far one %(factor)s differs from another, and one %(other)s from another, cannot be "
        "told apart in this trial; the answer allows for both together.",
        factor=noun,
        other=names.get(merged, merged),
    )
