"""Trials drawn and judged one by one, with nothing shared with the planner's own lattice."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.analyses import Analyses
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.priors import Priors
from fairsmoke.judging.rule import DifferenceZone
from fairsmoke.trial.question import VerdictRule


@dataclass(frozen=True)
class Counts:
    """How many of the trials ended how."""

    trials: int
    first: int
    second: int
    nothing: int
    misled: int

    def share(self, count: int) -> tuple[float, float]:
        """Return the share and its standard error, that of one count where there is none."""
        p = count / self.trials
        spread = max(p * (1 - p), 1 / self.trials)
        return p, float(np.sqrt(spread / self.trials))


def drawn(
    layout: ComparisonLayout,
    priors: Priors,
    rng: np.random.Generator,
    *,
    difference: float | None = None,
    noise_sd: float = 0.0,
) -> tuple[NDArray[np.float64], float]:
    """Return the values of one trial, and the true difference of its first two arms."""
    n, arms = len(layout.arm), len(layout.arm_names)
    effects = rng.normal(0.0, priors.difference_sd / np.sqrt(2.0), arms)
    if difference is not None:
        middle = effects[:2].mean()
        effects[:2] = middle + np.array([0.5, -0.5]) * difference
    sd = float(priors.piece.sd_at(rng.normal(size=())))
    values = rng.normal(priors.mu_mean, priors.mu_sd) + effects[layout.arm]
    values = values + rng.normal(0.0, sd, n) + rng.normal(0.0, 1.0, n) * noise_sd
    for name, labels in layout.factors.items():
        of_factor = float(priors.group(name).sd_at(rng.normal(size=())))
        values = values + rng.normal(0.0, of_factor, labels.max() + 1)[labels]
    if priors.odd is not None:
        odds = priors.odd.odds(n)
        place = int(rng.uniform() * (1.0 + n * odds) / odds)
        if place < n:
            values[place] += rng.normal(0.0, priors.odd.sd)
    return values, float(effects[0] - effects[1])


def simulate(
    layout: ComparisonLayout,
    priors: Priors,
    worthwhile: float,
    trials: int,
    *,
    believed: Priors | None = None,
    difference: float | None = None,
    sure: float = 0.95,
    measurement_sd: float = 0.0,
    unseen_sd: float = 0.0,
    seed: int = 1,
) -> Counts:
    """Draw trials and judge each by the three analyses and the rule."""
    rng = np.random.default_rng(seed)
    first = second = nothing = misled = 0
    known = np.eye(len(layout.arm)) * measurement_sd**2
    noise = float(np.hypot(measurement_sd, unseen_sd))
    names = layout.arm_names
    for _ in range(trials):
        values, true = drawn(layout, believed or priors, rng, difference=difference, noise_sd=noise)
        found = Analyses.of(values, layout, priors, known)
        said = found.decision(names[0], names[1], worthwhile, VerdictRule(sure=sure)).outcome
        first += said is DifferenceZone.ABOVE
        second += said is DifferenceZone.BELOW
        nothing += said is DifferenceZone.WITHIN
        truth = DifferenceZone(int(np.sign(true) * (abs(true) > worthwhile)))
        misled += said is not None and said is not truth
    return Counts(trials, first, second, nothing, misled)
