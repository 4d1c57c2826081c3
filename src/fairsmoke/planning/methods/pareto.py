"""Which of many methods are worth choosing among: Pareto fronts, and how sure they are.

One method dominates another when it is at least as good in every goal and better in one. Goals come
in draws of what is not known, the same draws for every method; dominance is looked at draw by draw,
so its chance is the share of draws in which it holds. Everything here is larger-is-better.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fairsmoke.messages.message import N_
from fairsmoke.physics.ranges import BoolArray, FloatArray
from fairsmoke.planning.errors import PlanError

SURE = 0.9
"""The share of draws from which one method counts as beating another: ours, no source."""


def dominates(values: npt.ArrayLike) -> BoolArray:
    """Return who dominates whom: entry (i, j) tells whether method i dominates method j.

    Args:
        values: goals (methods × goals), larger is better. A method with a NaN dominates nothing
            and is dominated by nothing.

    Raises:
        PlanError: not a table, or no goal in it.

    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] == 0:
        raise PlanError(f"give a table of methods by goals, not an array of shape {table.shape}")
    count = table.shape[0]
    as_good = np.ones((count, count), dtype=bool)
    better = np.zeros((count, count), dtype=bool)
    for goal in table.T:
        as_good &= goal[:, None] >= goal[None, :]
        better |= goal[:, None] > goal[None, :]
    return as_good & better


def on_front(values: npt.ArrayLike) -> BoolArray:
    """Return which methods no other dominates (methods × goals, larger is better).

    A method with a NaN is not on the front.

    >>> on_front([[1, 3], [2, 2], [1, 2]]).tolist()
    [True, True, False]
    """
    table = np.asarray(values, dtype=np.float64)
    return np.asarray(~dominates(table).any(axis=0) & np.isfinite(table).all(axis=1))


def check_sure(sure: float) -> None:
    """Refuse a share from which a method is beaten. Raises PlanError unless above 0.5, up to 1."""
    if not 0.5 < sure <= 1.0:
        message = N_(
            "how sure to be is a share above 0.5 and up to 1, such as 0.9: %(sure)s",
            sure=f"{sure:g}",
        )
        raise PlanError(message, field="sure")


@dataclass(frozen=True, eq=False)
class ParetoFront:
    """A front over uncertain goals.

    Attributes:
        middle: middles of the goals over the draws (methods × goals).
        allowed: which methods may be chosen at all.
        front: which of them are on the front of the middles.
        chance_on_front: share of draws in which a method is on that draw's front of allowed ones.
        chance_beaten: largest share of draws in which one and the same allowed method dominates it.
        beaten_by: that method's number, −1 where nothing ever dominates it.
        ruled_out: dominated by one method in at least `sure` of the draws.
        sure: that share.

    """

    middle: FloatArray
    allowed: BoolArray
    front: BoolArray
    chance_on_front: FloatArray
    chance_beaten: FloatArray
    beaten_by: npt.NDArray[np.intp]
    ruled_out: BoolArray
    sure: float


def pareto_front(
    draws: npt.ArrayLike,
    allowed: npt.ArrayLike,
    sure: float = SURE,
    steps: npt.ArrayLike | None = None,
) -> ParetoFront:
    """Return the front of methods whose goals are known as draws.

    Args:
        draws: (methods × draws × goals), larger is better; draw d of every method is of one and
            the same state of what is not known. In a draw where a method has a NaN it counts as
            not on the front, and as neither beating nor beaten.
        allowed: which methods keep the limits; the others take no part.
        sure: share of draws from which a method is ruled out by another.
        steps: how much of each goal matters. Goals are then compared in whole steps, cut off
            below (boxes as in Laumanns, Thiele, Deb and Zitzler, Evolutionary Computation 10
            (2002) 263, from memory): being better by crumbs does not put a method on the front.

    Raises:
        PlanError: shapes that do not fit, `sure` not above 0.5 and at most 1, a step not above 0.

    """
    goals = np.asarray(draws, dtype=np.float64)
    may = np.asarray(allowed, dtype=bool)
    if goals.ndim != 3 or may.shape != goals.shape[:1] or 0 in goals.shape[1:]:
        raise PlanError(
            f"goals are methods × draws × goals and who is allowed one for each method; they are "
            f"{goals.shape} and {may.shape}"
        )
    check_sure(sure)
    size_of = np.full(goals.shape[2], np.nan) if steps is None else np.asarray(steps, dtype=float)
    if steps is not None and not (size_of.shape == goals.shape[2:] and np.all(size_of > 0.0)):
        raise PlanError("give a step above 0 for each goal")

    def boxed(values: FloatArray) -> FloatArray:
        return values if steps is None else np.floor(values / size_of)

    count, size = goals.shape[:2]
    members = np.flatnonzero(may)
    beats = np.zeros((members.size, members.size))
    stays = np.zeros(members.size)
    for at in range(size):
        now = goals[members, at]
        who = dominates(boxed(now))
        beats += who
        stays += ~who.any(axis=0) & np.isfinite(now).all(axis=1)
    middle = np.full((count, goals.shape[2]), np.nan)
    middle[members] = np.median(goals[members], axis=1)
    front, chance = np.zeros(count, dtype=bool), np.full(count, np.nan)
    beaten, by = np.full(count, np.nan), np.full(count, -1, dtype=np.intp)
    if members.size:
        front[members] = on_front(boxed(middle[members]))
        chance[members] = stays / size
        beaten[members] = beats.max(axis=0) / size
        most = beats.argmax(axis=0)
        by[members] = np.where(beats.max(axis=0) > 0, members[most], -1)
    with np.errstate(invalid="ignore"):
        out = beaten >= sure
    return ParetoFront(middle, may, front, chance, beaten, by, out, sure)


def shortlist(values: npt.ArrayLike, among: npt.ArrayLike, most: int) -> list[int]:
    """Return the numbers of at most `most` methods that show the whole of a front.

    First the best in each goal, then the one nearest to the best of everything, then always the one
    farthest from all that are listed; goals are scaled to the span of `among`. Deterministic.

    Args:
        values: middles (methods × goals), larger is better.
        among: which methods may be listed, such as the front.
        most: how many, 1 or more.

    Raises:
        PlanError: `most` below 1.

    """
    if most < 1:
        raise PlanError(f"list at least 1 method, not {most}")
    table = np.asarray(values, dtype=np.float64)
    members = np.flatnonzero(np.asarray(among, dtype=bool))
    if not members.size:
        return []
    own = table[members]
    span = own.max(axis=0) - own.min(axis=0)
    scaled = (own - own.min(axis=0)) / np.where(span > 0, span, 1.0)
    all_round = int(np.argmin(np.sum((1.0 - scaled) ** 2, axis=1)))
    wanted = [int(at) for at in scaled.argmax(axis=0)]
    listed = list(dict.fromkeys([*wanted, all_round]))[:most]
    while len(listed) < min(most, members.size):
        gaps = np.sum((scaled[:, None] - scaled[None, listed]) ** 2, axis=2).min(axis=1)
        gaps[listed] = -1.0
        listed.append(int(gaps.argmax()))
    return [int(members[at]) for at in listed]
