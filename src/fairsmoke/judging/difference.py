"""One arm against the first, for one measure: the model's answer and all that stands beside it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
from fairsmoke.judging.modelling import Scaling
from fairsmoke.judging.responses import Responses
from fairsmoke.judging.verdict import (
    Direction,
    Verdict,
    VerdictKind,
    one_pair_note,
    verdict,
)
from fairsmoke.messages.message import N_, Words
from fairsmoke.trial.question import TIMES, Better, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import Solution, compare_yields

FloatArray = NDArray[np.float64]

_DIRECTIONS = {
    Better.HIGHER: Direction.HIGHER,
    Better.LOWER: Direction.LOWER,
    Better.NEITHER: Direction.NEITHER,
}

_DENSITY_POINTS = 161


@dataclass(frozen=True, eq=False)
class Judged:
    """A measure with its model's answer, from which every difference is read.

    ``known_cov`` (n, n) is the covariance of measuring in the model's size; ``at_spread`` the
    model's answers with the piece-to-piece spread that many times as large.
    """

    record: TrialRecord
    responses: Responses
    scaling: Scaling
    known_cov: FloatArray
    data: Comparable
    compared: Comparison
    at_spread: dict[float, Comparison]

    @property
    def worthwhile(self) -> float:
        """The worthwhile difference in the model's size."""
        return self.scaling.difference_in(self.responses.measure.worthwhile)

    @property
    def sure(self) -> float:
        """How sure the trial wants to be."""
        return self.record.trial.verdict.sure


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
    observed = float(np.nanmean(each)) if np.any(~np.isnan(each)) else None
    found = verdict(
        posterior,
        arm,
        base,
        direction=_DIRECTIONS[measure.better],
        worthwhile=judged.worthwhile,
        sure=judged.sure,
    )
    trial = judged.record.trial
    shown = (trial.arm(arm).name, trial.arm(base).name)
    return Difference(
        arm=arm,
        base=base,
        observed=None if observed is None else scaling.difference_out(observed),
        believed=_out(posterior, scaling),
        density=_density(posterior, scaling),
        ratio=_ratio(judged.compared, arm, base, measure),
        verdict=_in_fixed_words(found, shown, judged.sure),
        shares=tuple(judged.compared.variance_shares(arm, base).items()),
        sensitivity=tuple(
            _sensitivity(times, answer.difference(arm, base), judged)
            for times, answer in judged.at_spread.items()
        ),
        classical=tuple(counterparts(judged.data, against, number, scaling)),
        one_pair=_one_pair(judged, against, number),
        notes=tuple(_scale_notes(judged, arm, base, ledger)),
    )


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


def _in_fixed_words(found: Verdict, names: tuple[str, str], sure: float) -> VerdictFound:
    """Say the verdict of arm against base in words that are the same for every measure."""
    arm, base = names
    chances = [
        found.probabilities[k] for k in (found.first_key, found.within_key, found.second_key)
    ]
    winner = "" if found.arm is None else (arm if chances[0] > chances[2] else base)
    if found.kind is VerdictKind.NOT_SETTLED:
        sentence = f"Not settled: more cooks of “{arm}” and “{base}” are needed to be sure."
    elif found.kind is VerdictKind.NO_DIFFERENCE:
        sentence = f"No difference that matters between “{arm}” and “{base}”"
    else:
        sentence = f"“{winner}” is {found.kind}, by enough to matter"
    if found.kind is not VerdictKind.NOT_SETTLED:
        sentence += f" (at least {100 * sure:g} % sure)."
    quality = "higher" if found.kind is VerdictKind.HIGHER else "better"
    return VerdictFound(
        word=found.kind,
        winner=winner,
        sentence=sentence,
        better_by_enough=chances[0],
        no_difference=chances[1],
        worse_by_enough=chances[2],
        labels=(
            f"“{arm}” is {quality} by enough to matter",
            "the difference is too small to matter",
            f"“{base}” is {quality} by enough to matter",
        ),
    )


def _one_pair(judged: Judged, against: int, number: int) -> OnePair | None:
    """Say what one pair can tell when there is just one, from the two pieces as they stood."""
    pair = only_pair(judged.data, against, number)
    if pair is None:
        return None
    first, second = pair
    factors = judged.compared.layout.factors
    variances = judged.known_cov[first, first] + judged.known_cov[second, second]
    found = one_pair_note(
        1,
        judged.compared.priors,
        judged.worthwhile,
        apart=[name for name, labels in factors.items() if labels[first] != labels[second]],
        sure=judged.sure,
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
