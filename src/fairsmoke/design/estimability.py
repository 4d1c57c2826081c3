"""Which comparisons of a layout are free of which disturbances, worked out from the layout.

A disturbance (the cook, the set, the place) shifts every piece that shares a level of it. The plain
difference of two arms' means is free of it when the pieces of both share its levels alike, so that
every shift cancels. Where it does not cancel it can be taken out by least squares as long as the
layout tells the two apart, at a price: the variance grows from what it would be without it by
1/efficiency. Otherwise nothing can tell them apart.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fairsmoke.design.exchange import FloatArray, information, taken_out
from fairsmoke.messages.message import N_, NN_, Listed, Message, Words

IntArray = NDArray[np.intp]

_TINY = 1e-9


class Confounding(StrEnum):
    """How far a comparison is confounded with a disturbance."""

    NONE = "none"
    PARTIAL = "partial"
    """It can be taken out by calculation, at a price."""
    COMPLETE = "complete"
    """Nothing can tell the two apart."""


DISTURBANCES = {
    "cook": N_("the cook"),
    "pair": N_("the pair"),
    "set": N_("the set"),
    "place": N_("the place"),
}
_OF_ITS_OWN = {
    "cook": N_("every piece has a cook of its own, so chance alone shares out what it does"),
    "pair": N_("every piece has a pair of its own, so chance alone shares out what it does"),
    "set": N_("every piece has a set of its own, so chance alone shares out what it does"),
    "place": N_(
        "every piece has a place of its own, so chance alone shares out what the place does"
    ),
}


@dataclass(frozen=True)
class Freedom:
    """How the difference of two arms stands to one disturbance.

    ``leans`` is by how much the shares of the two arms differ at most in one level of it (0: free;
    1: all of one arm against none of the other). ``efficiency`` is the share of what the pieces
    tell that is left once it is taken out (1: nothing lost; 0: tied).
    """

    disturbance: str
    arms: tuple[int, int]
    confounding: Confounding
    leans: float
    efficiency: float


def shares_of(levels: Sequence[str | None]) -> FloatArray:
    """Return each piece's share (n, levels) of the levels it has, 1 of its own; none where None."""
    known = list(dict.fromkeys(level for level in levels if level is not None))
    return np.array([[float(level == one) for one in known] for level in levels]).reshape(
        len(levels), len(known)
    )


def freedoms(
    arms: IntArray, n_arms: int, disturbances: Mapping[str, FloatArray]
) -> tuple[Freedom, ...]:
    """Return how every comparison of two arms stands to every disturbance that has two levels.

    ``arms`` (n,); ``disturbances``: shares (n, levels) by name. A disturbance counts by itself;
    ``jointly`` says what is left when all are taken out together.
    """
    found = []
    for name, shares in disturbances.items():
        if shares.shape[1] < 2:
            continue
        told = _variances(arms, n_arms, shares)
        plain = _variances(arms, n_arms, np.zeros((len(arms), 0)))
        for pair in combinations(range(n_arms), 2):
            leans = _leans(arms, pair, shares)
            efficiency = plain[pair] / told[pair] if np.isfinite(told[pair]) else 0.0
            if leans < _TINY:
                confounding = Confounding.NONE
            else:
                told_apart = efficiency > _TINY
                confounding = Confounding.PARTIAL if told_apart else Confounding.COMPLETE
            found.append(Freedom(name, pair, confounding, leans, efficiency))
    return tuple(found)


def jointly(
    arms: IntArray, n_arms: int, disturbances: Mapping[str, FloatArray]
) -> dict[tuple[int, int], float]:
    """Return the efficiency of every comparison once all disturbances are taken out together."""
    every = np.column_stack([np.zeros((len(arms), 0)), *disturbances.values()])
    told = _variances(arms, n_arms, every)
    plain = _variances(arms, n_arms, np.zeros((len(arms), 0)))
    return {pair: plain[pair] / told[pair] if np.isfinite(told[pair]) else 0.0 for pair in told}


def _leans(arms: IntArray, pair: tuple[int, int], shares: FloatArray) -> float:
    first, second = (shares[arms == arm].mean(axis=0) for arm in pair)
    return float(np.max(np.abs(first - second), initial=0.0))


def _variances(arms: IntArray, n_arms: int, columns: FloatArray) -> dict[tuple[int, int], float]:
    """Return the variance of each difference of two arms, unit variance a piece; inf when tied."""
    found = information(arms, taken_out(columns), n_arms)
    inverse = np.linalg.pinv(found, rcond=1e-9, hermitian=True)
    kept = found @ inverse
    variances = {}
    for first, second in combinations(range(n_arms), 2):
        contrast = np.zeros(n_arms)
        contrast[first], contrast[second] = 1.0, -1.0
        told = np.allclose(kept @ contrast, contrast, atol=1e-6)
        variances[first, second] = float(contrast @ inverse @ contrast) if told else np.inf
    return variances


def freedom_clauses(
    arm_names: Sequence[str],
    arms: IntArray,
    disturbances: Mapping[str, FloatArray],
) -> list[Message]:
    """Say which comparisons are free of what, at which price, and which are tied, in clauses."""
    n_arms = len(arm_names)
    found = freedoms(arms, n_arms, disturbances)
    names = list(dict.fromkeys(one.disturbance for one in found))
    pairs = list(combinations(range(n_arms), 2))
    free, said = [], []
    for name in names:
        own = [one for one in found if one.disturbance == name]
        if all(one.confounding is Confounding.NONE for one in own):
            free.append(_named(name))
        elif each_alone(disturbances[name]) and len(arms) > n_arms:
            said.append(_OF_ITS_OWN[name])
        elif name == "cook" and shared_out(arms, disturbances[name]):
            said.append(
                N_(
                    "every cook has one arm, so that cooks are what is repeated, and chance alone "
                    "shares out what they do"
                )
            )
        else:
            said += _clauses(name, own, arm_names, len(pairs))
    if free:
        said.insert(0, _free(_comparisons(arm_names, pairs, len(pairs)), Listed(free, "and")))
    joint = min(jointly(arms, n_arms, disturbances).values()) if disturbances else 1.0
    own_prices = [one.efficiency for one in found if one.confounding is Confounding.PARTIAL]
    if len(own_prices) > len(pairs) and 0 < joint < min(own_prices) - 0.005:
        said.append(N_("all of these together cost up to %(cost)s %%", cost=_percent(joint)))
    return said or [N_("nothing varies between the pieces but the arm and the piece itself")]


def one_line(clauses: Sequence[str]) -> str:
    """Return clauses as one sentence."""
    line = "; ".join(clauses)
    return f"{line[:1].upper()}{line[1:]}."


def shared_out(arms: IntArray, shares: FloatArray) -> bool:
    """Tell whether each level has one arm and each arm two levels or more: drawn as wholes."""
    levels = [arms[own > 0] for own in shares.T]
    if any(len(np.unique(own)) > 1 for own in levels):
        return False
    return bool(min(np.bincount([int(own[0]) for own in levels if own.size])) > 1)


def each_alone(shares: FloatArray) -> bool:
    """Tell whether every level of a disturbance has at most one piece."""
    return bool(np.all((shares > 0).sum(axis=0) <= 1))


def _named(name: str) -> Words:
    return DISTURBANCES.get(name, name)


def _percent(efficiency: float) -> str:
    return f"{100 * (1 - efficiency):.0f}"


def _free(whose: tuple[Words, int], of: Words) -> Message:
    words, count = whose
    return NN_(
        "%(whose)s is free of %(what)s",
        "%(whose)s are free of %(what)s",
        count,
        whose=words,
        what=of,
    )


def _clauses(name: str, own: Sequence[Freedom], arm_names: Sequence[str], of: int) -> list[Message]:
    said = []
    for confounding in Confounding:
        these = [one for one in own if one.confounding is confounding]
        if not these:
            continue
        whose = _comparisons(arm_names, [one.arms for one in these], of)
        values = {"whose": whose[0], "what": _named(name)}
        if confounding is Confounding.NONE:
            said.append(_free(whose, _named(name)))
        elif confounding is Confounding.COMPLETE:
            said.append(N_("%(whose)s cannot be told apart from %(what)s", **values))
        else:
            cost = _percent(min(one.efficiency for one in these))
            said.append(
                NN_(
                    "%(whose)s can be freed of %(what)s by calculation, at %(cost)s %% of what "
                    "the pieces tell",
                    "%(whose)s can be freed of %(what)s by calculation, at up to %(cost)s %% of "
                    "what the pieces tell",
                    len(these),
                    cost=cost,
                    **values,
                )
            )
    return said


def _comparisons(
    arm_names: Sequence[str], pairs: Sequence[tuple[int, int]], of: int
) -> tuple[Words, int]:
    """Return which comparisons are meant, in words, and how many they are."""
    if len(pairs) == of and of > 1:
        return N_("all comparisons"), len(pairs)
    if len(pairs) > 3:
        return N_("%(some)s of %(all)s comparisons", some=len(pairs), all=of), len(pairs)
    named = [
        N_("“%(first)s” against “%(second)s”", first=arm_names[i], second=arm_names[j])
        for i, j in pairs
    ]
    return Listed(named, "and"), len(pairs)
