"""A document of messages: kept as JSON, said to any reader, set as text, page or print.

An answer is told once, as sections of `fairsmoke.telling.blocks` whose texts are messages with
typed values. What is kept of it is that document; language, units and clock are chosen when it is
shown.
"""

import dataclasses
from collections.abc import Sequence
from datetime import datetime
from pathlib import PurePath
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from fairsmoke.messages.message import InputField, Listed, Message, OnFace, Sentence
from fairsmoke.quantity import values
from fairsmoke.telling.blocks import Section, tied, unbroken
from fairsmoke.telling.reader import Reader

_TYPES: dict[str, type[Any]] = {
    one.__name__: one
    for one in (
        values.Temperature,
        values.TemperatureDifference,
        values.Mass,
        values.Length,
        values.Duration,
        values.Share,
        values.Number,
        values.Instant,
        values.Digits,
        values.MassSpread,
        values.MassAsWritten,
        values.MassInterval,
        InputField,
        OnFace,
        Listed,
        Sentence,
    )
}
_TAG = "$"
_Kept = TypeVar("_Kept")


def kept(kind: type[_Kept]) -> type[_Kept]:
    """Register a dataclass whose fields a document may hold, messages and quantities among them."""
    _HOLDERS[kind.__name__] = kind
    return kind


_HOLDERS: dict[str, type[Any]] = {}
_SPOKEN: tuple[type[Any], ...] = (Message, *_TYPES.values())


def said(content: Any, reader: Reader) -> Any:
    """Return plain data with every message and quantity in it said to a reader.

    Mappings, sequences and sections are walked; a section becomes a mapping.
    """
    if isinstance(content, (Message, Listed, Sentence)):
        return reader.say(content)
    if isinstance(content, _SPOKEN):
        return reader.value(content)
    if isinstance(content, Section):
        return {
            "title": said(content.title, reader),
            "fresh": content.fresh,
            "blocks": [said(block, reader) for block in content.blocks],
        }
    if type(content).__name__ in _HOLDERS:
        fields = {one.name: getattr(content, one.name) for one in dataclasses.fields(content)}
        return dataclasses.replace(content, **said(fields, reader))
    if isinstance(content, dict):
        found = {name: said(value, reader) for name, value in content.items()}
        return _tied_block(found) if "kind" in found else found
    if isinstance(content, (list, tuple)):
        return [said(item, reader) for item in content]
    return content


def _tied_block(block: dict[str, Any]) -> dict[str, Any]:
    """Keep numbers with their units in what a block says."""
    if block["kind"] == "table":
        kept = [align == "right" for align in block["align"]]
        block["heads"] = [tied(head) for head in block["heads"]]
        block["rows"] = [
            [unbroken(cell) if keep else tied(cell) for cell, keep in zip(row, kept, strict=True)]
            for row in block["rows"]
        ]
    for name in ("text", "caption"):
        if isinstance(block.get(name), str):
            block[name] = tied(block[name])
    if block["kind"] == "facts":
        block["pairs"] = [[tied(name), tied(value)] for name, value in block["pairs"]]
    if block["kind"] == "items":
        block["items"] = [tied(line) for line in block["items"]]
    return block


def to_json(content: Any) -> Any:
    """Return plain JSON data that `from_json` makes the same messages and quantities of."""
    if isinstance(content, Message):
        found: dict[str, Any] = {_TAG: "Message", "text": content.text}
        if content.values:
            found["values"] = {name: to_json(value) for name, value in content.values.items()}
        if content.many is not None:
            found |= {"many": content.many, "count": content.count}
        return found
    if isinstance(content, Section):
        return {
            _TAG: "Section",
            "title": to_json(content.title),
            "fresh": content.fresh,
            "blocks": [to_json(block) for block in content.blocks],
        }
    if isinstance(content, _SPOKEN) or type(content).__name__ in _HOLDERS:
        fields = {
            one.name: to_json(getattr(content, one.name)) for one in dataclasses.fields(content)
        }
        return {_TAG: type(content).__name__, **fields}
    if isinstance(content, datetime):
        return {_TAG: "datetime", "at": content.isoformat()}
    if isinstance(content, PurePath):
        return str(content)
    if isinstance(content, ZoneInfo):
        return {_TAG: "ZoneInfo", "key": content.key}
    if isinstance(content, dict):
        return {name: to_json(value) for name, value in content.items()}
    if isinstance(content, (list, tuple)):
        return [to_json(item) for item in content]
    return content


def from_json(content: Any) -> Any:
    """Return what `to_json` was given. Raises ValueError for a type that it never writes."""
    if isinstance(content, list):
        return [from_json(item) for item in content]
    if not isinstance(content, dict):
        return content
    if _TAG not in content:
        return {name: from_json(value) for name, value in content.items()}
    kind = content[_TAG]
    fields = {name: from_json(value) for name, value in content.items() if name != _TAG}
    match kind:
        case "Message":
            return Message(**fields)
        case "Section":
            return Section(fields["title"], fields["blocks"], fields["fresh"])
        case "datetime":
            return datetime.fromisoformat(fields["at"])
        case "ZoneInfo":
            return ZoneInfo(fields["key"])
        case _ if kind in _TYPES or kind in _HOLDERS:
            return (_TYPES.get(kind) or _HOLDERS[kind])(**fields)
    raise ValueError(f"a document never holds a {kind!r}")


def sections_said(sections: Sequence[Section], reader: Reader) -> list[dict[str, Any]]:
    """Return sections as plain data, said to a reader."""
    return [said(section, reader) for section in sections]
