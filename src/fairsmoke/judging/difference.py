"""One arm against the first, for one measure: the model's answer and all that stands beside it."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.analyses import Analyses
from fairsmoke.judging.counterparts import (
    LEVEL,
    Comparable,
    block_differences,
    counterparts,
    only_pair,
)
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import (
    Difference,
    Interval,
    OnePair,
    SensitivityRow,
    VerdictFound,
)
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Comparison
from fairsmoke.judging.one_pair import one_pair_numbers
from fairsmoke.judging.priors import Priors
from fairsmoke.judging.responses import Responses
from fairsmoke.judging.rule import Analysis, DifferenceZone, Lean, VerdictDecision, VerdictKind
from fairsmoke.judging.scaling import Scaling
from fairsmoke.messages.message import N_, Words
from fairsmoke.trial.question import TIMES, Better, Measure, MeasureKind, VerdictRule
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import Solution, compare_yields

FloatArray = NDArray[np.float64]

_DENSITY_POINTS = 161


@dataclass(frozen=True, eq=False)
class Judged:
    """A measure with its model's answers, from which every difference is read.

    ``known_cov`` (n, n) is the covariance of measuring in the model's size; ``halved`` the model's
    answer with half the piece-to-piece spread. ``rule`` and ``worthwhile`` (own size) are the
    registered ones; ``amended`` those as they now stand, None where they are the same.
    ``untaught`` is the answer without the notebook's past, None where that was not used.
    """

    record: TrialRecord
    responses: Responses
    scaling: Scaling
    known_cov: FloatArray
    data: Comparable
    analyses: Analyses
    halved: Comparison
    rule: VerdictRule
    amended: tuple[Measure, VerdictRule] | None = None
    untaught: Analyses | None = None

    @property
    def compared(self) -> Comparison:
        """The model's answer under the usual priors."""
        return self.analyses.usual

    @property
    def worthwhile(self) -> float:
        """The worthwhile difference in the model's size."""
        return self.scaling.difference_in(self.responses.measure.worthwhile)


def difference_of(
    judged: Judged, number: int, ledger: Solution | None, *, against: int = 0
) -> Difference:
    """Return all that was found of arm ``number`` against arm ``against``, counted from 0.

    ``ledger`` is looked at for yields only, to say which differences the scales can tell.
    """
    measure, scaling = judged.responses.measure, judged.scaling
    names = judged.compared.layout.arm_names
    base, arm = names[against], names[number]
    posterior = judged.compared.difference(arm, base)
    each = block_differences(judged.data, against, number)
    # A mean over the pieces that were seen to the end would favour the arm that held some back.
    partly = judged.data.any_censored(against, number)
    observed = float(np.nanmean(each)) if np.any(~np.isnan(each)) and not partly else None
    trial = judged.record.trial
    shown = (trial.arm(arm).name, trial.arm(base).name)
    return Difference(
        arm=arm,
        base=base,
        observed=None if observed is None else scaling.difference_out(observed),
        believed=_interval(judged, arm, base),
        density=_density(posterior, scaling),
        ratio=_ratio(judged.compared, arm, base, measure),
        verdict=_verdict(judged, arm, base, shown, measure, judged.rule),
        shares=tuple(judged.compared.variance_shares(arm, base).items()),
        sensitivity=tuple(
            _sensitivity(times, answer.difference(arm, base), judged)
            for times, answer in (
                (0.5, judged.halved),
                (1.0, judged.compared),
                (2.0, judged.analyses.compared[Analysis.DOUBLED]),
            )
        ),
        classical=tuple(
            counterparts(judged.data, against, number, scaling, _pair_sd(judged.compared.priors))
        ),
        one_pair=_one_pair(judged, against, number),
        notes=tuple(_scale_notes(judged, arm, base, ledger)),
        sceptical=_sensitivity(
            2.0, judged.analyses.compared[Analysis.SCEPTICAL].difference(arm, base), judged
        ),
        as_amended=None
        if judged.amended is None
        else _verdict(judged, arm, base, shown, *judged.amended),
        without_past=_without_past(judged, arm, base, shown),
    )


def _without_past(
    judged: Judged, arm: str, base: str, names: tuple[str, str]
) -> tuple[Interval, VerdictFound] | None:
    if judged.untaught is None:
        return None
    other = replace(judged, analyses=judged.untaught)
    found = _verdict(other, arm, base, names, judged.responses.measure, judged.rule)
    return _interval(other, arm, base), found


def _pair_sd(priors: Priors) -> float:
    """Return the middle sd of the difference of two pieces treated alike."""
    return math.sqrt(2.0) * priors.piece.quantile(0.5)


def _interval(judged: Judged, arm: str, base: str) -> Interval:
    low, high = judged.analyses.interval(arm, base, LEVEL)
    out = judged.scaling.difference_out
    return Interval(out(judged.compared.difference(arm, base).mean), out(low), out(high), LEVEL)


def _out(posterior: Posterior, scaling: Scaling) -> Interval:
    low, high = posterior.interval(LEVEL)
    out = scaling.difference_out
    return Interval(out(posterior.mean), out(low), out(high), LEVEL)


def _density(posterior: Posterior, scaling: Scaling) -> tuple[tuple[float, float], ...]:
    inside = np.linspace(posterior.quantile(5e-4), posterior.quantile(1 - 5e-4), _DENSITY_POINTS)
    shown = np.array([scaling.difference_out(float(x)) for x in inside])
    # Stretching the axis thins the curve by as much, so that areas stay probabilities.
    height = posterior.density(inside) / np.gradient(shown, inside)
    return tuple(zip(shown.tolist(), height.tolist(), strict=True))


def _ratio(compared: Comparison, arm: str, base: str, measure: Measure) -> Interval | None:
    if measure.kind in TIMES:
        found = compared.difference(arm, base)
        low, high = np.exp(found.interval(LEVEL))
        return Interval(float(np.exp(found.quantile(0.5))), float(low), float(high), LEVEL)
    if measure.kind is MeasureKind.SCORE:
        # The nought of a scale of liking is a convention, so a ratio of scores says nothing.
        return None
    try:
        ratio = compared.ratio(arm, base)
    except ComparisonError:
        return None
    low, high = ratio.interval(LEVEL)
    return Interval(ratio.quantile(0.5), float(low), float(high), LEVEL)


def _sensitivity(times: float, posterior: Posterior, judged: Judged) -> SensitivityRow:
    above = posterior.prob_greater(judged.worthwhile)
    below = posterior.cdf(-judged.worthwhile)
    good, bad = (below, above) if _is_lower_better(judged) else (above, below)
    return SensitivityRow(times, _out(posterior, judged.scaling), good, bad)


def _is_lower_better(judged: Judged) -> bool:
    return judged.responses.measure.better is Better.LOWER


def _verdict(
    judged: Judged,
    arm: str,
    base: str,
    names: tuple[str, str],
    measure: Measure,
    rule: VerdictRule,
) -> VerdictFound:
    """Return the verdict on arm against base, by the worthwhile difference and rule given."""
    worthwhile = judged.scaling.difference_in(measure.worthwhile)
    found = judged.analyses.decision(arm, base, worthwhile, rule)
    above, within, below = found.probabilities[Analysis.USUAL]
    places = {DifferenceZone.ABOVE: 0, DifferenceZone.WITHIN: 1, DifferenceZone.BELOW: 2}
    if measure.better is Better.LOWER:
        above, below = below, above
        places = {DifferenceZone.ABOVE: 2, DifferenceZone.WITHIN: 1, DifferenceZone.BELOW: 0}
    leans_to = places[found.likeliest]
    word = _word(found, measure)
    winner = "" if word in _NOBODY else names[0 if leans_to == 0 else 1]
    below_spread = None
    if found.outcome is None and found.lean is not Lean.OPEN:
        spread = judged.analyses.settling_spread(arm, base, worthwhile, rule, found.likeliest)
        below_spread = None if spread is None else judged.scaling.difference_out(spread)
    return VerdictFound(
        word=word,
        winner=winner,
        better_by_enough=above,
        no_difference=within,
        worse_by_enough=below,
        lean=found.lean,
        leans_to=leans_to,
        lean_chance=found.probability,
        holds=found.holds,
        settled_below=below_spread,
    )


_NOBODY = (VerdictKind.NOT_SETTLED, VerdictKind.NO_DIFFERENCE)


def _word(found: VerdictDecision, measure: Measure) -> VerdictKind:
    if found.outcome is None:
        return VerdictKind.NOT_SETTLED
    if found.outcome is DifferenceZone.WITHIN:
        return VerdictKind.NO_DIFFERENCE
    return VerdictKind.HIGHER if measure.better is Better.NEITHER else VerdictKind.BETTER


def _one_pair(judged: Judged, against: int, number: int) -> OnePair | None:
    """Say what one pair can tell when there is just one, from the two pieces as they stood."""
    pair = only_pair(judged.data, against, number)
    if pair is None:
        return None
    first, second = pair
    factors = judged.compared.layout.factors
    variances = judged.known_cov[first, first] + judged.known_cov[second, second]
    found = one_pair_numbers(
        judged.compared.priors,
        judged.worthwhile,
        apart=[name for name, labels in factors.items() if labels[first] != labels[second]],
        sure=judged.rule.sure,
        measurement_sd=float(np.sqrt(variances / 2)),
    )
    out = judged.scaling.difference_out
    return OnePair(
        half=out(found.half_of_the_time),
        rarely=out(found.one_in_twenty),
        settles=None if found.settles is None else out(found.settles),
        can_settle_no_difference=found.can_settle_no_difference,
    )


def _scale_notes(judged: Judged, arm: str, base: str, ledger: Solution | None) -> list[Words]:
    """For each block with one piece of either arm: is the difference more than scales can tell?"""
    responses, units = judged.responses, judged.record.units
    if ledger is None or responses.measure.kind is not MeasureKind.YIELD:
        return []
    values = {row.piece: row.value for row in responses.rows}
    blocks = dict(zip((piece.id for piece in units), judged.data.blocks.tolist(), strict=True))
    notes: list[Words] = []
    for first in units:
        partners = [p for p in units if p.arm == base and blocks[p.id] == blocks[first.id]]
        if first.arm != arm or len(partners) != 1:
            continue
        if values[first.id] is None or values[partners[0].id] is None:
            continue
        found = compare_yields(ledger, first.id, partners[0].id, responses.measure.state)
        notes.append(
            N_(
                "%(first)s and %(second)s: %(told)s",
                first=first.name,
                second=partners[0].name,
                told=found.sentence,
            )
        )
    return notes
