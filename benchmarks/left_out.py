"""Every source of the fit foretold from the others: `python -m benchmarks.left_out`.

Around the stored optimum each cook's numbers are taken as straight in the constants and in its own
unknowns; the source's share of the information is then taken out, which moves the constants to
where the other sources and practice would have had them. There its numbers are cooked anew at the
middle of its unknowns. The spread is that of the constants without it, of its unknowns and of what
a number may be off besides. No number of use "test" is looked at.
"""

import math
import os
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.calibrate import (
    constants_at,
    fitting_data,
    practised,
    prior,
    stored,
    stored_constants,
)
from fairsmoke.cooking.error_table import REFUTED
from fairsmoke.cooking.hierarchy import LOSS_SHARE, READING_K, TIME_SHARE, Datum
from fairsmoke.physics.ranges import FloatArray

_STEP = 0.05
_MIDDLE_80 = 1.2816


class Straight(NamedTuple):
    """Residuals of one cook and their slopes by the constants and by its unknowns."""

    residuals: FloatArray
    by_constants: FloatArray
    by_unknowns: FloatArray


class Foretold(NamedTuple):
    """A source's numbers by the other sources: off by and spread, in the number's own unit.

    `kind` "curve" (K), "time" (of the logarithm) or "loss" (share).
    """

    source: str
    kind: str
    off: FloatArray
    spread: FloatArray


def straight(datum: Datum, at: FloatArray, unknowns: FloatArray) -> Straight:
    """Return a cook's residuals and slopes; `at` and steps are in the prior's deviations."""
    mean, deviation = prior()

    def of(shared: FloatArray, own: FloatArray) -> FloatArray:
        return datum.residuals(constants_at(mean + deviation * shared), own)

    base = of(at, unknowns)
    moves = [(of(at + _STEP * unit, unknowns) - base) / _STEP for unit in np.eye(at.size)]
    own = [(of(at, unknowns + _STEP * unit) - base) / _STEP for unit in np.eye(unknowns.size)]
    none = np.zeros((base.size, 0))
    return Straight(base, np.stack(moves, axis=1), np.stack(own, axis=1) if own else none)


def share_of(found: Straight, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a cook's information on the constants and its gradient, its unknowns fitted along."""
    own = found.by_unknowns.T @ found.by_unknowns + np.eye(unknowns.size)
    carried = np.linalg.solve(own, found.by_unknowns.T)
    left = np.eye(found.residuals.size) - found.by_unknowns @ carried
    # What moving the unknowns to their best place leaves of the residuals.
    pull = np.linalg.solve(own, found.by_unknowns.T @ found.residuals + unknowns)
    rest = found.residuals - found.by_unknowns @ pull
    return found.by_constants.T @ left @ found.by_constants, found.by_constants.T @ rest


def foretold() -> list[Foretold]:
    """Return every source's numbers as the other sources would have had them."""
    data = fitting_data(frozenset(REFUTED))
    mean, deviation = prior()
    best, covariance = stored_constants()
    at = (best - mean) / deviation
    whole = np.linalg.inv(covariance / np.outer(deviation, deviation))
    unknowns = {d.key: np.array(stored()["unknowns"][d.key]) for d in data}
    found: list[Foretold] = []
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        lines = list(pool.map(lambda d: straight(d, at, unknowns[d.key]), data))
        for source in dict.fromkeys(d.source for d in data):
            own = [k for k, d in enumerate(data) if d.source == source]
            shares = [share_of(lines[k], unknowns[data[k].key]) for k in own]
            without = whole - np.sum([s for s, _ in shares], axis=0)
            # A little of the prior always stays, whatever the slopes' noise took out.
            values, vectors = np.linalg.eigh(without)
            inverse = vectors @ np.diag(1.0 / np.maximum(values, 1.0)) @ vectors.T
            moved = at + inverse @ np.sum([g for _, g in shares], axis=0)
            kept = [(data[k], np.zeros(len(data[k].unknowns))) for k in own]
            there = pool.map(lambda pair, to=moved: straight(pair[0], to, pair[1]), kept)
            for (datum, _), line in zip(kept, there, strict=True):
                wide = line.by_constants @ inverse @ line.by_constants.T
                wide += line.by_unknowns @ line.by_unknowns.T + np.eye(datum.count)
                unit, kind = unit_of(datum)
                spread = unit * np.sqrt(np.diag(wide))
                found.append(Foretold(source, kind, unit * line.residuals, spread))
    return found


def unit_of(datum: Datum) -> tuple[float, str]:
    """Return what one standard deviation of a datum's residual is, and what kind it is of."""
    if datum.key.endswith("_s"):
        return TIME_SHARE, "time"
    if ":" in datum.key:
        return LOSS_SHARE, "loss"
    return READING_K, "curve"


def main() -> None:
    """Print errors and coverage by kind and source; practice beside them."""
    found = foretold()
    for kind in ("curve", "time", "loss"):
        own = [f for f in found if f.kind == kind]
        off = np.concatenate([f.off for f in own])
        z = off / np.concatenate([f.spread for f in own])
        print(
            f"{kind}: {off.size} numbers, median error {np.median(np.abs(off)):.3f} "
            f"(signed {np.median(off):+.3f}), inside 80 % {np.mean(np.abs(z) < _MIDDLE_80):.2f}, "
            f"root mean square of off over spread {math.sqrt(float(np.mean(z**2))):.2f}"
        )
    for one in found:
        print(f"   {one.source} {one.kind}", np.round(one.off, 2), np.round(one.spread, 2))
    print("practice", np.round(practised(constants_at(stored_constants()[0])), 2))


if __name__ == "__main__":
    main()
