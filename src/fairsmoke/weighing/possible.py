"""What masses are possible where weighings leave them open: limits, ranges, and even draws.

Plain arrays. Masses y (f,) are held by design (m, f) @ y = fitted (m,) and by sums (c, f) @ y >= 0.
"""

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.weighing.adjust import TINY, groups

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# Half the width that a mass may have for it still to count as a point, kg.
_POINT_KG = 1e-9
_STEPS_A_WAY = 20


def _program(
    cost: FloatArray, rows: FloatArray, ends: FloatArray, free: int
) -> tuple[FloatArray, float, FloatArray]:
    """Return x, cost @ x and the prices of the rows where cost @ x is least with rows @ x <= ends.

    The first ``free`` of x may be negative. A failure of the solver is a fault of the program.
    """
    bounds = [(None, None)] * free + [(0, None)] * (cost.size - free)
    found = scipy.optimize.linprog(c=cost, A_ub=rows, b_ub=ends, bounds=bounds)
    if found.x is None or found.fun is None:
        raise RuntimeError(f"the limits of the ledger could not be worked out: {found.message}")
    return np.asarray(found.x), float(found.fun), np.abs(found.ineqlin.marginals)


@dataclass(frozen=True, eq=False)
class FeasibilityMisfit:
    """How far observations must bend for every sum to be possible.

    ``share``  0 when they need not bend, 1 when the worst stands at the limit of its error
    ``masses`` (f,) possible masses at that share
    ``pull``   (c,) which sums make them bend, per kg; ``bent`` (m,) which observations do
    """

    share: float
    masses: FloatArray
    pull: FloatArray
    bent: NDArray[np.bool_]


def least_stretch(
    design: FloatArray, fitted: FloatArray, reach: FloatArray, sums: FloatArray
) -> FeasibilityMisfit:
    """Find the least share of their ``reach`` (m, 2) by which observations must bend.

    ``reach`` holds the lowest (below 0) and highest error of each observation. A linear program.
    """
    size = design.shape[1]
    above = np.hstack([design, -reach[:, [1]]])
    below = np.hstack([-design, reach[:, [0]]])
    positive = np.hstack([-sums, np.zeros((len(sums), 1))])
    x, share, price = _program(
        np.append(np.zeros(size), 1.0),
        np.vstack([above, below, positive]),
        np.concatenate([fitted, -fitted, np.zeros(len(sums))]),
        free=size,
    )
    count = len(design)
    return FeasibilityMisfit(
        share=share,
        masses=x[:-1],
        pull=price[2 * count :],
        bent=(price[:count] + price[count : 2 * count]) > TINY,
    )


def possible_range(
    row: FloatArray, design: FloatArray, fitted: FloatArray, slack: FloatArray, sums: FloatArray
) -> tuple[float, float]:
    """Return the least and the greatest value that row (f,) @ y can have, kg.

    ``slack`` (m, 2) is how far observations may lie below and above ``fitted``.
    """
    limits = np.vstack([design, -design, -sums])
    ends = np.concatenate([fitted + slack[:, 1], -(fitted + slack[:, 0]), np.zeros(len(sums))])
    least = _program(row, limits, ends, free=row.size)[1]
    most = -_program(-row, limits, ends, free=row.size)[1]
    return max(least, 0.0), max(most, 0.0)


@dataclass(frozen=True, eq=False)
class FeasibleRegion:
    """Masses left open together: y = y₀ + ways @ z, wherever z keeps every sum at 0 or more.

    ``ways``   (f, k): one direction for each way in which the masses can still move
    ``at``     which sums (rows) limit them; ``turned`` (len(at), k) their slopes along the ways
    ``start``  (k,): a z well inside the region
    """

    ways: FloatArray
    at: IntArray
    turned: FloatArray
    start: FloatArray

    def demands(self, count: int) -> tuple[FloatArray, FloatArray]:
        """Return offset (n,) and rows (n, count): offset + rows @ sums >= 0 if any z is possible.

        ``count`` is how many sums there are. With one way open these are all the ways in which two
        sums can leave no room between them; with more, that the start is still inside.
        """
        if self.turned.shape[1] > 1:
            return self.turned @ self.start, np.eye(count)[self.at]
        slope = self.turned[:, 0]
        up, down = np.flatnonzero(slope > TINY), np.flatnonzero(slope < -TINY)
        rows = np.zeros((up.size, down.size, count))
        scale = float(np.max(np.abs(slope)))
        for place, at in enumerate(up):
            rows[place, :, self.at[at]] += scale / slope[at]
        for place, at in enumerate(down):
            rows[:, place, self.at[at]] -= scale / slope[at]
        flat = rows.reshape(-1, count)
        return np.zeros(len(flat)), flat

    def draw(self, slack: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Draw one z (k, M) for each column of ``slack``, any possible one as likely as another.

        Hit and run: each step moves every column along one common direction to a place drawn
        evenly from the chord within the region. With one way open the first step is exact.
        """
        ways = self.turned.shape[1]
        z = np.repeat(self.start[:, None], slack.shape[1], axis=1)
        held = slack[self.at] + (self.turned @ self.start)[:, None]
        for step in range(1 if ways == 1 else _STEPS_A_WAY * ways):
            along = np.zeros(ways)
            if step % 2:
                along = rng.standard_normal((ways,))
            else:
                along[step // 2 % ways] = 1.0
            slope = self.turned @ along
            low, high = _chord(slope, held)
            move = low + np.maximum(high - low, 0.0) * rng.uniform(size=low.size)
            z += along[:, None] * move
            held += slope[:, None] * move
        return z


def _chord(slope: FloatArray, held: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far (M,) one may go back and forth until a sum of ``held`` (n, M) reaches 0."""
    up, down = slope > TINY, slope < -TINY
    return (
        np.asarray(np.max(-held[up] / slope[up, None], axis=0)),
        np.asarray(np.min(-held[down] / slope[down, None], axis=0)),
    )


def regions(
    open_ways: FloatArray, sums: FloatArray, base: FloatArray, ranges: FloatArray
) -> list[FeasibleRegion]:
    """Split what is open into regions that do not touch each other.

    ``open_ways`` (f, k) spans what is open, ``base`` (f,) is the y₀ without scale errors,
    ``ranges`` (f, 2) what each mass can be.
    """
    across = open_ways @ open_ways.T
    touch = np.abs(sums @ across) > TINY
    linked = (np.abs(across) > TINY) | ((touch.T.astype(int) @ touch.astype(int)) > 0)
    found = []
    for members in groups(linked):
        block = across[np.ix_(members, members)]
        count = round(float(np.trace(block)))
        if count:
            at = np.flatnonzero(np.any(touch[:, members], axis=1))
            ways = np.zeros((open_ways.shape[0], count))
            ways[members] = _legible_ways(block, count, ranges[members])
            found.append(_region(ways, at, sums, base))
    return found


def _legible_ways(block: FloatArray, count: int, ranges: FloatArray) -> FloatArray:
    """Return directions (n, count), each the mass of one part, scaled by what it can range over.

    That makes the region about as long in every direction, which hit and run needs.
    """
    spanning = np.linalg.eigh(block)[1][:, -count:]
    chosen = scipy.linalg.qr(spanning.T, pivoting=True, mode="r")[1][:count]
    width = np.maximum(ranges[chosen, 1] - ranges[chosen, 0], _POINT_KG)
    return np.asarray(spanning @ np.linalg.inv(spanning[chosen]) * width, dtype=np.float64)


def _region(ways: FloatArray, at: IntArray, sums: FloatArray, base: FloatArray) -> FeasibleRegion:
    turned = sums[at] @ ways
    count = turned.shape[1]
    if count == 1:
        return FeasibleRegion(ways, at, turned, np.zeros(1))
    # The centre of the largest ball that fits: scale errors hardly ever push it outside.
    norms = np.linalg.norm(turned, axis=1)
    x, _, _ = _program(
        np.append(np.zeros(count), -1.0),
        np.hstack([-turned, norms[:, None]]),
        sums[at] @ base,
        free=count + 1,
    )
    return FeasibleRegion(ways, at, turned, x[:-1])
