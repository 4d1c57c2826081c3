"""The readings of one probe put in order of time, each kept once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.intake.cells import Cell
from fairsmoke.trial.reading import Flag, Readings, ReadingUnit


@dataclass(frozen=True, eq=False)
class ProbeSeries:
    """What a file says of one probe in one unit.

    ``no_value`` and ``open_probe`` count its cells that held no value, or words for an unplugged
    or broken probe; ``repeated`` the readings left away because the same value stood there
    already at the same time; ``conflicting`` those kept with the flag CONFLICT.
    """

    probe: str
    readings: Readings
    no_value: int
    open_probe: int
    repeated: int
    conflicting: int


def series_of(
    probe: str,
    unit: ReadingUnit,
    utc_ms: NDArray[np.int64],
    kind: NDArray[np.uint8],
    raw: NDArray[np.int64],
    decimals: NDArray[np.int8],
) -> ProbeSeries:
    """Make a series of cells (n,) in the order in which the logger wrote them."""
    values = kind == Cell.VALUE
    time, written = utc_ms[values], decimals[values].astype(np.int64)
    most = int(written.max(initial=0))
    scaled = raw[values] * 10 ** (most - written)
    flags = np.zeros(time.size, dtype=np.uint8)
    flags[1:][np.diff(time) < 0] = int(Flag.CLOCK_STEP)
    order = np.argsort(time, kind="stable")
    time, scaled, flags = time[order], scaled[order], flags[order]
    again = repeated(time, scaled)
    time, scaled, flags = time[~again], scaled[~again], flags[~again]
    conflict = np.zeros(time.size, dtype=np.bool_)
    conflict[1:] = time[1:] == time[:-1]
    flags[conflict] |= int(Flag.CONFLICT)
    return ProbeSeries(
        probe=probe,
        readings=Readings(time, scaled, most, unit, flags),
        no_value=int(np.count_nonzero(kind == Cell.NO_VALUE)),
        open_probe=int(np.count_nonzero(kind == Cell.OPEN)),
        repeated=int(np.count_nonzero(again)),
        conflicting=int(np.count_nonzero(conflict)),
    )


def repeated(time_ms: NDArray[np.int64], raw: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which readings (n,) in order of time say what an earlier one of that time said."""
    again = np.zeros(time_ms.size, dtype=np.bool_)
    if not bool(np.any(time_ms[1:] == time_ms[:-1])):
        return again
    order = np.lexsort((np.arange(time_ms.size), raw, time_ms))
    time, value = time_ms[order], raw[order]
    again[order[1:]] = (time[1:] == time[:-1]) & (value[1:] == value[:-1])
    return again
