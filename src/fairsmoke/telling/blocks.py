"""What an answer is made of on every face: sections of blocks whose texts are messages.

Terminal, page and print set the same blocks, after `fairsmoke.telling.document` has said their
messages to one reader. Every text is set as it is, so nothing in a record can act as markup.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from fairsmoke.messages.message import Words
from fairsmoke.quantity.values import Instant

Block = dict[str, Any]
Align = Literal["left", "right", "center"]

_NUMBER_AND_UNIT = re.compile(
    r"(?<=\d) (?=(?:°[CF]|%|kg|g|lb|oz|cm|mm|m|in|h|min|s|d|points?)(?![A-Za-z]))"
    r"|(?<=[p±=<>×]) (?=\S)|(?<=\d[ \u00a0]h) (?=\d+[ \u00a0]min)"
)
_NO_BREAK = "\u00a0"


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, how it is aligned, and its share of the width.

    A width of 0 takes what its longest cell needs.
    """

    head: Words
    align: Align = "left"
    width: float = 0.0


@dataclass
class Section:
    """A part of the report with its heading and blocks; ``fresh`` starts it on a new page."""

    title: Words
    blocks: list[Block] = field(default_factory=list)
    fresh: bool = False


def text(words: Words) -> Block:
    """Return a paragraph."""
    return {"kind": "text", "text": tied(words)}


def strong(words: Words, to: str = "") -> Block:
    """Return a paragraph that stands out; on a page it leads to the part called ``to``."""
    return {"kind": "strong", "text": tied(words)} | ({"to": to} if to else {})


def small(words: Words) -> Block:
    """Return a paragraph in small type, as below a table."""
    return {"kind": "small", "text": tied(words)}


def heading(words: Words) -> Block:
    """Return a heading below a section's own."""
    return {"kind": "heading", "text": tied(words)}


def items(lines: Sequence[Words]) -> Block:
    """Return a list with a bullet before each line."""
    return {"kind": "items", "items": [tied(line) for line in lines]}


def numbered(lines: Sequence[tuple[Words, Words, Words]]) -> Block:
    """Return a legend in two columns: number, clock and words of each event."""
    return {"kind": "numbered", "items": [[tied(part) for part in line] for line in lines]}


def facts(pairs: Sequence[tuple[Words, Words]]) -> Block:
    """Return names with what belongs to them, one a line; empty ones are left out."""
    return {"kind": "facts", "pairs": [[name, tied(value)] for name, value in pairs if value]}


def timeline(day: Instant, steps: Sequence[tuple[Instant, Words, Sequence[Words]]]) -> Block:
    """Return what is done on one day: when, what, and lines in smaller type below it."""
    rows = [[at, at.at.isoformat(), what, list(more)] for at, what, more in steps]
    return {"kind": "timeline", "day": day, "items": rows}


def times(moments: Sequence[Instant | Words]) -> Block:
    """Return moments side by side."""
    return {"kind": "times", "items": list(moments)}


def cards(found: Sequence[tuple[Words, Sequence[tuple[Words, Words]]]]) -> Block:
    """Return things side by side, each with its name and facts."""
    return {"kind": "cards", "items": [[name, facts(pairs)] for name, pairs in found]}


def folded(title: Words, content: Sequence[Block]) -> Block:
    """Return blocks that a page shows when their title is opened."""
    return {"kind": "folded", "title": title, "blocks": list(content)}


def table(
    columns: Sequence[Column], rows: Sequence[Sequence[Words]], *, by_column: bool = False
) -> Block:
    """Return a table; its head is repeated where it runs over a page.

    In columns that are set to the right, numbers keep their units on their line. A table whose
    columns are too wide for a terminal is set there ``by_column``, one under the other.
    """
    kept = [column.align == "right" for column in columns]
    return {
        "kind": "table",
        "by_column": by_column,
        "heads": [tied(column.head) for column in columns],
        "align": [column.align for column in columns],
        "widths": [column.width for column in columns],
        "rows": [
            [unbroken(cell) if keep else tied(cell) for cell, keep in zip(row, kept, strict=True)]
            for row in rows
        ],
    }


def unbroken(words: Words) -> Words:
    """Return text whose spaces do not break, but for the one before a bracket."""
    if not isinstance(words, str):
        return words
    return words.replace(" ", _NO_BREAK).replace(f"{_NO_BREAK}(", " (")


def tied(words: Words) -> Words:
    """Return text in which a number and its unit stay on one line; a message is tied when said."""
    if not isinstance(words, str):
        return words
    return _NUMBER_AND_UNIT.sub(_NO_BREAK, words)


def figure(picture: str, caption: Words, alt: Words) -> Block:
    """Return a chart by the name of its picture, with caption and the words for who cannot see."""
    return {"kind": "figure", "picture": picture, "caption": tied(caption), "alt": alt}
