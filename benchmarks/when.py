"""Does a plan at 90 % hold on days that it was not made from; and the scatter fitted anew."""

import importlib.util
import time
from pathlib import Path
from types import ModuleType

import numpy as np

from fairsmoke.answers.when import plan_day
from fairsmoke.cooking import DEFAULT, run_ensemble
from fairsmoke.cooking.calibrate import error_table
from fairsmoke.cooking.experiments import library
from fairsmoke.cooking.experiments.curves import LoggedCurve, scored
from fairsmoke.cooking.logged_cooks import piece_of, protocol_of
from fairsmoke.planning.day.back_plan import plan_when
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.schedule import WhenPlan
from fairsmoke.planning.day.simulated_days import DayPiece, days, widened_pieces
from fairsmoke.planning.day.time_errors import FROM_LOGS, NO_MORE, Miss, TimeLogSd, fitted
from fairsmoke.trial.protocol import EndCondition, Protocol

TRUE_DAYS, TRUE_SEEDS = 200, 5
# The 5 to 95 % interval of a normal distribution is 2 × 1.645 standard deviations wide.
_WIDE = 3.29
_UNKNOWN_SD = 0.15
_LOG_DRAWS, _LONGEST = 60, 4.0


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
    """Fit the scatter to the times that the model's constants were fitted to.

    Printed times not refuted, and logged cooks to their last reading in the pit as set. Times held
    apart are not looked at: how wide plans are is no choice to make in their sight.
    """
    table = error_table(DEFAULT)
    posts = {source.key for source in library() if source.many_kitchens}
    misses = []
    for check in table.checks:
        if check.measure not in ("time_s", "time_to_wrap_s") or check.use != "fit":
            continue
        if check.source in table.refuted or not np.isfinite(check.model):
            continue
        known = np.isfinite(check.low) and np.isfinite(check.high)
        own = float(np.log(check.high / check.low)) / _WIDE if known else _UNKNOWN_SD
        kitchen = f"{check.source} {check.case}" if check.source in posts else check.source
        misses.append(Miss(kitchen, float(np.log(check.model / check.measured)), own))
    return fitted(misses + [_logged(curve) for curve in scored("fit")])


def _logged(curve: LoggedCurve) -> Miss:
    """Return how far a logged cook's last reading was off for a cook of whom no more is known."""
    last = curve.seconds[-1]
    stages = list(protocol_of(curve).stages)
    ends = (EndCondition(core_c=curve.core_c[-1]), EndCondition(elapsed_s=_LONGEST * last))
    stages[-1] = stages[-1].model_copy(update={"ends": ends})
    cooks = run_ensemble(piece_of(curve), Protocol(stages=tuple(stages)), members=_LOG_DRAWS)
    low, middle, high = np.log(np.nanquantile(cooks.end_s, [0.16, 0.5, 0.84]))
    return Miss(curve.source, float(middle - np.log(last)), float(high - low) / 2.0)
