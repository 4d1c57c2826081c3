"""The chance that a layout settles its question, by the very rule that judging uses.

Trials are drawn from what is believed, odd pieces and all, and each is judged by the comparison's
posterior and the rule of the verdict: under the usual priors and a sceptic's.
Nothing is integrated anew for each trial (`judging.many`). The trials are a low-discrepancy
sequence with a fixed seed, so that the same question gives the same answer.
Source of the idea, assurance as power averaged over the prior: O'Hagan, Stevens and Campbell,
Pharmaceutical Statistics 4 (2005) 187, from memory.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fairsmoke.judging.analyses import ManyAnalyses
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.many import ManyJudge
from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.judging.rule import NOT_SETTLED
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.size.trials import TRIALS, Trials, draw_trials

GIVEN_TRIALS = 512
"""Trials drawn for each true difference."""
WIDTH_TRIALS = 32
"""Trials whose interval is worked out for the expected width."""
LEVEL = 0.95
"""What the interval holds whose width is expected."""


@dataclass(frozen=True, slots=True)
class Chances:
    """What becomes of the verdict; the four add to 1.

    Attributes:
        ahead: settled that the first arm named is higher by more than the worthwhile difference.
        no_difference: settled that there is no difference that matters.
        behind: settled that the first arm named is lower by more.
        not_settled: none of these.

    """

    ahead: float
    no_difference: float
    behind: float
    not_settled: float

    @property
    def settled(self) -> float:
        """Chance of any settled verdict."""
        return self.ahead + self.no_difference + self.behind

    @property
    def one_is_better(self) -> float:
        """Chance that it is settled which arm is higher by enough."""
        return self.ahead + self.behind


@dataclass(frozen=True, slots=True)
class Prospect:
    """What a layout promises before it is cooked.

    Attributes:
        chances: averaged over what is believed.
        misled: chance that a settled verdict is wrong: that it names the wrong arm, an arm when
            the difference is below the worthwhile one, or no difference when there is one.
        given: the same for true differences (first arm less second), by that difference.
        width: expected width of the interval for the difference, unit of the response.
        level: what that interval holds.
        trials: how many trials the chances rest on; nodes: sets of spreads each was judged with.

    """

    chances: Chances
    misled: float
    given: tuple[tuple[float, Chances], ...]
    width: float
    level: float
    trials: int
    nodes: int


def prospect(
    layout: ComparisonLayout,
    priors: Priors,
    worthwhile: float,
    *,
    believed: Priors | None = None,
    sure: float = 0.95,
    measurement_sd: float = 0.0,
    unseen_sd: float = 0.0,
    given: Iterable[float] = (),
    arms: tuple[int, int] = (0, 1),
    trials: int = TRIALS,
) -> Prospect:
    """Return what judging is likely to say of a layout.

    Args:
        layout: who gets what.
        priors: those that judging will use, unit of the response.
        worthwhile: the smallest difference that matters, above 0, same unit.
        believed: from which trials are drawn, where more is known than judging assumes (the
            notebook's own spreads); judging's own priors if not given.
        sure: what judging asks for before it calls anything settled.
        measurement_sd: known error of one piece's value, in the trials and in judging.
        unseen_sd: scatter of one piece's value that the trials have and judging is not told of,
            as that of a small panel.
        given: true differences (first arm less second) for which the chances are wanted too.
        arms: numbers of the two arms compared.
        trials: how many to draw, a power of two.

    Raises:
        PlanError: a number out of range, or too many factors at once.
        ComparisonError: a factor of the layout without a prior.

    """
    given = tuple(given)
    _check(layout, worthwhile, sure, measurement_sd, unseen_sd, given, arms, trials)
    n = len(layout.arm)
    cov = measurement_sd**2 * np.eye(n)
    judge = ManyAnalyses.of(layout, priors, measurement_cov=cov, arms=arms)
    noise = math.hypot(measurement_sd, unseen_sd)

    def drawn(count: int, difference: float | None) -> Trials:
        source = believed or priors
        return draw_trials(layout, source, count, difference=difference, noise_sd=noise, arms=arms)

    size = _affordable(trials, judge.usual.nodes * n)
    data = drawn(size, None)
    kinds = judge.verdicts(data.values, worthwhile, sure)
    truth = np.sign(data.difference) * (np.abs(data.difference) > worthwhile)
    misled = float(np.mean((kinds != NOT_SETTLED) & (kinds != truth)))
    few = _affordable(min(GIVEN_TRIALS, trials), judge.usual.nodes * n)
    found = tuple(
        (d, _chances(judge.verdicts(drawn(few, d).values, worthwhile, sure))) for d in given
    )
    ends = judge.interval(data.first(min(WIDTH_TRIALS, size)).values, LEVEL)
    width = float(np.mean(ends[:, 1] - ends[:, 0]))
    return Prospect(
        _chances(kinds, even=True), misled, found, width, LEVEL, size, judge.usual.nodes
    )


def chances_of_data(
    values: npt.ArrayLike,
    layout: ComparisonLayout,
    priors: Priors,
    worthwhile: float,
    *,
    measurement_sd: float = 0.0,
    arms: tuple[int, int] = (0, 1),
) -> FloatArray:
    """Return what judging would believe of each of several trials of one layout.

    Args:
        values: responses (S, n), no gaps; a row is a trial.
        layout, priors, worthwhile, measurement_sd, arms: as for `prospect`.

    Returns:
        (S, 3), under the usual priors: chances that the first arm is ahead by more than
        `worthwhile`, that the difference is within it, that the first arm is behind by more.

    Raises:
        PlanError: values that do not fit the layout.

    """
    data = np.asarray(values, dtype=np.float64)
    if data.ndim != 2 or data.shape[1] != len(layout.arm) or not np.isfinite(data).all():
        raise PlanError(f"give a number for each of {len(layout.arm)} pieces in every row")
    cov = measurement_sd**2 * np.eye(len(layout.arm))
    judge = ManyJudge.of(layout, priors, measurement_cov=cov, arms=arms)
    return judge.chances(data, worthwhile)


def _chances(kinds: npt.NDArray[np.intp], even: bool = False) -> Chances:
    ahead, nothing, behind = (float(np.mean(kinds == kind)) for kind in (1, 0, -1))
    if even:
        # Every trial and its mirror image are equally likely when neither arm is favoured.
        ahead = behind = 0.5 * (ahead + behind)
    return Chances(ahead, nothing, behind, max(0.0, 1.0 - ahead - nothing - behind))


def _affordable(trials: int, cost: int) -> int:
    """Return fewer trials, still a power of two, where every one costs much."""
    most = max(256, (1 << 23) // cost)
    return min(trials, 1 << int(math.log2(most)))


def _check(
    layout: ComparisonLayout,
    worthwhile: float,
    sure: float,
    measurement_sd: float,
    unseen_sd: float,
    given: Sequence[float],
    arms: tuple[int, int],
    trials: int,
) -> None:
    if not (math.isfinite(worthwhile) and worthwhile > 0.0):
        raise PlanError(f"the worthwhile difference must be above 0, not {worthwhile}")
    if not 0.5 < sure < 1.0:
        raise PlanError(
            f"how sure to be is a probability above 0.5 and below 1, such as 0.95, not {sure}"
        )
    for name, sd in (("measurement_sd", measurement_sd), ("unseen_sd", unseen_sd)):
        if not (math.isfinite(sd) and sd >= 0.0):
            raise PlanError(f"{name} is a standard deviation, 0 or above, not {sd}")
    if not all(math.isfinite(d) for d in given):
        raise PlanError(f"a true difference is a number; given were {list(given)}")
    count = len(layout.arm_names)
    if arms[0] == arms[1] or not all(0 <= arm < count for arm in arms):
        raise PlanError(f"two different arms of 0 to {count - 1} are compared, not {arms}")
    missing = set(range(count)) - set(layout.arm.tolist())
    if missing:
        names = ", ".join(layout.arm_names[arm] for arm in sorted(missing))
        raise PlanError(f"no piece of the layout gets {names}; give it one or leave the arm out")
    if trials < 64 or trials & (trials - 1):
        raise PlanError(f"trials must be a power of two from 64 on, such as 2048, not {trials}")
