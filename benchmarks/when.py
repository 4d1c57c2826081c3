"""Does a plan at 90 % hold on days that it was not made from; and the scatter fitted anew."""

import importlib.util
import time
from pathlib import Path
from types import ModuleType

import numpy as np

from benchmarks.left_out import foretold
from fairsmoke.answers.when import plan_day
from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.schedule import WhenPlan
from fairsmoke.planning.day.simulated_days import DayPiece, days, widened_pieces
from fairsmoke.planning.day.time_errors import FROM_LOGS, NO_MORE, Miss, TimeLogSd, fitted

TRUE_DAYS, TRUE_SEEDS = 200, 5
# The simulator's own draws of a bare shoulder at 121 °C: 8.7 to 15.2 h in the middle 80 %.
_OWN_SD = 0.22


def _made_up_days() -> ModuleType:
    """Return the days that the tests plan for; another package is called ``tests`` too."""
    path = Path(__file__).parents[1] / "tests" / "planning" / "when_days.py"
    spec = importlib.util.spec_from_file_location("when_days", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def measure() -> dict[str, float]:
    """Return ready shares by scatter and start, seconds a plan takes, and the fitted scatter."""
    found: dict[str, float] = {}
    made_up = _made_up_days()
    for name, scatter in (("logs", FROM_LOGS), ("none", NO_MORE)):
        for together in (False, True):
            drawn = widened_pieces(made_up.shoulders_drawn(400, 1), scatter, 1)
            plan = plan_when(drawn, DayConstraints(together=together))
            shares = [
                _ready(plan, scatter, made_up.shoulders_drawn(TRUE_DAYS, seed), seed)
                for seed in range(2, 2 + TRUE_SEEDS)
            ]
            start = "together" if together else "own_times"
            found[f"when_ready_{name}_{start}_least"] = min(shares)
            found[f"when_ready_{name}_{start}_mean"] = float(np.mean(shares))
            found[f"when_ready_{name}_{start}_most"] = max(shares)
    begin = time.perf_counter()
    plan_day(made_up.shoulders_day(400))
    found["when_plan_two_pieces_400_draws_s"] = time.perf_counter() - begin
    scatter = scatter_of_logs()
    found["when_scatter_shared"], found["when_scatter_own"] = (
        scatter.between_pits,
        scatter.within_pit,
    )
    return found


def _ready(plan: WhenPlan, scatter: TimeLogSd, drawn: tuple[DayPiece, ...], seed: int) -> float:
    true = widened_pieces(drawn, scatter, seed)
    begun = days(true, [one.on_s for one in plan.pieces], plan.asked.minutes)
    ready = [
        one.open_s - own[:, -1] - plan.asked.minutes.pull_s >= one.hold_shortest_s
        for one, own in zip(plan.pieces, begun, strict=True)
    ]
    return float(np.mean(np.all(ready, axis=0)))


def scatter_of_logs() -> TimeLogSd:
    """Fit the scatter to printed times of use "fit", each source foretold from the others.

    Times held apart are not looked at: how wide plans are is no choice to make in their sight.
    """
    return fitted(
        [
            Miss(one.source, float(off), _OWN_SD)
            for one in foretold()
            if one.kind == "time"
            for off in one.off
        ]
    )
