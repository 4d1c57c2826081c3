"""The notebook's own spreads: what earlier trials of the same measure taught about them.

Judging and planning both start from them where there are any, instead of from published spreads
alone; the finding says which was used.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fairsmoke.judging.finding import Finding, Interval, MeasureFinding
from fairsmoke.judging.priors import Priors, SpreadFamily, SpreadPrior
from fairsmoke.judging.scaling import scaling_for
from fairsmoke.trial.question import TIMES, Measure, MeasureKind

_REACH = 2.0 * 1.959963984540054
"""Width of a central 95 % interval in standard deviations."""
_NARROWEST = 1.02
"""No number of trials makes a spread better known than this factor: kitchens change."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """What one earlier trial believed of a spread before and after; logs and their sds."""

    trial: str
    name: str
    before: tuple[float, float]
    after: tuple[float, float]


def learnt_of(measure: Measure, past: Iterable[Finding]) -> tuple[Learnt, ...]:
    """Return what earlier trials learnt of the spreads of a measure of the same kind.

    Sizes are those of the comparison model: fractions, logs of times, points of the asked scale.
    """
    found: list[Learnt] = []
    for finding in past:
        for one in finding.measures:
            if not one.differences or not _same(measure, one.measure):
                continue
            times = _scale(measure) / _scale(one.measure)
            found.extend(_of_measure(finding.record.trial.id, one, times))
    return tuple(found)


def _of_measure(trial: str, found: MeasureFinding, times: float) -> Iterable[Learnt]:
    scaling = scaling_for(found.measure, found.responses.values)

    def log_normal(seen: Interval) -> tuple[float, float]:
        low, high = (scaling.difference_in(end) * times for end in (seen.low, seen.high))
        return 0.5 * math.log(low * high), math.log(high / low) / _REACH

    for spread in found.spreads:
        if spread.before.high > spread.before.low > 0.0 and spread.now.low > 0.0:
            yield Learnt(trial, spread.name, log_normal(spread.before), log_normal(spread.now))


def _same(measure: Measure, other: Measure) -> bool:
    if measure.kind is not other.kind:
        return False
    if measure.kind is MeasureKind.YIELD:
        return measure.state is other.state
    if measure.kind is MeasureKind.TIME_TO_CORE:
        return measure.core_c == other.core_c
    if measure.kind is MeasureKind.MEASURED:
        return (measure.name.casefold(), measure.unit) == (other.name.casefold(), other.unit)
    return measure.kind in TIMES or measure.name.casefold() == other.name.casefold()


def _scale(measure: Measure) -> float:
    if measure.kind is not MeasureKind.SCORE:
        return 1.0
    assert measure.scale_low is not None
    assert measure.scale_high is not None
    return measure.scale_high - measure.scale_low


def with_past(priors: Priors, learnt: Sequence[Learnt]) -> tuple[Priors, tuple[str, ...]]:
    """Return priors with each spread narrowed by what earlier trials learnt, and those trials.

    In logs a trial's belief before and after differ by what its data said; those parts are added
    to the prior here, each weighed by its precision (normal in logs, an approximation). A trial
    whose layout could not tell a spread adds nothing. Trials that knew what pieces share (animal,
    whole piece) speak of another piece-to-piece spread than those that did not, and are used only
    where the same is known.
    """
    shared = frozenset(priors.groups) & {"animal", "parent"}
    names_by_trial: dict[str, set[str]] = {}
    for one in learnt:
        names_by_trial.setdefault(one.trial, set()).add(one.name)
    usable = [
        one
        for one in learnt
        if frozenset(names_by_trial[one.trial]) & {"animal", "parent"} == shared
    ]
    groups = {name: _narrowed(prior, name, usable) for name, prior in priors.groups.items()}
    piece = _narrowed(priors.piece, "piece", usable)
    narrowed = replace(priors, piece=piece, groups=groups)
    if piece == priors.piece:
        return narrowed, ()
    trials = tuple(dict.fromkeys(one.trial for one in usable if one.name == "piece"))
    return narrowed, trials


def _narrowed(prior: SpreadPrior, name: str, learnt: Sequence[Learnt]) -> SpreadPrior:
    if prior.known or prior.family is not SpreadFamily.LOG_NORMAL:
        return prior
    before_all = 1.0 / math.log(prior.factor) ** 2
    precision = before_all
    weighted = math.log(prior.size) * precision
    for one in learnt:
        if one.name != name:
            continue
        (before, before_sd), (after, after_sd) = one.before, one.after
        gained = 1.0 / after_sd**2 - 1.0 / before_sd**2
        if gained <= 0.0:
            continue
        precision += gained
        weighted += after / after_sd**2 - before / before_sd**2
    if precision == before_all:
        return prior
    factor = max(_NARROWEST, math.exp(1.0 / math.sqrt(precision)))
    return SpreadPrior.log_normal(math.exp(weighted / precision), factor)
