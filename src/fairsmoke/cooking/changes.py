"""What heat does to protein, collagen and organisms in every cell, followed along with a step."""

import numpy as np

from fairsmoke.cooking.cells import SOLIDS, TEMP
from fairsmoke.cooking.compiled import kernel
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.surface import look_up
from fairsmoke.cooking.tables import ACTIN, DISSOLVES, LETHAL_A, LETHAL_B, MYOSIN, OPENS
from fairsmoke.physics import kinetics
from fairsmoke.physics.ranges import FloatArray

# Layers of the record per cell: native collagen, opened collagen, native myosin, native actin (as
# shares of what the raw cell had), log reductions of two organisms.
NATIVE, OPENED, MYOSIN_LEFT, ACTIN_LEFT, LOG_A, LOG_B = 0, 1, 2, 3, 4, 5
CHANGES = 6

_ENDED = 1e-9
_SMALL = 1e-12
_MYOSIN_J, _ACTIN_J = kinetics.MYOSIN.heat_j_kg, kinetics.ACTIN.heat_j_kg
_COLLAGEN_J = kinetics.COLLAGEN_OPENS.heat_j_kg


@kernel
def _falls(left: float, exponent: float) -> float:
    if left < _ENDED or exponent < _SMALL:
        return left
    return float(left * np.exp(-exponent))


@kernel
def follow(
    table: FloatArray,
    par: FloatArray,
    dt_s: float,
    plan_m2: FloatArray,
    fixed: FloatArray,
    start_c: FloatArray,
    end_c: FloatArray,
    changes: FloatArray,
    heat: FloatArray,
) -> float:
    """Advance the record through a step; return the heat (J) that denaturing took from the cells.

    Rates at the mean temperature of the step (midpoint rule); log reductions by Simpson's rule.
    """
    taken_j = 0.0
    for c in range(heat.shape[0]):
        for i in range(heat.shape[1]):
            first, last = start_c[c, TEMP, i], end_c[c, TEMP, i]
            middle = 0.5 * (first + last)
            if max(first, last) < 30.0:
                continue
            native, myosin = changes[NATIVE, c, i], changes[MYOSIN_LEFT, c, i]
            actin = changes[ACTIN_LEFT, c, i]
            native_now, myosin_now, actin_now = native, myosin, actin
            if native > _ENDED:
                native_now = _falls(native, dt_s * look_up(table, middle, OPENS)[0])
            if myosin > _ENDED:
                myosin_now = _falls(myosin, dt_s * look_up(table, middle, MYOSIN)[0])
            if actin > _ENDED:
                actin_now = _falls(actin, dt_s * look_up(table, middle, ACTIN)[0])
            half = 0.5 * dt_s * par[PAR.dissolve_scale] * look_up(table, middle, DISSOLVES)[0]
            slowed = np.exp(-half)
            changes[OPENED, c, i] = slowed * (slowed * changes[OPENED, c, i] + native - native_now)
            changes[NATIVE, c, i] = native_now
            changes[MYOSIN_LEFT, c, i], changes[ACTIN_LEFT, c, i] = myosin_now, actin_now
            per_kg = _MYOSIN_J * (myosin - myosin_now) + _ACTIN_J * (actin - actin_now)
            per_kg += _COLLAGEN_J * par[PAR.collagen] * (native - native_now)
            heat[c, i] -= fixed[c, SOLIDS, i] * per_kg
            taken_j += plan_m2[c] * fixed[c, SOLIDS, i] * per_kg
            for k in range(2):
                column = LETHAL_A if k == 0 else LETHAL_B
                mean = look_up(table, first, column)[0] + look_up(table, last, column)[0]
                mean += 4.0 * look_up(table, middle, column)[0]
                changes[LOG_A + k, c, i] += dt_s * mean / 6.0
    return taken_j


__all__ = ["CHANGES", "LOG_B", "follow"]
