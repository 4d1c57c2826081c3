"""From the bytes of a logger's file to lines, and from lines to the fields of each row.

A row that does not have the expected fields is handed on as odd, with its line number, never
dropped. Quoting follows RFC 4180 (seen): fields may be quoted, a doubled quote stands for one,
a quoted field may hold the separator and line breaks.
"""

import codecs
import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Words

Encoding = Literal["utf-8", "utf-16", "cp1252", "latin-1"]

ROWS_PER_BLOCK = 50_000
"""Few enough that the text of a block never weighs much beside the file itself."""

MAX_LINES_PER_ROW = 20
"""A quote left open by a damaged line must not swallow the rest of the file."""

COMMENT_MARKS = ("#", "//")

_NOT_TEXT = (
    (b"PK\x03\x04", N_("a spreadsheet or zip archive")),
    (b"\xd0\xcf\x11\xe0", N_("an old spreadsheet")),
    (b"\x1f\x8b", N_("a compressed file")),
    (b"%PDF", N_("a PDF")),
    (b"SQLite format 3\x00", N_("a database")),
)


@dataclass(frozen=True)
class UnusableRow:
    """A row that could not be used, or not wholly: where it stands, what it says, why."""

    line: int
    text: str
    reason: str


@dataclass
class RowBlock:
    """Some rows of a file, column by column, not necessarily in order of their lines.

    ``lines`` holds the line number (from 1) on which each row begins; ``columns`` one list of
    cells a column, each as long as ``lines``.
    """

    lines: NDArray[np.int64]
    columns: list[list[str]]
    bad: list[UnusableRow] = field(default_factory=list)
    blank: int = 0
    lines_done: int = 0


def guess_encoding(data: bytes) -> tuple[Encoding, Words]:
    """Return the encoding that the bytes are most likely in, and why.

    Raises IntakeError when they are not text.
    """
    for start, what in _NOT_TEXT:
        if data.startswith(start):
            raise IntakeError(
                N_(
                    "line 1: this is %(what)s, not text; save or export the readings as CSV",
                    what=what,
                )
            )
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8", N_("the file begins with the mark of UTF-8")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16", N_("the file begins with the mark of UTF-16")
    if (zero := data.find(b"\x00")) >= 0:
        line = data.count(b"\n", 0, zero) + 1
        raise IntakeError(
            N_(
                "line %(line)s: there are zero bytes, so this is not text, or UTF-16 "
                "without its mark; save or export the readings as CSV in UTF-8",
                line=line,
            )
        )
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        why = N_(
            "line %(line)s is not UTF-8, so each byte is taken as one Western European letter",
            line=line,
        )
        try:
            data.decode("cp1252")
        except UnicodeDecodeError:
            return "latin-1", why
        return "cp1252", why
    return "utf-8", N_("every byte is valid UTF-8")


def text_of(data: bytes, encoding: Encoding) -> str:
    """Decode the bytes; what cannot be decoded becomes U+FFFD, so that the row can be shown."""
    codec = "utf-8-sig" if encoding == "utf-8" else encoding
    return data.decode(codec, errors="replace")


def lines_of(text: str) -> list[str]:
    """Split into lines at CR LF, LF or CR; a line break at the very end begins no further line."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    if lines[-1] == "":
        lines.pop()
    return lines


_QUOTED = re.compile(r' *"([^"]*(?:""[^"]*)*)" *')
_OPENS = re.compile(r' *"')


def fields_of(line: str, separator: str) -> list[str] | None:
    """Split one row into its fields, or return None when a quoted field is not closed.

    A quote inside a field that did not begin with one is an ordinary character.

    >>> fields_of('"aa, a";"b ""b"" b";ccc', ";")
    ['aa, a', 'b "b" b', 'ccc']
    """
    if '"' not in line:
        return line.split(separator)
    fields: list[str] = []
    at = 0
    while True:
        quoted = _QUOTED.match(line, at)
        if quoted and (quoted.end() == len(line) or line[quoted.end()] == separator):
            fields.append(quoted[1].replace('""', '"'))
            end = quoted.end()
        elif quoted is None and _OPENS.match(line, at):
            return None
        else:
            end = line.find(separator, at)
            end = len(line) if end < 0 else end
            fields.append(line[at:end])
        if end >= len(line):
            return fields
        at = end + 1


def quick_fields(line: str, separator: str) -> list[str] | None:
    """Split a row as ``fields_of`` does, but faster; None where that has to be asked."""
    if line.startswith(" ") or f"{separator} " in line:
        return None
    try:
        return next(csv.reader((line,), delimiter=separator, strict=True))
    except csv.Error:
        return None


def fitted(fields: Sequence[str], width: int, named: int) -> list[str] | None:
    """Return the fields cut or filled to ``width``, or None when the row has too many or too few.

    Empty fields past ``width`` are trailing separators; fields past ``named`` may be absent.
    """
    if len(fields) < named or any(cell.strip() for cell in fields[width:]):
        return None
    return [*fields[:width], *[""] * (width - len(fields))]


def record_at(
    lines: Sequence[str], at: int, separator: str, width: int, named: int
) -> tuple[list[str] | None, int]:
    """Return the fitted fields of the row at index ``at``, and the index of the next row.

    A quoted field may run over several lines, if the row then has the expected fields. None
    stands for a row that cannot be fitted; it is then one line long.
    """
    fields = fields_of(lines[at], separator)
    if fields is not None:
        return fitted(fields, width, named), at + 1
    for end in range(at + 2, min(at + MAX_LINES_PER_ROW, len(lines)) + 1):
        fields = fields_of("\n".join(lines[at:end]), separator)
        if fields is not None:
            row = fitted(fields, width, named)
            return (row, end) if row else (None, at + 1)
    return None, at + 1


def blocks(
    lines: Sequence[str],
    first: int,
    separator: str,
    width: int,
    named: int,
    *,
    past: int | None = None,
    rows_per_block: int = ROWS_PER_BLOCK,
) -> Iterator[RowBlock]:
    """Split the lines from index ``first`` up to ``past`` into rows, a block at a time.

    ``width`` is how many columns there are, ``named`` how many of them a row must have. Every
    line ends up in a row of ``columns``, in ``bad`` or in ``blank`` (empty, or a comment).
    """
    at = first
    # No row may run over the end, so what lies behind it is not shown.
    lines = lines if past is None or past == len(lines) else lines[:past]
    while at < len(lines):
        end = min(at + rows_per_block, len(lines))
        block, at = _block(lines, at, end, separator, width, named)
        block.lines_done = at - first
        yield block


def _block(
    lines: Sequence[str], at: int, end: int, separator: str, width: int, named: int
) -> tuple[RowBlock, int]:
    """Split one block. Plain lines are split all at once, the others one by one."""
    plain_lines: list[str] = []
    plain_at: list[int] = []
    odd_rows: list[list[str]] = []
    odd_at: list[int] = []
    bad: list[UnusableRow] = []
    blank = 0
    empty_marks = separator + ' \t"'
    separators = width - 1
    while at < end:
        line = lines[at]
        if not line.strip(empty_marks):
            blank += 1
        elif '"' not in line and line.count(separator) == separators:
            plain_lines.append(line)
            plain_at.append(at + 1)
        elif (row := quick_fields(line, separator)) and len(row) == width:
            odd_rows.append(row)
            odd_at.append(at + 1)
        else:
            row, following = record_at(lines, at, separator, width, named)
            if row:
                odd_rows.append(row)
                odd_at.append(at + 1)
            elif line.lstrip().startswith(COMMENT_MARKS):
                blank += 1
            else:
                bad.append(UnusableRow(at + 1, line, _why_not_fitted(line, separator, width)))
            at = following
            continue
        at += 1
    flat = separator.join(plain_lines).split(separator) if plain_lines else []
    columns = [flat[k::width] + [row[k] for row in odd_rows] for k in range(width)]
    return RowBlock(np.array(plain_at + odd_at, dtype=np.int64), columns, bad, blank), at


def _why_not_fitted(line: str, separator: str, width: int) -> str:
    fields = fields_of(line, separator)
    if fields is None:
        return "a quote is opened and not closed"
    return f"has {len(fields)} fields where the file has {width} columns"


class IntakeError(InputError):
    """A logger's file or its mapping cannot be used; the message names the place and the mend."""
