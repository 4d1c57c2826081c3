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
# shares of what the raw cell had), log reductions of two organisms, and the exposure of collagen
# (∫ rate of opening dt), which tells how far each of its classes has opened.
NATIVE, OPENED, MYOSIN_LEFT, ACTIN_LEFT, LOG_A, LOG_B, EXPOSED = 0, 1, 2, 3, 4, 5, 6
CHANGES = 7

_ENDED = 1e-9
_SMALL = 1e-12
_MYOSIN_J, _ACTIN_J = kinetics.MYOSIN.heat_j_kg, kinetics.ACTIN.heat_j_kg
_COLLAGEN_J = kinetics.COLLAGEN_OPENS.heat_j_kg
_SHARES, _RATIOS = kinetics.class_rates()
_CLASSES = len(_SHARES)
_SHARE_OF, _RATIO_OF = np.array(_SHARES), np.array(_RATIOS)


@kernel
def _falls(left: float, exponent: float) -> float:
    if left < _ENDED or exponent < _SMALL:
        return left
    return float(left * np.exp(-exponent))


@kernel
def _unfold(exposed: float, more: float, dissolving: float) -> tuple[float, float]:
    """Return native collagen after a step, and what of it opened in the step and is not dissolved.

    The exact solution at the step's rates (kinetics.collagen_after), class by class; `exposed`
    before the step, `more` in it and `dissolving` are rate times time.
    """
    native, opened = 0.0, 0.0
    for k in range(_CLASSES):
        left = _SHARE_OF[k] * np.exp(-_RATIO_OF[k] * exposed)
        opening = _RATIO_OF[k] * more
        gap = max(abs(opening - dissolving), 1e-9)
        slower = np.exp(-min(opening, dissolving))
        native += left * np.exp(-opening)
        opened += left * opening * slower * -np.expm1(-gap) / gap
    return native, opened


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
    Exact at that temperature.
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
            opened = 0.0
            dissolving = dt_s * par[PAR.dissolve_scale] * look_up(table, middle, DISSOLVES)[0]
            if native > _ENDED:
                more = par[PAR.open_scale] * dt_s * look_up(table, middle, OPENS)[0]
                if more > _SMALL:
                    native_now, opened = _unfold(changes[EXPOSED, c, i], more, dissolving)
                    changes[EXPOSED, c, i] += more
            if myosin > _ENDED:
                myosin_now = _falls(myosin, dt_s * look_up(table, middle, MYOSIN)[0])
            if actin > _ENDED:
                actin_now = _falls(actin, dt_s * look_up(table, middle, ACTIN)[0])
            changes[OPENED, c, i] = opened + np.exp(-dissolving) * changes[OPENED, c, i]
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
