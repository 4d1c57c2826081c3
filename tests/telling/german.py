"""Finds what a German reader would still be told in English."""

from collections.abc import Iterator, Mapping
from typing import Any

from fairsmoke.messages.catalogue import translations
from fairsmoke.messages.message import Listed, Message
from fairsmoke.telling.blocks import Section


def messages_in(content: Any) -> Iterator[Message]:
    """Yield every message in a document, those inside other messages too."""
    if isinstance(content, Message):
        yield content
        yield from messages_in(content.values)
    elif isinstance(content, Listed):
        yield from messages_in(content.items)
    elif isinstance(content, Section):
        yield from messages_in([content.title, content.blocks])
    elif isinstance(content, Mapping):
        yield from messages_in(list(content.values()))
    elif isinstance(content, (list, tuple)):
        for one in content:
            yield from messages_in(one)


def untranslated(content: Any) -> list[str]:
    """Return the texts that have letters of their own and no German.

    A text that is nothing but values has none; what stands the same in both languages ("Panel")
    has an entry in the catalogue all the same, and the catalogue's own test sees empty ones.
    """
    german = translations("de")
    known = german._catalog  # type: ignore[attr-defined]
    found = []
    for message in messages_in(content):
        own = message.text
        for name in message.values:
            own = own.replace(f"%({name})s", "")
        if any(letter.isalpha() for letter in own) and not (
            message.text in known or (message.text, 0) in known
        ):
            found.append(message.text)
    return found
