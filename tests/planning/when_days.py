"""Days to plan for: made-up draws, and the invented kitchen's shoulders in the simulator."""

from functools import cache

import numpy as np

from fairsmoke.answers.when import day_pieces
from fairsmoke.cooking import (
    ArmToCook,
    MeasuredPiece,
    PieceToCook,
    SideBySide,
    prepare,
    run_side_by_side,
)
from fairsmoke.demo.scenario import SHOULDERS, TRIAL
from fairsmoke.planning.day.day_plan import Day, OnTheDay
from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import run_of
from fairsmoke.trial.clock import parse_instant, time_zone
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage, Wrap

HOUR_S = 3600.0
ZONE = time_zone("Europe/London")


def protocol(hold_h: float = 2.0, wrapped: bool = True) -> Protocol:
    """Two stages in the cooker and a hold."""
    paper = Wrap(above="paper", below="paper") if wrapped else Wrap()
    return Protocol(
        stages=(
            Stage(id="smoke", name="Smoke", surround_c=121.0, ends=(EndCondition(core_c=71.0),)),
            Stage(
                id="finish",
                name="Finish",
                surround_c=121.0,
                wrap=paper,
                ends=(EndCondition(core_c=93.0),),
            ),
            Stage(
                id="hold",
                name="Hold",
                place=Place.CABINET,
                surround_c=66.0,
                ends=(EndCondition(elapsed_s=hold_h * HOUR_S),),
            ),
        )
    )


def piece(
    name: str,
    smoke_h: float,
    finish_h: float,
    *,
    members: int = 400,
    spread: float = 0.1,
    cooker: str = "barrel",
    arm: str = "paper",
    seed: int = 1,
) -> DayPiece:
    """A piece with lognormal draws of its two stages."""
    normal = np.random.default_rng([seed, len(name), ord(name[-1])]).standard_normal((members, 2))
    lasts = np.array([smoke_h, finish_h]) * HOUR_S * np.exp(spread * normal)
    return DayPiece(name, name, arm, arm.title(), cooker, "", run_of(protocol()), lasts)


def shoulders_day(draws: int, seed: int = 1, count: int = 2) -> Day:
    """The invented hall's first shoulders as a day to plan."""
    arms = tuple(ArmToCook(a.id, a.name, TRIAL.protocol_of(a.id)) for a in TRIAL.arms)
    rows = SHOULDERS[:count]
    pieces = tuple(
        PieceToCook(
            row.handle,
            row.name,
            MeasuredPiece(
                "pork shoulder",
                row.trimmed_kg,
                row.long_cm / 100,
                row.wide_cm / 100,
                row.thick_cm / 100,
                None,
                row.cap_mm / 1000,
            ),
        )
        for row in rows
    )
    who = tuple(OnTheDay(row.handle, row.arm, "The barrel", row.side) for row in rows)
    sides = SideBySide(TRIAL.title, arms, pieces, draws, seed, False)
    return Day(sides, who, parse_instant("2026-05-03 13:00", ZONE), ZONE, True)


@cache
def shoulders_drawn(draws: int, seed: int) -> tuple[DayPiece, ...]:
    """The shoulders cooked in the simulator, not widened."""
    day = shoulders_day(draws, seed)
    found = prepare(day.sides)
    run_side_by_side(found)
    return day_pieces(day, found)
