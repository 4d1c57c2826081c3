"""How much more the times of real pits vary than the simulator's own draws.

The simulator's spread is that of what it knows not to know. Cooks' logs foretold without them
lie further out (docs/validation.md), partly a whole pit at a time, partly piece by piece. A plan
whose intervals are to hold must have that variation too.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from fairsmoke.messages.message import N_, InputField
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.errors import PlanError

SEED_OF_TIME_ERRORS = 7


@dataclass(frozen=True)
class TimeLogSd:
    """Standard deviations of the logarithm of a time, besides the simulator's own spread.

    `between_pits` has one draw for everything that stands in one cooker on one day, `within_pit`
    one a piece.
    """

    between_pits: float
    within_pit: float

    def __post_init__(self) -> None:
        if not (0.0 <= self.between_pits <= 2.0 and 0.0 <= self.within_pit <= 2.0):
            raise PlanError(
                N_(
                    "%(field)s of %(between)s and %(within)s: give standard deviations of the "
                    "logarithm of a time, 0 to 2, such as 0.3.",
                    field=InputField("scatter"),
                    between=f"{self.between_pits:g}",
                    within=f"{self.within_pit:g}",
                ),
                field="scatter",
            )

    def factors(self, members: int, cookers: Sequence[str], seed: int) -> FloatArray:
        """Return factors on times, pieces × members; pieces in one cooker share a part of theirs.

        Their median is 1, and what is drawn depends on the seed, the order of the pieces and
        their number of draws alone.
        """
        known = list(dict.fromkeys(cookers))
        shared = np.random.default_rng([seed, SEED_OF_TIME_ERRORS, 0]).standard_normal(
            (len(known), members)
        )
        own = np.random.default_rng([seed, SEED_OF_TIME_ERRORS, 1]).standard_normal(
            (len(cookers), members)
        )
        at = [known.index(cooker) for cooker in cookers]
        return np.asarray(np.exp(self.between_pits * shared[at] + self.within_pit * own))


# `fitted` to 15 times from 7 kitchens, each foretold from the others (benchmarks left_out, 1
# December 2026), over and above the simulator's own 0.22; `python -m benchmarks when` fits anew.
FROM_LOGS = TimeLogSd(between_pits=0.28, within_pit=0.32)
NO_MORE = TimeLogSd(0.0, 0.0)


@dataclass(frozen=True)
class Miss:
    """A published time beside the model's: the kitchen, ln(model/measured), and the sd of the
    logarithm that the model's own interval gives it.
    """

    kitchen: str
    log_ratio: float
    own_sd: float


def _by_kitchen(misses: Sequence[Miss]) -> list[list[Miss]]:
    kitchens = dict.fromkeys(miss.kitchen for miss in misses)
    return [[miss for miss in misses if miss.kitchen == kitchen] for kitchen in kitchens]


def _minus_twice_log_likelihood(groups: Sequence[Sequence[Miss]], log_sds: FloatArray) -> float:
    shared, own = np.exp(2.0 * log_sds)
    total = 0.0
    for group in groups:
        ratio = np.array([miss.log_ratio for miss in group])
        spread = np.diag([own + miss.own_sd**2 for miss in group]) + shared
        total += float(np.linalg.slogdet(spread)[1] + ratio @ np.linalg.solve(spread, ratio))
    return total


def fitted(misses: Sequence[Miss]) -> TimeLogSd:
    """Return the standard deviations of greatest likelihood: normal, about 0, by kitchen.

    ln(model/measured) has variance between_pits² + within_pit² + (model's own sd)², and
    between_pits² in common with others of its kitchen; a bias of the model counts as variance, for
    the next pit's is not known.
    Raises PlanError for fewer than two kitchens.
    """
    groups = _by_kitchen(misses)
    if len(groups) < 2:
        raise PlanError("the variance of times needs published times from two kitchens or more")

    def to_lessen(log_sds: FloatArray) -> float:
        return _minus_twice_log_likelihood(groups, log_sds)

    best = scipy.optimize.minimize(to_lessen, np.log([0.3, 0.3]), method="Nelder-Mead")
    shared, own = np.exp(best.x)
    return TimeLogSd(float(shared), float(own))


PRIOR_LOG_WIDTH = 0.8
"""How well a stranger's standard deviations tell those of one kitchen, on their logarithm: a
factor of about 2 either way. Assumed, no source; a few own cooks outweigh it."""
_GRID = np.linspace(-3.0, 2.0, 26)


def learned(misses: Sequence[Miss], prior: TimeLogSd = FROM_LOGS) -> TimeLogSd:
    """Return a kitchen's own standard deviations from its past cooks, of the middle posterior.

    ``misses`` are ln(measured/planned) of past times, ``kitchen`` the cook that each belongs to;
    the standard deviations have lognormal priors about those of ``prior``, and the posterior means
    of their logarithms are returned. A lasting bias of the kitchen counts as variance, as in
    `fitted`. Without misses the prior's own come back.
    """
    if not misses:
        return prior
    groups = _by_kitchen(misses)
    middles = np.log([prior.between_pits, prior.within_pit])
    steps = PRIOR_LOG_WIDTH * _GRID
    log_density = np.array(
        [
            [
                -0.5 * _minus_twice_log_likelihood(groups, middles + np.array([between, within]))
                - 0.5 * (between**2 + within**2) / PRIOR_LOG_WIDTH**2
                for within in steps
            ]
            for between in steps
        ]
    )
    weight = np.exp(log_density - np.max(log_density))
    weight /= np.sum(weight)
    between = float(weight.sum(axis=1) @ steps)
    within = float(weight.sum(axis=0) @ steps)
    return TimeLogSd(*np.exp(middles + np.array([between, within])).tolist())
