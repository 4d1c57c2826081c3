"""The unit of temperature that a header, a line or a cell of a logger's file speaks of."""

import re

from fairsmoke.trial.reading import ReadingUnit

_BY_LETTER: dict[str, ReadingUnit] = {"C": "degC", "F": "degF", "K": "K"}
_WORDS = re.compile(r"\b(?P<word>fahrenheit|celsius|centigrade|kelvin)\b", re.IGNORECASE)
_BY_WORD: dict[str, ReadingUnit] = {
    "fahrenheit": "degF",
    "celsius": "degC",
    "centigrade": "degC",
    "kelvin": "K",
}
_DEGREE = re.compile(r"[°º˚]\s?(?P<letter>[CFK])(?![A-Za-z])", re.IGNORECASE)
_DEG_WORD = re.compile(
    r"(?<![A-Za-z])deg(?:rees?)?\.?[ _]?(?P<letter>[CFK])(?![A-Za-z])", re.IGNORECASE
)
# Whatever a degree sign became in a wrong encoding may stand before the letter.
_BRACKETED = re.compile(r"[(\[]\s*[^\w\s)\]]?Â?[°º˚]?\s*(?P<letter>[CFK])\s*[)\]]", re.IGNORECASE)
_CERTAIN = (_DEGREE, _DEG_WORD, _BRACKETED)
_TRAILING = re.compile(r"(?<=[a-z0-9])[ _./-](?P<letter>[CFK])$", re.IGNORECASE)

UNIT_CELLS: dict[str, ReadingUnit] = {
    **{letter.lower(): unit for letter, unit in _BY_LETTER.items()},
    **{f"{sign}{letter}".lower(): unit for letter, unit in _BY_LETTER.items() for sign in "°º˚"},
    **{
        f"deg{gap}{letter}".lower(): unit
        for letter, unit in _BY_LETTER.items()
        for gap in ("", " ")
    },
    **_BY_WORD,
}
"""What a column of units may say (small letters)."""


def unit_named(text: str) -> ReadingUnit | None:
    """Return the unit that the text states beyond doubt, for instance "Probe 1 (°F)"."""
    word = _WORDS.search(text)
    if word:
        return _BY_WORD[word["word"].lower()]
    for pattern in _CERTAIN:
        match = pattern.search(text)
        if match:
            return _BY_LETTER[match["letter"].upper()]
    return None


def unit_at_end(text: str) -> ReadingUnit | None:
    """Return the unit that a last letter may mean, as in "Temp1_C"; it may also be a name."""
    match = _TRAILING.search(text.strip())
    return _BY_LETTER[match["letter"].upper()] if match else None


def unit_of_line(line: str) -> ReadingUnit | None:
    """Return the unit that a line above the header states for the whole file."""
    if not re.search(r"unit|temp|scale", line, re.IGNORECASE):
        return None
    last = re.split(r"[:=,;\t]", line.strip(" ,;\t\"'"))[-1].strip(" \t\"'").lower()
    return unit_named(line) or UNIT_CELLS.get(last)


def without_unit(text: str, *, at_end: bool) -> str:
    """Return a header without its unit, as a name for the probe."""
    bare = text.strip()
    for pattern in (_BRACKETED, _DEGREE, _DEG_WORD):
        bare = pattern.sub("", bare)
    bare = re.sub(r"[(\[]?\b(?:fahrenheit|celsius|centigrade|kelvin)\b[)\]]?", "", bare, flags=re.I)
    if at_end:
        bare = _TRAILING.sub("", bare)
    return re.sub(r"[(\[]\s*[)\]]", "", bare).strip(" _-,;:/")
