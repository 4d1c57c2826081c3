"""Temperatures as they stand in the cells of a logger's file, read without changing a digit."""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from enum import IntEnum
from functools import cache

import numpy as np
import polars as pl
from numpy.typing import NDArray

from fairsmoke.trial.reading import MAX_DECIMALS, ReadingUnit

MAX_WHOLE_DIGITS = 9
"""With nine decimals this still fits in 64 bits, and no thermometer writes more."""


class Cell(IntEnum):
    """What a cell of a temperature column holds."""

    VALUE = 0
    NO_VALUE = 1
    OPEN = 2
    BAD = 3


OPEN_WORDS = frozenset(
    {
        "open",
        "err",
        "error",
        "ol",
        "o.l",
        "o/l",
        "hi",
        "lo",
        "hh",
        "ll",
        "hhh",
        "lll",
        "high",
        "low",
        "inf",
        "-inf",
        "+inf",
        "infinity",
        "-infinity",
        "over",
        "under",
        "ovl",
        "ovld",
        "overload",
        "underload",
        "unplugged",
        "disconnected",
        "fault",
        "fail",
        "short",
        "no probe",
        "not connected",
        "no sensor",
        "probe error",
        "sensor error",
        "open circuit",
    }
)
"""What loggers write for a probe that is unplugged or broken (common practice, no source)."""

NO_VALUE_WORDS = frozenset(["nan", "null", "none", "nil", "n/a", "na", "#n/a", "no data", "off"])
"""What loggers write when they have nothing to say (common practice, no source)."""

_DASHES = re.compile(r"[-–—_.*?\s]*")
_UNIT_LETTER: dict[str, ReadingUnit] = {"c": "degC", "f": "degF", "k": "K"}


@dataclass(frozen=True)
class ParsedCell:
    """One cell: its kind and, for a value, ``raw`` units of ``10**-decimals``."""

    kind: Cell
    raw: int = 0
    decimals: int = 0
    reason: str = ""


@dataclass(frozen=True)
class ParsedCells:
    """A column of cells: ``kind`` (n,) uint8 of Cell, ``raw`` (n,) int64, ``decimals`` (n,) int8.

    ``reasons`` tells by index why a cell is bad.
    """

    kind: NDArray[np.uint8]
    raw: NDArray[np.int64]
    decimals: NDArray[np.int8]
    reasons: dict[int, str]


def parse_cell(
    text: str,
    decimal_mark: str = ".",
    unit: ReadingUnit | None = None,
    no_value: frozenset[str] = frozenset(),
) -> ParsedCell:
    """Read one cell; ``no_value`` are further words (small letters) that stand for no value.

    A unit written behind the number must be ``unit``, unless that is None. More decimals than
    a reading keeps (9) are rounded half to even.

    >>> parse_cell("203,40", ",").raw, parse_cell("203,40", ",").decimals
    (20340, 2)
    """
    bare = text.strip()
    word = bare.lower()
    if word in no_value or word in NO_VALUE_WORDS or _DASHES.fullmatch(word):
        return ParsedCell(Cell.NO_VALUE)
    if word in OPEN_WORDS:
        return ParsedCell(Cell.OPEN)
    match = _number_pattern(decimal_mark).fullmatch(bare.replace("\u2212", "-"))
    if match is None:
        return ParsedCell(Cell.BAD, reason=f"{_short(bare)} is not a temperature")
    if match["unit"] and unit and _UNIT_LETTER[match["unit"].lower()] != unit:
        return ParsedCell(Cell.BAD, reason=f"{_short(bare)} is not in the unit of its column")
    value = Decimal(match["number"].replace(decimal_mark, ".") + (match["power"] or ""))
    if value and value.adjusted() >= MAX_WHOLE_DIGITS:
        return ParsedCell(Cell.BAD, reason=f"{_short(bare)} is too large for a temperature")
    return _lossless(value)


def _lossless(value: Decimal) -> ParsedCell:
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)
    if -exponent > MAX_DECIMALS:
        value = value.quantize(Decimal(1).scaleb(-MAX_DECIMALS), rounding=ROUND_HALF_EVEN)
    decimals = min(max(0, -exponent), MAX_DECIMALS)
    return ParsedCell(Cell.VALUE, int(value.scaleb(decimals)), decimals)


@cache
def _number_pattern(decimal_mark: str) -> re.Pattern[str]:
    mark = re.escape(decimal_mark)
    return re.compile(
        rf"(?P<number>[+-]?(?:[0-9]+(?:{mark}[0-9]*)?|{mark}[0-9]+))(?P<power>[eE][+-]?[0-9]{{1,3}})?"
        r"(?:\s*(?:°|º|˚|deg\.?\s*)?(?P<unit>[CcFfKk]))?"
    )


def _short(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")


def parse_cells(
    cells: pl.Series,
    decimal_mark: str = ".",
    unit: ReadingUnit | None = None,
    no_value: frozenset[str] = frozenset(),
) -> ParsedCells:
    """Read a column of cells, each exactly as ``parse_cell`` does.

    Plain numbers are read all at once; the rest cell by cell, each distinct text once.
    """
    stripped = cells.str.strip_chars(" \t")
    kind = np.full(len(cells), int(Cell.VALUE), dtype=np.uint8)
    done, raw, decimals = _plain(stripped, decimal_mark)
    if not done.all():
        at, rounded = _long(stripped, decimal_mark)
        raw[at], decimals[at], done[at] = rounded, MAX_DECIMALS, True
    reasons: dict[int, str] = {}
    odd = np.flatnonzero(~done)
    seen: dict[str, ParsedCell] = {}
    for index, text in zip(odd.tolist(), cells.gather(odd).to_list(), strict=True):
        cell = seen.get(text)
        if cell is None:
            cell = seen[text] = parse_cell(text, decimal_mark, unit, no_value)
        kind[index], raw[index], decimals[index] = cell.kind, cell.raw, cell.decimals
        if cell.kind is Cell.BAD:
            reasons[index] = cell.reason
    return ParsedCells(kind, raw, decimals, reasons)


def _plain(
    stripped: pl.Series, decimal_mark: str
) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int8]]:
    """Read the numbers with no more decimals than are kept: which they are, raw, decimals."""
    mark = re.escape(decimal_mark)
    whole, part = f"[0-9]{{1,{MAX_WHOLE_DIGITS}}}", f"[0-9]{{0,{MAX_DECIMALS}}}"
    plain = stripped.str.contains(f"^[+-]?{whole}(?:{mark}{part})?$").to_numpy().copy()
    digits = stripped.str.replace(decimal_mark, "", literal=True).str.strip_prefix("+")
    mark_at = stripped.str.find(decimal_mark, literal=True).cast(pl.Int64)
    behind = (stripped.str.len_bytes().cast(pl.Int64) - mark_at - 1).fill_null(0)
    raw = digits.cast(pl.Int64, strict=False).fill_null(0).to_numpy().copy()
    # An odd cell may have anything behind its mark; only plain ones may be narrowed to 8 bits.
    return plain, raw, np.where(plain, behind.to_numpy(), 0).astype(np.int8)


def _long(stripped: pl.Series, decimal_mark: str) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
    """Read the numbers with more decimals, as computers print them: index and raw, rounded."""
    pattern = (
        rf"^(?P<sign>[+-]?)(?P<whole>[0-9]{{1,{MAX_WHOLE_DIGITS}}}){re.escape(decimal_mark)}"
        rf"(?P<kept>[0-9]{{{MAX_DECIMALS}}})(?P<rest>[0-9]+)$"
    )
    at = np.flatnonzero(stripped.str.contains(pattern).to_numpy())
    parts = stripped.gather(at).str.extract_groups(pattern).struct.unnest()
    raw = (parts["whole"] + parts["kept"]).cast(pl.Int64).to_numpy()
    rest = parts["rest"].str.strip_chars_end("0")
    # As text "5" is less than "51" and more than "49": half goes to even, as in parse_cell.
    up = (rest > "5").to_numpy() | ((rest == "5").to_numpy() & (raw % 2 == 1))
    size = raw + up
    return at, np.where((parts["sign"] == "-").to_numpy(), -size, size)
