"""The one family of errors that a person can mend."""

from collections.abc import Mapping
from typing import Any, Literal

from fairsmoke.messages.message import N_, Message, Words, stacked

Kind = Literal["invalid", "missing", "conflict", "too-large", "busy", "forbidden", "storage"]
"""What is the matter, for programs: a page answers each with its own status."""


class InputError(ValueError):
    """What was asked, written or sent cannot be done as it is.

    ``message`` names the place, what is wrong there and the mend; ``str()`` of the error is its
    English. ``field`` is the name of the field that has to be mended, "" where there is none;
    ``code`` does not change with the language.
    """

    def __init__(
        self,
        message: Words = "",
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


def message_of(error: Exception) -> Words:
    """Return what to tell a person about an error that is for a person."""
    if isinstance(error, InputError):
        return error.message
    if type(error).__name__ != "ValidationError":
        return str(error)
    from pydantic import ValidationError

    assert isinstance(error, ValidationError)
    lines: list[Words] = []
    for found in error.errors(include_url=False):
        place, wrong = ".".join(str(part) for part in found["loc"]), pydantic_message(found)
        values = {"place": place, "wrong": wrong}
        lines.append(Message("%(place)s: %(wrong)s", values) if place else wrong)
    return stacked(lines)


def words_of(error: Exception) -> Words:
    """Return what to show of any error: its message for a person, else what it says or is."""
    if isinstance(error, ValueError) and is_for_a_person(error):
        return message_of(error)
    return str(error) or type(error).__name__


def pydantic_message(detail: Mapping[str, Any]) -> Words:
    """Return what to tell a person about one of the errors that Pydantic found.

    What our own checks raised is told in their words, and what is known of Pydantic's in ours.
    """
    context = detail.get("ctx", {})
    error = context.get("error")
    if isinstance(error, InputError):
        return error.message
    found = PYDANTIC.get(detail["type"])
    if found is None:
        return str(detail["msg"]).removeprefix("Value error, ")
    values = {name: value for name, value in context.items() if f"%({name})s" in found.text}
    return Message(found.text, values)


PYDANTIC = {
    "missing": N_("Field required"),
    "extra_forbidden": N_("Extra inputs are not permitted"),
    "string_type": N_("Input should be a valid string"),
    "string_too_short": N_("String should have at least %(min_length)s characters"),
    "string_too_long": N_("String should have at most %(max_length)s characters"),
    "too_short": N_("at least %(min_length)s must be given"),
    "too_long": N_("at most %(max_length)s may be given"),
    "greater_than": N_("Input should be greater than %(gt)s"),
    "greater_than_equal": N_("Input should be greater than or equal to %(ge)s"),
    "less_than": N_("Input should be less than %(lt)s"),
    "less_than_equal": N_("Input should be less than or equal to %(le)s"),
    "float_parsing": N_("Input should be a valid number, unable to parse string as a number"),
    "float_type": N_("Input should be a valid number"),
    "int_parsing": N_("Input should be a valid integer, unable to parse string as an integer"),
    "int_type": N_("Input should be a valid integer"),
    "bool_parsing": N_("Input should be a valid boolean, unable to interpret input"),
    "finite_number": N_("Input should be a finite number"),
    "enum": N_("Input should be %(expected)s"),
    "literal_error": N_("Input should be %(expected)s"),
}
"""What Pydantic says, by the type of the error: its English, so that it can be translated."""
