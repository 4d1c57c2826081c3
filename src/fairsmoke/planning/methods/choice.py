"""Which method is worth trying: what is asked, and the answer, as plain data."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.sweep import Sweep, Swept
from fairsmoke.messages.message import N_, InputField, Listed, Words
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.methods.contrasts import Contrast, ContrastWorth, settling, worth_of
from fairsmoke.planning.methods.pareto import SURE, ParetoFront, check_sure, pareto_front, shortlist
from fairsmoke.planning.methods.space import (
    GOALS,
    USUAL_GOALS,
    DesignSpace,
    LimitKept,
    MethodSettings,
    allowed_by,
    goal_draws,
    limits_of,
)
from fairsmoke.planning.size.how_many import Means
from fairsmoke.trial.question import Measure

LISTED = 8


@dataclass(frozen=True)
class MethodSweep:
    """What is to be looked at: the sweep, and what its protocols stand for.

    The first `len(methods)` protocols of the sweep are the design; `base_at` is the number of the
    base and `places` those of the methods before and after each contrast.
    """

    title: Words
    sweep: Sweep
    space: DesignSpace
    methods: tuple[MethodSettings, ...]
    base: MethodSettings
    base_at: int
    contrasts: tuple[Contrast, ...]
    places: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class MethodsAnswer:
    """The whole answer. `listed` are numbers of methods of the design, the first to look at."""

    asked: MethodSweep
    found: Swept
    goals: tuple[str, ...]
    limits: tuple[LimitKept, ...]
    front: ParetoFront
    listed: tuple[int, ...]
    worth: tuple[ContrastWorth, ...]
    measures: tuple[Measure, ...]
    currency: str = ""


def check_goals(goals: Sequence[str], sure: float = SURE) -> None:
    """Refuse goals and how sure to be before anybody waits. Raises PlanError."""
    if not goals or len(set(goals)) != len(goals):
        raise PlanError(N_("name at least one goal, and each once"), field="goals")
    for goal in goals:
        if goal not in GOALS:
            message = N_(
                "there is no goal '%(goal)s'; one of %(known)s",
                goal=goal,
                known=Listed(list(GOALS)),
            )
            raise PlanError(message, field="goals")
    check_sure(sure)


def answer_of(
    asked: MethodSweep,
    found: Swept,
    measures: Sequence[Measure],
    means: Means,
    goals: Sequence[str] = USUAL_GOALS,
    sure: float = SURE,
    listed: int = LISTED,
) -> MethodsAnswer:
    """Work out the front and the worth of factors from a finished sweep.

    Raises PlanError for goals or measures that are not known, or a sweep that is not finished.
    """
    if not found.complete:
        raise PlanError(N_("not every method is cooked yet; the same command goes on"))
    check_goals(goals, sure)
    limits = limits_of(found)
    allowed = allowed_by(limits)
    count = len(asked.methods)
    draws = goal_draws(found, goals)[:count]
    for goal, one in zip(goals, np.moveaxis(draws, 2, 0), strict=True):
        if not np.isfinite(one).any():
            message = N_(
                "goal '%(goal)s': this piece has none of it; leave it out of %(field)s",
                goal=goal,
                field=InputField("goals"),
            )
            raise PlanError(message, field="goals")
    steps = [GOALS[goal].step for goal in goals]
    front = pareto_front(draws, allowed[:count], sure, steps)
    took = found.value("cook_s")[asked.base_at]
    if not np.isfinite(took).any():
        raise PlanError(N_("the base method never comes to its end; give it a hotter pit"))
    tables = [settling(measure, means, float(np.nanmedian(took))) for measure in measures]
    return MethodsAnswer(
        asked,
        found,
        tuple(goals),
        limits,
        front,
        tuple(shortlist(front.middle, front.front & ~front.ruled_out, listed)),
        worth_of(found, asked.contrasts, asked.places, allowed.tolist(), tables),
        tuple(measures),
        means.prices.currency,
    )
