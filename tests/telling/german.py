"""What of a document has no German: every message in it, whatever it lies in."""

import dataclasses
import re
from collections.abc import Iterator, Mapping
from typing import Any

from fairsmoke.messages.catalogue import translations
from fairsmoke.messages.message import Listed, Message

SAME = {"Salmonella", "min", "kg/m²", "Pit"}
"""Words that are the same in both languages."""


def messages(content: Any) -> Iterator[Message]:
    """Yield every message in sections, blocks, messages' values and plain data."""
    if isinstance(content, Message):
        yield content
        yield from messages(content.values)
    elif isinstance(content, Listed):
        yield from messages(list(content.items))
    elif isinstance(content, Mapping):
        yield from messages(list(content.values()))
    elif isinstance(content, list | tuple):
        for one in content:
            yield from messages(one)
    elif dataclasses.is_dataclass(content) and not isinstance(content, type):
        yield from messages([getattr(content, one.name) for one in dataclasses.fields(content)])


def untranslated(content: Any) -> set[str]:
    """Return the English texts with words in them that German has no words of its own for."""
    german = translations("de")
    return {
        message.text
        for message in messages(content)
        if german.gettext(message.text) == message.text
        and german.ngettext(message.text, message.many or message.text, 2) == message.text
        and set(re.findall(r"[A-Za-z]{2,}", re.sub(r"%\(\w+\)s", "", message.text))) - SAME
    }
