"""Sections of blocks as text for a terminal."""

import io
from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table

from fairsmoke.telling.blocks import Section
from fairsmoke.telling.document import sections_said
from fairsmoke.telling.lines import WIDTH, wrapped
from fairsmoke.telling.reader import Reader

_NO_BREAK = "\u00a0"


def document_text(sections: Sequence[Section], reader: Reader) -> str:
    """Return sections as plain text, said to a reader, in lines of at most `lines.WIDTH` letters.

    A section's title stands in capitals, its blocks under it. Figures are left out: their numbers
    stand in a table beside them.
    """
    parts = []
    for section in sections_said(sections, reader):
        title = [section["title"].upper()] if section["title"] else []
        lines = [line for block in section["blocks"] for line in _lines(block)]
        parts.append("\n".join([*title, *lines]))
    return "\n\n".join(part for part in parts if part).replace(_NO_BREAK, " ")


def _lines(block: dict[str, Any]) -> Iterator[str]:
    match block["kind"]:
        case "text" | "small":
            yield from wrapped(block["text"])
        case "strong":
            yield from wrapped(f"! {block['text']}", hang="  ")
        case "heading":
            yield ""
            yield from wrapped(block["text"])
        case "items":
            for line in block["items"]:
                yield from wrapped(line, indent="  ", hang="  ")
        case "numbered":
            for number, clock, words in block["items"]:
                yield from wrapped(f"{number}  {clock}  {words}", indent="  ", hang="  ")
        case "facts":
            for name, value in block["pairs"]:
                yield from wrapped(f"{name}: {value}", indent="  ", hang="  ")
        case "table" if block["by_column"]:
            yield from _column_lines(block)
        case "timeline":
            yield f"  {block['day']}"
            for clock, _, what, more in block["items"]:
                said = f"{what} ({'; '.join(more)})" if more else what
                yield from wrapped(f"{clock}  {said}", indent="  ", hang="  ")
        case "times":
            yield from wrapped(", ".join(block["items"]), indent="    ")
        case "cards":
            for name, card in block["items"]:
                yield f"  {name}"
                yield from (f"  {line}" for line in _lines(card))
        case "folded":
            yield from wrapped(block["title"], indent="  ", hang="  ")
            for inner in block["blocks"]:
                yield from _lines(inner)
        case "table":
            yield from table_lines(block)


def _column_lines(block: dict[str, Any]) -> Iterator[str]:
    """Yield the columns of a table one under the other, each cell behind the head of its row."""
    wide = max((len(row[0]) for row in block["rows"]), default=0)
    for at, head in enumerate(block["heads"][1:], start=1):
        yield from wrapped(head, indent="  ")
        for row in block["rows"]:
            yield from wrapped(f"{row[0].ljust(wide)}  {row[at]}", indent="    ", hang="  ")


def table_lines(block: dict[str, Any]) -> list[str]:
    """Return a table block as lines of a terminal."""
    made = Table(box=None, pad_edge=False, show_header=any(block["heads"]))
    for head, align in zip(block["heads"], block["align"], strict=True):
        made.add_column(head, justify=align, overflow="fold")
    for row in block["rows"]:
        made.add_row(*row)
    written = io.StringIO()
    console = Console(
        file=written, width=WIDTH - 2, highlight=False, markup=False, emoji=False, color_system=None
    )
    console.print(made)
    return [f"  {line.rstrip()}" for line in written.getvalue().splitlines()]
