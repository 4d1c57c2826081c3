"""A forecast: when one piece reaches its marks, and the fan of its core."""

from dataclasses import dataclass, replace

import numpy as np

from fairsmoke.forecast.discrepancy import LEARNT, Discrepancy
from fairsmoke.forecast.members import (
    Curves,
    Situation,
    prior_draws,
    simulate_members,
)
from fairsmoke.forecast.smoother import fit_members
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import EndCondition, Protocol

MEMBERS = 400
STEP_S = 600.0
LONGEST_S = 40 * 3600.0
_MARGIN_K = 8.0


@dataclass(frozen=True, eq=False)
class Forecast:
    """What is expected of one piece.

    Attributes:
        now_s: the moment of the forecast, s after it went on.
        later_s: times from now on, (m,).
        core_c: what its probe would read then, (members, m); NaN where a member's cook is over.
        remaining_s: time from now to each mark by member, (members,); infinite if never.
        draws: the members' unknowns, standard normal a priori.

    """

    now_s: float
    later_s: FloatArray
    core_c: FloatArray
    remaining_s: dict[float, FloatArray]
    draws: FloatArray

    def interval(self, mark_c: float, level: float = 0.8) -> tuple[float, float, float]:
        """Return low, median and high of the remaining time to a mark (s)."""
        edge = 0.5 * (1.0 - level)
        low, middle, high = np.quantile(
            self.remaining_s[mark_c], [edge, 0.5, 1.0 - edge], method="inverted_cdf"
        )
        return float(low), float(middle), float(high)

    def probability_by(self, mark_c: float, after_s: float) -> float:
        """Return the probability that a mark is reached within so many seconds."""
        return float(np.mean(self.remaining_s[mark_c] <= after_s))

    def fan(self, levels: tuple[float, ...] = (0.5, 0.8)) -> dict[float, FloatArray]:
        """Return lower and upper core (2, m) for each level, over members that still cook.

        NaN where none does any more.
        """
        cooking = np.isfinite(self.core_c).any(axis=0)
        found = {}
        for level in levels:
            edges = [0.5 - level / 2, 0.5 + level / 2]
            found[level] = np.full((2, self.later_s.size), np.nan)
            found[level][:, cooking] = np.nanquantile(self.core_c[:, cooking], edges, axis=0)
        return found


def forecast(
    situation: Situation,
    times_s: FloatArray,
    core_c: FloatArray,
    marks_c: tuple[float, ...],
    *,
    now_s: float | None = None,
    members: int = MEMBERS,
    discrepancy: Discrepancy = LEARNT,
    seed: int = 1,
    workers: int | None = None,
) -> Forecast:
    """Fit the members to the readings so far and run them on under the protocol.

    Args:
        situation: piece, protocol and conditions; the last stage goes on until every mark.
        times_s, core_c: readings so far, (n,); none at all gives the plan's prior.
        marks_c: core temperatures of interest.
        now_s: the moment; the last reading's when left out.
        members, discrepancy, seed, workers: of the computation.

    Raises:
        ProtocolError, BodyError: a situation that cannot be cooked.

    """
    now = float(times_s[-1]) if now_s is None else now_s
    open_ended = replace(situation, protocol=until(situation.protocol, max(marks_c) + _MARGIN_K))
    kept = thinned(times_s)
    so_far = replace(situation, protocol=until_time(situation.protocol, now + STEP_S))

    def read(draws: FloatArray) -> FloatArray:
        return simulate_members(so_far, draws, times_s[kept], workers=workers).probe_c

    draws = fit_members(
        prior_draws(members, seed), read, times_s[kept], core_c[kept], discrepancy, seed=seed
    )
    later = now + np.arange(0.0, LONGEST_S, STEP_S)
    curves = simulate_members(
        open_ended, draws, np.concatenate([times_s[kept], later]), workers=workers
    )
    return _run_on(curves, kept.size, core_c[kept], now, marks_c, draws, discrepancy, seed)


def _run_on(
    curves: Curves,
    read: int,
    core_c: FloatArray,
    now_s: float,
    marks_c: tuple[float, ...],
    draws: FloatArray,
    discrepancy: Discrepancy,
    seed: int,
) -> Forecast:
    times, later = curves.times_s[:read], curves.times_s[read:]
    residuals = core_c[None, :] - curves.probe_c[:, :read]
    left_over = discrepancy.run_on(
        times, np.nan_to_num(residuals), later, np.random.default_rng([seed, 16])
    )
    path = curves.probe_c[:, read:] + left_over
    remaining = {mark: _first_passage(later - now_s, path, mark) for mark in marks_c}
    return Forecast(now_s, later, path, remaining, draws)


def _first_passage(after_s: FloatArray, path_c: FloatArray, mark_c: float) -> FloatArray:
    """Return when each path first stands at a mark, between its samples by a line."""
    above = np.nan_to_num(path_c, nan=-np.inf) >= mark_c
    first = np.argmax(above, axis=1)
    found = np.where(above.any(axis=1), after_s[first], np.inf)
    between = (first > 0) & np.isfinite(found)
    rows = np.flatnonzero(between)
    low = path_c[rows, first[rows] - 1]
    high = path_c[rows, first[rows]]
    share = np.clip((mark_c - low) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    step = after_s[first[rows]] - after_s[first[rows] - 1]
    found[rows] -= (1.0 - share) * step
    return np.asarray(found)


def until(protocol: Protocol, core_c: float) -> Protocol:
    """Return a protocol whose last stage goes on until a core temperature."""
    last = protocol.stages[-1]
    ends = (EndCondition(core_c=core_c), EndCondition(elapsed_s=LONGEST_S))
    return Protocol(stages=(*protocol.stages[:-1], last.model_copy(update={"ends": ends})))


def until_time(protocol: Protocol, end_s: float) -> Protocol:
    """Return a protocol that also ends when so many seconds are over, stage by stage."""
    stages = tuple(
        stage.model_copy(update={"ends": (*stage.ends, EndCondition(elapsed_s=end_s))})
        if all(end.elapsed_s is None for end in stage.ends)
        else stage
        for stage in protocol.stages
    )
    return Protocol(stages=stages)


def thinned(times_s: FloatArray, most: int = 24) -> "np.ndarray[tuple[int], np.dtype[np.intp]]":
    """Return which readings to fit: all of a few, else evenly spread ones and the latest.

    Readings a minute apart tell the smoother nothing that their neighbours do not: the discrepancy
    is correlated over hours.
    """
    if times_s.size <= most:
        return np.arange(times_s.size)
    wanted = np.linspace(times_s[0], times_s[-1], most)
    return np.unique(np.searchsorted(times_s, wanted, side="right").clip(1) - 1)
