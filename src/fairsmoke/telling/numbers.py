"""How the numbers of a measure are written for people, in one place for text, page and chart.

Values come in a measure's own size: a fraction for yield, seconds for times, points for scores, the
measure's unit else. Yields are shown in per cent and their differences in points, times in hours
and minutes, everything else as it is. Levels and differences of one measure keep one number of
decimals, a tenth of the difference that would matter, so that rows can be read beside each other.
Each is a message, so that every reader sees it in their own language.
"""

import math
from collections.abc import Iterable
from datetime import datetime, tzinfo

from fairsmoke.messages.message import N_, Message, Words, alone, bracketed, stretch
from fairsmoke.quantity import sensible, show_duration
from fairsmoke.quantity.rounding import interval_ends
from fairsmoke.quantity.values import Digits, Duration, Share
from fairsmoke.trial.question import TIMES, Measure, MeasureKind, VerdictRule

NOT_KNOWN = N_("not known")

_NARROW, _WIDE, _MOST_DIGITS = 3.0, 2000.0, 8
"""Steps of the last decimal that an interval should at least, and at most, span."""


def show_value(measure: Measure, value: float | None, uncertainty: float | None = None) -> Words:
    """Return "59.4 %", "11 h 20 min", "6.8" or "3.2 kg"; "not known" for None.

    ``uncertainty``, in the same size, gives the digits; without one yields and scores have one
    decimal and measured figures four significant digits.
    """
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    if measure.kind in TIMES:
        return _time(value, 2 * (uncertainty or 0.0))
    return with_unit(_digits(measure, value, uncertainty), level_unit(measure))


NORMAL_95 = 1.96
"""Half of a normal variable's 95 % interval, in standard deviations (normal table)."""


def half_of_95(standard_uncertainty: float | None) -> float | None:
    """Return half of the 95 % interval: what ± means wherever it is printed."""
    return None if standard_uncertainty is None else NORMAL_95 * standard_uncertainty


def show_plus_minus(measure: Measure, value: float | None, uncertainty: float | None) -> Words:
    """Return "59.41 ± 0.12 %", a value with half of its 95 % interval, or the value alone."""
    known = value is not None and math.isfinite(value)
    if value is None or not known or not uncertainty or not math.isfinite(uncertainty):
        return show_value(measure, value)
    if measure.kind in TIMES:
        shown = show_value(measure, value, uncertainty)
        return Message("%(value)s ± %(unsure)s", {"value": shown, "unsure": Duration(uncertainty)})
    times = shown_times(measure)
    return with_unit(" ± ".join(sensible(value * times, uncertainty * times)), level_unit(measure))


def show_bound(measure: Measure, at_least: float | None, at_most: float | None) -> Words | None:
    """Return "over 14 h 10 min" or "under 2 h" where only a bound is known, else None."""
    if at_least is not None:
        return N_("over %(value)s", value=show_value(measure, at_least))
    if at_most is not None:
        return N_("under %(value)s", value=show_value(measure, at_most))
    return None


def show_level(measure: Measure, value: float, low: float, high: float) -> Message:
    """Return "59.4 % (57.9 to 60.9 %)": a level with its interval."""
    width = high - low
    if measure.kind in TIMES:
        return bracketed(_time(value, width), stretch(_time(low, width), _time(high, width)))
    times, unit = shown_times(measure), level_unit(measure)
    digits = decimals_of(measure, width)
    middle, first, last = (Digits(_fixed(one * times, digits)) for one in (value, low, high))
    return bracketed(with_unit(middle, unit), with_unit(stretch(first, last), unit))


def show_difference(
    measure: Measure, value: float, low: float | None = None, high: float | None = None
) -> Words:
    """Return a difference with its sign spelled, "+2.9 points" or "−45 min"; zero has no sign.

    ``low`` and ``high``, the ends of its interval, give the digits; they are not shown, for that
    is `show_difference_interval`.
    """
    width = high - low if low is not None and high is not None else 0.0
    number, unit = _size(measure, value, width)
    return with_unit(_signed(value, number), unit)


def show_difference_interval(measure: Measure, low: float, high: float) -> Words:
    """Return "−0.8 to +6.5 points" or "−1 h 50 min to −10 min".

    An end that would round to nought says on which side of it it lies, "just above 0".
    """
    width = high - low
    if measure.kind in TIMES:
        return stretch(*(_end(end, _size(measure, end, width)[0]) for end in (low, high)))
    times, unit = shown_times(measure), difference_unit(measure)
    if not (math.isfinite(low) and math.isfinite(high)):
        return _endless(low * times, high * times, unit)
    digits = decimals_of(measure, width)
    ends = (_end(end, _fixed(abs(end) * times, digits)) for end in (low, high))
    return with_unit(stretch(*ends), unit)


def show_with_interval(measure: Measure, value: float, low: float, high: float) -> Message:
    """Return "+2.9 points (−0.8 to +6.5 points)": a difference with its interval."""
    return bracketed(
        show_difference(measure, value, low, high), show_difference_interval(measure, low, high)
    )


def show_difference_words(
    measure: Measure, value: float, low: float | None = None, high: float | None = None
) -> Words:
    """Return a difference in words: "2.9 points more", "45 min shorter", "1.2 points lower"."""
    width = high - low if low is not None and high is not None else 0.0
    size = with_unit(*_size(measure, value, width))
    return size if value == 0 else direction(measure, value, size)


def show_size(measure: Measure, size: float) -> Words:
    """Return a size without a sign, as of a worthwhile difference: "2 points", "45 min"."""
    if measure.kind in TIMES:
        return alone(Duration(abs(size)))
    return with_unit(_plain(abs(size) * shown_times(measure)), difference_unit(measure))


def show_spread(measure: Measure, size: float, low: float, high: float) -> Message:
    """Return how far values differ, with its interval: "2.5 points (1.0 to 6.3)"."""
    if measure.kind in TIMES:
        shown, first, last = (_time(one, high - low) for one in (size, low, high))
        return bracketed(shown, stretch(first, last))
    times = shown_times(measure)
    middle = sensible(size * times, (high - low) * times)[0]
    ends = [Digits(end) for end in interval_ends(low * times, high * times)]
    return bracketed(with_unit(middle, difference_unit(measure)), stretch(*ends))


def show_ratio(ratio: float, low: float, high: float) -> Message:
    """Return a ratio of levels as a change, "+4.9 % (−1.3 to +11.2 %)"."""
    change, ends = 100 * (ratio - 1), (100 * (low - 1), 100 * (high - 1))
    digits = _grown(0, ends[1] - ends[0])
    middle = _signed(change, _fixed(abs(change), digits))
    between = stretch(*(_end(end, _fixed(abs(end), digits)) for end in ends))
    return bracketed(with_unit(middle, "%"), with_unit(between, "%"))


def show_chance(chance: float, *, short: bool = False, lines: Iterable[float] = ()) -> Words:
    """Return "97 %", "99.4 %", "more than 99.9 %" or "less than 0.1 %" for a probability.

    ``short`` writes "> 99.9 %" and "< 0.1 %". A number is never rounded across one of the
    ``lines`` that decide something: it then has more digits, "94.96 %" beside a line of 0.95.
    """
    if not math.isfinite(chance):
        return NOT_KNOWN
    if short and not 0.001 <= chance <= 0.999:
        return with_unit("< 0.1" if chance < 0.5 else "> 99.9", "%")
    if chance < 0.001:
        return N_("less than %(chance)s", chance=Share(0.001))
    if chance > 0.999:
        return N_("more than %(chance)s", chance=Share(0.999))
    digits = decimals_beside(chance, lines, 1 if chance < 0.0095 or chance > 0.9905 else 0)
    return with_unit(f"{100 * chance:.{digits}f}", "%")


_FINEST = 6


def decimals_beside(chance: float, lines: Iterable[float], digits: int = 0) -> int:
    """Return how many decimals of a per cent, ``digits`` at least, keep it on its side of lines."""
    deciding = tuple(lines)
    while digits < _FINEST and any(_crosses(chance, digits, line) for line in deciding):
        digits += 1
    return digits


def _crosses(chance: float, digits: int, line: float) -> bool:
    """Tell whether so many digits of a per cent put a probability on the other side of a line."""
    shown = round(100 * chance, digits)
    return (shown >= round(100 * line, _FINEST)) != (chance >= line)


def deciding_lines(rule: VerdictRule) -> tuple[float, ...]:
    """Return the probabilities at which the words of a verdict change."""
    return rule.hint, rule.leaning, rule.sure


def show_p(p: float) -> Words:
    """Return "p = 0.053" or "p < 0.001"."""
    if p < 0.001:
        return Message("p < %(p)s", {"p": Digits("0.001")})
    return Message("p = %(p)s", {"p": Digits(f"{p:.3f}" if p < 0.1 else f"{p:.2f}")})


def show_moment(instant: datetime, zone: tzinfo, clock: str = "24") -> str:
    """Return a local date and clock time, "Sat 2 May 2026, 23:40"."""
    day = f"{_WEEKDAYS[instant.astimezone(zone).weekday()]} {show_date(instant, zone)}"
    return f"{day}, {show_clock(instant, zone, clock)}"


def show_date(instant: datetime, zone: tzinfo) -> str:
    """Return a local date, "2 May 2026"."""
    local = instant.astimezone(zone)
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}"


def show_clock(instant: datetime, zone: tzinfo, clock: str = "24") -> str:
    """Return what a clock on the wall shows, "23:40", or "11:40 PM" for a clock of "12" hours."""
    local = instant.astimezone(zone)
    if clock == "12":
        half = "AM" if local.hour < 12 else "PM"
        return f"{local.hour % 12 or 12}:{local.minute:02} {half}"
    return f"{local.hour:02}:{local.minute:02}"


def direction(measure: Measure, difference: float, size: Words) -> Message:
    """Return a size with the word for a difference's side: more/less, longer/shorter …"""
    up = difference > 0
    if measure.kind in TIMES:
        return N_("%(size)s longer", size=size) if up else N_("%(size)s shorter", size=size)
    if measure.kind is MeasureKind.YIELD:
        return N_("%(size)s more", size=size) if up else N_("%(size)s less", size=size)
    return N_("%(size)s higher", size=size) if up else N_("%(size)s lower", size=size)


def shown_times(measure: Measure) -> float:
    """Return what a value is multiplied by to be shown (charts too): 100 for yield, hours else."""
    if measure.kind is MeasureKind.YIELD:
        return 100.0
    return 1 / 3600.0 if measure.kind in TIMES else 1.0


def decimals_of(measure: Measure, width: float) -> int:
    """Return the decimals of a measure's levels and differences, but for times.

    Enough for a tenth of the worthwhile difference; more only where ``width``, of the interval in
    the measure's own size, is narrower than that, fewer where it is very wide.
    """
    times = shown_times(measure)
    digits = max(0, 1 - math.floor(math.log10(measure.worthwhile * times) + 1e-9))
    return _grown(digits, width * times)


def level_unit(measure: Measure) -> str:
    """Return the unit behind a value: "%" for yield, "h" for times on a chart, or the measure's."""
    if measure.kind is MeasureKind.YIELD:
        return "%"
    if measure.kind in TIMES:
        return "h"
    return measure.unit if measure.kind is MeasureKind.MEASURED else ""


def difference_unit(measure: Measure) -> str:
    """Return the unit behind a difference: "points" for yield and scores, "h" or the measure's."""
    if measure.kind in (MeasureKind.YIELD, MeasureKind.SCORE):
        return POINTS
    return level_unit(measure)


def unit_words(unit: str) -> Words:
    """Return a unit as an axis names it."""
    return N_("points") if unit == POINTS else unit


def with_unit(number: Words | Digits, unit: str) -> Message:
    """Return a number with its unit behind it, where it has one."""
    shown = Digits(number) if isinstance(number, str) else number
    if unit == POINTS:
        if str(number).lstrip("+−") == "1":
            return N_("%(number)s point", number=shown)
        return N_("%(number)s points", number=shown)
    if not unit:
        return alone(shown)
    return Message("%(number)s %(unit)s", {"number": shown, "unit": unit})


POINTS = "points"

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def _digits(measure: Measure, value: float, uncertainty: float | None) -> str:
    times = shown_times(measure)
    if uncertainty is not None and uncertainty > 0 and math.isfinite(uncertainty):
        return sensible(value * times, uncertainty * times)[0]
    if measure.kind is MeasureKind.MEASURED:
        return _plain(value)
    return sensible(value * times, 1.0)[0]


def _size(measure: Measure, value: float, width: float) -> tuple[str, str]:
    """Return how large a difference is, without its sign, and its unit; ``width`` its interval's.

    A time has its units within it.
    """
    if measure.kind in TIMES:
        return show_duration(_to_step(abs(value), width)), ""
    times = shown_times(measure)
    shown = abs(value) * times
    known = width > 0 and math.isfinite(width)
    text = _fixed(shown, decimals_of(measure, width)) if known else _plain(shown)
    return text, difference_unit(measure)


def _time(seconds: float, width: float) -> Message:
    return alone(Duration(_to_step(seconds, width)))


def _to_step(seconds: float, width: float) -> float:
    """Round a time to what an interval of that width can bear: a minute, or five."""
    step = 300.0 if width >= 6000 else 60.0
    return seconds if abs(seconds) < 600 and width < 60 else step * round(seconds / step)


def _signed(value: float, size: str) -> str:
    if not _is_seen(size):
        return size
    return f"+{size}" if value > 0 else f"−{size}"


def _end(value: float, size: str) -> Message | Digits:
    """Return an end of an interval with its sign, which rounding must not hide."""
    if _is_seen(size) or value == 0:
        return Digits(_signed(value, size))
    return N_("just above 0") if value > 0 else N_("just below 0")


def _endless(low: float, high: float, unit: str) -> Words:
    """Return an interval of which an end is infinite or not a number."""
    if math.isinf(low) == math.isinf(high):
        return NOT_KNOWN
    if math.isinf(low):
        return N_("below %(end)s", end=with_unit(sensible(high, math.inf)[0], unit))
    return N_("above %(end)s", end=with_unit(sensible(low, math.inf)[0], unit))


def _fixed(number: float, digits: int) -> str:
    text = f"{number:.{digits}f}"
    return text.replace("-", "−") if _is_seen(text) else text.lstrip("-")


def _grown(digits: int, width: float) -> int:
    """Return more decimals where an interval of that width would shrink to a digit, or fewer."""
    while width > 0 and width * 10.0**digits < _NARROW and digits < _MOST_DIGITS:
        digits += 1
    while digits > 0 and width * 10.0**digits > _WIDE:
        digits -= 1
    return digits


def _is_seen(text: str) -> bool:
    """Tell whether a shown number is other than zero."""
    return any(digit in text for digit in "123456789")


def _plain(value: float) -> str:
    """Return up to four significant digits, without trailing zeros or powers of ten."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(NOT_KNOWN)
    digits = 3 - math.floor(math.log10(abs(value)))
    text = f"{value:.{max(digits, 0)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.replace("-", "−")
