"""The one family of errors that a person can mend."""

from typing import Literal

from fairsmoke.messages.message import Message

Kind = Literal["invalid", "missing", "conflict", "too-large", "busy", "forbidden"]
"""What is the matter, for programs: a page answers each with its own status."""


class InputError(ValueError):
    """What was asked, written or sent cannot be done as it is.

    ``message`` names the place, what is wrong there and the mend; ``str()`` of the error is its
    English. ``field`` is the name of the field that has to be mended, "" where there is none;
    ``code`` does not change with the language.
    """

    def __init__(
        self,
        message: Message | str = "",
        *,
        field: str = "",
        code: str = "refused",
        kind: Kind = "invalid",
        retry_after_s: float | None = None,
    ) -> None:
        super().__init__(str(message))
        self.message = message
        self.field = field
        self.code = code
        self.kind: Kind = kind
        self.retry_after_s = retry_after_s


class JobError(InputError):
    """A job that cannot be done as asked; the message names the place and the mend."""


def is_for_a_person(error: ValueError) -> bool:
    """Tell whether an error's message is meant for a person; anything else is a fault of ours.

    That is every ValueError of our own, and what Pydantic says of a record. Told by where the
    class comes from, so that a command need not load every room to know its errors.
    """
    room = type(error).__module__
    return room.startswith("fairsmoke.") or type(error).__name__ == "ValidationError"


def message_of(error: ValueError) -> Message | str:
    """Return what to tell a person about an error that is for a person."""
    if isinstance(error, InputError):
        return error.message
    if type(error).__name__ != "ValidationError":
        return str(error)
    from pydantic import ValidationError

    assert isinstance(error, ValidationError)
    lines = []
    for found in error.errors(include_url=False, include_context=False):
        place = ".".join(str(part) for part in found["loc"])
        text = found["msg"].removeprefix("Value error, ")
        lines.append(f"{place}: {text}" if place else text)
    return "\n".join(lines)
