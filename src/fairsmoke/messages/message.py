"""Messages: written in English where they arise, translated and formatted where they are shown.

``N_("Wait %(time)s.", time=Duration(30.0))`` marks a text for translation and keeps its values
beside it, typed, so that each reader sees them in their own units, clock and language. A template
writes ``{{ _("…") }}`` and ``{{ message|say }}``.
"""

from collections.abc import Iterable, Mapping, Sequence
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
        if not self.values:
            return text
        return text % {name: _english(value) for name, value in self.values.items()}

    def __str__(self) -> str:
        """Return the English text, so that a message inside a message reads as text."""
        return self.english

    def __hash__(self) -> int:
        """Messages that are equal have equal texts; their values need not be hashable."""
        return hash((self.text, self.count))


def _english(value: Any) -> Any:
    """Return a value as English writes it: a whole number with its thousands apart."""
    whole = isinstance(value, int) and not isinstance(value, bool)
    return f"{value:,}" if whole else value


@dataclass(frozen=True)
class Listed:
    """Several words in one place of a message, set apart by ``between``; the last by ``last``.

    ``last`` is "" (``between`` too), "and" or "or".
    """

    items: Sequence["Words"]
    last: str = ""
    between: str = ", "

    def __str__(self) -> str:
        """Return the items in English."""
        return joined([str(item) for item in self.items], self.last, self.between)


@dataclass(frozen=True)
class Sentence:
    """Words that stand by themselves: their first letter is made a capital, a full stop follows."""

    words: "Words"

    def __str__(self) -> str:
        """Return the sentence in English."""
        return as_sentence(str(self.words))


@dataclass(frozen=True)
class InputField:
    """A field that a message speaks of, by its own name; each face says its own word for it.

    ``serve`` is ``--serve`` in a shell and the label of the field on a page.
    """

    name: str

    def __str__(self) -> str:
        """Return the field's name."""
        return self.name


@dataclass(frozen=True)
class OnFace:
    """What is to be done, as each face has it: an option or command in a shell, a page's own words.

    A page speaks no shell's language, and a shell has no buttons.
    """

    shell: "Words"
    page: "Words"

    def __str__(self) -> str:
        """Return the shell's words."""
        return str(self.shell)


Words = Message | Listed | Sentence | str
"""What is shown to a person: plain text is a person's own, everything of ours is a message."""


def joined(items: Sequence[str], last: str, between: str = ", ") -> str:
    """Return texts with ``between`` set between, ``last`` before the last when it is not ""."""
    if not last or len(items) < 2:
        return between.join(items)
    return f"{between.join(items[:-1])} {last} {items[-1]}"


def in_a_row(parts: Iterable[Words], between: str = " ") -> Words:
    """Return words one after the other with ``between`` set between; empty ones are left out."""
    found = [part for part in parts if part]
    return found[0] if len(found) == 1 else Listed(found, between=between) if found else ""


def as_sentence(text: str) -> str:
    """Return a text with a capital at its beginning and a full stop at its end."""
    return f"{text[:1].upper()}{text[1:]}."


def N_(text: str, /, **values: Any) -> Message:  # noqa: N802
    """Return a message; the text must stand here in full, so that it is found for translation."""
    return Message(text, values)


def NN_(one: str, many: str, count: int, /, **values: Any) -> Message:  # noqa: N802
    """Return a message about a number of things; ``%(count)s`` stands for it."""
    return Message(one, {"count": count, **values}, many, count)


def stacked(lines: "Sequence[Words]") -> Message:
    """Return messages one under another, as one message."""
    return chained(lines, "\n")


def chained(parts: "Sequence[Words]", between: str = "; ") -> Message:
    """Return messages one behind another with a mark between them, as one message."""
    names = [f"part{number}" for number in range(len(parts))]
    text = between.join(f"%({name})s" for name in names)
    return Message(text, dict(zip(names, parts, strict=True)))


def placed(place: Words, wrong: "Words | Exception") -> Message:
    """Return "PLACE: WRONG", as an error of a file or a record is told."""
    said = getattr(wrong, "message", str(wrong)) if isinstance(wrong, Exception) else wrong
    return chained([place, said], ": ")


def stretch(low: Any, high: Any) -> Message:
    """Return words for what lies between two values: "0.2 to 8.5", "10 °C to 54 °C"."""
    return N_("%(low)s to %(high)s", low=low, high=high)


def alone(value: Any) -> Message:
    """Return a typed value that stands by itself."""
    return Message("%(value)s", {"value": value})


def bracketed(words: Words, more: Words) -> Message:
    """Return words with more behind them in brackets."""
    return Message("%(words)s (%(more)s)", {"words": words, "more": more})


def T_(text: str) -> str:  # noqa: N802
    """Return a text as it is, marked for translation: for help texts that are translated later."""
    return text
