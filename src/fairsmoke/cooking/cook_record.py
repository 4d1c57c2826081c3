"""What a cook writes down: totals, times, samples; and the liquid kept in a wrap."""

from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.cells import (
    DRAWN_TOP,
    FAT_OUT,
    IN_TOP,
    JUICE_TOP,
    OUT_HEAT,
    STEAM,
    TEMP,
    VAPOUR_TOP,
)
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.stages import ROW
from fairsmoke.cooking.stepping import Room, Shape
from fairsmoke.physics.ranges import FloatArray

# Places in the totals of a cook: kg unless said. RENDERED is fat out of the piece, wherever it
# went; it and FAT_ADDED together are in the wrap now (POOL_FAT) or have run away (FAT_AWAY).
# ADDED is liquid only.
EVAPORATED, DRIPPED, RENDERED, POOL, HEAT_IN_J, HEAT_OUT_J, DENATURED_J, ADDED, POOL_FAT = range(9)
FAT_ADDED, FAT_AWAY = 9, 10
RESULT = 11
# Places in a sample besides the probes' temperatures: surface above and below, air, totals.
EXTRA = 3 + 4


class Book(NamedTuple):
    """What a cook writes down, filled in place.

    `result` totals (the names above); `stage_end_s`; `mark_c` and `mark_s` (NaN if the core never
    got there); `sample_s` and `samples` (times × probes + EXTRA); `other` the hottest skin, time
    of the core between 4 and 60 °C, steps taken and refused, core and time at the end.
    """

    result: FloatArray
    stage_end_s: FloatArray
    mark_c: FloatArray
    mark_s: FloatArray
    sample_s: FloatArray
    samples: FloatArray
    other: FloatArray


PEAK_C, GROWTH_S, STEPS, REFUSED, CORE_C, END_S = range(6)
OTHER = 6


def make_book(stages: int, marks_c: FloatArray, sample_s: FloatArray, probes: int) -> Book:
    """Return an empty book for so many stages, marks of the core, sample times and probes."""
    return Book(
        np.zeros(RESULT),
        np.full(stages, np.nan),
        marks_c,
        np.full(marks_c.size, np.nan),
        sample_s,
        np.full((sample_s.size, probes + EXTRA), np.nan),
        np.zeros(OTHER),
    )


@kernel
def tally(
    shape: Shape,
    totals: FloatArray,
    row: FloatArray,
    area_m2: float,
    dt_s: float,
    result: FloatArray,
) -> float:
    """Add a step's boundary totals to the cook's; return the vapour given off (kg)."""
    vapour, liquid = 0.0, 0.0
    for c in range(shape.plan_m2.size):
        plan = shape.plan_m2[c]
        for s in range(2):
            off = plan * totals[c, VAPOUR_TOP + s]
            vapour += off
            liquid += plan * (totals[c, JUICE_TOP + s] + totals[c, DRAWN_TOP + s]) - off
            result[HEAT_IN_J] += plan * totals[c, IN_TOP + s]
        vapour += plan * totals[c, STEAM]
        result[HEAT_OUT_J] += plan * totals[c, OUT_HEAT]
        rendered = plan * totals[c, FAT_OUT]
        result[RENDERED] += rendered
        result[POOL_FAT] += rendered
    wetted = 0.5 * area_m2 * dt_s * row[ROW.wetting_kg_m2s]
    liquid += wetted
    result[ADDED] += wetted
    result[EVAPORATED] += vapour
    keeps = row[ROW.keeps_kg_m2] * area_m2
    if keeps > 0.0:
        result[POOL] += liquid
        over = result[POOL] - keeps
        if over > 0.0:
            result[POOL] -= over
            result[DRIPPED] += over
    else:
        result[DRIPPED] += liquid
    return vapour


@kernel
def mean_pool(pool_kg: float, supply_kg_s: float, loss_per_s: float, dt: float) -> float:
    """Return the mean of the liquid in a wrap over a step, fed steadily and lost in proportion."""
    if loss_per_s * dt < 1e-6:
        return pool_kg + 0.5 * supply_kg_s * dt
    level = supply_kg_s / loss_per_s
    share = (1.0 - np.exp(-loss_per_s * dt)) / (loss_per_s * dt)
    return float(level + (pool_kg - level) * share)


@kernel
def learn_pool(
    shape: Shape,
    par: FloatArray,
    totals: FloatArray,
    dt: float,
    pool_kg: float,
    pooled: FloatArray,
) -> None:
    """Set how fast liquid came to the wrap (kg/s) and what share of it went (1/s) in a step."""
    came, net = 0.0, 0.0
    for c in range(shape.plan_m2.size):
        for s in range(2):
            juice, off = totals[c, JUICE_TOP + s], totals[c, VAPOUR_TOP + s]
            stays = juice * (1.0 - par[PAR.juice_falls])
            came += shape.plan_m2[c] * (juice - min(off, stays)) / dt
            net += shape.plan_m2[c] * (juice + totals[c, DRAWN_TOP + s] - off) / dt
    pooled[0] = max(came, 0.0)
    pooled[1] = max(came - net, 0.0) / pool_kg if pool_kg > 0.0 else 0.0


@kernel
def write_down(
    book: Book,
    probes: FloatArray,
    room: Room,
    t: float,
    dt: float,
    air_c: float,
    before: FloatArray,
    sample: int,
) -> int:
    """Fill the samples that fall into a step, straight between its ends; return the next one."""
    while sample < book.sample_s.size and book.sample_s[sample] <= t + dt:
        share = (book.sample_s[sample] - t) / dt
        count = probes.shape[0]
        for k in range(count):
            c, i = int(probes[k, 0]), int(probes[k, 1])
            old, now = room.works[0, c, TEMP, i], room.works[1, c, TEMP, i]
            book.samples[sample, k] = old + share * (now - old)
        column = int(probes[0, 0])
        book.samples[sample, count] = room.guesses[column, 0, 0]
        book.samples[sample, count + 1] = room.guesses[column, 1, 0]
        book.samples[sample, count + 2] = air_c
        for m in range(4):
            book.samples[sample, count + 3 + m] = before[m] + share * (book.result[m] - before[m])
        sample += 1
    return sample


@kernel
def mark(book: Book, core_c: float, now_c: float, near_c: float, t: float, dt: float) -> None:
    """Write down when the core first came to within `near_c` of each marked temperature."""
    for k in range(book.mark_c.size):
        if np.isnan(book.mark_s[k]) and now_c >= book.mark_c[k] - near_c:
            share = 0.0
            if now_c > core_c:
                share = min(1.0, max(0.0, (book.mark_c[k] - core_c) / (now_c - core_c)))
            book.mark_s[k] = t + dt * share
