"""The classical counterparts that stand beside the model's answer, each with what it rests on."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.design.errors import DesignError
from fairsmoke.design.even_layouts import EvenBlock, EvenLayouts, tied
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import ClassicalResult, Interval
from fairsmoke.judging.modelling import Scaling
from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import Draw, RandomisationTest, randomisation_test
from fairsmoke.judging.small_sample_df import reml_arm_difference
from fairsmoke.judging.who_got_what import EvenDraw

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

RANDOMISATION = "re-randomisation"
PAIRED = "paired t"
REML = "mixed model (REML)"

LEVEL = 0.95

MOST_EVEN_LISTED = 200_000


@dataclass(frozen=True, eq=False)
class Comparable:
    """What is needed to compare two arms: values as the model takes them, and who got what.

    ``values`` (n,), NaN where missing; ``arm`` (n,) numbers; ``blocks`` (n,) those within which
    arms were drawn; ``factors`` by name (n,); ``drawn`` whether chance gave the arms; ``even``
    the draw where only layouts even over the positions were allowed, None where all were.
    """

    values: FloatArray
    arm: IntArray
    blocks: IntArray
    factors: Mapping[str, IntArray]
    drawn: bool
    even: EvenDraw | None = None


def counterparts(data: Comparable, base: int, arm: int, scaling: Scaling) -> list[ClassicalResult]:
    """Return the classical answers to arm less base, each in the measure's own size."""
    found = [
        _re_randomised(data, base, arm, scaling),
        _paired(data, base, arm, scaling),
    ]
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


def _out(scaling: Scaling, value: float, low: float, high: float) -> Interval:
    out = scaling.difference_out
    return Interval(out(value), out(low), out(high), LEVEL)


def _re_randomised(data: Comparable, base: int, arm: int, scaling: Scaling) -> ClassicalResult:
    if not data.drawn:
        return ClassicalResult(
            RANDOMISATION,
            None,
            None,
            "Nobody drew by chance which piece got which arm, so no such test is justified.",
        )
    try:
        found = _tested(data, base, arm)
    except (ComparisonError, DesignError) as error:
        return ClassicalResult(RANDOMISATION, None, None, f"Not possible: {error}")
    interval = None
    if found.interval is not None:
        interval = _out(scaling, found.estimate, *found.interval)
    sentence = f"{found.sentence} {found.resolution.sentence}"
    return ClassicalResult(RANDOMISATION, interval, found.p_two_sided, sentence)


def _tested(data: Comparable, base: int, arm: int) -> RandomisationTest:
    """Re-draw the arms in every way in which they could have been drawn.

    Pieces still to come were drawn together with those cooked and keep the arm they were given.
    Raises ComparisonError when even layouts are too many to list.
    """
    if data.even is None:
        draw = Draw(data.blocks)
        return randomisation_test(data.values, data.arm, draw, first=base, second=arm, level=LEVEL)
    even = data.even
    values = np.concatenate([data.values, np.full(len(even.arm) - len(data.values), np.nan)])
    draw = Draw(even.blocks, _even_layouts(even))
    return randomisation_test(values, even.arm, draw, first=base, second=arm, level=LEVEL)


def _even_layouts(even: EvenDraw) -> IntArray:
    at = [np.flatnonzero(even.blocks == block) for block in np.unique(even.blocks)]
    blocks = [
        EvenBlock(tuple(map(int, even.places[rows])), tuple(sorted(map(int, even.arm[rows]))))
        for rows in at
    ]
    every = EvenLayouts(blocks, int(even.arm.max()) + 1, int(even.places.max()) + 1)
    if every.count > MOST_EVEN_LISTED:
        raise ComparisonError(
            f"the draw could have given {every.count:,} even layouts, too many to try each."
        )
    rows = np.array([[one for row in rows for one in row] for rows in every.every()], dtype=np.intp)
    free = ~tied(rows, blocks, int(even.arm.max()) + 1)
    # A layout in which arms were tied to places would have been drawn again.
    rows = rows[free] if bool(free.any()) else rows
    layouts = np.empty_like(rows)
    layouts[:, np.concatenate(at)] = rows
    return layouts


def _paired(data: Comparable, base: int, arm: int, scaling: Scaling) -> ClassicalResult:
    differences = block_differences(data, base, arm)
    if not np.any(~np.isnan(differences)):
        return ClassicalResult(
            PAIRED, None, None, "No block held both arms, so there are no pairs to compare."
        )
    if _repeated(data, base, arm):
        return ClassicalResult(
            PAIRED, None, None, "Arms were repeated within a block, so the pieces make no pairs."
        )
    found = paired_comparison(differences, level=LEVEL)
    interval = None
    if found.interval is not None:
        interval = _out(scaling, found.mean, *found.interval)
    return ClassicalResult(PAIRED, interval, found.p, found.sentence)


def _calls_for_reml(data: Comparable) -> bool:
    """Tell whether plain pairs do not already say it all: an arm missing or twice in a block."""
    kept = ~np.isnan(data.values)
    return any(
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
        return ClassicalResult(REML, None, None, f"Not possible: {error}")
    d = found.difference
    zero = ", ".join(found.fit.boundary)
    note = f" The spread of {zero} came out as nought." if zero else ""
    sentence = (
        f"Random {', '.join(usable) or 'pieces only'}; Kenward–Roger with {d.df:.1f} degrees of "
        f"freedom.{note}"
    )
    return ClassicalResult(REML, _out(scaling, d.estimate, *d.interval), d.p, sentence)
