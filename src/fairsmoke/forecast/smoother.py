"""The members fitted to the readings so far, by an ensemble smoother that assimilates in steps.

Source: Emerick and Reynolds, Computers and Geosciences 55 (2013) 3 (ES-MDA); the update is the
library's. Members that the smoother moved still differ in how well they fit: weights by what is
left over are not used, since the discrepancy makes up for it.
"""

from collections.abc import Callable

import numpy as np
from iterative_ensemble_smoother import ESMDA

from fairsmoke.forecast.discrepancy import Discrepancy
from fairsmoke.physics.ranges import FloatArray

STEPS = 3
"""Assimilation steps; each is a run of all members up to now."""


def fit_members(
    draws: FloatArray,
    read: Callable[[FloatArray], FloatArray],
    times_s: FloatArray,
    core_c: FloatArray,
    discrepancy: Discrepancy,
    *,
    steps: int = STEPS,
    seed: int = 1,
) -> FloatArray:
    """Return draws (members, size) moved so that members read what the probe read.

    ``read`` gives the members' readings (members, n) for draws; a member that cannot be read keeps
    the ensemble's mean there. With no readings the prior comes back.
    """
    if times_s.size == 0:
        return draws
    smoother = ESMDA(
        covariance=discrepancy.reading_covariance(times_s),
        observations=np.asarray(core_c, dtype=np.float64),
        alpha=steps,
        seed=seed,
    )
    moved = draws.T.copy()
    for _ in range(steps):
        seen = read(moved.T)
        middle = np.nanmean(seen, axis=0)
        seen = np.where(np.isfinite(seen), seen, middle[None, :])
        smoother.prepare_assimilation(Y=seen.T)
        moved = smoother.assimilate_batch(X=moved)
    return np.asarray(moved.T)
