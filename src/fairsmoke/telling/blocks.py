"""What a page of the report is made of: blocks of plain data that the template sets.

Every text is handed over as data and set as it is, so nothing in a record can act as markup.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

Block = dict[str, Any]
Align = Literal["left", "right", "center"]

_NUMBER_AND_UNIT = re.compile(
    r"(?<=\d) (?=(?:°[CF]|%|kg|g|lb|oz|cm|mm|m|in|h|min|s|d|points?)(?![A-Za-z]))"
    r"|(?<=[p±=<×]) (?=\S)"
)
_NO_BREAK = "\u00a0"


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, how it is aligned, and its share of the width.

    A width of 0 takes what its longest cell needs.
    """

    head: str
    align: Align = "left"
    width: float = 0.0


@dataclass
class Section:
    """A part of the report with its heading and blocks; ``fresh`` starts it on a new page."""

    title: str
    blocks: list[Block] = field(default_factory=list)
    fresh: bool = False


def text(words: str) -> Block:
    """Return a paragraph."""
    return {"kind": "text", "text": tied(words)}


def strong(words: str) -> Block:
    """Return a paragraph that stands out."""
    return {"kind": "strong", "text": tied(words)}


def small(words: str) -> Block:
    """Return a paragraph in small type, as below a table."""
    return {"kind": "small", "text": tied(words)}


def heading(words: str) -> Block:
    """Return a heading below a section's own."""
    return {"kind": "heading", "text": tied(words)}


def items(lines: Sequence[str]) -> Block:
    """Return a list with a bullet before each line."""
    return {"kind": "items", "items": [tied(line) for line in lines]}


def numbered(lines: Sequence[tuple[str, str, str]]) -> Block:
    """Return a legend in two columns: number, clock and words of each event."""
    return {"kind": "numbered", "items": [[tied(part) for part in line] for line in lines]}


def facts(pairs: Sequence[tuple[str, str]]) -> Block:
    """Return names with what belongs to them, one a line; empty ones are left out."""
    return {"kind": "facts", "pairs": [[name, tied(value)] for name, value in pairs if value]}


def table(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> Block:
    """Return a table; its head is repeated where it runs over a page.

    In columns that are set to the right, numbers keep their units on their line.
    """
    kept = [column.align == "right" for column in columns]
    return {
        "kind": "table",
        "heads": [tied(column.head) for column in columns],
        "align": [column.align for column in columns],
        "widths": [column.width for column in columns],
        "rows": [
            [unbroken(cell) if keep else tied(cell) for cell, keep in zip(row, kept, strict=True)]
            for row in rows
        ],
    }


def unbroken(words: str) -> str:
    """Return text whose spaces do not break, but for the one before a bracket."""
    return words.replace(" ", _NO_BREAK).replace(f"{_NO_BREAK}(", " (")


def tied(words: str) -> str:
    """Return text in which a number and its unit stay on one line."""
    return _NUMBER_AND_UNIT.sub(_NO_BREAK, words)


def figure(picture: str, caption: str, alt: str) -> Block:
    """Return a chart by the name of its picture, with caption and the words for who cannot see."""
    return {"kind": "figure", "picture": picture, "caption": tied(caption), "alt": alt}
