"""Messages: written in English where they are used, translated where they are shown.

``N_("Wait %(seconds)s seconds.", seconds=5)`` marks a text for translation and keeps its values
beside it. A template writes ``{{ _("…") }}`` and ``{{ message|say }}``.
"""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Message:
    """A text for people in English, with the values that go into it by name.

    ``many`` is the text for a ``count`` other than one.
    """

    text: str
    values: dict[str, Any] = field(default_factory=dict)
    many: str | None = None
    count: int = 1

    @property
    def english(self) -> str:
        """The message as it is without a translation."""
        text = self.text if self.many is None or self.count == 1 else self.many
        return text % self.values if self.values else text


def N_(text: str, **values: Any) -> Message:  # noqa: N802
    """Return a message; the text must stand here in full, so that it is found for translation."""
    return Message(text, values)


def NN_(one: str, many: str, count: int, **values: Any) -> Message:  # noqa: N802
    """Return a message about a number of things; ``%(count)s`` stands for it."""
    return Message(one, {"count": count, **values}, many, count)
