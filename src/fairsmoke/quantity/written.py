"""Numbers as people write them: decimal commas, thousands separators, fractions, odd characters."""

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction

from fairsmoke.messages.message import N_
from fairsmoke.quantity.errors import refusal

LONGEST = 100
_LARGEST_EXPONENT = 400

_SAME = str.maketrans(
    dict.fromkeys("−‐‑‒–—﹣－", "-")
    | dict.fromkeys("′’‘ʹ´`", "'")
    | dict.fromkeys("″”“„ʺ", '"')
    | dict.fromkeys("\u200b\u200e\u200f\u2060\ufeff\u00ad", "")
    | {"⁄": "/", "∕": "/", "º": "°", "˚": "°", "℃": "°C", "℉": "°F", "\u212a": "K"}
    | {"＋": "+", "，": ",", "．": ".", "㎏": "kg", "㎜": "mm", "㎝": "cm"}
)

NUMBER = re.compile(
    r"(?:(?P<whole>[0-9]+)(?:\ ?-\ ?|\ ))?(?P<top>[0-9]{1,3})\ ?/\ ?(?P<bottom>[0-9]{1,3})(?![0-9])"
    r"|(?P<plain>(?:[0-9]+(?:[.,\ ][0-9]+)*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?)"
)
_WITH_EXPONENT = re.compile(r"[0-9]*\.?[0-9]+[eE](?P<exponent>[+-]?[0-9]+)")
_DECIMAL = re.compile(r"[0-9]*[.,]?[0-9]+")
_GROUPED = re.compile(
    r"(?P<groups>[1-9][0-9]{0,2}(?P<mark>[., ])[0-9]{3}(?:(?P=mark)[0-9]{3})*)"
    r"(?:(?!(?P=mark))[.,](?P<decimals>[0-9]+))?"
)

# With a comma and exactly three digits behind it the number is thousands: no kitchen scale, rule
# or clock shows a thousandth of these units.
_COMMA_GROUPS = frozenset({"g", "mm", "min", "s"})
# The same number with a point is what half of Europe writes for thousands and the other half of
# the world for a thousandth. Seconds are left out: the files write them with a decimal point.
_POINT_IS_UNSURE = frozenset({"g", "mm", "min"})


def tidy(text: str) -> str:
    """Return the text with one character for each of the many dashes, spaces, primes and fractions.

    Raises QuantityError when it is empty or longer than 100 characters.
    """
    if len(text) > LONGEST:
        raise refusal(
            text,
            N_("longer than %(longest)s characters", longest=LONGEST),
            N_("Write one quantity only"),
        )
    pieces = []
    for letter in text.translate(_SAME):
        kind, _, rest = unicodedata.decomposition(letter).partition(" ")
        if kind == "<fraction>":
            top_and_bottom = "".join(chr(int(code, 16)) for code in rest.split())
            pieces.append(" " + top_and_bottom.replace("⁄", "/"))
        else:
            pieces.append(letter)
    clean = " ".join("".join(pieces).replace("''", '"').split())
    if not clean:
        raise refusal(text, N_("nothing is written here"), N_("Write a number and its unit"))
    return clean


def plainly(number: Fraction) -> str:
    """Return a number as a plain decimal for an error message, at most twelve digits."""
    try:
        return f"{float(number):.12g}"
    except OverflowError:
        return "a very large number"


def fraction_value(match: re.Match[str], text: str) -> Fraction:
    """Return the value of a "3/4" or "1 3/4" that NUMBER matched; raises QuantityError."""
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise refusal(
            text, N_("a fraction cannot have 0 below the line"), N_("Write 3/4, for example")
        )
    if match["whole"] is None:
        return Fraction(top, bottom)
    if top >= bottom:
        wrong = N_(
            "%(top)s/%(bottom)s after a whole number must be less than one", top=top, bottom=bottom
        )
        raise refusal(text, wrong, N_("Write 12 1/2, for example"))
    return int(match["whole"]) + Fraction(top, bottom)


def plain_value(
    plain: str, unit: str, text: str, possible: Callable[[Fraction], bool] = lambda _: True
) -> Fraction:
    """Return the value of a number in digits, with points, commas and spaces.

    `plain` is the number, `unit` the unit as shown to people, `text` the whole of what was
    written, `possible` says whether a value can be meant at all; it is asked only about a number
    that could be read two ways. The rules stand in docs/quantities.md. Raises QuantityError.
    """
    if "e" in plain.lower():
        return _exponent_value(plain, text)
    decimal = Fraction(plain.replace(",", ".")) if _DECIMAL.fullmatch(plain) else None
    grouped = _GROUPED.fullmatch(plain)
    if grouped is None:
        if decimal is None:
            raise refusal(
                text,
                N_("%(plain)s is not one number", plain=plain),
                N_("Write 1234.5 or 1234,5, for example"),
            )
        return decimal
    digits = re.sub(r"[^0-9]", "", grouped["groups"])
    thousands = Fraction(f"{digits}.{grouped['decimals'] or '0'}")
    if decimal is None:
        return thousands
    return _the_likely_one(plain, unit, text, decimal, thousands, possible)


def _exponent_value(plain: str, text: str) -> Fraction:
    match = _WITH_EXPONENT.fullmatch(plain)
    if match is None:
        raise refusal(
            text,
            N_("%(plain)s is not one number", plain=plain),
            N_("Write 1.5e-3, with a decimal point"),
        )
    # A longer exponent would have Python build a number that fills the memory.
    if len(match["exponent"]) > 5 or abs(int(match["exponent"])) > _LARGEST_EXPONENT:
        raise refusal(
            text, N_("%(plain)s is out of range", plain=plain), N_("Write the number in digits")
        )
    return Fraction(plain)


def _the_likely_one(
    plain: str,
    unit: str,
    text: str,
    decimal: Fraction,
    thousands: Fraction,
    possible: Callable[[Fraction], bool],
) -> Fraction:
    if "." in plain:
        if unit not in _POINT_IS_UNSURE:
            return decimal
    elif unit in _COMMA_GROUPS:
        return thousands
    else:
        left = [value for value in (decimal, thousands) if possible(value)]
        if len(left) == 1:
            return left[0]
    as_decimal, as_thousands = plainly(decimal), plainly(thousands)
    if unit in _POINT_IS_UNSURE and len(as_decimal.partition(".")[2]) == 3:
        as_decimal += "0"
    raise refusal(
        text,
        N_(
            "%(plain)s could be %(as_decimal)s or %(as_thousands)s",
            plain=plain,
            as_decimal=as_decimal,
            as_thousands=as_thousands,
        ),
        N_(
            "Write %(as_decimal)s %(unit)s or %(as_thousands)s %(unit)s",
            as_decimal=as_decimal,
            unit=unit,
            as_thousands=as_thousands,
        ),
    )
