"""The model against every published experiment: single numbers, means, orders, and intervals.

`checks` sets each measured number beside the model's, run at the middle of what the source leaves
open and, on demand, over the ranges assumed for it; `trends` asks which of two is larger.
"""

import os
from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.stats import qmc

from fairsmoke.cooking.body import BodyError
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.experiments import Case, Pooled, Publication, library
from fairsmoke.cooking.experiments.model import ASSUMABLE
from fairsmoke.cooking.outcomes import Outcome
from fairsmoke.cooking.rerun import bone_share, measures, run_experiment
from fairsmoke.cooking.run import ProtocolError
from fairsmoke.physics import kinetics
from fairsmoke.physics.ranges import FloatArray

DRAWS = 16
_SEED = 20_1
_EDGE = 0.05
_FIELDS = tuple(sorted(ASSUMABLE))
# Where a stall is looked for, and half the rise of the core over which "it all but stops".
_STALL_C, _STALL_HALF_K = (50.0, 80.0), 5.0
_SHEAR, _STALL = "shear_n", "stall_s"


@dataclass(frozen=True)
class Check:
    """One measured number beside the model's: `low` to `high` over the assumed ranges (or NaN).

    `printed_low` and `printed_high` are the source's own extremes where it gives them. `major`
    names the gaps on which the outcome turns.
    """

    source: str
    use: str
    case: str
    measure: str
    measured: float
    model: float
    low: float = float("nan")
    high: float = float("nan")
    printed_low: float = float("nan")
    printed_high: float = float("nan")
    major: tuple[str, ...] = ()

    @property
    def timed(self) -> bool:
        """Whether the error is told as a share (times) and not in points (everything else)."""
        return self.measure.endswith("_s")

    @property
    def error(self) -> float:
        """Model over measured − 1 for times, model − measured for shares."""
        return self.model / self.measured - 1.0 if self.timed else self.model - self.measured

    @property
    def inside(self) -> bool:
        """Whether the measured value, or the source's own range, meets the model's interval."""
        first = min(self.measured, *(v for v in (self.printed_low,) if np.isfinite(v)), np.inf)
        last = max(self.measured, *(v for v in (self.printed_high,) if np.isfinite(v)), -np.inf)
        return bool(self.low <= last and first <= self.high)


@dataclass(frozen=True)
class Trend:
    """Which of two cases has the larger measure: what was found and what the model gives."""

    source: str
    use: str
    measure: str
    more: str
    less: str
    model_more: float
    model_less: float
    ratio: float | None
    difference: float | None

    @property
    def told(self) -> bool:
        """Whether the model could cook both."""
        return bool(np.isfinite(self.model_more) and np.isfinite(self.model_less))

    @property
    def right(self) -> bool:
        """Whether the model gives the same order."""
        return self.model_more > self.model_less


def answers(
    constants: Constants,
    case: Case,
    drawn: Mapping[str, float] | None = None,
    *,
    whole_body: bool = True,
) -> dict[str, float]:
    """Return the model's value of every measure of a case; empty where it cannot be cooked or
    the case is kept apart.

    Besides rerun.measures: the stall, and shear force against raw meat at the core (a trend).
    """
    if case.apart:
        return {}
    try:
        outcome = run_experiment(constants, case, dict(drawn or {}), whole_body=whole_body)
    except (ProtocolError, BodyError, ValueError):
        return {}
    found = measures(outcome, case, bone_share(case, dict(drawn or {})))
    found["stall_core_c"], found[_STALL] = _slowest(outcome)
    found["collagen_labile_fraction"] = 1.0 - found["collagen_unaltered_fraction"]
    found[_SHEAR] = float(_shear(outcome))
    return found


def _slowest(outcome: Outcome) -> tuple[float, float]:
    """Return around which core temperature (°C) ten kelvin take longest, and how long (s)."""
    takes = {
        c: outcome.mark_s[c + _STALL_HALF_K] - outcome.mark_s[c - _STALL_HALF_K]
        for c in outcome.mark_s
        if _STALL_C[0] <= c <= _STALL_C[1]
    }
    known = {c: s for c, s in takes.items() if np.isfinite(s)}
    return max(known.items(), key=lambda one: one[1], default=(float("nan"), float("nan")))


def _shear(outcome: Outcome) -> FloatArray:
    """Return the trend of shear force at the core (1 = raw)."""
    reached = [(s, c) for c, s in outcome.mark_s.items() if np.isfinite(s)]
    times = np.array([0.0, *(s for s, _ in reached), outcome.end_s])
    temps = np.array([reached[0][1] if reached else outcome.core_c, *(c for _, c in reached)])
    temps = np.append(temps, outcome.core_c)
    fine = np.linspace(0.0, outcome.end_s, 2001)
    core_c = np.interp(fine, times, temps)
    rate = kinetics.bare_rate_per_s(
        core_c,
        kinetics.ACTIN.ref_c,
        kinetics.ACTIN.rate_ref_per_s,
        kinetics.ACTIN.activation_j_mol,
    )
    core = outcome.regions["core"]
    native = np.clip(core.collagen_native / (1.0 - kinetics.SOLUBLE_RAW), 0.0, 1.0)
    dissolved = np.clip(core.collagen_dissolved, 0.0, 1.0)
    trend = kinetics.shear_trend(native, dissolved, np.exp(-np.trapezoid(rate, fine)))
    return trend * kinetics.enzyme_weakening(fine, core_c)


@cache
def _units(draws: int) -> FloatArray:
    """Return draws × fields numbers of 0 to 1, the same for the same field in every case.

    What is wetter is leaner: fat goes against water, or the two would not fit into one piece.
    """
    units = qmc.LatinHypercube(d=len(_FIELDS), rng=np.random.default_rng(_SEED)).random(draws)
    units[:, _FIELDS.index("fat_fraction")] = 1.0 - units[:, _FIELDS.index("water_fraction")]
    return np.asarray(units)


def draws_of(case: Case, draws: int) -> list[dict[str, float]]:
    """Return Latin-hypercube draws from the case's assumed ranges."""
    return [
        {
            gap.field: gap.low + row[_FIELDS.index(gap.field)] * (gap.high - gap.low)
            for gap in case.assumed
        }
        for row in _units(draws)
    ]


def checks(
    constants: Constants = DEFAULT,
    sources: Iterable[Publication] | None = None,
    draws: int = 0,
    *,
    whole_body: bool = True,
) -> list[Check]:
    """Return every measured number that the model gives too, beside the model's.

    Of all sources unless some are named; with `draws` above 0 also the 5 to 95 % interval over
    the assumed ranges. Shear force in newtons is left out: the model gives its trend only.
    """
    chosen = library() if sources is None else tuple(sources)
    jobs: list[tuple[str, Case, dict[str, float]]] = []
    for source in chosen:
        needed = {case.key for case in source.cases if any(not o.apart for o in case.outcomes)}
        needed -= {case.key for case in source.cases if case.apart}
        needed |= {key for mean in _comparable(source) for key in mean.over}
        for key in sorted(needed):
            case = source.case(key)
            jobs += [(source.key, case, drawn) for drawn in ({}, *draws_of(case, draws))]

    def cook(job: tuple[str, Case, dict[str, float]]) -> dict[str, float]:
        return answers(constants, job[1], job[2], whole_body=whole_body)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        cooked = list(pool.map(cook, jobs))
    found: dict[tuple[str, str], list[dict[str, float]]] = {}
    for (key, case, _), answer in zip(jobs, cooked, strict=True):
        found.setdefault((key, case.key), []).append(answer)
    return [
        check
        for source in chosen
        for check in _source_checks(
            source, {case: all_of for (key, case), all_of in found.items() if key == source.key}
        )
    ]


def _source_checks(
    source: Publication, cooked: Mapping[str, list[dict[str, float]]]
) -> list[Check]:
    """Return one source's single numbers, then its means; the first answer is the middle one."""
    found = []
    for case in source.cases:
        for one in case.outcomes:
            if one.apart or case.apart or one.measure == _SHEAR:
                continue
            if one.measure not in cooked[case.key][0]:
                continue
            low, high = _interval([[drawn] for drawn in cooked[case.key][1:]], one.measure)
            model = cooked[case.key][0][one.measure]
            found.append(
                Check(
                    source.key,
                    source.use,
                    case.key,
                    one.measure,
                    one.value,
                    model,
                    low,
                    high,
                    float("nan") if one.low is None else one.low,
                    float("nan") if one.high is None else one.high,
                    case.major_gaps,
                )
            )
    for mean in _comparable(source):
        if mean.measure == _SHEAR:
            continue
        rows = [list(row) for row in zip(*(cooked[key] for key in mean.over), strict=True)]
        low, high = _interval(rows[1:], mean.measure)
        gaps = sorted({gap for key in mean.over for gap in source.case(key).major_gaps})
        found.append(
            Check(
                source.key,
                source.use,
                f"mean of {len(mean.over)}: {mean.over[0]} …",
                mean.measure,
                mean.value,
                _mean(rows[0], mean.measure),
                low,
                high,
                major=tuple(gaps),
            )
        )
    return found


def _comparable(source: Publication) -> list[Pooled]:
    """Return the means of which no case is kept apart."""
    return [mean for mean in source.pooled if not any(source.case(key).apart for key in mean.over)]


def _mean(each: Iterable[Mapping[str, float]], measure: str) -> float:
    return float(np.mean([one.get(measure, np.nan) for one in each]))


def _interval(rows: list[list[dict[str, float]]], measure: str) -> tuple[float, float]:
    values = np.array([_mean(row, measure) for row in rows])
    values = values[np.isfinite(values)]
    if values.size < max(4, len(rows) // 2):
        return float("nan"), float("nan")
    low, high = np.quantile(values, [_EDGE, 1.0 - _EDGE])
    return float(low), float(high)


def spreads(constants: Constants = DEFAULT) -> dict[tuple[str, str], tuple[float, ...]]:
    """Return what the model gives for cases that a source found alike, by source and measure."""
    return {
        (source.key, same.measure): tuple(
            answers(constants, source.case(key)).get(same.measure, float("nan"))
            for key in same.cases
        )
        for source in library()
        for same in source.alikes
    }


def trends(constants: Constants = DEFAULT) -> list[Trend]:
    """Return every printed comparison of two cases with what the model gives for both."""
    named = sorted(
        {
            (source.key, key)
            for source in library()
            for order in source.orderings
            for key in (order.more, order.less)
        }
    )
    sources = {source.key: source for source in library()}
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        cooked = pool.map(lambda name: answers(constants, sources[name[0]].case(name[1])), named)
    every = dict(zip(named, cooked, strict=True))
    found = []
    for source in library():
        model = {key: answer for (one, key), answer in every.items() if one == source.key}
        found += [
            Trend(
                source.key,
                source.use,
                order.measure,
                order.more,
                order.less,
                model[order.more].get(order.measure, float("nan")),
                model[order.less].get(order.measure, float("nan")),
                order.ratio,
                order.difference,
            )
            for order in source.orderings
        ]
    return found
