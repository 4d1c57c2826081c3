"""The one error that reading and writing quantities raises."""

from typing import Any

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import Message, Words

_SHOWN_LETTERS = 60


class QuantityError(InputError):
    """What was written is not a quantity that can be read one way only.

    The message names the text as written, what is wrong with it, and what to write instead.
    """


def refusal(text: str, wrong: Words, mend: Words) -> QuantityError:
    """Return the error for `text`; `wrong` and `mend` are sentences without a full stop."""
    shown = text if len(text) <= _SHOWN_LETTERS else text[:_SHOWN_LETTERS] + "…"
    values = {"text": shown, "wrong": wrong, "mend": mend}
    return QuantityError(_printable(Message('"%(text)s": %(wrong)s. %(mend)s.', values)))


def _printable(words: Any) -> Any:
    """Return words without the letters that would change how a line is shown."""
    if isinstance(words, Message):
        values = {name: _printable(value) for name, value in words.values.items()}
        return Message(words.text, values, words.many, words.count)
    if isinstance(words, str):
        return "".join(letter if letter.isprintable() else "�" for letter in words)
    return words
