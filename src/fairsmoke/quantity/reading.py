"""Reads what people write into SI: °C, kelvin of difference, kg, s and m."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from fairsmoke.messages.message import N_, Message
from fairsmoke.quantity.errors import QuantityError, refusal
from fairsmoke.quantity.units import affine
from fairsmoke.quantity.written import NUMBER, fraction_value, plain_value, plainly, tidy

ABSOLUTE_ZERO_C = -273.15


@dataclass(frozen=True)
class _Kind:
    """What the reader must know of one kind of quantity."""

    noun: Message
    quantity: Message
    example: Message
    base: str
    names: Mapping[str, str]
    bare: tuple[str, str]
    """The two units between which a bare number leaves the choice."""
    chains: tuple[tuple[str, ...], ...] = ()
    """Units that may follow one another, largest first: 12 lb 4 oz."""
    bare_after: Mapping[str, str] = field(default_factory=dict)
    """The unit of a bare whole number at the end, by the unit before it: 4h30."""
    signed: bool = False


def _names(**spelled: str) -> dict[str, str]:
    return {name: unit for unit, names in spelled.items() for name in names.split()}


_DEGREES = {
    "c": "°C",
    "celsius": "°C",
    "centigrade": "°C",
    "f": "°F",
    "fahrenheit": "°F",
} | dict.fromkeys(("k", "kelvin", "kelvins"), "K")
_TEMPERATURE = _Kind(
    noun=N_("a temperature"),
    quantity=N_("temperature"),
    example=N_("250 °F or 121 °C"),
    base="°C",
    names=_DEGREES,
    bare=("°F", "°C"),
    signed=True,
)
_DIFFERENCE = _Kind(
    noun=N_("a difference of temperature"),
    quantity=N_("difference of temperature"),
    example=N_("10 °F or 5.5 °C"),
    base="K",
    names=_DEGREES,
    bare=("°F", "°C"),
    signed=True,
)
_MASS = _Kind(
    noun=N_("a mass"),
    quantity=N_("mass"),
    example=N_("12 lb 4 oz or 5.57 kg"),
    base="kg",
    names=_names(
        kg="kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
        g="g gram grams gramme grammes",
        lb="lb lbs pound pounds #",
        oz="oz ozs ounce ounces",
    ),
    bare=("kg", "lb"),
    chains=(("lb", "oz"), ("kg", "g")),
)
_DURATION = _Kind(
    noun=N_("a duration"),
    quantity=N_("duration"),
    example=N_("4h30, 90 min or 1:30:00"),
    base="s",
    names=_names(
        week="week weeks wk wks",
        d="d day days",
        h="h hr hrs hour hours",
        min="min mins minute minutes m",
        s="s sec secs second seconds",
    ),
    bare=("min", "h"),
    chains=(("week", "d", "h", "min", "s"),),
    bare_after={"h": "min"},
)
_LENGTH = _Kind(
    noun=N_("a length"),
    quantity=N_("length"),
    example=N_("1.75 in, 6' 10\" or 45 mm"),
    base="m",
    names=_names(
        m="m metre metres meter meters",
        cm="cm centimetre centimetres centimeter centimeters",
        mm="mm millimetre millimetres millimeter millimeters",
        ft="ft foot feet '",
    )
    | dict.fromkeys(("in", "inch", "inches", '"'), "in"),
    bare=("cm", "in"),
    chains=(("ft", "in"), ("m", "cm", "mm")),
    bare_after={"ft": "in"},
)

_UNIT = re.compile(r"(?:(?![.,][0-9])[^0-9])*")
_MORE_THAN_ONE = frozenset({"-", "to", "or", "±", "+", "+-", "x", "×", "..."})
_CLOCK = re.compile(
    r"(?P<first>[0-9]{1,6}):(?P<second>[0-9]{2})(?::(?P<third>[0-9]{2}(?:[.,][0-9]+)?))?"
    r" ?(?P<unit>[a-zA-Z]*)"
)


@dataclass(frozen=True)
class _Part:
    number: Fraction
    unit: str


def parse_temperature(text: str, *, low_c: float = -90.0, high_c: float = 1500.0) -> float:
    """Read a temperature ("250F", "121 °C", "394 K") and return it in °C.

    Raises QuantityError for a bare number, for anything below absolute zero, and outside
    `low_c` to `high_c`, beyond which nothing at a cooker can be.
    """

    def in_c(number: Fraction, unit: str) -> Fraction:
        factor, offset = affine(unit, "°C")
        return number * factor + offset

    def possible(number: Fraction, unit: str) -> bool:
        return low_c <= in_c(number, unit) <= high_c

    parts = _parts(_TEMPERATURE, text, possible)
    value = _as_float(in_c(parts[0].number, parts[0].unit), text)
    if not low_c <= value <= high_c:
        raise _impossible_temperature(text, parts[0], value, low_c, high_c)
    return value


def parse_temperature_difference(text: str) -> float:
    """Read a difference of two temperatures ("10 °F", "+3 °C", "5 K") and return it in kelvin.

    The zero points of the scales play no part: 10 °F is 5.56 K. Raises QuantityError.
    """
    return _read(_DIFFERENCE, text)


def parse_mass(text: str) -> float:
    """Read a mass ("12 lb 4 oz", "5.57 kg", "5,570 g", "12½ lb") and return it in kg, 0 or more.

    Raises QuantityError; "1,234 kg" is refused, because it may be 1.234 kg or 1234 kg.
    """
    return _read(_MASS, text)


def parse_duration(text: str) -> float:
    """Read a length of time ("4h30", "90 min", "1:30:00", "2 days") and return it in s, 0 or more.

    Raises QuantityError; "4:30" is refused, because it may be hours or minutes.
    """
    clean = tidy(text)
    if ":" in clean and not clean.startswith("-"):
        return _as_float(_clock_s(clean, text), text)
    return _read(_DURATION, text)


def parse_length(text: str) -> float:
    """Read a length ("1.75 in", "6' 10\\"", "1 3/4 in", "45 mm") and return it in m, 0 or more.

    Raises QuantityError.
    """
    return _read(_LENGTH, text)


def _read(kind: _Kind, text: str) -> float:
    total = Fraction(0)
    for part in _parts(kind, text):
        total += part.number * _size(kind, part.unit)
    return _as_float(total, text)


def _size(kind: _Kind, unit: str) -> Fraction:
    # The size alone: a difference of temperature has no zero point, and nothing else has one.
    return affine(unit, kind.base)[0]


def _as_float(value: Fraction, text: str) -> float:
    try:
        return float(value)
    except OverflowError:
        raise refusal(
            text, N_("the number is too large"), N_("Check the number and the unit")
        ) from None


def _parts(
    kind: _Kind, text: str, possible: Callable[[Fraction, str], bool] = lambda _, __: True
) -> list[_Part]:
    """Return the numbers and units written, checked to make one quantity; the first is signed."""
    rest = tidy(text)
    sign = -1 if rest.startswith("-") else 1
    rest = rest.removeprefix("-" if sign < 0 else "+").lstrip(" ")
    if sign < 0 and not kind.signed:
        raise refusal(
            text,
            N_("%(noun)s cannot be negative", noun=kind.noun),
            N_("Write it without the minus"),
        )
    parts: list[_Part] = []
    while rest:
        match = NUMBER.match(rest)
        if match is None:
            raise _no_number(kind, text)
        if parts and rest[0] in ".,":
            wrong = N_('"%(number)s" behind another part could be two things', number=match[0])
            raise refusal(text, wrong, N_("Write 0.5 with the 0, or a space behind the comma"))
        written_unit = _UNIT.match(rest, match.end())
        unit_text = written_unit[0] if written_unit else ""
        rest = rest[match.end() + len(unit_text) :]
        unit = _unit(kind, unit_text, match, text, parts)
        number = _number(match, unit, text, sign, possible)
        parts.append(_Part(number if parts else sign * number, unit))
    if not parts:
        raise _no_number(kind, text)
    _check_parts(kind, parts, text)
    return parts


def _no_number(kind: _Kind, text: str) -> QuantityError:
    return refusal(
        text,
        N_("a number that can be read is missing"),
        N_("Write %(example)s", example=kind.example),
    )


def _number(
    match: re.Match[str],
    unit: str,
    text: str,
    sign: int,
    possible: Callable[[Fraction, str], bool],
) -> Fraction:
    if match["plain"] is None:
        return fraction_value(match, text)
    return plain_value(match["plain"], unit, text, lambda number: possible(sign * number, unit))


def _unit(kind: _Kind, unit_text: str, match: re.Match[str], text: str, before: list[_Part]) -> str:
    """Return the unit as people see it, for the unit as it was written after the number."""
    name = re.sub(r"(?:[,&;]|\band)$", "", unit_text.strip()).strip().lower()
    if name.replace(" ", "") in _MORE_THAN_ONE:
        raise refusal(
            text, N_("more than one value"), N_("Write one, %(example)s", example=kind.example)
        )
    name = re.sub(r"^-(?=[a-z])", "", name).removesuffix(".").strip()
    if kind.names is _DEGREES:
        name = re.sub(r"°|degrees?|deg\.?", "", name).strip()
    if name in kind.names:
        return kind.names[name]
    if name:
        wrong = N_('"%(name)s" is not a unit of %(quantity)s', name=name, quantity=kind.quantity)
        raise refusal(text, wrong, N_("Write %(example)s", example=kind.example))
    number = match[0]
    after = kind.bare_after.get(before[-1].unit) if before else None
    if after is not None and re.fullmatch(r"[0-9]{1,2}", number):
        return after
    if before or not re.fullmatch(r"[0-9]+(?:[.,][0-9]{1,2})?", number):
        raise refusal(
            text,
            N_("%(number)s has no unit", number=number),
            N_("Write %(example)s", example=kind.example),
        )
    one, other = (f"{number} {unit}" for unit in kind.bare)
    raise refusal(
        text,
        N_("no unit: %(one)s is not %(other)s", one=one, other=other),
        N_("Write %(one)s or %(other)s", one=one, other=other),
    )


def _check_parts(kind: _Kind, parts: list[_Part], text: str) -> None:
    for before, after in pairwise(parts):
        if not kind.chains:
            raise refusal(
                text, N_("more than one value"), N_("Write one, %(example)s", example=kind.example)
            )
        chain = next((units for units in kind.chains if before.unit in units), ())
        if after.unit not in chain[chain.index(before.unit) + 1 :]:
            wrong = N_(
                "%(unit)s cannot follow %(before)s in %(noun)s",
                unit=after.unit,
                before=before.unit,
                noun=kind.noun,
            )
            raise refusal(text, wrong, N_("Write %(example)s", example=kind.example))
        if before.number.denominator != 1:
            wrong = N_(
                "only the last part may have a fraction, and %(unit)s has one", unit=before.unit
            )
            raise refusal(text, wrong, N_("Write %(example)s", example=kind.example))
        most = _size(kind, before.unit) / _size(kind, after.unit)
        if after.number >= most:
            carried, left = divmod(after.number, most)
            meant = f"{plainly(before.number + carried)} {before.unit} {plainly(left)} {after.unit}"
            wrong = N_(
                "%(unit)s after %(before)s must be under %(most)s",
                unit=after.unit,
                before=before.unit,
                most=plainly(most),
            )
            raise refusal(text, wrong, N_("Write %(meant)s, if that is meant", meant=meant))


def _clock_s(clean: str, text: str) -> Fraction:
    """Return the seconds in "1:30:00", "4:30 h" or "4:30 min"."""
    match = _CLOCK.fullmatch(clean)
    mend = N_("Write 1:30:00, 4h30 or 4 min 30 s")
    if match is None:
        raise refusal(text, N_("this cannot be read as a duration"), mend)
    first, second = int(match["first"]), int(match["second"])
    unit = _DURATION.names.get(match["unit"].lower(), match["unit"])
    if match["third"] is None:
        if unit and unit not in ("h", "min"):
            raise refusal(
                text,
                N_(
                    "%(clock)s cannot be in %(unit)s", clock=f"{first}:{match['second']}", unit=unit
                ),
                mend,
            )
        if not unit:
            either = N_(
                "%(first)s h %(second)s min or %(first)s min %(second)s s",
                first=str(first),
                second=str(second),
            )
            raise refusal(
                text,
                N_("this could be %(either)s", either=either),
                N_("Write %(either)s", either=either),
            )
        top_s = 3600 if unit == "h" else 60
        third = Fraction(0)
    elif unit in ("", "h"):
        top_s, third = 3600, Fraction(match["third"].replace(",", "."))
    else:
        raise refusal(text, N_("hours, minutes and seconds cannot be in %(unit)s", unit=unit), mend)
    if second >= 60 or third >= 60:
        raise refusal(text, N_("minutes and seconds must be under 60"), mend)
    return Fraction(first * top_s + second * top_s // 60) + third


def _impossible_temperature(
    text: str, part: _Part, value_c: float, low_c: float, high_c: float
) -> QuantityError:
    if value_c < ABSOLUTE_ZERO_C:
        wrong = N_("below absolute zero, %(zero_c)s °C", zero_c=ABSOLUTE_ZERO_C)
    else:
        wrong = N_(
            "%(value_c)s °C is impossible; it can be %(low_c)s to %(high_c)s °C here",
            value_c=f"{value_c:.6g}",
            low_c=f"{low_c:g}",
            high_c=f"{high_c:g}",
        )
    for other in ("°F", "°C"):
        factor, offset = affine(other, "°C")
        if other != part.unit and low_c <= part.number * factor + offset <= high_c:
            number = plainly(part.number)
            return refusal(
                text,
                wrong,
                N_(
                    "Did you mean %(number)s %(other)s? Then write that", number=number, other=other
                ),
            )
    return refusal(text, wrong, N_("Check the number and the unit"))
