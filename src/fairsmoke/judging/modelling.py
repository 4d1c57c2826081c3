"""What is believed about a measure before a trial's own data, and where that comes from."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.measured_table import tabled_spread
from fairsmoke.judging.past import Learnt, spread_of_past, with_past
from fairsmoke.judging.prior_table import (
    ODD_SHARE,
    ODD_TIMES,
    SHARES,
    Shown,
    within_reason,
)
from fairsmoke.judging.priors import OddPiece, Priors, Reason, SpreadPrior, defaults_for
from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.judging.scaling import Scaling
from fairsmoke.messages.message import N_, in_a_row
from fairsmoke.trial.question import TIMES, Measure, MeasureKind

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Believed:
    """What is believed about a measure before the data, and where its spread is from.

    ``alone``: that is known apart from this trial's own pieces, so that one pair can be judged.
    """

    priors: Priors
    spread_from: Caveat
    alone: bool = True


def believed_of(
    measure: Measure,
    values: FloatArray,
    scaling: Scaling,
    factors: Iterable[str],
    *,
    arm: NDArray[np.intp] | None = None,
    learnt: Sequence[Learnt] = (),
) -> Believed:
    """Return what is believed about a measure before the data.

    A spread that the person states replaces the published one; what earlier trials taught narrows
    what was not stated. ``values`` (n,) only centre the level of a measure that no study is kept
    for, with a width that leaves it open, and, with ``arm`` (n,), tell the spread of one of which
    nothing else is known. The worthwhile difference is not looked at.

    Raises:
        ComparisonError: nothing tells how far pieces treated alike differ.

    """
    names = tuple(factors)
    out = scaling.difference_out
    if measure.kind is MeasureKind.MEASURED:
        return _for_measured(measure, values, names, arm, learnt)
    found = _split(_published(measure, scaling, names))
    if measure.spread is not None:
        stated = scaling.difference_in(measure.spread)
        reasons = {**found.reasons, "piece": _STATED}
        priors = replace(
            found,
            piece=SpreadPrior.log_normal(stated, STATED_FACTOR),
            reasons=reasons,
            odd=OddPiece(ODD_SHARE, ODD_TIMES * stated),
        )
        return Believed(priors, Caveat(CaveatKind.SPREAD_STATED, (), (measure.spread,)))
    priors, trials = with_past(found, learnt)
    spread = (out(priors.piece.quantile(0.5)),)
    if trials:
        return Believed(priors, Caveat(CaveatKind.SPREAD_PAST, trials, spread))
    return Believed(priors, Caveat(CaveatKind.SPREAD_PUBLISHED, (), spread))


STATED_FACTOR = 1.4
"""What one sd multiplies a spread by that a person states: common practice, no source."""

SEEN_FACTOR = 3.0
"""The same for a spread that nothing but this trial's own pieces tells: left nearly open."""

SEEN_TAIL = 0.05
"""How rarely pieces lie closer than they let expect: what is taken for their spread is the upper
limit, not what they showed."""

_STATED = Reason(N_("Stated in the trial."), N_("the person's own."))


def _published(measure: Measure, scaling: Scaling, names: tuple[str, ...]) -> Priors:
    if measure.kind is MeasureKind.YIELD:
        return defaults_for("yield", factors=names)
    if measure.kind in TIMES:
        assert scaling.middle is not None
        return defaults_for("cook_time", centre=math.log(scaling.middle), factors=names)
    assert measure.scale_low is not None
    assert measure.scale_high is not None
    return defaults_for(
        "score",
        scale_span=measure.scale_high - measure.scale_low,
        centre=(measure.scale_low + measure.scale_high) / 2,
        factors=names,
    )


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
    reason = Reason(in_a_row([old.why, why]), in_a_row([old.source, source]))
    return replace(
        priors,
        piece=priors.piece.scaled(math.sqrt(1 - sum(shares.values()))),
        groups=groups,
        reasons={**priors.reasons, "piece": reason},
    )


def _for_measured(
    measure: Measure,
    values: FloatArray,
    names: tuple[str, ...],
    arm: NDArray[np.intp] | None,
    learnt: Sequence[Learnt],
) -> Believed:
    known = values[~np.isnan(values)]
    if measure.spread is not None:
        priors = _around(measure, known, names, measure.spread, STATED_FACTOR, _STATED)
        return Believed(priors, Caveat(CaveatKind.SPREAD_STATED, (), (measure.spread,)))
    if measure.spread_share is not None:
        # Of figures on both sides of nought the mean says nothing of how large they are.
        size = measure.spread_share * float(np.mean(np.abs(known)))
        if size > 0.0:
            priors = _around(measure, known, names, size, STATED_FACTOR, _STATED)
            return Believed(priors, Caveat(CaveatKind.SPREAD_STATED, (), (size,)))
    tabled = tabled_spread(measure)
    if tabled is not None:
        whole = _around(measure, known, names, tabled.size, tabled.factor, tabled.reason)
        priors, trials = with_past(_split(whole), learnt)
        kind = CaveatKind.SPREAD_PAST if trials else CaveatKind.SPREAD_PUBLISHED
        return Believed(priors, Caveat(kind, trials, (priors.piece.quantile(0.5),)))
    past = spread_of_past(learnt)
    if past is not None:
        own, trials = past
        reason = Reason(N_("Learnt from earlier trials."), N_("the notebook's own past."))
        priors = _around(measure, known, names, own.size, own.factor, reason)
        return Believed(priors, Caveat(CaveatKind.SPREAD_PAST, trials, (own.size,)))
    seen, freedom = _seen(values, arm)
    if freedom == 0 or seen == 0.0:
        raise ComparisonError(NO_SPREAD)
    # The data tell the spread once more: what they showed by luck must not make them surer.
    size = seen * math.sqrt(freedom / float(scipy.special.chdtri(freedom, 1.0 - SEEN_TAIL)))
    reason = Reason(
        N_("Nearly open, about the most that pieces of one arm let expect."),
        N_("this trial's own pieces (upper 95 % limit)."),
    )
    priors = _around(measure, known, names, size, SEEN_FACTOR, reason)
    remark = Caveat(CaveatKind.SPREAD_SEEN, (), (seen, float(freedom)))
    return Believed(priors, remark, alone=False)


NO_SPREAD = N_(
    "nothing tells how far pieces treated alike differ in this measure, and one piece an arm "
    "cannot show it: state a spread (one standard deviation, or a share of the value), "
    "or cook more pairs"
)


def _seen(values: FloatArray, arm: NDArray[np.intp] | None) -> tuple[float, int]:
    """Return the standard deviation within arms, and its degrees of freedom."""
    if arm is None:
        return 0.0, 0
    square, freedom = 0.0, 0
    for one in np.unique(arm):
        mine = values[(arm == one) & ~np.isnan(values)]
        if len(mine) > 1:
            square += float(np.sum((mine - mine.mean()) ** 2))
            freedom += len(mine) - 1
    return (math.sqrt(square / freedom), freedom) if freedom else (0.0, 0)


DIFFERENCE_TIMES = 3.0
"""Sd of the difference of two arms in spreads between pieces, where no study is kept: a guess."""
REACH_SHARE = 0.25
"""The same in ranges of the values seen, where that is more: a spread stated far too small, in
another unit say, would otherwise believe away a difference that was seen. A guess."""


def _around(
    measure: Measure,
    known: FloatArray,
    names: tuple[str, ...],
    spread: float,
    factor: float,
    reason: Reason,
) -> Priors:
    """Return priors about one spread between pieces, the level left open about the data."""
    guess = N_("no study kept for this measure")
    reach = float(known.max() - known.min()) if len(known) else 0.0
    reasons = {
        "level": Reason(N_("Centred on the data and left open."), guess),
        "difference": Reason(
            N_("Three times the spread between pieces.")
            if spread * DIFFERENCE_TIMES >= REACH_SHARE * reach
            else N_("A quarter of the range of the values: far more than pieces should differ."),
            guess,
        ),
        "piece": reason,
        **{name: Reason(N_("Half the spread between pieces."), guess) for name in names},
    }
    return Priors(
        mu_mean=float(np.mean(known)) if len(known) else 0.0,
        mu_sd=10 * max(reach, spread),
        difference_sd=max(DIFFERENCE_TIMES * spread, REACH_SHARE * reach),
        piece=SpreadPrior.log_normal(spread, factor),
        groups={name: SpreadPrior.log_normal(spread / 2, 2.0) for name in names},
        reasons=reasons,
        shown=Shown(measure.unit, measure.unit),
        odd=OddPiece(ODD_SHARE, ODD_TIMES * spread),
    )
