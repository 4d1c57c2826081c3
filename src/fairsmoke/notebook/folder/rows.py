"""A readings file row by row: what a person may write by hand, and what is wrong on which line."""

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import FolderProblem, did_you_mean
from fairsmoke.trial.clock import EARLIEST_MS, LATEST_MS, ClockError, epoch_ms, parse_instant
from fairsmoke.trial.reading import MAX_DECIMALS, Flag, ReadingUnit

UNITS: dict[str, ReadingUnit] = {"°C": "degC", "°F": "degF", "K": "K"}
"""The headings of columns of values."""

_ALSO = {"C": "°C", "F": "°F", "degC": "°C", "degF": "°F"}
_HEADINGS = ("time", *UNITS, "flags", "source")
_FLAG_WORDS = {flag.name.lower().replace("_", " "): int(flag) for flag in Flag if flag.name}
_VALUE = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
_SOURCE = re.compile(r"[a-z0-9][a-z0-9-]*")
_MOST_PROBLEMS = 20


def flag_words(flags: int) -> str:
    """Return flags as words.

    >>> flag_words(10)
    'stuck; jump'
    """
    words = [word for word, bit in _FLAG_WORDS.items() if flags & bit]
    unnamed = flags & ~sum(_FLAG_WORDS.values())
    return "; ".join([*words, *([str(unnamed)] if unnamed else [])])


def flags_of_words(text: str) -> int:
    """Return the flags that words stand for; raises ValueError that names a word it is not."""
    total = 0
    for part in text.split(";"):
        word = part.strip().lower()
        if word in _FLAG_WORDS:
            total |= _FLAG_WORDS[word]
        elif re.fullmatch(r"[0-9]{1,3}", word) and int(word) < 256:
            total |= int(word)
        elif word:
            raise InputError(
                N_(
                    "'%(word)s' is not a flag%(hint)s",
                    word=word,
                    hint=did_you_mean(word, list(_FLAG_WORDS)),
                )
            )
    return total


@dataclass(frozen=True)
class TableRows:
    """Checked rows, a column each: values still as text, units as headings."""

    time_ms: NDArray[np.int64]
    unit: pl.Series
    value: pl.Series
    flags: NDArray[np.uint8]
    source: pl.Series


@dataclass(frozen=True)
class _Row:
    line: int
    time_ms: int
    unit: str
    value: str
    flags: int
    source: str

    @property
    def decimals(self) -> int:
        return len(self.value.partition(".")[2])


class RowReader:
    """Reads one file; what is wrong joins ``problems``, at most 20 of a file."""

    def __init__(self, file: str, zone: ZoneInfo | None, problems: list[FolderProblem]) -> None:
        self._file = file
        self._zone = zone
        self._problems = problems
        self._found = 0

    def read(self, content: bytes) -> TableRows:
        """Return the rows that are sound."""
        rows = [row for row in self._rows(content) if self._fits(row)]
        self._too_many_digits(rows)
        if self._found > _MOST_PROBLEMS:
            more = self._found - _MOST_PROBLEMS
            self._problems.append(
                FolderProblem(self._file, None, "", N_("and %(more)s more problems", more=more))
            )
        if self._found:
            rows = []
        return TableRows(
            np.array([row.time_ms for row in rows], dtype=np.int64),
            pl.Series([row.unit for row in rows], dtype=pl.String),
            pl.Series([row.value for row in rows], dtype=pl.String),
            np.array([row.flags for row in rows], dtype=np.uint8),
            pl.Series([row.source for row in rows], dtype=pl.String),
        )

    def _problem(self, line: int, key: str, message: str) -> None:
        self._found += 1
        if self._found <= _MOST_PROBLEMS:
            self._problems.append(FolderProblem(self._file, line, key, message))

    def _rows(self, content: bytes) -> list[_Row]:
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = content[: error.start].count(b"\n") + 1
            self._problem(line, "", "not UTF-8 text; save it as UTF-8")
            return []
        lines = csv.reader(io.StringIO(text, newline=""))
        try:
            heading = self._heading(next(lines, []))
            if heading is None:
                return []
            found = []
            for cells in lines:
                if any(cell.strip() for cell in cells):
                    row = self._row(lines.line_num, heading, [cell.strip() for cell in cells])
                    found += [row] if row is not None else []
        except csv.Error as error:
            self._problem(lines.line_num, "", f"not CSV: {error}")
            return []
        return found

    def _heading(self, cells: list[str]) -> list[str] | None:
        names = [_ALSO.get(cell.strip(), cell.strip()) for cell in cells]
        before = self._found
        for name, times in Counter(names).items():
            if name not in _HEADINGS:
                self._problem(1, name, f"unknown column{did_you_mean(name, _HEADINGS)}")
            elif times > 1:
                self._problem(1, name, "two columns of this name; keep one")
        if "time" not in names or not set(names) & set(UNITS):
            self._problem(1, "", "the first line must name the columns, as in 'time,°C'")
        return names if self._found == before else None

    def _row(self, line: int, heading: list[str], cells: list[str]) -> _Row | None:
        if len(cells) != len(heading):
            self._problem(line, "", f"{len(cells)} columns instead of {len(heading)}")
            return None
        by_name = dict(zip(heading, cells, strict=True))
        time_ms = self._time(line, by_name["time"])
        given = [(name, by_name[name]) for name in UNITS if by_name.get(name)]
        if len(given) != 1:
            what = "no value" if not given else "two values; write one, in one unit"
            self._problem(line, "", what)
            return None
        unit, value = given[0]
        if not _VALUE.fullmatch(value) or len(value.partition(".")[2]) > MAX_DECIMALS:
            self._problem(line, unit, f"'{value}' is not a number such as 93.5")
            return None
        source = by_name.get("source", "")
        if source and not _SOURCE.fullmatch(source):
            self._problem(line, "source", f"'{source}' is not a handle (small letters, digits, -)")
        try:
            flags = flags_of_words(by_name.get("flags", ""))
        except ValueError as error:
            self._problem(line, "flags", str(error))
            return None
        if time_ms is None:
            return None
        return _Row(line, time_ms, unit, value.removeprefix("+"), flags, source)

    def _time(self, line: int, text: str) -> int | None:
        try:
            instant: datetime = parse_instant(text, self._zone)
        except (ClockError, OverflowError) as error:
            self._problem(line, "time", str(error))
            return None
        time_ms = epoch_ms(instant)
        if instant.astimezone(UTC).microsecond % 1000:
            self._problem(line, "time", f"'{text}' is finer than a thousandth of a second")
        elif not EARLIEST_MS <= time_ms < LATEST_MS:
            self._problem(line, "time", f"'{text}' lies outside the years 1900 to 2999")
        else:
            return time_ms
        return None

    def _fits(self, row: _Row) -> bool:
        # Longer than any 64-bit number: such a row would spoil the decimals of all others.
        if len(row.value) > 21:
            self._problem(row.line, row.unit, f"'{row.value}' has too many digits")
            return False
        return True

    def _too_many_digits(self, rows: list[_Row]) -> None:
        decimals: dict[tuple[str, str], int] = {}
        for row in rows:
            key = (row.source, row.unit)
            decimals[key] = max(decimals.get(key, 0), row.decimals)
        for row in rows:
            digits = row.value.replace(".", "")
            raw = int(digits) * 10 ** (decimals[(row.source, row.unit)] - row.decimals)
            if not -(2**63) <= raw < 2**63:
                self._problem(row.line, row.unit, f"'{row.value}' has too many digits")
