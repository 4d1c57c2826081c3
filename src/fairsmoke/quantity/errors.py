"""The one error that reading and writing quantities raises."""

from fairsmoke.messages.errors import InputError

_SHOWN_LETTERS = 60


class QuantityError(InputError):
    """What was written is not a quantity that can be read one way only.

    The message names the text as written, what is wrong with it, and what to write instead.
    """


def refusal(text: str, wrong: str, mend: str) -> QuantityError:
    """Return the error for `text`; `wrong` and `mend` are sentences without a full stop."""
    shown = text if len(text) <= _SHOWN_LETTERS else text[:_SHOWN_LETTERS] + "…"
    message = f'"{shown}": {wrong}. {mend}.'
    return QuantityError("".join(letter if letter.isprintable() else "�" for letter in message))
