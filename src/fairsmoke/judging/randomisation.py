"""The re-randomisation test: the answer that the draw of the layout itself justifies."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fairsmoke.design.layouts import (
    ContrastRows,
    FloatArray,
    IntArray,
    Lost,
    all_block_contrasts,
    arrangement_count,
    block_layouts,
    block_scores,
    centred_in_blocks,
    code_factor,
    contrast_weights,
    prepare_rows,
    random_block_contrasts,
    random_block_layouts,
)
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.messages.message import N_, Message, alone
from fairsmoke.quantity.values import Digits

# Layouts whose contrasts are equal on paper differ by round-off: of the contrasts themselves, and
# of the responses that they were taken from.
_TIE_SHARE = 1e-9
_ROUND_OFF = 1e-12


@dataclass(frozen=True, eq=False)
class RandomAllocation:
    """How chance gave the arms to the pieces.

    `blocks` (n,): labels; pieces with the same label form a block. A pair is a block of two; one
    label throughout is an unrestricted draw. Without `layouts`, the arms were put in random order
    within each block, and the blocks were drawn independently.
    `layouts` (k, n): where the draw was anything else (a crossover, a Latin square, one arm to a
    whole cook), every layout of arm labels that it could have given, all equally likely, the one
    cooked among them. `blocks` then only says what the contrast is adjusted for.
    """

    blocks: NDArray[np.integer]
    layouts: NDArray[np.integer] | None = None


@dataclass(frozen=True)
class Resolution:
    """How fine an answer a draw can give, whatever the pieces do.

    `two_sided` and `one_sided` are the smallest p-values that this draw can ever give for the
    layout drawn; `sentence` says it in words.
    """

    n_layouts: int
    one_sided: float
    two_sided: float
    sentence: Message


@dataclass(frozen=True)
class RandomisationTest:
    """What re-drawing the layout says about the difference second − first.

    `estimate` and `interval` are in the response's unit. With `exact`, `n_tried` is the number of
    layouts and the counts are how many of them reach the observed contrast, ties included;
    without, `n_tried` layouts were drawn at random and p = (count + 1)/(n_tried + 1).
    `n_used` pieces entered; `n_missing` had no response; `n_partnerless` had one but were left
    without another arm in their block. `interval` is None where no finite one exists.
    """

    estimate: float
    exact: bool
    n_tried: int
    count_two_sided: int
    count_greater: int
    count_less: int
    p_two_sided: float
    p_greater: float
    p_less: float
    resolution: Resolution
    interval: tuple[float, float] | None
    interval_note: str
    level: float
    n_used: int
    n_missing: int
    n_partnerless: int

    @property
    def sentence(self) -> Message:
        """The test in one sentence for a reader."""
        values: dict[str, Any] = {
            "tried": self.n_tried,
            "count": self.count_two_sided,
            "p": _shown(self.p_two_sided),
        }
        if self.exact:
            return N_(
                "Of the %(tried)s layouts that the draw could have given, %(count)s differ at "
                "least as much as the one cooked (two-sided p = %(p)s).",
                **values,
            )
        return N_(
            "Of %(tried)s layouts drawn anew at random, %(count)s differ at least as much as the "
            "one cooked (two-sided p = %(p)s).",
            **values,
        )


def randomisation_test(
    response: ArrayLike,
    arms: ArrayLike,
    draw: RandomAllocation,
    *,
    first: int = 0,
    second: int = 1,
    adjust: Sequence[ArrayLike] = (),
    hold_other_arms: bool = True,
    level: float = 0.95,
    max_exact: int = 1 << 20,
    n_random: int = 99_999,
    seed: int = 0,
) -> RandomisationTest:
    """Compare two arms by re-drawing the layout in every way that the draw could have given it.

    The statistic is the least-squares estimate of second − first in the model "arm + block +
    every factor in `adjust`" (each (n,) labels, such as rows and columns of a Latin square, or the
    side of the cooker). For complete pairs without `adjust` it is the mean paired difference.
    p-values hold by the draw alone, without any assumption about how pieces scatter; they test
    that no piece would have answered differently under the other of the two arms. Layouts that
    tie with the one cooked count as reaching it; layouts in which the arms could not be told apart
    from the factors adjusted for do not count, as such a draw would be made again. All layouts are
    tried when there are at most `max_exact`, else `n_random` are drawn with a generator seeded by
    `seed`.

    Other arms keep their places (`hold_other_arms`), so nothing is assumed of them. Without that
    all arms are re-drawn, and the p-values test that no arm matters at all.

    A piece with NaN response keeps the arm that it had in every layout and is left out, and so is
    one whose block is left with a single arm; both are counted. This is right where what was lost
    was lost whatever the arm.

    The interval holds every shift d for which the test does not reject, at 1 − `level` two-sided,
    that the second arm adds d to each piece. It contains the true d in at least `level` of all
    draws if the shift is the same for all pieces.

    Raises ComparisonError for input that does not fit together and for arms that no block joins.
    Source: R. A. Fisher, The Design of Experiments, 1935, §21; E. J. G. Pitman, Supplement to the
    Journal of the Royal Statistical Society 4:119, 1937 (both from memory).
    """
    if not 0.0 < level < 1.0:
        raise ComparisonError(f"level is {level}: it must lie between 0 and 1, such as 0.95.")
    y, rows, layouts, lost = prepare_rows(
        response, arms, draw.blocks, draw.layouts, first, second, hold_other_arms
    )
    factors = [code_factor(a, lost.used, f"adjust[{i}]") for i, a in enumerate(adjust)]
    # The second column turns a shift d of the second arm into contrast(y) − d·contrast(shift).
    columns = np.column_stack([y, (rows.arms == rows.second).astype(np.float64)])
    n_layouts = rows.layout_count() if layouts is None else len(layouts)
    exact = layouts is not None or n_layouts <= max_exact
    additive = layouts is None and not factors
    own = _own_scores(rows) if additive else _own_weights(rows, [rows.blocks, *factors])
    observed = float(own @ y)
    tried, alike, mirrored = _try_layouts(
        rows, layouts, factors, columns, None if exact else n_random, seed
    )
    if exact:
        n_layouts = len(tried)
    return _summarise(
        tried,
        observed,
        _resolution(n_layouts, alike, mirrored),
        response_size=float(np.max(np.abs(y))),
        exact=exact,
        level=level,
        shift_is_free=hold_other_arms or len(np.unique(rows.arms)) == 2,
        lost=lost,
    )


def draw_resolution(
    arms: ArrayLike,
    draw: RandomAllocation,
    *,
    first: int = 0,
    second: int = 1,
    hold_other_arms: bool = True,
) -> Resolution:
    """How small a p-value a draw can ever give: known before the first cook.

    Arguments as for `randomisation_test`. For n pairs the two-sided floor is 2/2ⁿ.

    >>> pairs = RandomAllocation(np.array([1, 1, 2, 2, 3, 3]))
    >>> draw_resolution([0, 1, 0, 1, 1, 0], pairs).two_sided
    0.25
    """
    blank = np.zeros(len(np.asarray(arms)))
    _, rows, layouts, _ = prepare_rows(
        blank, arms, draw.blocks, draw.layouts, first, second, hold_other_arms
    )
    if layouts is None:
        return _resolution(rows.layout_count(), *_count_equivalent(rows))
    tried, alike, mirrored = _contrast_each(layouts, rows, [rows.blocks], blank[:, None])
    return _resolution(len(tried), alike, mirrored)


def _try_layouts(
    rows: ContrastRows,
    layouts: IntArray | None,
    factors: list[IntArray],
    columns: FloatArray,
    n_random: int | None,
    seed: int,
) -> tuple[FloatArray, int, int]:
    """Contrasts (k, c) in all layouts or `n_random` drawn ones; counts as `_contrast_each`."""
    rng = np.random.default_rng(seed)
    if layouts is None and not factors:
        if n_random is None:
            return all_block_contrasts(rows, columns), *_count_equivalent(rows)
        return random_block_contrasts(rows, columns, n_random, rng), *_count_equivalent(rows)
    nuisance = [rows.blocks, *factors]
    if layouts is None and n_random is not None:
        drawn = random_block_layouts(rows, n_random, rng)
        return _contrast_each(drawn, rows, nuisance, columns)[0], 1, int(_swap_allowed(rows))
    every = block_layouts(rows) if layouts is None else layouts
    return _contrast_each(every, rows, nuisance, columns)


def _contrast_each(
    layouts: IntArray, rows: ContrastRows, nuisance: list[IntArray], columns: FloatArray
) -> tuple[FloatArray, int, int]:
    """Contrasts (k, c); how many layouts weigh the pieces as the one cooked does, or opposite."""
    own = _own_weights(rows, nuisance)
    found, alike, mirrored = [], 0, 0
    for weights in contrast_weights(layouts, rows, nuisance):
        found.append(weights @ columns)
        alike += int(np.sum(np.all(np.abs(weights - own) < _TIE_SHARE, axis=1)))
        mirrored += int(np.sum(np.all(np.abs(weights + own) < _TIE_SHARE, axis=1)))
    return np.concatenate(found), alike, mirrored


def _own_scores(rows: ContrastRows) -> FloatArray:
    scores: FloatArray = centred_in_blocks(block_scores(rows)[rows.arms][:, None], rows.blocks)
    return scores[:, 0]


def _own_weights(rows: ContrastRows, nuisance: list[IntArray]) -> FloatArray:
    weights = next(contrast_weights(rows.arms[None, :], rows, nuisance))
    if not len(weights):
        raise ComparisonError(
            "in the layout cooked the arms cannot be told apart from the blocks or the factors "
            "adjusted for: leave out a factor, or compare arms that share its levels."
        )
    own: FloatArray = weights[0]
    return own


def _count_equivalent(rows: ContrastRows) -> tuple[int, int]:
    """How many within-block layouts give the observed contrast, or its opposite, for every y."""
    own = np.round(_own_scores(rows), 9) + 0.0
    alike, mirror = 1, not np.any(own[~rows.free])
    for at in rows.free_by_block():
        for weight in np.unique(own[at]):
            alike *= arrangement_count(rows.arms[at][own[at] == weight])
        mirror &= bool(np.array_equal(np.sort(own[at]), np.sort(-own[at])))
    return alike, alike if mirror else 0


def _swap_allowed(rows: ContrastRows) -> bool:
    """Whether exchanging the two arms everywhere is one of the within-block layouts."""
    return all(
        np.sum(rows.arms[at] == rows.first) == np.sum(rows.arms[at] == rows.second)
        for at in rows.free_by_block()
    )


def _resolution(n_layouts: int, alike: int, mirrored: int) -> Resolution:
    one_sided, two_sided = alike / n_layouts, (alike + mirrored) / n_layouts
    if n_layouts == 1:
        sentence = N_("This draw could give only one layout, so it can show nothing by itself.")
    else:
        reach = (
            N_("so no outcome can reach p = %(p)s", p=Digits("0.05"))
            if two_sided > 0.05
            else N_("so it can reach %(p)s", p=Digits("0.05"))
        )
        sentence = N_(
            "This draw could have given %(layouts)s layouts; the smallest two-sided p it can ever "
            "give is %(p)s (%(alike)s in %(layouts)s), %(reach)s.",
            layouts=_many(n_layouts),
            p=_shown(two_sided),
            alike=alike + mirrored,
            reach=reach,
        )
    return Resolution(n_layouts, one_sided, two_sided, sentence)


def _summarise(
    tried: FloatArray,
    observed: float,
    resolution: Resolution,
    *,
    response_size: float,
    exact: bool,
    level: float,
    shift_is_free: bool,
    lost: Lost,
) -> RandomisationTest:
    contrast = tried[:, 0]
    slack = _TIE_SHARE * float(np.max(np.abs(contrast))) + _ROUND_OFF * response_size
    reach = int(np.sum(np.abs(contrast) >= abs(observed) - slack))
    above = int(np.sum(contrast >= observed - slack))
    below = int(np.sum(contrast <= observed + slack))
    # With random layouts the one cooked counts as one more draw, so that p holds its level.
    extra = 0 if exact else 1
    n = len(tried) + extra
    if shift_is_free:
        interval = _shift_interval(tried, observed, level, extra)
        note = _interval_note(interval, level, resolution.n_layouts)
    else:
        interval = None
        note = "No interval: with every arm re-drawn the test is not about a shift of one arm."
    return RandomisationTest(
        estimate=observed,
        exact=exact,
        n_tried=len(tried),
        count_two_sided=reach,
        count_greater=above,
        count_less=below,
        p_two_sided=(reach + extra) / n,
        p_greater=(above + extra) / n,
        p_less=(below + extra) / n,
        resolution=resolution,
        interval=interval,
        interval_note=note,
        level=level,
        n_used=int(lost.used.sum()),
        n_missing=lost.n_missing,
        n_partnerless=lost.n_partnerless,
    )


def _shift_interval(
    tried: FloatArray, observed: float, level: float, extra: int
) -> tuple[float, float] | None:
    """The shifts that the two-sided test does not reject, or None if they never end.

    With u = d − observed, a layout of contrasts (a, b) reaches the shifted observed one where
    |c − u·b| ≥ |u|, c = a − observed·b. For |b| < 1 that is the stretch between c/(1+b) and
    −c/(1−b), which holds 0; so p falls away from 0 on both sides, and each end of the interval is
    an order statistic of the stretches' ends. Other layouts are counted at every shift, which can
    only widen the interval.
    """
    b = tried[:, 1]
    c = tried[:, 0] - observed * b
    bounded = 1.0 - np.abs(b) > _TIE_SHARE
    ends = np.stack([c[bounded] / (1 + b[bounded]), -c[bounded] / (1 - b[bounded])])
    n = len(tried) + extra
    always = n - int(bounded.sum())
    rank = math.floor((1.0 - level) * n + 1e-9) - always
    if rank < 0:
        return None
    low = np.partition(ends.min(axis=0), rank)[rank]
    high = np.partition(-ends.max(axis=0), rank)[rank]
    return observed + float(low), observed - float(high)


def _interval_note(interval: tuple[float, float] | None, level: float, n_layouts: int) -> str:
    if interval is None:
        return (
            f"No finite {level:.0%} interval exists: with {n_layouts:,} layouts the draw alone "
            "cannot rule out any size of difference at that level."
        )
    return (
        f"The interval contains the true difference in at least {level:.0%} of all draws if the "
        "second arm shifts every piece by the same amount, however the pieces scatter."
    )


def _shown(p: float) -> Message:
    if p < 1e-6:
        return N_("less than %(p)s", p=Digits("0.000001"))
    return alone(Digits(np.format_float_positional(p, precision=3, fractional=False, trim="-")))


def _many(count: int) -> int | Message:
    if count < 10**9:
        return count
    digits = str(count)
    number = Digits(f"{digits[0]}.{digits[1]}")
    return N_("about %(number)s × 10^%(power)s", number=number, power=len(digits) - 1)
