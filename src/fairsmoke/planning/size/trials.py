"""Trials of one layout drawn from what is believed: a value for every piece."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.priors import FloatArray, Priors

TRIALS = 1024
"""Trials drawn for the chances over what is believed: a power of two, as the sequence needs."""

_SEED = 20_260_418


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """Drawn trials: a value for every piece (S, n) and the true difference of the arms (S,)."""

    values: FloatArray
    difference: FloatArray

    def first(self, count: int) -> "Trials":
        """Return the first so many."""
        return Trials(self.values[:count], self.difference[:count])


def draw_trials(
    layout: ComparisonLayout,
    priors: Priors,
    size: int,
    *,
    difference: float | None = None,
    noise_sd: float = 0.0,
    liking_sd: float = 0.0,
    arms: tuple[int, int] = (0, 1),
) -> Trials:
    """Draw trials by the model that judging uses, odd pieces and all.

    A low-discrepancy sequence with a fixed seed, so that the same question gives the same answer.

    Args:
        layout: who gets what.
        priors: from which spreads, level and arms are drawn.
        size: how many.
        difference: the true difference of the two arms, drawn as well if not given.
        noise_sd: added to every piece.
        liking_sd: added to all pieces of an arm together, beside the true difference.
        arms: numbers of the two arms.

    Raises:
        ComparisonError: a factor of the layout without a prior.

    """
    n, count = len(layout.arm), len(layout.arm_names)
    levels = {name: int(labels.max()) + 1 for name, labels in layout.factors.items()}
    columns = 2 + len(levels) + count + sum(levels.values()) + n + 1
    uniform, scores = (drawn[:size] for drawn in _sequence(columns, size))
    taken = iter(np.split(scores[:, :columns], np.cumsum([1, 1, len(levels), count, n]), axis=1))
    level, piece, spreads, effects, own = (next(taken) for _ in range(5))
    rest = next(taken)
    values = priors.mu_mean + priors.mu_sd * level + priors.piece.sd_at(piece) * own
    true = _arm_effects(effects, priors.difference_sd, difference, arms)
    values = values + true[:, layout.arm]
    values = values + _group_effects(layout.factors, levels, priors, spreads, rest)
    if noise_sd:
        extra = np.random.default_rng(_SEED).standard_normal(values.shape)
        values = values + noise_sd * extra
    if liking_sd:
        own = np.random.default_rng(_SEED + 1).standard_normal((len(values), count))
        values = values + liking_sd * own[:, layout.arm]
    values = values + _odd(priors, uniform[:, columns - 1], n)
    return Trials(values, true[:, arms[0]] - true[:, arms[1]])


def _group_effects(
    factors: Mapping[str, np.ndarray],
    levels: Mapping[str, int],
    priors: Priors,
    spreads: FloatArray,
    rest: FloatArray,
) -> FloatArray:
    """Return what cooks, animals and positions add to each piece (S, n)."""
    total, start = np.zeros((len(rest), 1)), 0
    for column, (name, labels) in enumerate(factors.items()):
        sd = priors.group(name).sd_at(spreads[:, column])
        effects = rest[:, start : start + levels[name]]
        total = total + sd[:, None] * effects[:, labels]
        start += levels[name]
    return total


def _arm_effects(
    scores: FloatArray, sd: float, difference: float | None, arms: tuple[int, int]
) -> FloatArray:
    """Return arm effects (S, J) whose difference is as given, or as drawn."""
    effects = sd / math.sqrt(2.0) * scores
    if difference is None:
        return effects
    contrast = np.zeros(scores.shape[1])
    contrast[list(arms)] = (0.5, -0.5)
    off = difference - (effects[:, arms[0]] - effects[:, arms[1]])
    return np.asarray(effects + off[:, None] * contrast, dtype=np.float64)


def _odd(priors: Priors, uniform: FloatArray, pieces: int) -> FloatArray:
    """Return the further error of the odd piece, at most one in a trial, (S, n)."""
    found = np.zeros((len(uniform), pieces))
    if priors.odd is None:
        return found
    odds = priors.odd.odds(pieces)
    each = odds / (1.0 + pieces * odds)
    place = np.floor(uniform / each).astype(np.intp)
    rows = np.flatnonzero(place < pieces)
    inside = np.clip(uniform[rows] / each - place[rows], 1e-9, 1 - 1e-9)
    found[rows, place[rows]] = priors.odd.sd * scipy.special.ndtri(inside)
    return found


def _sequence(columns: int, size: int) -> tuple[FloatArray, FloatArray]:
    """Return a low-discrepancy sequence of at least that size, and its normal scores."""
    return _drawn(-(-columns // 32) * 32, max(size, TRIALS))


@lru_cache(maxsize=4)
def _drawn(columns: int, size: int) -> tuple[FloatArray, FloatArray]:
    uniform = scipy.stats.qmc.Sobol(columns, rng=np.random.default_rng(_SEED)).random(size)
    # Zero itself can be drawn, and has no normal score.
    uniform = np.clip(uniform, 2.0**-32, 1.0 - 2.0**-32)
    return uniform, np.asarray(scipy.special.ndtri(uniform), dtype=np.float64)
