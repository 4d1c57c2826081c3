"""Which method is worth trying: what is asked, and the answer, as plain data."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.sweep import Sweep, Swept
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.methods.contrasts import KnobWorth, Turn, settling, worth_of
from fairsmoke.planning.methods.pareto import SURE, Front, check_sure, front_of, shortlist
from fairsmoke.planning.methods.space import (
    GOALS,
    USUAL_GOALS,
    Limit,
    Space,
    Way,
    allowed_by,
    goal_draws,
    limits_of,
)
from fairsmoke.planning.size.how_many import Means
from fairsmoke.trial.question import Measure

LISTED = 8


@dataclass(frozen=True)
class Asked:
    """What is to be looked at: the sweep, and what its protocols stand for.

    The first `len(ways)` protocols of the sweep are the design; `base_at` is the number of the base
    and `places` those of the methods before and after each turn; `all_ways` are all of them.
    """

    title: str
    sweep: Sweep
    space: Space
    ways: tuple[Way, ...]
    base: Way
    base_at: int
    turns: tuple[Turn, ...]
    places: tuple[tuple[int, int], ...]
    all_ways: tuple[Way, ...]


@dataclass(frozen=True, eq=False)
class Tried:
    """The whole answer. `listed` are numbers of methods of the design, the first to look at."""

    asked: Asked
    found: Swept
    goals: tuple[str, ...]
    limits: tuple[Limit, ...]
    front: Front
    listed: tuple[int, ...]
    worth: tuple[KnobWorth, ...]
    measures: tuple[Measure, ...]
    currency: str = ""


def check_goals(goals: Sequence[str], sure: float = SURE) -> None:
    """Refuse goals and how sure to be before anybody waits. Raises PlanError."""
    if not goals or len(set(goals)) != len(goals):
        raise PlanError("name at least one goal, and each once")
    for goal in goals:
        if goal not in GOALS:
            raise PlanError(f"there is no goal '{goal}'; one of {', '.join(GOALS)}")
    check_sure(sure)


def tell_of(
    asked: Asked,
    found: Swept,
    measures: Sequence[Measure],
    means: Means,
    goals: Sequence[str] = USUAL_GOALS,
    sure: float = SURE,
    listed: int = LISTED,
) -> Tried:
    """Work out the front and the worth of knobs from a finished sweep.

    Raises PlanError for goals or measures that are not known, or a sweep that is not finished.
    """
    if not found.complete:
        raise PlanError("not every method is cooked yet; the same command goes on")
    check_goals(goals, sure)
    limits = limits_of(found)
    allowed = allowed_by(limits)
    count = len(asked.ways)
    draws = goal_draws(found, goals)[:count]
    for goal, one in zip(goals, np.moveaxis(draws, 2, 0), strict=True):
        if not np.isfinite(one).any():
            raise PlanError(f"goal '{goal}': this piece has none of it; leave it out of --goals")
    steps = [GOALS[goal].step for goal in goals]
    front = front_of(draws, allowed[:count], sure, steps)
    took = found.value("cook_s")[asked.base_at]
    if not np.isfinite(took).any():
        raise PlanError("the base method never comes to its end; give it a hotter pit")
    tables = [settling(measure, means, float(np.nanmedian(took))) for measure in measures]
    return Tried(
        asked,
        found,
        tuple(goals),
        limits,
        front,
        tuple(shortlist(front.middle, front.front & ~front.ruled_out, listed)),
        worth_of(found, asked.turns, asked.places, allowed.tolist(), tables),
        tuple(measures),
        means.prices.currency,
    )
