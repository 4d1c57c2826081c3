"""The verdict in fixed words, and what one pair alone can and cannot tell."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import optimize

from fairsmoke.judging.design import Layout
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import compare
from fairsmoke.judging.priors import FloatArray, Priors, SpreadPrior


class Direction(StrEnum):
    """Which way of a measure is the good one."""

    HIGHER = "higher is better"
    LOWER = "lower is better"
    NEITHER = "neither"


class VerdictKind(StrEnum):
    """The fixed words of a verdict."""

    BETTER = "better"
    HIGHER = "higher"
    NO_DIFFERENCE = "no difference that matters"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What may be said of one measure.

    Attributes:
        kind: the fixed words.
        arm: the arm that is better (or higher), None when nothing is settled.
        sentence: the verdict as a sentence.
        probabilities: chances that sum to 1, keyed by `first_key`, `within_key`, `second_key`:
            the first arm is better (for a measure without direction: higher) by more than the
            worthwhile difference, the difference is within it, the second arm is.
        first_key, within_key, second_key: those keys, which name the arms.

    """

    kind: VerdictKind
    arm: str | None
    sentence: str
    probabilities: dict[str, float]
    first_key: str
    within_key: str
    second_key: str


def verdict(
    difference: Posterior,
    first: str,
    second: str,
    *,
    direction: Direction,
    worthwhile: float,
    sure: float = 0.95,
    shown: Callable[[float], str] = "{:.3g}".format,
) -> Verdict:
    """Return the verdict on the difference of two arms.

    Args:
        difference: posterior of the level of `first` less that of `second`.
        first, second: names of the arms.
        direction: which way of the measure is good.
        worthwhile: the smallest difference that would change what the person does, above 0, in
            the unit of the response.
        sure: the probability asked for before anything is called settled, above 0.5 and below 1.
        shown: writes a difference with its unit.

    Raises:
        ComparisonError: `worthwhile` or `sure` out of range.

    """
    _check(worthwhile, sure)
    above, below = difference.prob_greater(worthwhile), difference.cdf(-worthwhile)
    if direction is Direction.LOWER:
        above, below = below, above
    within = max(0.0, 1.0 - above - below)
    word = VerdictKind.HIGHER if direction is Direction.NEITHER else VerdictKind.BETTER
    by = f"by more than {shown(worthwhile)}"
    keys = f"{first} {word} {by}", f"within {shown(worthwhile)}", f"{second} {word} {by}"
    kind, arm, chance = VerdictKind.NOT_SETTLED, None, 0.0
    if max(above, below) >= sure:
        kind, arm, chance = word, first if above > below else second, max(above, below)
    elif within >= sure:
        kind, chance = VerdictKind.NO_DIFFERENCE, within
    chances = dict(zip(keys, (above, within, below), strict=True))
    sentence = _sentence(kind, arm, chance, by, shown(worthwhile), chances)
    return Verdict(kind, arm, sentence, chances, *keys)


def _sentence(
    kind: VerdictKind,
    arm: str | None,
    chance: float,
    by: str,
    worth: str,
    chances: dict[str, float],
) -> str:
    if kind is VerdictKind.NO_DIFFERENCE:
        return (
            f"There is no difference that matters: the chance that the arms are within {worth} "
            f"of each other is {_chance(chance)}."
        )
    if kind is VerdictKind.NOT_SETTLED:
        parts = ", ".join(f"{key}: {_chance(value)}" for key, value in chances.items())
        return f"This is not settled. Chances: {parts}."
    return f"{arm} is {kind}: the chance that it is {kind} {by} is {_chance(chance)}."


def _chance(value: float) -> str:
    """Return a probability as a per cent that never claims to be certain."""
    if value > 0.995:
        return "over 99 %"
    if value < 0.005:
        return "under 1 %"
    return f"{100.0 * value:.0f} %"


def _check(worthwhile: float, sure: float) -> None:
    if not (np.isfinite(worthwhile) and worthwhile > 0.0):
        raise ComparisonError(f"The worthwhile difference must be above 0, not {worthwhile}.")
    if not 0.5 < sure < 1.0:
        raise ComparisonError(
            f"How sure to be is a probability above 0.5 and below 1, such as 0.95, not {sure}."
        )


@dataclass(frozen=True, slots=True)
class OnePairNote:
    """What one pair can tell, in the unit of the response.

    Attributes:
        half_of_the_time: two pieces cooked the same way differ by more than this half of the time.
        one_in_twenty: and by more than this one time in twenty.
        settles: the smallest observed difference with which one pair could settle that an arm is
            beyond the worthwhile difference; None if no difference could.
        can_settle_no_difference: whether one pair could ever settle that there is no difference
            that matters (tried at an observed difference of nought, its best case).
        sentences: the same in plain words.

    """

    half_of_the_time: float
    one_in_twenty: float
    settles: float | None
    can_settle_no_difference: bool
    sentences: tuple[str, ...]


def one_pair_note(
    n_pairs: int,
    priors: Priors,
    worthwhile: float,
    *,
    apart: Iterable[str] = (),
    sure: float = 0.95,
    measurement_sd: float = 0.0,
    shown: Callable[[float], str] | None = None,
) -> OnePairNote:
    """Return what one pair alone can and cannot tell, worked out with the comparison model.

    Args:
        n_pairs: how many pairs there are, which only changes how the note begins.
        priors: the piece-to-piece spread and all else believed beforehand.
        worthwhile: the smallest difference that matters, unit of the response.
        apart: grouping factors of `priors` in which the two pieces of a pair differ (position; or
            animal, when they come from two), which make pieces cooked alike differ too.
        sure: as in `verdict`.
        measurement_sd: of one piece's measured value, unit of the response.
        shown: writes a difference with its unit; the priors' own way if not given.

    Raises:
        ComparisonError: no pair, a factor without prior, or numbers out of range.

    """
    _check(worthwhile, sure)
    if n_pairs < 1:
        raise ComparisonError(f"There must be at least one pair to write about, not {n_pairs}.")
    apart = tuple(apart)
    alike = _alike(priors, apart, measurement_sd)
    half = optimize.brentq(
        lambda x: 1.0 - 2.0 * alike.prob_greater(x) - 0.5,
        0.0,
        10.0 * alike.sd,
        xtol=1e-6 * alike.sd,
    )
    twentieth = alike.quantile(0.975)
    answer = _one_pair(priors, apart, measurement_sd)
    settles = _smallest_settling(answer, priors, worthwhile, sure, alike.sd)
    nought = answer(0.0)
    can = nought.cdf(worthwhile) - nought.cdf(-worthwhile) >= sure
    say = shown or priors.shown.spread
    sentences = (
        "There is one pair only." if n_pairs == 1 else f"One of the {n_pairs} pairs, taken alone:",
        f"With a piece-to-piece spread of about {say(priors.piece.quantile(0.5))}, two pieces "
        f"cooked the same way differ by more than {say(float(half))} half of the time, and by "
        f"more than {say(twentieth)} one time in twenty.",
        "No difference seen in one pair, however large, would settle which arm is ahead by "
        f"more than {say(worthwhile)}."
        if settles is None
        else f"One pair could settle that an arm is ahead by more than {say(worthwhile)} only if "
        f"it showed a difference of {say(settles)} or more.",
        f"One pair {'can' if can else 'cannot'} settle that there is no difference of more than "
        f"{say(worthwhile)}.",
    )
    return OnePairNote(float(half), twentieth, settles, bool(can), sentences)


def _alike(priors: Priors, apart: tuple[str, ...], measurement_sd: float) -> Posterior:
    """Return the difference of two pieces treated alike, over the priors of the spreads."""
    spreads = [priors.piece, *(priors.group(name) for name in apart)]
    weights, variance = np.ones(1), np.full(1, measurement_sd**2)
    for prior in spreads:
        share, sds = _prior_nodes(prior)
        weights = np.outer(weights, share).ravel()
        variance = np.add.outer(variance, sds**2).ravel()
    return Posterior(weights, np.zeros_like(weights), np.sqrt(2.0 * variance))


def _prior_nodes(prior: SpreadPrior) -> tuple[FloatArray, FloatArray]:
    """Return weights and spreads that stand for a prior, by the trapezoid rule on its score."""
    z = np.linspace(-6.0, 6.0, 25)
    weights = np.exp(-0.5 * z**2)
    return weights / weights.sum(), prior.sd_at(z)


def _one_pair(
    priors: Priors, apart: tuple[str, ...], measurement_sd: float
) -> Callable[[float], Posterior]:
    """Return a function from the observed difference of one pair to the comparison's answer."""
    two = np.array([0, 1])
    layout = Layout(two, ("first", "second"), dict.fromkeys(apart, two))
    measured = np.eye(2) * measurement_sd**2

    def answer(observed: float) -> Posterior:
        values = priors.mu_mean + np.array([0.5, -0.5]) * observed
        found = compare(values, layout, priors, measurement_cov=measured)
        return found.difference("first", "second")

    return answer


def _smallest_settling(
    answer: Callable[[float], Posterior],
    priors: Priors,
    worthwhile: float,
    sure: float,
    noise: float,
) -> float | None:
    """Return the smallest observed difference that settles, or None.

    A very large difference speaks for a large spread rather than for a large effect, so the
    probability rises, peaks and may fall again: look for the first crossing on a grid, and at
    the peak itself.
    """

    def short(observed: float) -> float:
        return sure - answer(observed).prob_greater(worthwhile)

    scale = float(np.hypot(priors.difference_sd, noise))
    grid = np.linspace(0.0, 6.0 * scale, 13)
    lacking = np.array([short(float(d)) for d in grid])
    hit = int(np.argmax(lacking <= 0.0))
    high = float(grid[hit])
    if lacking[hit] > 0.0:
        hit = max(1, int(np.argmin(lacking)))
        bounds = (float(grid[hit - 1]), float(grid[min(hit + 1, len(grid) - 1)]))
        peak = optimize.minimize_scalar(short, bounds=bounds, method="bounded")
        if peak.fun > 0.0:
            return None
        high = float(peak.x)
    if hit == 0:
        return 0.0
    return float(optimize.brentq(short, float(grid[hit - 1]), high, xtol=1e-4 * scale))
