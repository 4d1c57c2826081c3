"""What heat does to protein and connective tissue over time, and the trend of toughness."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.air import KELVIN
from fairsmoke.physics.ranges import FloatArray, Number, OnRange, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

GAS_J_MOLK = 8.314462618


class Reaction(NamedTuple):
    """A first-order change: its rate at a reference temperature and how heat speeds it.

    `rate_ref_per_s` at `ref_c`; `activation_j_mol`; the range of temperature in which the source
    measured, stretched to what a cook needs; the heat it takes (J per kg of dry protein, or of
    dry collagen for COLLAGEN_OPENS); and by what factor either way the rate may be wrong.
    """

    what: str
    ref_c: float
    rate_ref_per_s: float
    activation_j_mol: float
    low_c: float
    high_c: float
    heat_j_kg: float
    uncertain_factor: float
    source: Citation


# Heats: 3.0 to 3.8 kJ per kg of muscle in all (Findlay & Stanley 1984, read), which is about
# 16 kJ per kg of protein; how it divides among the three is from memory.
MYOSIN = Reaction(
    "myosin denatures",
    57.0,
    0.0443,
    241e3,
    0.0,
    150.0,
    8e3,
    2.0,
    Citation(
        "activation energy: Kajitani, Fukuoka & Sakai 2011, Jpn J. Food Eng. 12:19 (pork); rate: "
        "so that a scan at 10 K/min peaks at 57 °C, between 55.2 and 57.8 °C in beef (Findlay & "
        "Stanley 1984)",
        Seen.DERIVED,
        "the scan rate is from memory",
    ),
)
ACTIN = Reaction(
    "actin denatures",
    70.0,
    0.1 / 60.0,
    250e3,
    0.0,
    150.0,
    5e3,
    2.0,
    Citation(
        "Kajitani, Fukuoka & Sakai 2011, Jpn J. Food Eng. 12:19: pork with 2 mg/g salt, 0.1 /min "
        "at 70 °C",
        Seen.READ,
        "salt speeds it: 1.75 /min at 40 mg/g",
    ),
)
COLLAGEN_OPENS = Reaction(
    "collagen shrinks and opens (denatures)",
    58.0,
    float(np.log(2.0)) / (11.0 * 60.0),
    530e3,
    0.0,
    150.0,
    49e3,
    2.0,
    Citation(
        "rate: half of the shear drop of semitendinosus in 11 min at 58 °C (Machlik & Draudt 1963, "
        "J. Food Sci. 28:711); activation energy: peak up 4 K from 1 to 10 K/min (hydrothermal "
        "shrinkage of bovine collagen) by Kissinger's method; heat: Haly & Snaith 1971, tendon",
        Seen.DERIVED,
        "tendon is slower at 60 °C: half in 28 min (Weir 1949, from memory)",
    ),
)
COLLAGEN_DISSOLVES = Reaction(
    "opened collagen dissolves to gelatin",
    85.0,
    float(np.log(2.0)) / (10.0 * 3600.0),
    95e3,
    0.0,
    120.0,
    0.0,
    2.0,
    Citation(
        "activation energy 80–105 kJ/mol from equal tenderness at 60 °C for 24–36 h and 85–87 °C "
        "for 2–3 h (Alahakoon 2018, Karki 2022, Kerth, Rinaldi 2014); half in 10 h at 85 °C: "
        "brisket has 9.8 and 12.9 % soluble on reaching 75 °C (Kerth et al., read), about 5 "
        "points more than raw after some 4 h above 60 °C (time assumed)",
        Seen.ASSUMED,
        "crude; old animals are slower; no part that never dissolves is set apart, for want of "
        "any number",
    ),
)
ENZYMES_FADE = Reaction(
    "the meat's own protein-splitting enzymes (cathepsins B and L) lose their activity",
    50.0,
    float(np.log(2.0)) / 86400.0,
    100e3,
    0.0,
    150.0,
    0.0,
    3.0,
    Citation(
        "beef brisket: 47 % left after 24 h at 50 °C, heat stable in 5 h at 55 °C and in 1 h at 60 "
        "and 70 °C (Kaur, Seah & Boland 2020, Food Sci. Anim. Resour. 40:415, abstract)",
        Seen.DERIVED,
        "activation energy assumed: to fade to a quarter in an hour at 70 °C would take more than "
        "180 kJ/mol, so it is less",
    ),
)
ENZYMES_SPLIT = Reaction(
    "those enzymes, as active as in raw meat, weaken it",
    55.0,
    0.04 / 3600.0,
    60e3,
    0.0,
    150.0,
    0.0,
    3.0,
    Citation(
        "assumed: a third of the shear force in 10 h at 55 °C, where pork softens between 5 and 17 "
        "h at 53 to 58 °C (Christensen et al. 2011, abstract)",
        Seen.ASSUMED,
        "set with the orders of shear in docs/validation.md in sight; a common activation energy "
        "of enzymes (from memory)",
    ),
)
REACTIONS = (MYOSIN, ACTIN, COLLAGEN_OPENS, COLLAGEN_DISSOLVES, ENZYMES_FADE, ENZYMES_SPLIT)


class CollagenClass(NamedTuple):
    """A part of the native collagen (share of it) that opens like COLLAGEN_OPENS but needs
    `shift_k` more kelvin for the same rate near 60 °C; and where both come from.
    """

    share: float
    shift_k: float
    source: Citation


COLLAGEN_CLASSES = (
    CollagenClass(
        0.25,
        0.0,
        Citation(
            "opens as the shear of semitendinosus falls (Machlik & Draudt 1963, COLLAGEN_OPENS)",
            Seen.DERIVED,
            "share: the fast part of what roasting to 65.6 °C altered (Powell et al. 2000)",
        ),
    ),
    CollagenClass(
        0.2,
        5.0,
        Citation(
            "tendon: half in 28 min at 60 °C (Weir 1949, from memory) is 3.6 K later than shear; "
            "strips of beef shrink at 66.75 to 70.75 °C (30 sides, data in shared stats.md), 6 K "
            "later at 2 K/min (rate assumed)",
            Seen.DERIVED,
            "in the middle of 3.6 and 6 K",
        ),
    ),
    CollagenClass(
        0.55,
        11.0,
        Citation(
            "old animals need 24 to 48 h at 60 °C (Bouton & Harris 1981, read): 40 to 65 % of it "
            "opens in that time; 55 % unaltered in roasts brought to 65.6 °C (Powell et al. 2000, "
            "read)",
            Seen.DERIVED,
            "share: so that roasting to 65.6 °C leaves about half; young animals have less",
        ),
    ),
)

# Share of collagen that dissolves from raw brisket before any slow cooking: below the 9.8 and
# 12.9 % found when brisket reaches 75 °C (Kerth et al., read); from memory.
SOLUBLE_RAW = 0.06

COLLAGEN_OF_WET = (0.027, 0.048)  # kg per kg wet fat-free tissue, hind to shin; Meat Sci. 12:189

SHEAR_SOURCE = Citation(
    "shape only: biceps femoris 43.95 N at 40 °C, 38.16 N at 60 °C, 44.44 N at 70 °C (Obuz et al. "
    "2004, read); softening at 50–60 °C and toughening at 60–80 °C (Christensen et al. 2000, "
    "read); least at 60–64 °C after 30–40 min (Machlik & Draudt 1963, read)",
    Seen.ASSUMED,
    "the three weights and the square are chosen here; a trend, not a prediction in newton",
)
_SOFTENS, _TOUGHENS, _DISSOLVED_LEAVES = 0.50, 0.40, 0.25


def bare_rate_per_s(
    temp_c: Number, ref_c: float, rate_ref_per_s: float, activation_j_mol: float
) -> Number:
    """Return a first-order Arrhenius rate without checking the range, for compiled code."""
    inverse = 1.0 / (ref_c + KELVIN) - 1.0 / (temp_c + KELVIN)
    rate: Number = rate_ref_per_s * np.exp(activation_j_mol / GAS_J_MOLK * inverse)
    return rate


def rate_per_s(temp_c: ArrayLike, reaction: Reaction, on_range: OnRange = "error") -> FloatArray:
    """Return the rate of a reaction (1/s) in its range of temperature.

    Source: the reaction's own. Raises PhysicsRangeError outside its range.

    >>> f"{rate_per_s(70.0, ACTIN) * 60:.2f} per minute"
    '0.10 per minute'
    """
    held = Range(reaction.what, "°C", reaction.low_c, reaction.high_c, str(reaction.source.seen))
    temp = held.check(temp_c, on_range)
    result: FloatArray = bare_rate_per_s(
        temp, reaction.ref_c, reaction.rate_ref_per_s, reaction.activation_j_mol
    )
    return result


def half_life_s(temp_c: ArrayLike, reaction: Reaction, on_range: OnRange = "error") -> FloatArray:
    """Return the time in which half of what is left has changed, ln 2 over the rate."""
    return np.asarray(np.log(2.0) / rate_per_s(temp_c, reaction, on_range))


def left_after(
    time_s: ArrayLike, temp_c: ArrayLike, reaction: Reaction, on_range: OnRange = "error"
) -> FloatArray:
    """Return the share unchanged after a time at a steady temperature, exp(−k·t).

    Raises PhysicsRangeError outside the reaction's range and for negative times.
    """
    time = np.asarray(time_s, dtype=np.float64)
    if not (time >= 0).all():
        raise PhysicsRangeError("time of heating: it must be 0 s or more.")
    return np.asarray(np.exp(-rate_per_s(temp_c, reaction, on_range) * time))


def class_rates() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return shares of COLLAGEN_CLASSES and how fast each opens against COLLAGEN_OPENS (of 1).

    All have its activation energy, so the ratios are the same at every temperature: one
    integral, of the rate of COLLAGEN_OPENS over time, tells how far every class has opened.
    """
    first = COLLAGEN_OPENS.ref_c + KELVIN
    steep = COLLAGEN_OPENS.activation_j_mol / GAS_J_MOLK
    shares = tuple(one.share for one in COLLAGEN_CLASSES)
    ratios = tuple(
        float(np.exp(steep * (1.0 / (first + one.shift_k) - 1.0 / first)))
        for one in COLLAGEN_CLASSES
    )
    return shares, ratios


def collagen_native(exposure: ArrayLike) -> FloatArray:
    """Return the share of native collagen left after an exposure, ∫ rate of COLLAGEN_OPENS dt.

    Source: COLLAGEN_CLASSES. Raises PhysicsRangeError for a negative exposure.
    """
    passed = np.asarray(exposure, dtype=np.float64)
    if not (passed >= 0).all():
        raise PhysicsRangeError("exposure of collagen: it must be 0 or more.")
    native = np.zeros_like(passed)
    for share, ratio in zip(*class_rates(), strict=True):
        native = native + share * np.exp(-ratio * passed)
    return native


def collagen_after(
    time_s: ArrayLike, temp_c: ArrayLike, on_range: OnRange = "error"
) -> tuple[FloatArray, FloatArray]:
    """Return shares of collagen (native, dissolved) after a time at a steady temperature.

    Every class opens, then what has opened dissolves; SOLUBLE_RAW is dissolved from the start.
    The exact solution of the linear chain. Sources: COLLAGEN_CLASSES, COLLAGEN_OPENS,
    COLLAGEN_DISSOLVES. Raises PhysicsRangeError outside 0 to 120 °C and for negative times.
    """
    time = np.asarray(time_s, dtype=np.float64)
    if not (time >= 0).all():
        raise PhysicsRangeError("time of heating: it must be 0 s or more.")
    fastest = rate_per_s(temp_c, COLLAGEN_OPENS, on_range)
    dissolves = rate_per_s(temp_c, COLLAGEN_DISSOLVES, on_range)
    native = collagen_native(fastest * time)
    opened = np.zeros_like(native)
    for share, ratio in zip(*class_rates(), strict=True):
        opened = opened + share * _opened(time, ratio * fastest, dissolves)
    dissolved = np.clip(1.0 - native - opened, 0.0, 1.0)
    raw = 1.0 - SOLUBLE_RAW
    return raw * native, SOLUBLE_RAW + raw * dissolved


def _opened(time: FloatArray, opens: FloatArray, dissolves: FloatArray) -> FloatArray:
    """Return what is opened and not yet dissolved: ∫ opens·e^(−opens·s − dissolves·(t − s)) ds.

    With the gap of the rates times t small the difference of the exponentials over the gap is 0/0;
    the smaller rate is taken out and expm1 keeps the rest.
    """
    gap = np.abs(opens - dissolves)
    safe = np.maximum(gap, 1e-9 / np.maximum(time, 1.0))
    slower = np.minimum(opens, dissolves)
    return np.asarray(opens * np.exp(-slower * time) * -np.expm1(-safe * time) / safe)


def peak_of_scan_c(reaction: Reaction, heating_k_s: float) -> float:
    """Return where a first-order reaction peaks when heated steadily (differential scan).

    Solves k(T) = β·E/(R·T²) (Kissinger 1957, from memory). `heating_k_s` above 0.
    Raises PhysicsRangeError for another heating rate or no peak between 0 and 200 °C.
    """
    if not heating_k_s > 0:
        raise PhysicsRangeError("heating rate of a scan: it must be above 0 K/s.")
    temp = np.linspace(0.0, 200.0, 200_001)
    rate = bare_rate_per_s(temp, reaction.ref_c, reaction.rate_ref_per_s, reaction.activation_j_mol)
    kelvin = temp + KELVIN
    needed = heating_k_s * reaction.activation_j_mol / (GAS_J_MOLK * kelvin**2)
    above = np.flatnonzero(rate >= needed)
    if above.size == 0 or above[0] == 0:
        raise PhysicsRangeError(f"{reaction.what}: no peak between 0 and 200 °C at this heating.")
    return float(temp[above[0]])


def activation_from_peaks_j_mol(
    peak_1_c: float, heating_1_k_s: float, peak_2_c: float, heating_2_k_s: float
) -> float:
    """Return the activation energy from two scans' peaks, ln(β/T²) against 1/T (Kissinger).

    Raises PhysicsRangeError where the faster scan does not peak higher.
    """
    one, two = peak_1_c + KELVIN, peak_2_c + KELVIN
    if not (heating_2_k_s - heating_1_k_s) * (two - one) > 0:
        raise PhysicsRangeError("two scans: the faster one must peak at the higher temperature.")
    steep = np.log((heating_2_k_s / two**2) / (heating_1_k_s / one**2))
    return float(GAS_J_MOLK * steep / (1.0 / one - 1.0 / two))


def enzyme_weakening(time_s: ArrayLike, temp_c: ArrayLike) -> FloatArray:
    """Return what the meat's own enzymes leave of its strength over a history, 0 to 1.

    exp(−∫ rate·activity dt) with ENZYMES_SPLIT and, for the activity, ENZYMES_FADE; both arrays
    (…, n) along the last axis, times in s not falling, between them by trapezoids.
    Raises PhysicsRangeError for falling times or a temperature outside the reactions' ranges.
    """
    time = np.asarray(time_s, dtype=float)
    steps = np.diff(time)
    if np.any(steps < 0):
        raise PhysicsRangeError("times of a history: they must not fall.")
    fades, splits = (rate_per_s(temp_c, one) for one in (ENZYMES_FADE, ENZYMES_SPLIT))
    lost = np.cumsum(0.5 * (fades[..., 1:] + fades[..., :-1]) * steps, axis=-1)
    active = np.exp(-np.concatenate([np.zeros_like(fades[..., :1]), lost], axis=-1))
    return np.asarray(np.exp(-np.trapezoid(splits * active, time, axis=-1)))


def shear_trend(
    collagen_native: ArrayLike, collagen_dissolved: ArrayLike, actin_native: ArrayLike
) -> FloatArray:
    """Return shear force against that of raw-ish meat (1 = before any change), a trend only.

    Opening collagen softens, the first of it most (the square of what is native: bonds between
    two native neighbours); denaturing actin toughens, dissolved collagen lets the fibres part.
    What enzymes do in hours (`enzyme_weakening`) multiplies it.
    Shares from 0 to 1. Use it to rank and to see turning points, not to predict newtons.
    Source: SHEAR_SOURCE. Raises PhysicsRangeError outside 0 to 1.
    """
    share = Range("share of protein", "of 1", -1e-9, 1 + 1e-9, "a share")
    native, actin = share.check(collagen_native), share.check(actin_native)
    dissolved = share.check(collagen_dissolved)
    tough = 1.0 - _SOFTENS * (1.0 - native * native) + _TOUGHENS * (1.0 - actin)
    return tough * (1.0 - (1.0 - _DISSOLVED_LEAVES) * dissolved)
