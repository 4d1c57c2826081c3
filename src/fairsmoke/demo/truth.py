"""What the invented shoulders really did, drawn from a seed: the answer that the trial looks for.

All figures are invented for the demo; none is a finding about pork.
"""

from dataclasses import dataclass

import numpy as np

from fairsmoke.demo.scenario import (
    NIGHTS,
    PAPER,
    PULL_MARK_C,
    RIGHT,
    SHOULDERS,
    SMOKE_LIMIT_S,
    Shoulder,
)

YIELD_BARE = 0.585
PAPER_YIELD = 0.030
RIGHT_YIELD = -0.008
PIECE_SPREAD_YIELD = 0.017
COOK_SPREAD_YIELD = 0.008

HOURS_BARE = 13.4
PAPER_HOURS = -1.0
RIGHT_HOURS = -0.45
PIECE_SPREAD_HOURS = 0.45
COOK_SPREAD_HOURS = 0.3
STALL_SHARE = 0.56
"""Share of an unwrapped cook after which the core reaches the end of the smoke stage."""

TENDERNESS_SCORE = 6.8
BARK_SCORE = 7.4
PAPER_BARK = -1.2
PIECE_SPREAD_SCORE = 0.3

REFERENCE_KG = 4.05


@dataclass(frozen=True)
class Truth:
    """What one shoulder did; masses in kg, times in s after it went on."""

    cooked_kg: float
    held_kg: float
    hold_drippings_kg: float
    clinging_fat_kg: float
    fresh_wrap_kg: float
    paper_drippings_kg: float
    at_stall_s: float
    wrapped_s: float
    pulled_s: float
    final_c: float
    tenderness: float
    bark: float


def draw_truth(seed: int) -> dict[str, Truth]:
    """Return what each shoulder does under that seed, by the id of the piece."""
    rng = np.random.default_rng([seed, 1])
    cook_yield = dict(zip(NIGHTS, rng.normal(0.0, COOK_SPREAD_YIELD, len(NIGHTS)), strict=True))
    cook_hours = dict(zip(NIGHTS, rng.normal(0.0, COOK_SPREAD_HOURS, len(NIGHTS)), strict=True))
    by_handle = {night.handle: night for night in NIGHTS}
    return {
        row.handle: _draw_piece(
            row, cook_yield[by_handle[row.cook]], cook_hours[by_handle[row.cook]], rng
        )
        for row in SHOULDERS
    }


def _draw_piece(
    row: Shoulder, cook_yield: float, cook_hours: float, rng: np.random.Generator
) -> Truth:
    paper, right = row.arm == PAPER, row.side == RIGHT
    share = YIELD_BARE + PAPER_YIELD * paper + RIGHT_YIELD * right + cook_yield
    cooked = row.trimmed_kg * (share + rng.normal(0.0, PIECE_SPREAD_YIELD))
    # A piece twice as heavy is not twice as thick, so time grows slower than mass.
    hours = HOURS_BARE * (row.trimmed_kg / REFERENCE_KG) ** 0.6 + RIGHT_HOURS * right
    hours += cook_hours + rng.normal(0.0, PIECE_SPREAD_HOURS)
    at_stall = min(STALL_SHARE * hours * 3600.0, SMOKE_LIMIT_S)
    hold_loss = rng.uniform(0.020, 0.034)
    probe_tender = rng.random() < 0.4
    return Truth(
        cooked_kg=cooked,
        held_kg=cooked * (1.0 - hold_loss),
        hold_drippings_kg=cooked * hold_loss * rng.uniform(0.80, 0.92),
        clinging_fat_kg=rng.uniform(0.026, 0.058) if paper else rng.uniform(0.008, 0.022),
        fresh_wrap_kg=rng.uniform(0.060, 0.068) if paper else 0.0,
        paper_drippings_kg=rng.uniform(0.070, 0.120) if paper else 0.0,
        at_stall_s=at_stall,
        wrapped_s=at_stall + rng.uniform(120.0, 480.0),
        pulled_s=(hours + PAPER_HOURS * paper) * 3600.0,
        final_c=rng.uniform(91.8, 93.6) if probe_tender else PULL_MARK_C,
        tenderness=TENDERNESS_SCORE + rng.normal(0.0, PIECE_SPREAD_SCORE),
        bark=BARK_SCORE + PAPER_BARK * paper + rng.normal(0.0, PIECE_SPREAD_SCORE),
    )
