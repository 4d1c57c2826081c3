"""Messages: written in English where they arise, translated and formatted where they are shown.

``N_("Wait %(time)s.", time=Duration(30.0))`` marks a text for translation and keeps its values
beside it, typed, so that each reader sees them in their own units, clock and language. A template
writes ``{{ _("…") }}`` and ``{{ message|say }}``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Message:
    """A text for people in English, with the values that go into it by name.

    ``many`` is the text for a ``count`` other than one. A value may be text, a message, a number
    or one of the typed values of ``fairsmoke.quantity.values``.
    """

    text: str
    values: Mapping[str, Any] = field(default_factory=dict)
    many: str | None = None
    count: int = 1

    @property
    def english(self) -> str:
        """The message as it is without a translation, its values in metric units."""
        text = self.text if self.many is None or self.count == 1 else self.many
        return text % self.values if self.values else text

    def __str__(self) -> str:
        """Return the English text, so that a message inside a message reads as text."""
        return self.english


@dataclass(frozen=True)
class Listed:
    """Several words in one place of a message, set apart by commas; the last by ``last``.

    ``last`` is "" (a comma), "and" or "or".
    """

    items: Sequence["Words"]
    last: str = ""

    def __str__(self) -> str:
        """Return the items in English."""
        return joined([str(item) for item in self.items], self.last)


@dataclass(frozen=True)
class InputField:
    """A field that a message speaks of, by its own name; each face says its own word for it.

    ``serve`` is ``--serve`` in a shell and the label of the field on a page.
    """

    name: str

    def __str__(self) -> str:
        """Return the field's name."""
        return self.name


Words = Message | Listed | str
"""What is shown to a person: plain text is a person's own, everything of ours is a message."""


def joined(items: Sequence[str], last: str) -> str:
    """Return texts with commas between, ``last`` before the last of them when it is not ""."""
    if not last or len(items) < 2:
        return ", ".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def N_(text: str, **values: Any) -> Message:  # noqa: N802
    """Return a message; the text must stand here in full, so that it is found for translation."""
    return Message(text, values)


def NN_(one: str, many: str, count: int, **values: Any) -> Message:  # noqa: N802
    """Return a message about a number of things; ``%(count)s`` stands for it."""
    return Message(one, {"count": count, **values}, many, count)


def T_(text: str) -> str:  # noqa: N802
    """Return a text as it is, marked for translation: for help texts that are translated later."""
    return text
