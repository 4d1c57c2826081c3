"""What people write for an answer, and which choice they mean by it."""

import re
from collections.abc import Sequence

from fairsmoke.intake.units import UNIT_CELLS

_MEANT: dict[str, tuple[str, ...]] = {
    "day-month-year": (
        "day first",
        "day month",
        "dmy",
        "d m y",
        "dd mm yyyy",
        "dd mm yy",
        "uk",
        "gb",
        "eu",
        "european",
    ),
    "month-day-year": (
        "month first",
        "month day",
        "mdy",
        "m d y",
        "mm dd yyyy",
        "mm dd yy",
        "us",
        "usa",
        "american",
    ),
    "year-month-day": ("year first", "ymd", "y m d", "yyyy mm dd", "iso"),
    "elapsed s": ("s", "sec", "second", "seconds"),
    "elapsed min": ("m", "min", "minute", "minutes"),
    "elapsed h": ("h", "hr", "hour", "hours"),
    "clock": ("time of day", "time of the day"),
    "value": ("yes", "y", "probe", "temperature"),
    "ignore": ("no", "n", "not used", "leave out"),
}
"""By choice, what else may be written for it: small letters, words apart by one space."""

_CHOICE_OF = {word: choice for choice, words in _MEANT.items() for word in words}


def choice_meant(answer: str, choices: Sequence[str]) -> str | None:
    """Return which of the choices an answer means, None when it means none of them.

    >>> choice_meant("°F", ["degC", "degF", "K"])
    'degF'
    >>> choice_meant("Month first", ["month-day-year", "day-month-year"])
    'month-day-year'
    """
    word = answer.strip().casefold()
    spaced = re.sub(r"[-_/. ]+", " ", word).strip()
    for choice in choices:
        if choice.casefold() == word or re.sub(r"[-_/. ]+", " ", choice.casefold()) == spaced:
            return choice
    meant: str | None = UNIT_CELLS.get(word) or UNIT_CELLS.get(spaced) or _CHOICE_OF.get(spaced)
    return meant if meant in choices else None
