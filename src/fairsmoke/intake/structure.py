"""Find the rows of readings in a file of unknown layout: the separator, the decimal mark, where
the rows begin and which lines above them are the header and the units.
"""

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fairsmoke.intake.cells import Cell, parse_cell
from fairsmoke.intake.layout import SEPARATORS, Separator
from fairsmoke.intake.text import IntakeError, fields_of
from fairsmoke.intake.times import DATE_ONLY, PATTERN
from fairsmoke.intake.units import UNIT_CELLS
from fairsmoke.messages.message import N_

HEAD_LINES = 300
SPREAD_LINES = 300
"""So many lines are looked at from the top, and so many more spread over the rest."""

LONGEST_LINE = 10_000
"""A longer line is not a row of readings, and would take long to look at."""

MARKS = {"point": ".", "comma": ","}

Fields = tuple[str, ...]

_TIMES = [re.compile(pattern) for pattern in (*PATTERN.values(), *DATE_ONLY.values())]
_TIME_FORMAT = re.compile(r"(?:[ymdhs]{1,4}[-/:. ]?)+", re.IGNORECASE)
_OTHER_UNITS = frozenset(["", "-", "%", "%rh", "v", "mv", "unit", "units", "am/pm", "rpm"])


@dataclass(frozen=True)
class Structure:
    """Where the readings stand. Indices of lines begin at 0.

    ``rows`` are (index of the line, fields), each with ``width`` fields, from the top and
    spread over the file; ``header`` and ``units`` are filled to ``width``, empty if there is none.
    """

    separator: Separator
    decimal_mark: str
    width: int
    header_at: int | None
    header: Fields
    units: Fields
    first_row: int
    above: Fields
    rows: tuple[tuple[int, Fields], ...]


def is_time(cell: str) -> bool:
    """Tell whether a cell looks like a date, a clock time, or both."""
    return any(pattern.match(cell) for pattern in _TIMES)


def understood(fields: Sequence[str], mark: str) -> int:
    """Return how many cells are times, numbers or words for none; 0 if the row is mostly text."""
    cells = [cell.strip() for cell in fields if cell.strip()]
    good = sum(is_time(cell) or parse_cell(cell, mark).kind is not Cell.BAD for cell in cells)
    return good if good >= 2 and 2 * good >= len(cells) else 0


def _is_number(cell: str, mark: str) -> bool:
    return parse_cell(cell, mark).kind is Cell.VALUE


def sample_of(lines: Sequence[str]) -> list[int]:
    """Return the indices of the lines that are looked at."""
    head = range(min(HEAD_LINES, len(lines)))
    step = max(1, (len(lines) - len(head)) // SPREAD_LINES)
    return [*head, *range(len(head), len(lines), step)]


def structure_of(lines: Sequence[str]) -> Structure:
    """Find the readings.

    Raises IntakeError when there are none, or when the header does not fit them.
    """
    sample = [at for at in sample_of(lines) if lines[at].strip() and len(lines[at]) < LONGEST_LINE]
    separator, mark_name, rows = _best_split(lines, sample)
    mark = MARKS[mark_name]
    width = Counter(len(fields) for _, fields in rows).most_common(1)[0][0]
    rows = [(at, fields) for at, fields in rows if len(fields) == width]
    test = _row_test(rows, width, mark)
    # What fails it is damaged, or stands above: notes that look like a row, numbered channels.
    rows = [row for row in rows if test.passes(row[1])] or rows
    header = _header(lines, rows[0][0], separator, rows, test)
    if len(header.fields) > width:
        extra = ("",) * (len(header.fields) - width)
        rows = [(at, (*fields, *extra)) for at, fields in rows]
        width = len(header.fields)
    return Structure(
        separator=separator,
        decimal_mark=mark_name,
        width=width,
        header_at=header.at,
        header=(*header.fields, *[""] * (width - len(header.fields))),
        units=(*header.units, *[""] * (width - len(header.units)))[:width],
        first_row=header.begin,
        above=tuple(lines[: header.begin if header.at is None else header.at]),
        rows=tuple(rows),
    )


def _best_split(
    lines: Sequence[str], sample: Sequence[int]
) -> tuple[Separator, str, list[tuple[int, Fields]]]:
    best: tuple[int, Separator, str, list[tuple[int, Fields]]] | None = None
    for separator, character in SEPARATORS.items():
        split = [(at, fields_of(lines[at], character)) for at in sample]
        whole = [(at, tuple(fields)) for at, fields in split if fields]
        for mark_name in _marks_to_try(separator):
            scores = [understood(fields, MARKS[mark_name]) for _, fields in whole]
            total = sum(scores)
            if total and (best is None or total > best[0]):
                rows = [row for row, score in zip(whole, scores, strict=True) if score]
                best = (total, separator, mark_name, rows)
    if best is None:
        raise IntakeError(
            N_(
                "line 1: no readings found in this file: no line holds a time and a "
                "number, apart by commas, semicolons, tabs or upright strokes; export "
                "the readings as CSV, or give a mapping"
            )
        )
    return best[1:]


def _marks_to_try(separator: Separator) -> tuple[str, ...]:
    """Return the decimal marks, first the one to prefer where the numbers are all whole."""
    return ("comma", "point") if separator == "semicolon" else ("point", "comma")


@dataclass(frozen=True)
class _RowTest:
    """Which columns hold times and which numbers in most rows; tells a row from a header."""

    times: tuple[int, ...]
    numbers: tuple[int, ...]
    mark: str

    def passes(self, fields: Sequence[str]) -> bool:
        if len(fields) <= max((*self.times, *self.numbers), default=0):
            return False
        return (not self.times or any(is_time(fields[i].strip()) for i in self.times)) and all(
            parse_cell(fields[i], self.mark).kind is not Cell.BAD for i in self.numbers
        )

    def names(self, fields: Sequence[str]) -> bool:
        """Tell whether fields are words where the rows have times and numbers."""
        return sum(bool(cell.strip()) for cell in fields) > 1 and not (
            is_units_row(fields)
            or any(is_time(fields[i].strip()) for i in self.times if i < len(fields))
            or any(_is_number(fields[i], self.mark) for i in self.numbers if i < len(fields))
        )


def _row_test(rows: Sequence[tuple[int, Fields]], width: int, mark: str) -> _RowTest:
    def most(holds: Callable[[str], bool]) -> tuple[int, ...]:
        counts = [sum(holds(f[i].strip()) for _, f in rows) for i in range(width)]
        return tuple(i for i, count in enumerate(counts) if 2 * count > len(rows))

    times = most(is_time)
    numbers = most(lambda cell: _is_number(cell, mark))
    return _RowTest(times, tuple(i for i in numbers if i not in times), mark)


@dataclass(frozen=True)
class _Header:
    """Indices of the lines of header and units, and their fields; ``begin`` the first row."""

    at: int | None
    fields: Fields
    units: Fields
    begin: int


def _header(
    lines: Sequence[str],
    first_row: int,
    separator: Separator,
    rows: Sequence[tuple[int, Fields]],
    test: _RowTest,
) -> _Header:
    """Look upwards from the first row for its header.

    What stands between the two, other than units, is left to be read, and counted, as rows.
    Raises IntakeError when the line above the rows is a header with too few names.
    """
    last_filled = max(i for _, fields in rows for i, cell in enumerate(fields) if cell.strip())
    above = [
        (at, _trimmed(fields_of(lines[at][:LONGEST_LINE], SEPARATORS[separator]) or []))
        for at in range(first_row - 1, -1, -1)
    ]
    above = [(at, fields) for at, fields in above if fields]
    wide = [(at, fields) for at, fields in above if len(fields) > last_filled]
    units = next(((at, fields) for at, fields in above if is_units_row(fields)), None)
    named = [(at, f) for at, f in wide if test.names(f) and (units is None or at < units[0])]
    numbered = [(at, f) for at, f in wide if not test.passes(f) and (at, f) != units]
    if named or numbered:
        at, fields = (named or numbered)[0]
        if units and at < units[0]:
            return _Header(at, fields, units[1], units[0] + 1)
        return _Header(at, fields, (), at + 1)
    if above and above[0] != units and len(above[0][1]) > 1 and test.names(above[0][1]):
        at, fields = above[0]
        raise IntakeError(
            N_(
                "line %(at)s: the header names %(fields)s columns, but line "
                "%(first_row)s has %(last_filled)s; if its numbers have decimal commas, "
                "export the file with semicolons or tabs, else name the missing columns",
                at=at + 1,
                fields=len(fields),
                first_row=first_row + 1,
                last_filled=last_filled + 1,
            )
        )
    full = {at for at, _ in wide}
    begin = first_row
    while begin - 1 in full:
        begin -= 1
    return _Header(None, (), units[1] if units else (), begin)


def _trimmed(fields: Sequence[str]) -> Fields:
    kept = list(fields)
    while kept and not kept[-1].strip():
        kept.pop()
    return tuple(kept)


def is_units_row(fields: Sequence[str]) -> bool:
    """Tell whether fields are those of a row of units below the header."""
    words = [cell.strip(" \t()[]").lower() for cell in fields]
    return any(word in UNIT_CELLS for word in words) and all(
        word in UNIT_CELLS or word in _OTHER_UNITS or _TIME_FORMAT.fullmatch(word) for word in words
    )
