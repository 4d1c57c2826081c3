"""Whether a reading that somebody typed can be true, and what may have been meant."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import get_args

from fairsmoke.arriving.doubted import AskedAbout, LikelyValue
from fairsmoke.messages.message import N_, Message, alone
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.quantity.values import Digits, Temperature
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.reading import ReadingUnit

LIKELY_C: Mapping[str, tuple[float, float]] = {
    "core": (-5.0, 110.0),
    "surface": (-5.0, 200.0),
    "pit": (-30.0, 350.0),
    "cabinet": (-5.0, 150.0),
    "wet bulb": (-5.0, 110.0),
    "room": (-30.0, 60.0),
}
"""Outside of these a reading that is typed in is asked about (common practice, no source)."""
JUMP_K, JUMP_WITHIN = 15.0, timedelta(minutes=10)
"""No core moves by so much so quickly (common practice, no source)."""
MOST_LIKELY = 3
_WRITTEN = {"degC": "°C", "degF": "°F", "K": "K"}


def in_c(value: float, unit: ReadingUnit) -> float:
    """Return a reading in °C."""
    if unit == "degF":
        return (value - 32.0) / 1.8
    return value - 273.15 if unit == "K" else value


def stay_at(stays: Sequence[Placement], probe: str, at: datetime) -> Placement | None:
    """Return where a probe was at a moment, None when nobody said."""
    for stay in stays:
        if stay.probe == probe and stay.since <= at and (stay.until is None or at < stay.until):
            return stay
    return None


def odd_reading(
    trial: str,
    stay: Placement | None,
    value: str,
    unit: ReadingUnit,
    before_c: float | None,
) -> AskedAbout | None:
    """Return what is odd about a typed reading, None when nothing is.

    ``before_c`` is what the probe read within the last minutes, None where nothing was read.
    """
    if stay is None:
        return None
    now_c = in_c(_number(value), unit)
    odd = _odd(stay, now_c, before_c)
    if odd is None:
        return None
    likely = [
        LikelyValue(alone(Digits(f"{text} {_WRITTEN[other]}")), {"value": text, "unit": other})
        for text, other in _others(value, unit)
        if _odd(stay, in_c(_number(text), other), before_c) is None
    ]
    key = KINDS["placement"].key(trial, stay.id)
    return AskedAbout(key, value, odd, odd, tuple(likely[:MOST_LIKELY]))


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _odd(stay: Placement, now_c: float, before_c: float | None) -> Message | None:
    low, high = LIKELY_C[stay.measures]
    if not low <= now_c <= high:
        return N_(
            "%(now)s is hardly ever read there: most likely is %(low)s to %(high)s. Is it the "
            "unit, a digit too many or too few, the right probe?",
            now=Temperature(now_c),
            low=Temperature(low),
            high=Temperature(high),
        )
    if stay.measures == "core" and before_c is not None and abs(now_c - before_c) > JUMP_K:
        return N_(
            "%(now)s, and this core was at %(before)s a few minutes ago. Is it the unit, two "
            "digits swapped, the right probe?",
            now=Temperature(now_c),
            before=Temperature(before_c),
        )
    return None


def _others(value: str, unit: ReadingUnit) -> Iterator[tuple[str, ReadingUnit]]:
    """Yield the number in the other unit, with two digits swapped, with its point elsewhere."""
    for other in get_args(ReadingUnit):
        if other not in (unit, "K"):
            yield value, other
    digits = [at for at, letter in enumerate(value) if letter.isdigit()]
    for one, next_one in pairwise(digits):
        if value[one] != value[next_one]:
            letters = list(value)
            letters[one], letters[next_one] = letters[next_one], letters[one]
            yield "".join(letters), unit
    for shift in (0.1, 10.0):
        yield f"{_number(value) * shift:g}", unit
