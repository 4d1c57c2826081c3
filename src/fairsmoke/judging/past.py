"""The notebook's own spreads: what earlier trials of the same measure and cut taught about them.

Judging and planning both start from them where there are any, instead of from published spreads
alone; the finding says which was used. A few trials may have been lucky, so that until there are
`ENOUGH_TRIALS` they can only make a spread larger; and the kitchen of the next trial is never quite
that of the last, which `KITCHEN_FACTOR` allows for.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Self

from fairsmoke.judging.finding import Finding, Interval, MeasureFinding
from fairsmoke.judging.priors import Priors, SpreadFamily, SpreadPrior
from fairsmoke.judging.scaling import scaling_for
from fairsmoke.trial.question import TIMES, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord

_REACH = 2.0 * 1.959963984540054
"""Width of a central 95 % interval in standard deviations."""
ENOUGH_TRIALS = 3
"""Trials from which on the past may make a spread smaller than the published one: a guess."""
KITCHEN_FACTOR = 1.5
"""What one sd multiplies a spread by from one trial of a kitchen to the next: a guess."""

Meat = frozenset[tuple[str, str]]
"""Species and cuts, in small letters, of the pieces that were compared."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """What one earlier trial believed of a spread before and after; logs and their sds."""

    trial: str
    name: str
    before: tuple[float, float]
    after: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Taught:
    """What one trial taught of the spreads of one measure, of which meat, and when it began."""

    begins: datetime
    meat: Meat
    measure: Measure
    spreads: tuple[Learnt, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data."""
        return {
            "begins": self.begins.isoformat(),
            "meat": sorted(map(list, self.meat)),
            "measure": self.measure.model_dump(mode="json"),
            "spreads": [[one.trial, one.name, one.before, one.after] for one in self.spreads],
        }

    @classmethod
    def from_json(cls, content: Mapping[str, Any]) -> Self:
        """Return what plain data says."""
        return cls(
            datetime.fromisoformat(content["begins"]),
            frozenset((species, cut) for species, cut in content["meat"]),
            Measure.model_validate(content["measure"]),
            tuple(
                Learnt(trial, name, tuple(before), tuple(after))
                for trial, name, before, after in content["spreads"]
            ),
        )


def meat_of(record: TrialRecord) -> Meat:
    """Return what meat a trial compares: of its pieces, or of its plan where none is cooked yet."""
    found = frozenset((piece.species, piece.cut.casefold()) for piece in record.units)
    if not found and record.plan is not None:
        at_hand = record.plan.at_hand
        return frozenset({(at_hand.species, at_hand.cut.casefold())})
    return found


def begins(record: TrialRecord) -> datetime:
    """Return when the first cook of a trial began. Raises ValueError when there is none."""
    return min(cook.starts for cook in record.cooks)


def taught_by(finding: Finding) -> tuple[Taught, ...]:
    """Return what a finding, itself judged without any past, taught of the spreads of a measure.

    Sizes are those of the comparison model: fractions, logs of times, points of the own scale.
    """
    record = finding.record
    return tuple(
        Taught(
            begins(record), meat_of(record), one.measure, tuple(_of_measure(record.trial.id, one))
        )
        for one in finding.measures
        if one.differences
    )


def learnt_of(measure: Measure, past: Iterable[Taught], meat: Meat) -> tuple[Learnt, ...]:
    """Return what earlier trials learnt of the spreads of a measure of the same kind and meat.

    Points are those of the asked scale.
    """
    found: list[Learnt] = []
    for one in past:
        if one.meat != meat or not _same(measure, one.measure):
            continue
        shift = math.log(_scale(measure) / _scale(one.measure))
        found.extend(_shifted(learnt, shift) for learnt in one.spreads)
    return tuple(found)


def _shifted(learnt: Learnt, shift: float) -> Learnt:
    (before, before_sd), (after, after_sd) = learnt.before, learnt.after
    return replace(learnt, before=(before + shift, before_sd), after=(after + shift, after_sd))


def _of_measure(trial: str, found: MeasureFinding) -> Iterable[Learnt]:
    scaling = scaling_for(found.measure, found.responses.values)

    def log_normal(seen: Interval) -> tuple[float, float]:
        low, high = (scaling.difference_in(end) for end in (seen.low, seen.high))
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
    """Return priors with each spread as earlier trials taught it, and the trials that did.

    In logs a trial's belief before and after differ by what its data said; those parts are added
    to the prior here, each weighed by its precision (normal in logs, an approximation) and by how
    far kitchens change. A trial whose layout could not tell a spread adds nothing. Trials that knew
    what pieces share (animal, whole piece) speak of another piece-to-piece spread than those that
    did not, and are used only where the same is known.
    """
    usable = _alike(learnt, frozenset(priors.groups) & {"animal", "parent"})
    groups = {name: _taught(prior, name, usable) for name, prior in priors.groups.items()}
    piece = _taught(priors.piece, "piece", usable)
    taught = replace(priors, piece=piece, groups=groups)
    if piece == priors.piece:
        return taught, ()
    trials = tuple(dict.fromkeys(one.trial for one in usable if one.name == "piece"))
    return taught, trials


def _alike(learnt: Sequence[Learnt], shared: frozenset[str]) -> list[Learnt]:
    """Return what trials taught that knew of the same things which pieces share."""
    names: dict[str, set[str]] = {}
    for one in learnt:
        names.setdefault(one.trial, set()).add(one.name)
    return [one for one in learnt if names[one.trial] & {"animal", "parent"} == shared]


def _taught(prior: SpreadPrior, name: str, learnt: Sequence[Learnt]) -> SpreadPrior:
    if prior.known or prior.family is not SpreadFamily.LOG_NORMAL:
        return prior
    precision = 1.0 / math.log(prior.factor) ** 2
    weighted = math.log(prior.size) * precision
    trials = 0
    for one in learnt:
        if one.name != name:
            continue
        (before, before_sd), (after, after_sd) = one.before, one.after
        gained = 1.0 / after_sd**2 - 1.0 / before_sd**2
        if gained <= 0.0:
            continue
        said = (after / after_sd**2 - before / before_sd**2) / gained
        weight = 1.0 / (1.0 / gained + math.log(KITCHEN_FACTOR) ** 2)
        precision += weight
        weighted += weight * said
        trials += 1
    size = math.exp(weighted / precision)
    if trials == 0 or (trials < ENOUGH_TRIALS and size < prior.size):
        return prior
    return SpreadPrior.log_normal(size, math.exp(1.0 / math.sqrt(precision)))


def spread_of_past(learnt: Sequence[Learnt]) -> tuple[SpreadPrior, tuple[str, ...]] | None:
    """Return the spread between pieces of a measure that only earlier trials tell, and the trials.

    Of fewer than `ENOUGH_TRIALS` their upper 95 % limit is taken, as of a trial's own pieces.
    """
    found = [one for one in learnt if one.name == "piece"]
    if not found:
        return None
    weights = [1.0 / (one.after[1] ** 2 + math.log(KITCHEN_FACTOR) ** 2) for one in found]
    total = sum(weights)
    middle = sum(w * one.after[0] for w, one in zip(weights, found, strict=True)) / total
    sd = 1.0 / math.sqrt(total)
    if len(found) < ENOUGH_TRIALS:
        middle += _ONE_SIDED * sd
    prior = SpreadPrior.log_normal(math.exp(middle), max(KITCHEN_FACTOR, math.exp(sd)))
    return prior, tuple(dict.fromkeys(one.trial for one in found))


_ONE_SIDED = 1.6448536269514722
"""Normal score of 95 %."""
