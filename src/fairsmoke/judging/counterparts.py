"""The classical counterparts that stand beside the model's answer, each with what it rests on."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fairsmoke.design.errors import DesignError
from fairsmoke.design.even_layouts import EvenBlock, EvenLayouts, tied
from fairsmoke.judging.anytime import e_values
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import ClassicalResult, Interval
from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, RandomisationTest, randomisation_test
from fairsmoke.judging.scaling import Scaling
from fairsmoke.judging.small_sample_df import reml_arm_difference
from fairsmoke.judging.who_got_what import EvenDraw
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Listed, Message, Words, in_a_row
from fairsmoke.quantity.values import Number

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

RANDOMISATION = "re-randomisation"
PAIRED = "paired t"
REML = "mixed model (REML)"
ANYTIME = "looking often (e-value)"

LEVEL = 0.95

MOST_EVEN_LISTED = 200_000


@dataclass(frozen=True, eq=False)
class Comparable:
    """What is needed to compare two arms: values as the model takes them, and who got what.

    ``values`` (n,), NaN where missing; ``arm`` (n,) numbers; ``blocks`` (n,) those within which
    arms were drawn; ``factors`` by name (n,); ``drawn`` whether chance gave the arms; ``even``
    the draw where only layouts even over the positions were allowed, None where all were;
    ``whole`` (n,) the cooks, where arms were given to whole cooks; ``censored`` (n,) the values of
    which only a bound is known.
    """

    values: FloatArray
    arm: IntArray
    blocks: IntArray
    factors: Mapping[str, IntArray]
    drawn: bool
    even: EvenDraw | None = None
    whole: IntArray | None = None
    censored: NDArray[np.bool_] | None = None

    def any_censored(self, *arms: int) -> bool:
        """Tell whether of a piece of these arms only a bound is known."""
        return self.censored is not None and bool(np.any(self.censored & np.isin(self.arm, arms)))


def counterparts(
    data: Comparable, base: int, arm: int, scaling: Scaling, scale: float
) -> list[ClassicalResult]:
    """Return the classical answers to arm less base, each in the measure's own size.

    ``scale`` is the sd of a pair's difference as believed before the data, in the model's size.
    """
    if data.any_censored(base, arm):
        why = N_(
            "Not worked out: a piece never showed its time, and to leave it out would favour the "
            "method that held it back."
        )
        return [ClassicalResult(name, None, None, why) for name in (RANDOMISATION, PAIRED, ANYTIME)]
    found = [
        _re_randomised(data, base, arm, scaling),
        _paired(data, base, arm, scaling),
    ]
    found.append(_anytime(data, base, arm, scale))
    if _calls_for_reml(data):
        found.append(_mixed(data, base, arm, scaling))
    return found


def block_differences(data: Comparable, base: int, arm: int) -> FloatArray:
    """Return, for every block that holds both arms, the mean of the one less that of the other.

    In the model's size; NaN for a block that lost all values of one arm; blocks that never held
    both arms do not appear.
    """
    differences: list[float] = []
    for block in np.unique(data.blocks):
        first = data.values[(data.blocks == block) & (data.arm == base)]
        second = data.values[(data.blocks == block) & (data.arm == arm)]
        if first.size and second.size:
            both = not (np.isnan(first).all() or np.isnan(second).all())
            differences.append(float(np.nanmean(second) - np.nanmean(first)) if both else np.nan)
    return np.array(differences)


def only_pair(data: Comparable, base: int, arm: int) -> tuple[int, int] | None:
    """Return the piece of the arm and that of the base when each has one value, in one block."""
    if data.any_censored(base, arm):
        return None
    known = ~np.isnan(data.values)
    first, second = (np.flatnonzero(known & (data.arm == which)) for which in (arm, base))
    if first.size != 1 or second.size != 1:
        return None
    pair = int(first[0]), int(second[0])
    return pair if data.blocks[pair[0]] == data.blocks[pair[1]] else None


def _repeated(data: Comparable, base: int, arm: int) -> bool:
    """Tell whether some block holds an arm more than once, so that it is no pair."""
    return any(
        int(np.sum((data.blocks == block) & (data.arm == which))) > 1
        for block in np.unique(data.blocks)
        for which in (base, arm)
    )


_WHOLE = N_("Arms were given to whole cooks, so the pieces make no pairs.")


def _out(scaling: Scaling, value: float, low: float, high: float) -> Interval:
    out = scaling.difference_out
    return Interval(out(value), out(low), out(high), LEVEL)


def _re_randomised(data: Comparable, base: int, arm: int, scaling: Scaling) -> ClassicalResult:
    if not data.drawn:
        return ClassicalResult(
            RANDOMISATION,
            None,
            None,
            N_("Nobody drew by chance which piece got which arm, so no such test is justified."),
        )
    try:
        found = _tested(data, base, arm)
    except (ComparisonError, DesignError) as error:
        return ClassicalResult(RANDOMISATION, None, None, _impossible(error))
    interval = None
    if found.interval is not None:
        interval = _out(scaling, found.estimate, *found.interval)
    sentence = in_a_row([found.sentence, found.resolution.sentence])
    return ClassicalResult(RANDOMISATION, interval, found.p_two_sided, sentence)


def _impossible(error: InputError) -> Message:
    return N_("Not possible: %(why)s", why=error.message)


_FACTORS: dict[str, Words] = {
    "cook": N_("cook"),
    "animal": N_("animal"),
    "parent": N_("whole piece"),
    "position": N_("position"),
    "piece": N_("piece"),
}


def _tested(data: Comparable, base: int, arm: int) -> RandomisationTest:
    """Re-draw the arms in every way in which they could have been drawn.

    Pieces still to come were drawn together with those cooked and keep the arm they were given.
    Raises ComparisonError when even layouts are too many to list.
    """
    if data.whole is not None:
        draw = RandomAllocation(
            np.zeros_like(data.arm), whole_cook_layouts(data.arm, data.whole, base, arm)
        )
        return randomisation_test(data.values, data.arm, draw, first=base, second=arm, level=LEVEL)
    if data.even is None:
        draw = RandomAllocation(data.blocks)
        return randomisation_test(data.values, data.arm, draw, first=base, second=arm, level=LEVEL)
    even = data.even
    values = np.concatenate([data.values, np.full(len(even.arm) - len(data.values), np.nan)])
    draw = RandomAllocation(even.blocks, _even_layouts(even))
    return randomisation_test(values, even.arm, draw, first=base, second=arm, level=LEVEL)


def whole_cook_layouts(arm: IntArray, cook: IntArray, first: int, second: int) -> IntArray:
    """Return every layout (k, n) in which as many whole cooks have each of the two arms.

    Raises ComparisonError when a cook held two arms, or the layouts are too many to list.
    """
    cooks = np.unique(cook)
    own = [np.unique(arm[cook == one]) for one in cooks]
    if any(len(arms) > 1 for arms in own):
        raise ComparisonError("arms were given to whole cooks, but a cook held two of them.")
    moved = [at for at, arms in enumerate(own) if arms[0] in (first, second)]
    if len({own[at][0] for at in moved}) < 2:
        raise ComparisonError("one of the arms has no cook of its own.")
    of_second = sum(int(own[at][0] == second) for at in moved)
    count = math.comb(len(moved), of_second)
    if count > MOST_EVEN_LISTED:
        raise ComparisonError(f"the draw could have given {count:,} layouts, too many to try each.")
    layouts = np.empty((count, len(arm)), dtype=np.intp)
    for row, chosen in enumerate(combinations(moved, of_second)):
        given = np.array([int(arms[0]) for arms in own])
        given[moved] = first
        given[list(chosen)] = second
        layouts[row] = given[np.searchsorted(cooks, cook)]
    return layouts


def _even_layouts(even: EvenDraw) -> IntArray:
    at = [np.flatnonzero(even.blocks == block) for block in np.unique(even.blocks)]
    blocks = [
        EvenBlock(tuple(map(int, even.places[rows])), tuple(sorted(map(int, even.arm[rows]))))
        for rows in at
    ]
    every = EvenLayouts(blocks, int(even.arm.max()) + 1, int(even.places.max()) + 1)
    if every.count > MOST_EVEN_LISTED:
        raise ComparisonError(
            N_(
                "the draw could have given %(count)s even layouts, too many to try each.",
                count=every.count,
            )
        )
    rows = np.array([[one for row in rows for one in row] for rows in every.every()], dtype=np.intp)
    free = ~tied(rows, blocks, int(even.arm.max()) + 1)
    # A layout in which arms were tied to places would have been drawn again.
    rows = rows[free] if bool(free.any()) else rows
    layouts = np.empty_like(rows)
    layouts[:, np.concatenate(at)] = rows
    return layouts


def _paired(data: Comparable, base: int, arm: int, scaling: Scaling) -> ClassicalResult:
    if data.whole is not None:
        return ClassicalResult(PAIRED, None, None, _WHOLE)
    differences = block_differences(data, base, arm)
    if not np.any(~np.isnan(differences)):
        return ClassicalResult(
            PAIRED, None, None, N_("No block held both arms, so there are no pairs to compare.")
        )
    if _repeated(data, base, arm):
        return ClassicalResult(
            PAIRED,
            None,
            None,
            N_("Arms were repeated within a block, so the pieces make no pairs."),
        )
    found = paired_comparison(differences, level=LEVEL)
    interval = None
    if found.interval is not None:
        interval = _out(scaling, found.mean, *found.interval)
    return ClassicalResult(PAIRED, interval, found.p, found.sentence)


def _anytime(data: Comparable, base: int, arm: int, scale: float) -> ClassicalResult:
    """Return the test that holds however often one looked, where arms were drawn within pairs."""
    if not data.drawn or data.whole is not None or _repeated(data, base, arm):
        return ClassicalResult(
            ANYTIME,
            None,
            None,
            N_("Arms were not drawn within pairs, so no such test is justified."),
        )
    each = block_differences(data, base, arm)
    each = each[~np.isnan(each)]
    if not each.size:
        return ClassicalResult(ANYTIME, None, None, N_("No block held both arms."))
    last = float(e_values(each, scale)[-1])
    return ClassicalResult(
        ANYTIME,
        None,
        min(1.0, 1.0 / last),
        N_(
            "e = %(e)s: without any difference it ever reaches 20 in at most 5 of 100 trials, "
            "however often one looks.",
            e=Number(last, 2 if last < 10.0 else 0),
        ),
    )


def _calls_for_reml(data: Comparable) -> bool:
    """Tell whether plain pairs do not already say it all: an arm missing or twice in a block."""
    kept = ~np.isnan(data.values)
    return data.whole is not None or any(
        int(np.sum(kept & (data.blocks == block) & (data.arm == arm))) != 1
        for block in np.unique(data.blocks)
        for arm in np.unique(data.arm)
    )


def _mixed(data: Comparable, base: int, arm: int, scaling: Scaling) -> ClassicalResult:
    kept = ~np.isnan(data.values)
    usable = {
        name: labels
        for name, labels in data.factors.items()
        if 1 < np.unique(labels[kept]).size < int(kept.sum())
    }
    try:
        found = reml_arm_difference(
            data.values, data.arm, usable, first=base, second=arm, level=LEVEL
        )
    except (ComparisonError, DesignError) as error:
        return ClassicalResult(REML, None, None, _impossible(error))
    d = found.difference
    random = Listed([_FACTORS.get(one, one) for one in usable]) if usable else N_("pieces only")
    fitted = N_(
        "Random %(factors)s; Kenward–Roger with %(df)s degrees of freedom.",
        factors=random,
        df=Number(d.df),
    )
    zero = Listed([_FACTORS.get(one, one) for one in found.fit.boundary])
    nought = N_("The spread of %(factors)s came out as nought.", factors=zero)
    sentence = in_a_row([fitted, nought if zero.items else ""])
    return ClassicalResult(REML, _out(scaling, d.estimate, *d.interval), d.p, sentence)
