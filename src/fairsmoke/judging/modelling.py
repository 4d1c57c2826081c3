"""How a measure's numbers enter the comparison model, and how its answers come back out.

Times are compared as natural logarithms, because a longer cook also spreads more; everything else
is compared as it is.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.prior_table import SHARES, Shown, within_reason
from fairsmoke.judging.priors import Priors, Reason, SpreadPrior, defaults_for
from fairsmoke.trial.question import TIMES, Measure, MeasureKind

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Scaling:
    """From the measure's own size to the model's and back.

    ``middle`` is the geometric mean of the responses (s) where times are compared as logarithms,
    None where the model works in the measure's own size.
    """

    middle: float | None

    def values(self, values: FloatArray) -> FloatArray:
        """Return responses (n,) as the model takes them."""
        return values if self.middle is None else np.asarray(np.log(values), dtype=np.float64)

    def covariance(self, values: FloatArray, cov: FloatArray) -> FloatArray:
        """Return the covariance of measuring (n, n) as the model takes it, to first order."""
        if self.middle is None:
            return cov
        inverse = np.where(np.isnan(values), 0.0, 1 / np.where(np.isnan(values), 1.0, values))
        return np.asarray(cov * np.outer(inverse, inverse), dtype=np.float64)

    def difference_in(self, difference: float) -> float:
        """Return a difference of the measure's own size as the model's.

        Two times whose geometric mean is the middle m differ by 2 m sinh(d/2) when their logs
        differ by d: the same way there and back, and the same for either sign.
        """
        if self.middle is None:
            return difference
        return 2 * math.asinh(difference / (2 * self.middle))

    def difference_out(self, difference: float) -> float:
        """Return a difference of the model's as one of the measure's own size."""
        if self.middle is None:
            return difference
        return 2 * self.middle * math.sinh(difference / 2)


def scaling_for(measure: Measure, values: FloatArray) -> Scaling:
    """Choose the scaling for a measure from its responses (n,), NaN where missing."""
    if measure.kind not in TIMES:
        return Scaling(None)
    return Scaling(float(np.exp(np.nanmean(np.log(values)))))


def priors_for(
    measure: Measure, values: FloatArray, scaling: Scaling, factors: Iterable[str]
) -> Priors:
    """Return what is believed about a measure before the data, with reasons.

    A spread that the person states replaces the published one. ``values`` (n,) are used only to
    centre the level of a measure that no study is kept for, with a width that leaves it open.
    """
    names = tuple(factors)
    if measure.kind is MeasureKind.YIELD:
        found = defaults_for("yield", factors=names)
    elif measure.kind in TIMES:
        assert scaling.middle is not None
        found = defaults_for("cook_time", centre=math.log(scaling.middle), factors=names)
    elif measure.kind is MeasureKind.SCORE:
        assert measure.scale_low is not None
        assert measure.scale_high is not None
        found = defaults_for(
            "score",
            scale_span=measure.scale_high - measure.scale_low,
            centre=(measure.scale_low + measure.scale_high) / 2,
            factors=names,
        )
    else:
        return _for_other_measures(measure, values, names)
    found = _split(found)
    if measure.spread is None:
        return found
    stated = scaling.difference_in(measure.spread)
    reasons = {**found.reasons, "piece": Reason("Stated in the trial.", "the person's own.")}
    return replace(found, piece=SpreadPrior.log_normal(stated, 1.4), reasons=reasons)


def _split(priors: Priors) -> Priors:
    """Split the variance between whole pieces into what they share and the rest within it.

    Halves of one piece, or pieces of one animal, differ less than unrelated pieces do; all parts
    together keep the variance that whole pieces have.
    """
    shares = SHARES[frozenset(priors.groups) & {"animal", "parent"}]
    if not shares:
        return priors
    whole = priors.piece.size
    groups = {
        name: replace(prior, size=whole * math.sqrt(shares[name])) if name in shares else prior
        for name, prior in priors.groups.items()
    }
    why, source = within_reason(shares)
    old = priors.reasons["piece"]
    reason = Reason(f"{old.why} {why}", f"{old.source.rstrip('.')}; {source}")
    return replace(
        priors,
        piece=priors.piece.scaled(math.sqrt(1 - sum(shares.values()))),
        groups=groups,
        reasons={**priors.reasons, "piece": reason},
    )


def _for_other_measures(measure: Measure, values: FloatArray, names: tuple[str, ...]) -> Priors:
    spread = measure.spread or measure.worthwhile
    stated = measure.spread is not None
    guess = "no study kept for this measure"
    wide = 10 * max(float(np.nanmax(values) - np.nanmin(values)), spread, measure.worthwhile)
    reasons = {
        "level": Reason("Centred on the data and left open.", guess),
        "difference": Reason("Three times the larger of spread and worthwhile difference.", guess),
        "piece": Reason(
            "Stated in the trial." if stated else "Taken as large as the worthwhile difference.",
            "the person's own." if stated else guess,
        ),
        **{name: Reason("Half the spread between pieces.", guess) for name in names},
    }
    priors = Priors(
        mu_mean=float(np.nanmean(values)),
        mu_sd=wide,
        difference_sd=3 * max(spread, measure.worthwhile),
        piece=SpreadPrior.log_normal(spread, 1.4 if stated else 2.5),
        groups={name: SpreadPrior.log_normal(spread / 2, 2.0) for name in names},
        reasons=reasons,
        shown=Shown(measure.unit, measure.unit),
    )
    return priors if stated else _split(priors)
