"""When to light, put on, pull, hold, open and slice, so that all is ready at the serving time.

All times are seconds from the serving time, negative before it. The hold is the buffer: the meat
is put on so early that with the chosen certainty every piece has its shortest hold behind it when
it must be opened; what is ready sooner holds longer.
"""

from collections.abc import Sequence

import numpy as np

from fairsmoke.messages.message import N_
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.day.constraints import DayConstraints, hold_of
from fairsmoke.planning.day.one_pair_of_hands import Task, schedule
from fairsmoke.planning.day.schedule import (
    PiecePlan,
    PlannedStep,
    Reminder,
    TooSoonError,
    WhenPlan,
    held_of,
    time_interval,
)
from fairsmoke.planning.day.simulated_days import DayPiece, days
from fairsmoke.planning.day.steps import StepKind
from fairsmoke.planning.errors import PlanError
from fairsmoke.quantity.values import Duration

ROUND_S = 300.0


def plan_when(pieces: Sequence[DayPiece], asked: DayConstraints | None = None) -> WhenPlan:
    """Plan a day back from its serving time.

    `pieces` carry the draws of their stages, widened as real pits vary (`widened_pieces`).
    Raises TooSoonError when the fire would have had to be lit before `not_before_s`; PlanError for
    a hold that cannot be, no pieces, and draws of which too many never get there.
    """
    asked = asked or DayConstraints()
    if not pieces:
        raise PlanError(N_("There is no piece to plan for; give at least one."))
    _refuse_twice(pieces)
    holds = [hold_of(piece, asked) for piece in pieces]
    ends = _ends(pieces, asked)
    ready_by = np.array([ends[f"open {p.id}"] for p in pieces]) - np.array([h[0] for h in holds])
    on = _on_times(pieces, ready_by, asked)
    begun = days(pieces, on, asked.minutes)
    off = np.array([own[:, -1] for own in begun]) + asked.minutes.pull_s
    late = np.max(off - ready_by[:, None], axis=0)
    shift = float(np.quantile(late, asked.certainty, method="higher"))
    if not np.isfinite(shift):
        slow = _slowest(pieces)
        raise PlanError(
            N_(
                "More than %(days)s of 100 simulated days never get %(piece)s off (%(arm)s); give "
                "its stages a longest time, or hotter air.",
                days=round(100 * (1 - asked.certainty)),
                piece=slow.name,
                arm=slow.arm_name,
            )
        )
    # Whole minutes, and never later than what the certainty asks.
    shift = ROUND_S * float(np.ceil(shift / ROUND_S))
    on = [start - shift for start in on]
    begun = [own - shift for own in begun]
    plan = _told(pieces, asked, holds, ends, on, begun)
    _refuse_too_soon(plan)
    return plan


def _refuse_twice(pieces: Sequence[DayPiece]) -> None:
    handles = [piece.id for piece in pieces]
    for handle in handles:
        if handles.count(handle) > 1:
            raise PlanError(
                N_("Piece “%(piece)s” is in the day twice; take one out.", piece=handle)
            )


def _ends(pieces: Sequence[DayPiece], asked: DayConstraints) -> dict[str, float]:
    """Return when each piece is opened and sliced, by one pair of hands, all done at 0.

    Opened pieces rest as long as each other as far as hands allow.
    """
    minutes = asked.minutes
    tasks = []
    for k, piece in enumerate(pieces):
        cut = -(len(pieces) - k) * minutes.slice_s
        opened = cut - asked.rest_s - minutes.open_s
        tasks.append(Task(f"slice {piece.id}", cut, minutes.slice_s, latest_s=-minutes.slice_s))
        tasks.append(Task(f"open {piece.id}", opened, minutes.open_s, latest_s=opened, weight=2.0))
    return schedule(tasks)


def _on_times(
    pieces: Sequence[DayPiece], ready_by: FloatArray, asked: DayConstraints
) -> list[float]:
    """Return when pieces go on, before the shift that the certainty asks for."""
    middles = np.array([float(np.median(piece.run_s)) for piece in pieces])
    if not np.all(np.isfinite(middles)):
        worst = pieces[int(np.argmax(middles))]
        raise PlanError(
            N_(
                "%(piece)s (%(arm)s) never comes to its hold in half of the simulated days; give "
                "its stages a longest time, lower core temperatures, or hotter air.",
                piece=worst.name,
                arm=worst.arm_name,
            )
        )
    wanted = ready_by - middles
    if asked.together:
        wanted = np.full(len(pieces), float(np.min(wanted)))
    tasks = [
        Task(piece.id, float(start), asked.minutes.on_s)
        for piece, start in zip(pieces, wanted, strict=True)
    ]
    starts = schedule(tasks)
    return [60.0 * float(np.floor(starts[piece.id] / 60.0)) for piece in pieces]


def _told(
    pieces: Sequence[DayPiece],
    asked: DayConstraints,
    holds: Sequence[tuple[float, float]],
    ends: dict[str, float],
    on: Sequence[float],
    begun: Sequence[FloatArray],
) -> WhenPlan:
    lights = _lights(pieces, on, asked)
    planned = _free_of_each_other(pieces, asked, ends, on, begun, lights)
    told, ready, within = [], [], []
    for k, piece in enumerate(pieces):
        shortest, longest = holds[k]
        opened = ends[f"open {piece.id}"]
        held = held_of(opened, begun[k], asked)
        ready.append(held >= shortest - 1e-6)
        within.append(held <= longest)
        marks = tuple(
            PlannedStep(step, time_interval(begun[k][:, j]), planned[f"{piece.id} {j}"])
            for j, step in enumerate(piece.steps)
        )
        told.append(
            PiecePlan(
                piece,
                on[k],
                marks,
                shortest,
                longest,
                time_interval(np.maximum(held, 0.0)),
                opened,
                ends[f"slice {piece.id}"],
                float(np.mean(ready[-1])),
                float(np.mean(~within[-1])),
            )
        )
    all_ready, all_within = np.all(ready, axis=0), np.all(within, axis=0)
    reminders = [Reminder(StepKind.LIGHT, cooker, at) for cooker, at in lights.items()]
    reminders += [
        Reminder(kind, cooker, planned[f"{kind} {cooker} {at:.0f}"])
        for kind, cooker, at in _rounds(pieces, asked, lights, begun)
    ]
    return WhenPlan(
        asked,
        tuple(told),
        tuple(sorted(reminders, key=lambda one: one.at_s)),
        float(np.mean(all_ready)),
        float(np.mean(all_ready & all_within)),
        tuple(begun),
    )


def _lights(
    pieces: Sequence[DayPiece], on: Sequence[float], asked: DayConstraints
) -> dict[str, float]:
    """Return when each cooker is lit: hot when its first piece goes on, with hands free for it."""
    first: dict[str, float] = {}
    for piece, start in zip(pieces, on, strict=True):
        first[piece.cooker] = min(start, first.get(piece.cooker, np.inf))
    lasts = asked.minutes.on_s
    tasks = [
        Task(f"{piece.id} on", start, lasts, start, start)
        for piece, start in zip(pieces, on, strict=True)
    ]
    for cooker, start in first.items():
        at = start - asked.heat_up_s
        tasks.append(Task(f"{cooker} light", at, asked.minutes.light_s, latest_s=at))
    starts = schedule(tasks)
    return {cooker: starts[f"{cooker} light"] for cooker in first}


def _rounds(
    pieces: Sequence[DayPiece],
    asked: DayConstraints,
    lights: dict[str, float],
    begun: Sequence[FloatArray],
) -> list[tuple[StepKind, str, float]]:
    """Return every fuel and water reminder until half of the days have the last piece off."""
    found = []
    for cooker, lit in lights.items():
        mine = [k for k, piece in enumerate(pieces) if piece.cooker == cooker]
        last = max(float(np.median(begun[k][:, -1])) for k in mine)
        wet = any("water pan" in str(s.humidity) for k in mine for s in pieces[k].run.before)
        for kind, every in (
            (StepKind.FUEL, asked.fuel_every_s),
            (StepKind.WATER, asked.water_every_s if wet else 0.0),
        ):
            count = int((last - lit) // every) if every else 0
            found += [(kind, cooker, lit + (n + 1) * every) for n in range(count)]
    return found


def _free_of_each_other(
    pieces: Sequence[DayPiece],
    asked: DayConstraints,
    ends: dict[str, float],
    on: Sequence[float],
    begun: Sequence[FloatArray],
    lights: dict[str, float],
) -> dict[str, float]:
    """Return a start for every step of the day such that no two need hands at once.

    What is fixed stays (lighting, putting on, opening, slicing); marks move from the middle of
    their draws little, and reminders most easily.
    """
    minutes = asked.minutes
    fixed = [(f"light {cooker}", at, minutes.light_s) for cooker, at in lights.items()]
    fixed += [
        (f"{piece.id} 0", start, minutes.on_s) for piece, start in zip(pieces, on, strict=True)
    ]
    for piece in pieces:
        for kind in (StepKind.OPEN, StepKind.SLICE):
            fixed.append((f"{kind} {piece.id}", ends[f"{kind} {piece.id}"], minutes.of(kind)))
    tasks = [Task(name, at, lasts, at, at) for name, at, lasts in fixed]
    for k, piece in enumerate(pieces):
        for j, step in list(enumerate(piece.steps))[1:]:
            at = float(np.median(begun[k][:, j]))
            tasks.append(Task(f"{piece.id} {j}", at, minutes.of(step.kind)))
    for kind, cooker, at in _rounds(pieces, asked, lights, begun):
        tasks.append(Task(f"{kind} {cooker} {at:.0f}", at, minutes.of(kind), weight=0.1))
    return schedule(tasks)


def _slowest(pieces: Sequence[DayPiece]) -> DayPiece:
    return max(pieces, key=lambda one: float(np.mean(np.minimum(one.run_s, 1e7))))


def _refuse_too_soon(plan: WhenPlan) -> None:
    not_before = plan.asked.not_before_s
    if not_before is None or plan.first_s >= not_before:
        return
    later = ROUND_S * float(np.ceil((not_before - plan.first_s) / ROUND_S))
    slow = min(plan.pieces, key=lambda one: one.on_s)
    why = N_(
        "%(piece)s (%(arm)s) must be on %(before)s before its hold to be ready with %(sure)s %% "
        "certainty; half of the days it takes %(middle)s. To that come %(heat)s to heat the "
        "cooker, a hold of %(hold)s at the least, and %(ending)s to open, rest and slice.",
        piece=slow.piece.name,
        arm=slow.piece.arm_name,
        before=Duration(slow.open_s - slow.hold_shortest_s - slow.on_s, rough=True),
        sure=round(100 * plan.asked.certainty),
        middle=Duration(float(np.median(slow.piece.run_s)), rough=True),
        heat=Duration(plan.asked.heat_up_s, rough=True),
        hold=Duration(slow.hold_shortest_s, rough=True),
        ending=Duration(-slow.open_s, rough=True),
    )
    raise TooSoonError(why, later)
