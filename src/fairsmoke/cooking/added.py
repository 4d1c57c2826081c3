"""Fat laid on or in with a piece: the heat it takes, and where it and the rendered fat end."""

from fairsmoke.cooking.cells import SOLIDS, temperature
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.cook_record import FAT_ADDED, FAT_AWAY, HEAT_OUT_J, POOL_FAT
from fairsmoke.cooking.stages import ROW
from fairsmoke.cooking.stepping import FAT, HEAT, WATER, Room, Shape
from fairsmoke.cooking.surface import look_up
from fairsmoke.cooking.tables import H_F
from fairsmoke.physics.ranges import FloatArray

# The outer part of the cells on each side that warms the fat: about 6 mm of a brisket.
_OUTER = 6
_HALVINGS = 50


@kernel
def lay_fat(
    table: FloatArray,
    shape: Shape,
    row: FloatArray,
    fat_c: float,
    state: FloatArray,
    room: Room,
    result: FloatArray,
) -> None:
    """Lay a stage's added fat on the piece and let it take its heat from the outer cells.

    Fat at `fat_c` comes to one temperature with the outer sixth of the cells above and below at
    once, melting as it goes; they all change by the same number of kelvin. From then on the fat is
    kept in the wrap (POOL_FAT) and its heat is no longer followed. Heat taken counts as carried
    out of the piece.
    """
    mass = row[ROW.adds_fat_kg]
    if mass <= 0.0:
        return
    cells = state.shape[2]
    outer = max(1, cells // _OUTER)
    holds, warmth = 0.0, 0.0
    for c in range(shape.plan_m2.size):
        for i in range(cells):
            if outer <= i < cells - outer:
                continue
            temp, capacity = temperature(
                table,
                state[HEAT, c, i],
                shape.fixed[c, SOLIDS, i],
                state[WATER, c, i],
                state[FAT, c, i],
                room.works[1, c, 0, i],
            )
            holds += shape.plan_m2[c] * capacity
            warmth += shape.plan_m2[c] * capacity * temp
    mean_c = warmth / holds
    before = look_up(table, fat_c, H_F)[0]
    # Heat given by the meat rises with the fall, heat taken by the fat falls: they meet once.
    low, high = min(0.0, mean_c - fat_c), max(0.0, mean_c - fat_c)
    for _ in range(_HALVINGS):
        fall = 0.5 * (low + high)
        if fall * holds < mass * (look_up(table, mean_c - fall, H_F)[0] - before):
            low = fall
        else:
            high = fall
    fall = 0.5 * (low + high)
    for c in range(shape.plan_m2.size):
        for i in range(cells):
            if outer <= i < cells - outer:
                continue
            capacity = temperature(
                table,
                state[HEAT, c, i],
                shape.fixed[c, SOLIDS, i],
                state[WATER, c, i],
                state[FAT, c, i],
                room.works[1, c, 0, i],
            )[1]
            given = capacity * fall
            state[HEAT, c, i] -= given
            result[HEAT_OUT_J] += shape.plan_m2[c] * given
    result[FAT_ADDED] += mass
    result[POOL_FAT] += mass


@kernel
def keep_fat(row: FloatArray, area_m2: float, result: FloatArray) -> None:
    """Let fat that the wrap cannot keep run away; a bare piece keeps none."""
    over = result[POOL_FAT] - row[ROW.keeps_kg_m2] * area_m2
    if over > 0.0:
        result[POOL_FAT] -= over
        result[FAT_AWAY] += over


__all__ = ["keep_fat", "lay_fat"]
