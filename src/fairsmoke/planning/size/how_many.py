"""How many pairs a question takes: a row for every number of them, for one measure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import special

from fairsmoke.judging.confounded import PUBLISHED_PANEL, answer_variance
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import OnePair
from fairsmoke.judging.modelling import Believed, believed_of
from fairsmoke.judging.one_pair import one_pair_numbers
from fairsmoke.judging.panel import ANSWER_SHARE
from fairsmoke.judging.past import Learnt
from fairsmoke.judging.priors import Priors
from fairsmoke.judging.randomisation import RandomAllocation, draw_resolution
from fairsmoke.judging.remark import Caveat
from fairsmoke.judging.scaling import Scaling
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.panels.tasters import ScoreSpreads
from fairsmoke.planning.size.assurance import LEVEL, Chances, Prospect, prospect
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.power import paired_power
from fairsmoke.planning.size.repeats import Block
from fairsmoke.trial.question import TIMES, Measure, MeasureKind

MOST_BLOCKS = 40
AIM = 0.8
"""The chance of a settled verdict that is looked for: common practice, no source."""

USUAL_TIME_S = 12 * 3600.0
"""Middle of the prior for a cook time, where nobody says what is usual."""


@dataclass(frozen=True, slots=True)
class Panel:
    """Who tastes: how many, how often each piece, and the spread of one answer in points.

    ``answer_sd`` None takes a guess from the scale; `taster_by_method_sd` is only for the trade of
    tasters against pieces, as the comparison model does not know it.
    """

    tasters: int
    repeats: int = 1
    answer_sd: float | None = None
    taster_by_method_sd: float = 0.0

    def __post_init__(self) -> None:
        if self.tasters < 1 or self.repeats < 1:
            raise PlanError(
                f"tasters and answers of each to a piece are 1 or more, not {self.tasters} and "
                f"{self.repeats}"
            )


@dataclass(frozen=True, slots=True)
class Means:
    """What a plan can be made of.

    Attributes:
        block: what is repeated. most: the largest number of repeats to look at.
        sure: what judging asks for. prices: of pieces, cooks and sittings.
        panel: who tastes; None where it is not known or nothing is scored.
        usual_time_s: for measures of time, about how long it takes.
        measuring_sd: of one piece's value, in the measure's own size.
        truths: true differences to look at, own size; none, the worthwhile one, twice and three
            times that if not given.
        learnt: what earlier trials taught about spreads.

    Raises:
        PlanError: numbers out of range.

    """

    block: Block = field(default_factory=Block)
    most: int = 12
    sure: float = 0.95
    prices: Prices = field(default_factory=Prices)
    panel: Panel | None = None
    usual_time_s: float = USUAL_TIME_S
    measuring_sd: float = 0.0
    truths: tuple[float, ...] | None = None
    learnt: tuple[Learnt, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.most <= MOST_BLOCKS:
            raise PlanError(
                f"the largest number of pairs lies from 1 to {MOST_BLOCKS}: {self.most}"
            )
        if not (math.isfinite(self.usual_time_s) and self.usual_time_s > 0.0):
            raise PlanError(f"the usual time must be above 0, not {self.usual_time_s} s")
        if not (math.isfinite(self.measuring_sd) and self.measuring_sd >= 0.0):
            raise PlanError(f"the uncertainty of measuring is 0 or more, not {self.measuring_sd}")


@dataclass(frozen=True, slots=True)
class Given:
    """What happens when the true difference is this (own size): verdicts, and classical power.

    ``chances.ahead`` is the chance of settling for the arm that is higher in truth. The power is
    that of a two-sided paired t test at one less ``sure``, at the middle of the believed spreads;
    None with one pair or more than two arms or pieces of an arm in a block.
    """

    difference: float
    chances: Chances
    power: float | None


@dataclass(frozen=True, slots=True)
class Row:
    """One number of repeats.

    ``width`` is the expected width of the interval (own size), ``smallest_p`` the smallest
    two-sided p that re-randomising the draw can ever give, ``cost`` None when nothing is priced.
    """

    blocks: int
    pieces: int
    cooks: int
    chances: Chances
    misled: float
    width: float
    smallest_p: float
    cost: float | None
    given: tuple[Given, ...]


@dataclass(frozen=True, slots=True, eq=False)
class HowMany:
    """The table for one measure, and what it rests on.

    ``enough`` is the first number of repeats whose chance of a settled verdict reaches `AIM`, None
    if none of the table does. ``never`` is the chance that the true difference lies within a tenth
    of the worthwhile one on either side of it, where hardly any number of pieces settles it.
    ``priors`` are judging's, ``believed`` those from which trials were drawn; ``spread_from`` says
    where their spread between pieces is from.
    """

    measure: Measure
    means: Means
    rows: tuple[Row, ...]
    one_pair: OnePair | None
    enough: int | None
    never: float
    priors: Priors
    believed: Priors
    spread_from: Caveat
    spreads: ScoreSpreads | None
    level: float
    trials: int


def how_many(measure: Measure, means: Means) -> HowMany:
    """Return the table for a measure.

    Raises:
        PlanError, ComparisonError: numbers out of range.

    """
    scaling = Scaling(means.usual_time_s if measure.kind in TIMES else None)
    block = means.block
    before = _before(measure, scaling, block.factors, means.learnt)
    believed = priors = before.priors
    spreads = _score_spreads(measure, believed, means.panel)
    unseen = told = 0.0
    if spreads is not None and means.panel is not None:
        times = spreads.piece / believed.piece.quantile(0.5)
        believed = replace(believed, piece=believed.piece.scaled(times))
        # A finding knows how much more a small panel scatters than those of the published spreads.
        told = _told_of_panel(measure, means.panel.tasters)
        whole = spreads.panel_sd(means.panel.tasters, means.panel.repeats)
        unseen = math.sqrt(max(0.0, whole**2 - told**2))
    worthwhile = scaling.difference_in(measure.worthwhile)
    own = means.truths
    if own is None:
        own = tuple(k * measure.worthwhile for k in (0.0, 1.0, 2.0, 3.0))
    measuring = math.hypot(scaling.difference_in(means.measuring_sd), told)
    rows = []
    for blocks in range(1, means.most + 1):
        found = prospect(
            block.layout(blocks),
            priors,
            worthwhile,
            believed=believed,
            sure=means.sure,
            measurement_sd=measuring,
            unseen_sd=unseen,
            given=[scaling.difference_in(d) for d in own],
        )
        noise = math.hypot(measuring, unseen)
        rows.append(_row(means, scaling, blocks, found, own, _pair_sd(block, believed, noise)))
    near = _chance_near(worthwhile, priors.difference_sd)
    return HowMany(
        measure=measure,
        means=means,
        rows=tuple(rows),
        one_pair=_one_pair(block, priors, worthwhile, means.sure, measuring, scaling),
        enough=next((row.blocks for row in rows if row.chances.settled >= AIM), None),
        never=near,
        priors=priors,
        believed=believed,
        spread_from=before.spread_from,
        spreads=spreads,
        level=LEVEL,
        trials=found.trials,
    )


def _before(
    measure: Measure, scaling: Scaling, factors: Sequence[str], learnt: Sequence[Learnt]
) -> Believed:
    """Return what is believed, with the level at nought: it is integrated out.

    Raises PlanError when nothing tells how far pieces differ.
    """
    if measure.spread_share is not None:
        raise PlanError(
            f"{measure.name}: a spread that is a share of the value needs a value; give 'spread' "
            "in the measure's unit to plan with"
        )
    try:
        return believed_of(measure, np.zeros(1), scaling, factors, learnt=learnt)
    except ComparisonError as error:
        raise PlanError(f"{measure.name}: {error}") from error


def _row(
    means: Means,
    scaling: Scaling,
    blocks: int,
    found: Prospect,
    own: Sequence[float],
    pair_sd: float | None,
) -> Row:
    block = means.block
    pieces, cooks = blocks * block.pieces, block.cooks(blocks)
    sittings = cooks * means.panel.tasters if means.panel is not None else 0
    given = []
    for shown, (inside, chances) in zip(own, found.given, strict=True):
        power = None
        if pair_sd is not None:
            power = paired_power(inside, pair_sd, blocks, alpha=1.0 - means.sure)
        given.append(Given(shown, chances, power))
    out = scaling.difference_out
    arms = block.layout(blocks).arm
    drawn = RandomAllocation(np.repeat(np.arange(blocks), block.pieces))
    return Row(
        blocks=blocks,
        pieces=pieces,
        cooks=cooks,
        chances=found.chances,
        misled=found.misled,
        width=out(0.5 * found.width) - out(-0.5 * found.width),
        smallest_p=_smallest_even_p(block, blocks) or _smallest_p(arms, drawn),
        cost=means.prices.of(pieces, cooks, sittings),
        given=tuple(given),
    )


def _smallest_even_p(block: Block, blocks: int) -> float | None:
    """Return the smallest p of pairs whose sides the draw keeps even, None for other layouts.

    Of n pairs, one a cook, as many as can be have one arm on the first side: half of them, or
    with n odd either of the two nearest numbers. Judging re-draws those layouts only.
    """
    if block.whole:
        # As many cooks of either of two arms, in every order.
        return 2.0 / math.comb(2 * blocks, blocks)
    if block.pieces != 2 or block.per_cook != 1 or not block.positions or block.from_one:
        return None
    ways = math.comb(blocks, blocks // 2) * (1 if blocks % 2 == 0 else 2)
    return 2.0 / ways


def _smallest_p(arms: NDArray[np.intp], draw: RandomAllocation) -> float:
    kept = arms < 2
    blocks = np.asarray(draw.blocks)[kept]
    return float(draw_resolution(arms[kept], RandomAllocation(blocks)).two_sided)


def _pair_sd(block: Block, believed: Priors, noise: float) -> float | None:
    """Return the middle spread of a pair's difference, None where blocks are not pairs."""
    if block.pieces != 2 or block.whole:
        return None
    parts = [believed.piece, *(believed.group(name) for name in block.apart)]
    return math.sqrt(2.0 * (sum(p.quantile(0.5) ** 2 for p in parts) + noise**2))


def _one_pair(
    block: Block,
    priors: Priors,
    worthwhile: float,
    sure: float,
    measuring: float,
    scaling: Scaling,
) -> OnePair | None:
    if block.pieces != 2 or block.whole:
        return None
    found = one_pair_numbers(
        priors, worthwhile, apart=block.apart, sure=sure, measurement_sd=measuring
    )
    out = scaling.difference_out
    return OnePair(
        half=out(found.half_of_the_time),
        rarely=out(found.one_in_twenty),
        settles=None if found.settles is None else out(found.settles),
        can_settle_no_difference=found.can_settle_no_difference,
    )


def _chance_near(worthwhile: float, difference_sd: float) -> float:
    ends = np.array([0.9, 1.1]) * worthwhile / difference_sd
    low, high = special.ndtr(ends)
    return float(2.0 * (high - low))


def _told_of_panel(measure: Measure, tasters: int) -> float:
    assert measure.scale_low is not None
    assert measure.scale_high is not None
    return math.sqrt(answer_variance(tasters, measure.scale_high - measure.scale_low))


def _score_spreads(measure: Measure, believed: Priors, panel: Panel | None) -> ScoreSpreads | None:
    """Return the spreads behind a panel's scores: the published one is that of panel means."""
    if measure.kind is not MeasureKind.SCORE:
        return None
    assert measure.scale_low is not None
    assert measure.scale_high is not None
    answer = ANSWER_SHARE * (measure.scale_high - measure.scale_low)
    by_method = 0.0
    if panel is not None:
        answer = answer if panel.answer_sd is None else panel.answer_sd
        by_method = panel.taster_by_method_sd
    means = believed.piece.quantile(0.5) ** 2
    # What the published panels' own noise leaves, and never less than a tenth of the variance.
    left = max(0.1 * means, means - answer**2 / PUBLISHED_PANEL)
    return ScoreSpreads(math.sqrt(left), answer, by_method)
