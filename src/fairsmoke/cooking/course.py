"""A whole cook, compiled: stages, air, liquid in the wrap, steps that fit, what is written down."""

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
    temperature,
)
from fairsmoke.cooking.changes import CHANGES, follow
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.stepping import STATE, Room, Shape, step
from fairsmoke.cooking.surface import SIDE, SIDE_LENGTH, look_up
from fairsmoke.cooking.tables import VAPOUR_PA
from fairsmoke.physics.air import CP_DRY_AIR_J_KGK, VAPOUR_TO_AIR
from fairsmoke.physics.ranges import FloatArray


class StageRow(NamedTuple):
    """Places in the vector of one stage."""

    air_c: int = 0
    ramp_s: int = 1
    measured: int = 2
    wall_above_k: int = 3
    wall_below_k: int = 4
    convection_above: int = 5
    convection_below: int = 6
    emissivity_above: int = 7
    emissivity_below: int = 8
    resistance_above: int = 9
    resistance_below: int = 10
    gap_above: int = 11
    gap_below: int = 12
    wet_above: int = 13
    wet_below: int = 14
    keeps_kg_m2: int = 15
    ratio: int = 16
    exchange_kg_s: int = 17
    end_core_c: int = 18
    end_elapsed_s: int = 19
    end_clock_s: int = 20
    adds_liquid_kg: int = 21
    adds_fat_kg: int = 22
    pours: int = 23
    wetting_kg_m2s: int = 24
    bias_k: int = 25


ROW = StageRow()
STAGE_LENGTH = 26

# Places in the totals of a cook: kg unless said.
EVAPORATED, DRIPPED, RENDERED, POOL, HEAT_IN_J, HEAT_OUT_J, DENATURED_J, ADDED, POOL_FAT = range(9)
RESULT = 9
# Places in a sample besides the probes' temperatures: surface above and below, air, totals.
EXTRA = 3 + 4

OK, TOO_MANY_STEPS, NO_STEP, NEVER_ENDS = 0, 1, 2, 3

# A surface counts as all under liquid once this much is kept on it; below, in proportion.
_FULL_KG_M2 = 0.10
_NEAR_C = 0.01
_SHORTEST_S = 1e-4


class Book(NamedTuple):
    """What a cook writes down, filled in place.

    `result` totals (see the names above); `stage_end_s`; `mark_c` and `mark_s` (NaN if never
    reached); `sample_s` and `samples` (times × probes + EXTRA); `peak_c` highest of any cell;
    `growth_s` time of the core between 4 and 60 °C; `counts` steps taken and refused.
    """

    result: FloatArray
    stage_end_s: FloatArray
    mark_c: FloatArray
    mark_s: FloatArray
    sample_s: FloatArray
    samples: FloatArray
    other: FloatArray


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


PEAK_C, GROWTH_S, STEPS, REFUSED, CORE_C, END_S = range(6)
OTHER = 6


@kernel
def mean_air(
    row: FloatArray, past: FloatArray, start_s: float, from_c: float, t: float, dt: float
) -> float:
    """Return the mean air temperature of a step: exact for a set point's approach or a record.

    `past` is a measured record as rows of time, temperature and its integral so far.
    """
    if row[ROW.measured] > 0.0:
        return row[ROW.bias_k] + (_integral(past, t + dt) - _integral(past, t)) / dt
    ramp, aim = row[ROW.ramp_s], row[ROW.air_c] + row[ROW.bias_k]
    if ramp <= 0.0:
        return aim
    left = np.exp(-(t - start_s) / ramp) * (1.0 - np.exp(-dt / ramp)) * ramp / dt
    return aim + (from_c - aim) * left


@kernel
def lid_falls(row: FloatArray, lids: FloatArray, t: float, dt: float) -> float:
    """Return by how much opened lids lower the mean air temperature of a step.

    A measured pit history has them in it already.
    """
    fall = 0.0
    if row[ROW.measured] > 0.0 or row[ROW.exchange_kg_s] <= 0.0:
        return fall
    for k in range(lids.shape[0]):
        since, depth, recover = t - lids[k, 0], lids[k, 1], lids[k, 2]
        if since + dt > 0.0:
            left = np.exp(-max(since, 0.0) / recover) - np.exp(-(since + dt) / recover)
            fall += depth * left * recover / dt
    return fall


@kernel
def _integral(past: FloatArray, t: float) -> float:
    last = past.shape[1] - 1
    if t <= past[0, 0]:
        return past[1, 0] * (t - past[0, 0])
    if t >= past[0, last]:
        return past[2, last] + past[1, last] * (t - past[0, last])
    low, high = 0, last
    while high - low > 1:
        middle = (low + high) // 2
        if past[0, middle] <= t:
            low = middle
        else:
            high = middle
    gone = t - past[0, low]
    slope = (past[1, high] - past[1, low]) / (past[0, high] - past[0, low])
    return past[2, low] + gone * (past[1, low] + 0.5 * slope * gone)


@kernel
def core_temperature(
    core: FloatArray, cells: FloatArray, share: float, before: FloatArray
) -> float:
    """Return the coldest of the core's cells, `share` of the way from `before` to `cells`."""
    coldest = 1e9
    for k in range(core.shape[0]):
        c, i = int(core[k, 0]), int(core[k, 1])
        temp = before[c, TEMP, i] + share * (cells[c, TEMP, i] - before[c, TEMP, i])
        coldest = min(coldest, temp)
    return coldest


@kernel
def set_sides(
    row: FloatArray,
    air_c: float,
    ratio: float,
    pressure_pa: float,
    table: FloatArray,
    sides: FloatArray,
) -> None:
    """Set the conditions at both sides for a step. Air never holds more vapour than it can."""
    vapour = look_up(table, min(air_c, 199.0), VAPOUR_PA)[0]
    if vapour < 0.99 * pressure_pa:
        ratio = min(ratio, VAPOUR_TO_AIR * vapour / (pressure_pa - vapour))
    for s in range(2):
        sides[s, SIDE.convection_w_m2k] = row[ROW.convection_above + s]
        sides[s, SIDE.emissivity] = row[ROW.emissivity_above + s]
        sides[s, SIDE.wrap_resistance] = row[ROW.resistance_above + s]
        sides[s, SIDE.gap_share] = row[ROW.gap_above + s]
        sides[s, SIDE.air_c] = air_c
        sides[s, SIDE.wall_c] = air_c + row[ROW.wall_above_k + s]
        sides[s, SIDE.air_ratio] = ratio
        sides[s, SIDE.pressure_pa] = pressure_pa
    sides[0, SIDE.wetting_kg_m2s] = row[ROW.wetting_kg_m2s]


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
        result[RENDERED] += plan * totals[c, FAT_OUT]
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
    return level + (pool_kg - level) * (1.0 - np.exp(-loss_per_s * dt)) / (loss_per_s * dt)


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
def cook(
    table: FloatArray,
    par: FloatArray,
    shape: Shape,
    core: FloatArray,
    probes: FloatArray,
    stages: FloatArray,
    past: FloatArray,
    lids: FloatArray,
    site: FloatArray,
    control: FloatArray,
    state: FloatArray,
    changes: FloatArray,
    room: Room,
    book: Book,
) -> int:
    """Run one piece through all its stages; return OK or why not.

    `site`: air pressure (Pa), air temperature before the first stage (°C), latest end (s).
    `control`: tolerance of temperature (K) and of water (share of raw), longest step (s), most
    steps. `core` and `probes` list columns and cells. `state`, `changes`, `book` end filled in.
    """
    pressure, from_c, latest = site[0], site[1], site[2]
    area = 0.0
    for c in range(shape.plan_m2.size):
        area += 2.0 * shape.plan_m2[c]
    pooled = np.zeros(2)
    sides, liquid, before = np.zeros((2, SIDE_LENGTH)), np.zeros(2), np.zeros(RESULT)
    fill_temperatures(table, shape, state, room)
    t, dt, sample, flow = 0.0, 1.0, 0, 0.0
    ratio = stages[0, ROW.ratio]
    result, other = book.result, book.other
    for k in range(stages.shape[0]):
        row = stages[k]
        start = t
        if row[ROW.pours] > 0.0:
            result[DRIPPED] += result[POOL]
            result[POOL] = 0.0
        result[POOL] += row[ROW.adds_liquid_kg]
        result[ADDED] += row[ROW.adds_liquid_kg]
        core_c = core_temperature(core, room.works[1], 1.0, room.works[1])
        pooled[0], pooled[1] = 0.0, 0.0
        rising = core_c < row[ROW.end_core_c]
        end = min(start + row[ROW.end_elapsed_s], row[ROW.end_clock_s])
        dt = min(dt, 60.0)
        while t < end - _SHORTEST_S:
            if t >= latest:
                return NEVER_ENDS
            if other[STEPS] + other[REFUSED] >= control[3]:
                return TOO_MANY_STEPS
            # A stage's end is met exactly and without a sliver of a step before it.
            dt = min(dt, control[2], latest - t + 1.0)
            if t + dt > end:
                dt = end - t
            elif t + 1.5 * dt > end:
                dt = 0.5 * (end - t)
            air_c = mean_air(row, past, start, from_c, t, dt) - lid_falls(row, lids, t, dt)
            ratio = humid(row, table, pressure, air_c, ratio, flow, area)
            set_sides(row, air_c, ratio, pressure, table, sides)
            pool = mean_pool(result[POOL], pooled[0], pooled[1], dt)
            kept = min(1.0, pool / (_FULL_KG_M2 * area))
            liquid[0], liquid[1] = kept * row[ROW.wet_above], kept * row[ROW.wet_below]
            error = step(table, par, sides, liquid, shape, dt, state, room, control)
            if error > 1.0:
                other[REFUSED] += 1.0
                dt *= 0.25 if error >= 1e5 else max(0.2, 0.9 / np.sqrt(error))
                if dt < _SHORTEST_S:
                    return NO_STEP
                continue
            new_temperatures(table, shape, room)
            now_c = core_temperature(core, room.works[1], 1.0, room.works[1])
            aim = row[ROW.end_core_c]
            past_aim = now_c - aim if rising else aim - now_c
            if past_aim > _NEAR_C:
                # Land on the core temperature that ends the stage.
                other[REFUSED] += 1.0
                dt *= max(0.02, min(0.98, (aim - core_c) / (now_c - core_c)))
                if dt < _SHORTEST_S:
                    return NO_STEP
                continue
            for m in range(RESULT):
                before[m] = result[m]
            flow = tally(shape, room.totals[2], row, area, dt, result) / dt
            if result[POOL] < 0.0:
                # More liquid went than was there: the same again in a shorter step.
                for m in range(RESULT):
                    result[m] = before[m]
                other[REFUSED] += 1.0
                dt *= 0.5
                if dt < _SHORTEST_S:
                    return NO_STEP
                continue
            result[DENATURED_J] += follow(
                table,
                par,
                dt,
                shape.plan_m2,
                shape.fixed,
                room.works[0],
                room.works[1],
                changes,
                room.new[0],
            )
            learn_pool(shape, par, room.totals[2], dt, pool, pooled)
            keep_state(state, room)
            mark(book, core_c, now_c, t, dt)
            sample = write_down(book, probes, room, t, dt, air_c, before, sample)
            if core_c >= 4.0 and core_c < 60.0:
                other[GROWTH_S] += dt
            for c in range(shape.plan_m2.size):
                other[PEAK_C] = max(other[PEAK_C], room.guesses[c, 0, 0], room.guesses[c, 1, 0])
            other[STEPS] += 1.0
            t += dt
            core_c = now_c
            dt *= min(3.0, 0.9 / np.sqrt(max(error, 1e-4)))
            if past_aim > -_NEAR_C:
                break
        from_c = mean_air(row, past, start, from_c, t, 1e-3)
        book.stage_end_s[k] = t
        other[CORE_C], other[END_S] = core_c, t
    return OK


@kernel
def cook_many(
    first: int,
    last: int,
    table: FloatArray,
    pars: FloatArray,
    fixed: FloatArray,
    face: FloatArray,
    plan_m2: FloatArray,
    lateral_m: FloatArray,
    core: FloatArray,
    probes: FloatArray,
    stages: FloatArray,
    past: FloatArray,
    lids: FloatArray,
    site: FloatArray,
    control: FloatArray,
    start_c: float,
    states: FloatArray,
    changes: FloatArray,
    room: Room,
    result: FloatArray,
    stage_end_s: FloatArray,
    mark_c: FloatArray,
    mark_s: FloatArray,
    sample_s: FloatArray,
    samples: FloatArray,
    other: FloatArray,
    answers: FloatArray,
) -> None:
    """Run members `first` to `last` − 1 of an ensemble, each on its own slices, one after another.

    Nothing of one member is left for the next, so that numbers do not depend on who runs whom.
    """
    for m in range(first, last):
        for c in range(plan_m2.shape[1]):
            for s in range(2):
                room.guesses[c, s, 0], room.guesses[c, s, 1] = start_c, 0.0
            for i in range(fixed.shape[3]):
                room.works[0, c, TEMP, i] = start_c
                room.works[1, c, TEMP, i] = start_c
        book = Book(result[m], stage_end_s[m], mark_c, mark_s[m], sample_s, samples[m], other[m])
        answers[m] = cook(
            table,
            pars[m],
            Shape(fixed[m], face, plan_m2[m], lateral_m[m]),
            core,
            probes,
            stages[m],
            past,
            lids,
            site,
            control,
            states[m],
            changes[m],
            room,
            book,
        )


@kernel
def humid(
    row: FloatArray,
    table: FloatArray,
    pressure_pa: float,
    air_c: float,
    ratio: float,
    flow_kg_s: float,
    area_m2: float,
) -> float:
    """Return the humidity ratio of the air: what streams in, and the piece's own vapour in it.

    One damped Newton step towards the balance: more vapour in the air slows its own source.
    """
    fresh, through = row[ROW.ratio], row[ROW.exchange_kg_s]
    if through <= 0.0:
        return fresh
    slowed = area_m2 * row[ROW.convection_above] / CP_DRY_AIR_J_KGK / through
    return max(0.0, ratio + (fresh + flow_kg_s / through - ratio) / (1.0 + slowed))


@kernel
def fill_temperatures(table: FloatArray, shape: Shape, state: FloatArray, room: Room) -> None:
    """Set the temperatures at the start of a cook."""
    for layer in range(STATE):
        for c in range(state.shape[1]):
            for i in range(state.shape[2]):
                room.new[layer, c, i] = state[layer, c, i]
    new_temperatures(table, shape, room)


@kernel
def new_temperatures(table: FloatArray, shape: Shape, room: Room) -> None:
    """Set the temperatures of the new state."""
    for c in range(room.new.shape[1]):
        for i in range(room.new.shape[2]):
            room.works[1, c, TEMP, i] = temperature(
                table,
                room.new[0, c, i],
                shape.fixed[c, 0, i],
                room.new[1, c, i],
                room.new[2, c, i],
                room.works[1, c, TEMP, i],
            )[0]


@kernel
def keep_state(state: FloatArray, room: Room) -> None:
    """Take over the new state."""
    for layer in range(STATE):
        for c in range(state.shape[1]):
            for i in range(state.shape[2]):
                state[layer, c, i] = room.new[layer, c, i]


@kernel
def mark(book: Book, core_c: float, now_c: float, t: float, dt: float) -> None:
    """Write down when the core first reached each marked temperature."""
    for k in range(book.mark_c.size):
        if np.isnan(book.mark_s[k]) and now_c >= book.mark_c[k]:
            share = 0.0
            if now_c > core_c:
                share = max(0.0, (book.mark_c[k] - core_c) / (now_c - core_c))
            book.mark_s[k] = t + dt * share


__all__ = ["CHANGES", "OK", "ROW", "Book", "cook", "cook_many", "make_book"]
