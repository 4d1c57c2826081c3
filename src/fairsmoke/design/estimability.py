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

IntArray = NDArray[np.intp]

_TINY = 1e-9


class Standing(StrEnum):
    """How a comparison stands to a disturbance."""

    FREE = "free"
    AT_A_PRICE = "can be taken out"
    TIED = "cannot be told apart"


@dataclass(frozen=True)
class Freedom:
    """How the difference of two arms stands to one disturbance.

    ``leans`` is by how much the shares of the two arms differ at most in one level of it (0: free;
    1: all of one arm against none of the other). ``efficiency`` is the share of what the pieces
    tell that is left once it is taken out (1: nothing lost; 0: tied).
    """

    disturbance: str
    arms: tuple[int, int]
    standing: Standing
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
                standing = Standing.FREE
            else:
                standing = Standing.AT_A_PRICE if efficiency > _TINY else Standing.TIED
            found.append(Freedom(name, pair, standing, leans, efficiency))
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


def freedom_line(
    arm_names: Sequence[str],
    arms: IntArray,
    disturbances: Mapping[str, FloatArray],
) -> str:
    """Say in one line which comparisons are free of what, at which price, and which are tied."""
    n_arms = len(arm_names)
    found = freedoms(arms, n_arms, disturbances)
    names = list(dict.fromkeys(one.disturbance for one in found))
    pairs = list(combinations(range(n_arms), 2))
    free, said = [], []
    for name in names:
        own = [one for one in found if one.disturbance == name]
        if all(one.standing is Standing.FREE for one in own):
            free.append(name)
        elif _all_alone(disturbances[name]) and len(arms) > n_arms:
            said.append(
                f"every piece has {_one(name)} of its own, so chance alone shares out what "
                f"{_the(name)} does"
            )
        else:
            said += _clauses(name, own, arm_names, len(pairs))
    if free:
        whose = _comparisons(arm_names, pairs, len(pairs))
        said.insert(0, f"{whose} free of {_listed([_the(name) for name in free])}")
    joint = min(jointly(arms, n_arms, disturbances).values()) if disturbances else 1.0
    own_prices = [one.efficiency for one in found if one.standing is Standing.AT_A_PRICE]
    if len(own_prices) > len(pairs) and 0 < joint < min(own_prices) - 0.005:
        said.append(f"all of these together cost up to {100 * (1 - joint):.0f} %")
    if not said:
        return "Nothing varies between the pieces but the arm and the piece itself."
    line = "; ".join(said)
    return f"{line[0].upper()}{line[1:]}."


def _clauses(name: str, own: Sequence[Freedom], arm_names: Sequence[str], of: int) -> list[str]:
    said = []
    for standing in Standing:
        these = [one for one in own if one.standing is standing]
        if not these:
            continue
        whose = _comparisons(arm_names, [one.arms for one in these], of)
        if standing is Standing.FREE:
            said.append(f"{whose} free of {_the(name)}")
        elif standing is Standing.TIED:
            whose = whose.replace(" is", "").replace(" are", "")
            said.append(f"{whose} cannot be told apart from {_the(name)}")
        else:
            worst = 100 * (1 - min(one.efficiency for one in these))
            price = f"up to {worst:.0f} %" if len(these) > 1 else f"{worst:.0f} %"
            whose = whose.replace(" is", "").replace(" are", "")
            said.append(
                f"{whose} can be freed of {_the(name)} by calculation, at {price} of what the "
                "pieces tell"
            )
    return said


def _comparisons(arm_names: Sequence[str], pairs: Sequence[tuple[int, int]], of: int) -> str:
    if len(pairs) == of and of > 1:
        return "all comparisons are"
    if len(pairs) > 3:
        return f"{len(pairs)} of {of} comparisons are"
    named = [f"“{arm_names[i]}” against “{arm_names[j]}”" for i, j in pairs]
    return f"{_listed(named)} {'is' if len(named) == 1 else 'are'}"


def _all_alone(shares: FloatArray) -> bool:
    return bool(np.all((shares > 0).sum(axis=0) <= 1))


def _the(name: str) -> str:
    return f"the {name}"


def _one(name: str) -> str:
    return f"a {name}"


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
