"""Pieces into sets of pieces as like each other as can be: exactly the best, not a greedy guess.

How unlike two pieces are adds up squares: the difference of their masses and of their
thicknesses, as logarithms and in units of 10 %; 4 for another grade; 1 for another animal where
both are known. A set costs the sum over its pairs. What is not known of either counts nothing.
The weights are our own choice: 10 % is what a cook takes for "about the same size".
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.design.errors import DesignError
from fairsmoke.messages.message import N_, Listed, Message
from fairsmoke.trial.plan import PlannedPiece

ALIKE_SHARE = 0.10
"""Masses and thicknesses within this share of each other count as alike."""

GRADE_COST = 4.0
ANIMAL_COST = 1.0

MOST_SETS = 12_000
LONGEST_S = 120.0
"""Beyond these the best sets are not proven in a time that anyone waits."""

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Matched:
    """The best sets and the spare pieces, as places in the list of pieces, and the total cost."""

    sets: tuple[tuple[int, ...], ...]
    spare: tuple[int, ...]
    cost: float


def dissimilarity(one: PlannedPiece, other: PlannedPiece) -> float:
    """Return how unlike two pieces are, 0 for pieces alike in all that is known."""
    cost = 0.0
    for first, second in ((one.mass_kg, other.mass_kg), (one.thick_m, other.thick_m)):
        if first is not None and second is not None:
            cost += (math.log(first / second) / math.log1p(ALIKE_SHARE)) ** 2
    if one.grade and other.grade and one.grade.casefold() != other.grade.casefold():
        cost += GRADE_COST
    if one.animal and other.animal and one.animal != other.animal:
        cost += ANIMAL_COST
    return cost


def cost_of(pieces: Sequence[PlannedPiece], one_set: Sequence[int]) -> float:
    """Return how unlike the pieces of a set are, summed over its pairs."""
    return sum(dissimilarity(pieces[i], pieces[j]) for i, j in combinations(one_set, 2))


def matched_sets(pieces: Sequence[PlannedPiece], size: int, n_sets: int) -> Matched:
    """Return ``n_sets`` sets of ``size`` pieces with the least total dissimilarity.

    Where pieces have an arm of their own (the meat is what differs), each set has each arm once.
    Two pools are an assignment (Jonker and Volgenant's method, scipy); anything else is a choice
    among all sets, solved exactly as a whole-number programme (HiGHS, scipy).

    Raises DesignError when the pieces do not suffice or there are too many sets to choose from.
    """
    if n_sets * size > len(pieces):
        raise DesignError(
            N_(
                "%(sets)s sets of %(size)s need %(needed)s pieces, and there are %(pieces)s: plan "
                "fewer sets, or get more pieces",
                sets=n_sets,
                size=size,
                needed=n_sets * size,
                pieces=len(pieces),
            )
        )
    arms = list(dict.fromkeys(piece.arm for piece in pieces if piece.arm is not None))
    if arms and size == 2 and len(arms) == 2:
        sets, cost = _across(pieces, arms[0] or "", n_sets)
    else:
        sets, cost = _chosen(pieces, size, n_sets)
    used = {place for one in sets for place in one}
    return Matched(sets, tuple(i for i in range(len(pieces)) if i not in used), cost)


def _across(
    pieces: Sequence[PlannedPiece], first: str, n_sets: int
) -> tuple[tuple[tuple[int, ...], ...], float]:
    mine = [i for i, piece in enumerate(pieces) if piece.arm == first]
    others = [i for i, piece in enumerate(pieces) if piece.arm != first]
    if n_sets > min(len(mine), len(others)):
        return _chosen(pieces, 2, n_sets)
    costs = np.array([[dissimilarity(pieces[i], pieces[j]) for j in others] for i in mine])
    # Pieces that stay spare are matched with nobody, at no cost: so many of them on either side.
    padded = np.zeros((len(mine) + len(others) - n_sets,) * 2)
    padded[: len(mine), : len(others)] = costs
    spare_mine, spare_others = len(mine) - n_sets, len(others) - n_sets
    never = 1.0 + float(costs.sum())
    padded[len(mine) :, len(others) :] = never
    padded[: len(mine), len(others) : len(others) + spare_mine] = 0.0
    padded[len(mine) : len(mine) + spare_others, : len(others)] = 0.0
    rows, columns = scipy.optimize.linear_sum_assignment(padded)
    sets = sorted(
        tuple(sorted((mine[i], others[j])))
        for i, j in zip(rows, columns, strict=True)
        if i < len(mine) and j < len(others)
    )
    return tuple(sets), sum(cost_of(pieces, one) for one in sets)


def _chosen(
    pieces: Sequence[PlannedPiece], size: int, n_sets: int
) -> tuple[tuple[tuple[int, ...], ...], float]:
    if math.comb(len(pieces), size) > MOST_SETS:
        raise DesignError(
            N_(
                "%(pieces)s pieces have too many sets of %(size)s to choose the best from: plan "
                "fewer in one trial, or draw “%(blocks)s”, which need no matching",
                pieces=len(pieces),
                size=size,
                blocks=N_("blocks"),
            )
        )
    candidates = [one for one in combinations(range(len(pieces)), size) if _allowed(pieces, one)]
    problem = N_(
        "no %(sets)s sets of %(size)s can be made in which each arm's meat stands once",
        sets=n_sets,
        size=size,
    )
    if not candidates:
        raise DesignError(problem)
    costs = np.array([cost_of(pieces, one) for one in candidates])
    members = np.concatenate([np.asarray(one) for one in candidates])
    columns = np.repeat(np.arange(len(candidates)), size)
    holds = scipy.sparse.csr_array(
        (np.ones(len(members)), (members, columns)), shape=(len(pieces), len(candidates))
    )
    found = scipy.optimize.milp(
        costs,
        integrality=np.ones(len(candidates), dtype=np.int64),
        bounds=scipy.optimize.Bounds(0, 1),
        constraints=[
            scipy.optimize.LinearConstraint(holds, -np.inf, 1.0),
            scipy.optimize.LinearConstraint(np.ones((1, len(candidates))), n_sets, n_sets),
        ],
        options={"mip_rel_gap": 0.0, "time_limit": LONGEST_S},
    )
    if found.status == 1:
        raise DesignError(
            N_(
                "the best sets of %(size)s out of %(pieces)s pieces were not found in %(longest)s "
                "s: plan fewer in one trial, or draw “%(blocks)s”, which need no matching",
                size=size,
                pieces=len(pieces),
                longest=round(LONGEST_S),
                blocks=N_("blocks"),
            )
        )
    if found.x is None:
        raise DesignError(problem)
    sets = tuple(candidates[i] for i in np.flatnonzero(np.round(found.x) == 1))
    return sets, sum(cost_of(pieces, one) for one in sets)


def _allowed(pieces: Sequence[PlannedPiece], one: Sequence[int]) -> bool:
    arms = [pieces[i].arm for i in one]
    return None in arms or len(set(arms)) == len(arms)


def misfits(
    pieces: Sequence[PlannedPiece], sets: Sequence[Sequence[int]]
) -> Iterator[tuple[list[str], list[Message]]]:
    """Yield for each set whose pieces do not match their names, and what sets them apart."""
    for one in sets:
        own = [pieces[i] for i in one]
        apart = [*_apart(own, "mass_kg"), *_apart(own, "thick_m")]
        grades = list(dict.fromkeys(piece.grade for piece in own if piece.grade))
        if len({grade.casefold() for grade in grades}) > 1:
            apart.append(N_("their grades are %(grades)s", grades=Listed(grades, "and")))
        if apart:
            yield [piece.shown for piece in own], apart


def _apart(own: Sequence[PlannedPiece], field: str) -> Iterator[Message]:
    known = [(getattr(piece, field), piece.shown) for piece in own if getattr(piece, field)]
    if len(known) < 2:
        return
    (least, least_name), (most, most_name) = min(known), max(known)
    if most / least <= 1.0 + ALIKE_SHARE:
        return
    values = {
        "more": most_name,
        "percent": f"{100.0 * (most / least - 1.0):.0f}",
        "less": least_name,
    }
    if field == "mass_kg":
        yield N_("%(more)s is %(percent)s %% heavier than %(less)s", **values)
    else:
        yield N_("%(more)s is %(percent)s %% thicker than %(less)s", **values)
