"""The general method: equivalent time and log reduction of a logged temperature."""

from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.cook_table import LOWEST_C
from fairsmoke.physics.heat_resistance import Resistance
from fairsmoke.physics.ranges import (
    FloatArray,
    Number,
    OnRange,
    PhysicsRangeError,
    Range,
    paired_readings,
)

Between = Literal["trapezoid", "straight"]

LETHAL_RANGE = Range(
    "temperature of a killing step", "°C", -40.0, 150.0, "the general method for cooked meat"
)
# No credit below the lowest row of the cooking guideline: at 54.4 °C itself 6.5 log is doubted.
LOWEST_CREDIT_C = LOWEST_C
# Readings further apart than this say too little of what happened between them.
LONGEST_GAP_S = 600.0


def bare_lethal_rate(temp_c: Number, ref_c: float, z_c: float) -> Number:
    """Return 10^((T − T_ref)/z) without checking the range, for compiled code."""
    rate: Number = 10.0 ** ((temp_c - ref_c) / z_c)
    return rate


def lethal_rate(
    temp_c: ArrayLike, ref_c: float, z_c: float, on_range: OnRange = "error"
) -> FloatArray:
    """Return how much faster killing goes than at `ref_c`, 10^((T − T_ref)/z); −40 to 150 °C.

    Source: general method (Bigelow). Raises PhysicsRangeError outside and for z of 0 or less.

    >>> f"{lethal_rate(110.0, ref_c=121.11, z_c=10.0):.3f}"
    '0.077'
    """
    if not z_c > 0:
        raise PhysicsRangeError(f"z of {z_c:g} K: it must be above 0.")
    return bare_lethal_rate(LETHAL_RANGE.check(temp_c, on_range), ref_c, z_c)


def equivalent_times_s(
    time_s: ArrayLike,
    temp_c: ArrayLike,
    ref_c: float,
    z_c: float,
    lowest_c: float | None = None,
    between: Between = "trapezoid",
    longest_gap_s: float = LONGEST_GAP_S,
) -> FloatArray:
    """Return the running sum F(t) = ∫ 10^((T − T_ref)/z) dt in seconds at `ref_c`, one a reading.

    `between` says what happened between readings: "trapezoid" joins the rates in a straight line,
    as process-lethality sheets do, and gives too much where readings are many kelvins apart;
    "straight" joins the temperatures and is exact for that. Where either end of a step is below
    `lowest_c` it earns nothing, and neither does a step longer than `longest_gap_s`.
    Source: general method (Bigelow); sheet of the AMI Foundation.
    Raises PhysicsRangeError for readings that do not pair up or out of range, and for z ≤ 0.
    """
    if between not in get_args(Between):
        raise ValueError(f'between is "{between}". Write trapezoid or straight.')
    time, temp = paired_readings(time_s, temp_c, "lethality")
    rate = lethal_rate(temp, ref_c, z_c)
    first, second = rate[:-1], rate[1:]
    mean = (first + second) / 2
    if between == "straight":
        # ∫ of an exponential between its ends: their logarithmic mean.
        ratio = np.log(second / first)
        close = np.abs(ratio) < 1e-6
        mean = np.where(close, mean, (second - first) / np.where(close, 1.0, ratio))
    steps = np.diff(time)
    counts = steps <= longest_gap_s
    if lowest_c is not None:
        counts &= (temp[:-1] >= lowest_c) & (temp[1:] >= lowest_c)
    return np.concatenate([[0.0], np.cumsum(np.where(counts, mean * steps, 0.0))])


def log_reduction(
    time_s: ArrayLike,
    temp_c: ArrayLike,
    resistance: Resistance,
    lowest_c: float | None = LOWEST_CREDIT_C,
    between: Between = "trapezoid",
    longest_gap_s: float = LONGEST_GAP_S,
) -> float:
    """Return the tenfold reductions that the record earns, F/D, for one organism and meat.

    Give the coldest place for a whole piece. No credit below 54.4 °C unless `lowest_c` says
    otherwise, and none for being hotter than the resistance was measured at. It never undoes
    toxin made while coming up or cooling, and spores are not killed.
    Source: the resistance's own. Raises PhysicsRangeError as `equivalent_times_s`.

    >>> from fairsmoke.physics.heat_resistance import RESISTANCES
    >>> patty = RESISTANCES["salmonella patty"]
    >>> steady = [60.0, 60.0, 60.0], [0.0, 360.0, 720.0]
    >>> f"{log_reduction(steady[1], steady[0], patty):.2f}"
    '6.98'
    """
    time, temp = paired_readings(time_s, temp_c, "lethality")
    capped = np.minimum(LETHAL_RANGE.check(temp), resistance.high_c)
    equivalent = equivalent_times_s(
        time, capped, resistance.ref_c, resistance.z_c, lowest_c, between, longest_gap_s
    )
    return float(equivalent[-1] / (60.0 * resistance.d_min))


def decimal_time_s(
    temp_c: ArrayLike, resistance: Resistance, on_range: OnRange = "error"
) -> FloatArray:
    """Return the time that kills nine in ten at a temperature, D·10^((T_ref − T)/z).

    Holds between the temperatures of the resistance's source; raises PhysicsRangeError outside.
    """
    held = Range(
        f"temperature for {resistance.organism} in {resistance.matrix}",
        "°C",
        resistance.low_c,
        resistance.high_c,
        resistance.source.text,
    )
    temp = held.check(temp_c, on_range)
    return 60.0 * resistance.d_min / bare_lethal_rate(temp, resistance.ref_c, resistance.z_c)
