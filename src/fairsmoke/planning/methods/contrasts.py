"""For the next trial: which factor makes how much difference, and how well that could be seen.

Each factor goes alone from one end of its range to the other, the rest as in a base method, and
each other kind of wrap or pan is put against the base's; all on the same draws. What the simulator
expects is then held against the noise of one pair and against the chance that n pairs settle it, by
judging's own rule. Only what a cook can measure is ranked: yield and time on the cooker. No rule
from dissolved collagen or dried crust to a shear force or a score is known here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fairsmoke.cooking.sweep import Swept
from fairsmoke.messages.message import N_
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.methods.space import FACTORS, DesignSpace, MethodSettings
from fairsmoke.planning.size.how_many import AIM, HowMany, Means, how_many
from fairsmoke.trial.question import TIMES, Measure, MeasureKind

VALUE_OF = {MeasureKind.YIELD: "yield", MeasureKind.COOK_TIME: "cook_s"}
"""Which of the sweep's values stands for a measure."""

_STEPS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 9.0, 14.0)
"""True differences, in worthwhile ones, at which chances are worked out; between them, lines."""


@dataclass(frozen=True)
class Contrast:
    """One factor changed: the method before and after, all else alike."""

    factor: str
    before: MethodSettings
    after: MethodSettings


def contrasts_of(space: DesignSpace, base: MethodSettings) -> tuple[Contrast, ...]:
    """Return every factor over its range, and every other kind against the base's.

    A factor without a range, or without effect in the base (when to wrap a bare cook), is left out.
    """
    found = []
    for factor in FACTORS:
        span = getattr(space, factor)
        if span.low == span.high or (factor == "wrap_at_c" and base.wrap == "bare"):
            continue
        before, after = (replace(base, **{factor: end}) for end in (span.low, span.high))
        found.append(Contrast(factor, before, after))
    others = [replace(base, wrap=wrap) for wrap in space.wraps if wrap != base.wrap]
    found += [Contrast("wrap", base, other) for other in others]
    found += [
        Contrast("pan", base, replace(base, pan=pan)) for pan in space.pans if pan != base.pan
    ]
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Detectability:
    """How well a contrast's difference in one measure could be seen.

    Attributes:
        measure: what is measured, with the worthwhile difference.
        difference: after less before, by draw; fraction or s.
        expected: mean of its size, whichever way it goes.
        by_chance: what one pair of pieces treated alike shows only once in twenty.
        chances: chance of a settled verdict with 1, 2, … pairs, averaged over the draws.
        costs: what so many pairs cost; None where nothing is priced.
        enough: first number of pairs with a chance of `AIM`, None if none looked at has it.

    """

    measure: Measure
    difference: FloatArray
    expected: float
    by_chance: float
    chances: tuple[float, ...]
    costs: tuple[float | None, ...]
    enough: int | None

    @property
    def ratio(self) -> float:
        """Expected difference over what chance alone shows once in twenty."""
        return self.expected / self.by_chance


@dataclass(frozen=True, eq=False)
class ContrastWorth:
    """A contrast with what it does to every value of the sweep, and how well it could be seen.

    `differences` by the sweep's names, after less before by draw; `seen` by kind of
    measure; `kept` whether both methods keep all limits: a contrast that does not is never ranked.
    """

    contrast: Contrast
    differences: dict[str, FloatArray]
    seen: dict[str, Detectability]
    kept: bool


def worth_of(
    found: Swept,
    contrasts: Sequence[Contrast],
    places: Sequence[tuple[int, int]],
    allowed: Sequence[bool],
    tables: Sequence[HowMany],
) -> tuple[ContrastWorth, ...]:
    """Return what each contrast is worth, in the order of `contrasts`.

    Args:
        found: a finished sweep.
        contrasts: what was changed; places: the numbers in the sweep of the methods before and
            after.
        allowed: by number in the sweep, whether a method keeps all limits.
        tables: how many pairs each measure takes, from `settling`.

    """
    values = {name: found.value(name) for name in found.column}
    worth = []
    for contrast, (before, after) in zip(contrasts, places, strict=True):
        change = {name: array[after] - array[before] for name, array in values.items()}
        seen = {
            str(table.measure.kind): _seen(table, change[VALUE_OF[table.measure.kind]])
            for table in tables
        }
        kept = bool(allowed[before] and allowed[after])
        worth.append(ContrastWorth(contrast, change, seen, kept))
    return tuple(worth)


def settling(measure: Measure, means: Means, usual_s: float) -> HowMany:
    """Return the table of how many pairs, at true differences from none to very large.

    `usual_s` is the base method's time on the cooker. Raises PlanError for a measure that the
    simulator does not give, or layouts other than pairs.
    """
    if measure.kind not in VALUE_OF:
        message = N_("the simulator gives yield and cook time, and nothing else to measure")
        raise PlanError(message)
    if means.block.pieces != 2:
        raise PlanError(N_("methods are compared by pairs: two arms, one piece of each"))
    truths = tuple(k * measure.worthwhile for k in _STEPS)
    usual = usual_s if measure.kind in TIMES else means.usual_time_s
    if measure.kind in TIMES:
        # Differences are ratios inside: the shorter time must stay above nothing.
        truths = tuple(t for t in truths if t < 0.9 * usual)
    return how_many(measure, replace(means, truths=truths, usual_time_s=usual))


def _seen(table: HowMany, difference: FloatArray) -> Detectability:
    sizes = np.abs(difference[np.isfinite(difference)])
    assert table.one_pair is not None
    if not sizes.size:
        nothing = (math.nan,) * len(table.rows)
        costs = tuple(row.cost for row in table.rows)
        nan = float("nan")
        return Detectability(
            table.measure, difference, nan, table.one_pair.rarely, nothing, costs, None
        )
    chances = []
    for row in table.rows:
        truths = [given.difference for given in row.given]
        settled = [given.chances.settled for given in row.given]
        chances.append(float(np.mean(np.interp(sizes, truths, settled))))
    return Detectability(
        measure=table.measure,
        difference=difference,
        expected=float(np.mean(sizes)),
        by_chance=table.one_pair.rarely,
        chances=tuple(chances),
        costs=tuple(row.cost for row in table.rows),
        enough=next(
            (row.blocks for row, c in zip(table.rows, chances, strict=True) if c >= AIM), None
        ),
    )


def ranked(worth: Sequence[ContrastWorth], measure: str) -> list[ContrastWorth]:
    """Return the contrasts whose methods keep the limits, the best seen in a measure first.

    One that makes no difference at all, as the hold does to the time on the cooker, is left out.
    """
    may = [one for one in worth if one.kept and one.seen[measure].ratio > 0.0]
    return sorted(may, key=lambda one: -one.seen[measure].ratio)
