"""A whole cook, compiled: stages, air, liquid in the wrap, steps that fit, what is written down."""

import numpy as np

from fairsmoke.cooking.added import keep_fat, lay_fat
from fairsmoke.cooking.cells import TEMP, temperature
from fairsmoke.cooking.changes import follow
from fairsmoke.cooking.compiled import kernel, making_kernel
from fairsmoke.cooking.cook_record import (
    ADDED,
    CORE_C,
    DENATURED_J,
    DRIPPED,
    END_S,
    FAT_AWAY,
    GROWTH_S,
    PEAK_C,
    POOL,
    POOL_FAT,
    REFUSED,
    RESULT,
    STEPS,
    Book,
    learn_pool,
    mark,
    mean_pool,
    tally,
    write_down,
)
from fairsmoke.cooking.stages import ROW, humid, lid_falls, mean_air, set_sides
from fairsmoke.cooking.stepping import STATE, Room, Shape, step
from fairsmoke.cooking.surface import SIDE_LENGTH
from fairsmoke.physics.ranges import FloatArray

OK, TOO_MANY_STEPS, NO_STEP, NEVER_ENDS = 0, 1, 2, 3

# A surface counts as all under liquid once this much is kept on it; below, in proportion.
_FULL_KG_M2 = 0.10
_NEAR_C = 0.01
_SHORTEST_S = 1e-4


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


@making_kernel
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
    sides, liquid, before = np.zeros((3, SIDE_LENGTH)), np.zeros(2), np.zeros(RESULT)
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
            result[FAT_AWAY] += result[POOL_FAT]
            result[POOL_FAT] = 0.0
        if row[ROW.adds_fat_kg] > 0.0:
            lay_fat(table, shape, row, site[1], state, room, result)
            fill_temperatures(table, shape, state, room)
        result[POOL] += row[ROW.adds_liquid_kg]
        result[ADDED] += row[ROW.adds_liquid_kg]
        if k == 0 and row[ROW.preheated] > 0.0:
            from_c = row[ROW.air_c] + row[ROW.bias_k]
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
            set_sides(row, air_c, ratio, pressure, table, result[POOL_FAT] / area, sides)
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
            keep_fat(row, area, result)
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
            # The core that ends a stage is met within _NEAR_C: that counts as reached.
            mark(book, core_c, now_c, _NEAR_C if past_aim > -_NEAR_C else 0.0, t, dt)
            sample = write_down(book, probes, room, t, dt, air_c, before, sample)
            if core_c >= 4.0 and core_c < 60.0:
                other[GROWTH_S] += dt
            for c in range(shape.plan_m2.size):
                # Temperatures lie highest at the skin, cells there are the hottest.
                last = room.works.shape[3] - 1
                skin = max(room.works[1, c, TEMP, 0], room.works[1, c, TEMP, last])
                other[PEAK_C] = max(other[PEAK_C], skin)
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


@making_kernel
def cook_many(
    first: int,
    last: int,
    table: FloatArray,
    pars: FloatArray,
    fixed: FloatArray,
    face: FloatArray,
    plan_m2: FloatArray,
    lateral_m: FloatArray,
    rim: FloatArray,
    rim_half_m: FloatArray,
    across: int,
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
            for s in range(room.guesses.shape[1]):
                room.guesses[c, s, 0], room.guesses[c, s, 1] = start_c, 0.0
            for i in range(fixed.shape[3]):
                room.works[0, c, TEMP, i] = start_c
                room.works[1, c, TEMP, i] = start_c
        book = Book(result[m], stage_end_s[m], mark_c, mark_s[m], sample_s, samples[m], other[m])
        answers[m] = cook(
            table,
            pars[m],
            Shape(fixed[m], face, plan_m2[m], lateral_m[m], rim, rim_half_m, across),
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
