"""What the start of a day rests on: how much later the fire is lit without each assumption."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.schedule import WhenPlan
from fairsmoke.planning.day.simulated_days import DayPiece, widened_pieces
from fairsmoke.planning.day.time_errors import NO_MORE, TimeLogSd
from fairsmoke.planning.errors import PlanError

NIGHT_ENDS = 4
"""Nobody is sent to light a fire before this hour of the serving day without a word about it."""
EVEN_CHANCE = 0.5
HOUR_S = 3600.0

Assumption = Literal["variation", "certainty", "hold", "rest", "heat up"]


@dataclass(frozen=True)
class StartEffect:
    """How much later the first fire would be lit (s) without one assumption."""

    assumption: Assumption
    later_s: float


@dataclass(frozen=True)
class NightFire:
    """What a fire in the night buys.

    ``ready_hour_later``: the chance that all is ready in time when everything is begun an hour
    later and served as asked; ``later_s``: how much later serving would have to be for a fire at
    the end of the night.
    """

    ready_hour_later: float
    later_s: float


def start_effects(
    raw: Sequence[DayPiece], asked: DayConstraints, log_sd: TimeLogSd, seed: int, plan: WhenPlan
) -> tuple[StartEffect, ...]:
    """Return what each assumption costs at the beginning of the day, the dearest first."""
    free = replace(asked, not_before_s=None)
    found = []
    for assumption, other, spread in _without(free, log_sd):
        try:
            made = plan_when(widened_pieces(raw, spread, seed), other)
        except PlanError:
            # A shortest hold of nothing can be above a longest that the person gave: no figure.
            continue
        found.append(StartEffect(assumption, made.first_s - plan.first_s))
    return tuple(sorted(found, key=lambda one: -one.later_s))


def _without(
    asked: DayConstraints, log_sd: TimeLogSd
) -> Iterator[tuple[Assumption, DayConstraints, TimeLogSd]]:
    if log_sd != NO_MORE:
        yield "variation", asked, NO_MORE
    if asked.certainty > EVEN_CHANCE:
        yield "certainty", replace(asked, certainty=EVEN_CHANCE), log_sd
    if asked.hold_shortest_s != 0.0:
        yield "hold", replace(asked, hold_shortest_s=0.0), log_sd
    if asked.rest_s > 0.0:
        yield "rest", replace(asked, rest_s=0.0), log_sd
    if asked.heat_up_s > 0.0:
        yield "heat up", replace(asked, heat_up_s=0.0), log_sd


def night_fire(plan: WhenPlan, serve: datetime, zone: ZoneInfo) -> NightFire | None:
    """Return what is to be said of a fire lit before the night ends; None for any other."""
    lit = serve + timedelta(seconds=plan.first_s)
    local = serve.astimezone(zone)
    ends = local.replace(hour=NIGHT_ENDS, minute=0, second=0, microsecond=0)
    later_s = (ends - lit).total_seconds()
    if later_s <= 0.0 or ends > local:
        return None
    shortest = np.array([one.hold_shortest_s for one in plan.pieces])[:, None]
    ready = np.all(plan.held_s - HOUR_S >= shortest - 1e-6, axis=0)
    return NightFire(float(np.mean(ready)), later_s)
