"""What can go wrong in a job that a person can mend."""


class JobError(ValueError):
    """A job that cannot be done as asked; the message names the place and the mend."""


def is_for_a_person(error: ValueError) -> bool:
    """Tell whether an error's message is meant for a person; anything else is a fault of ours.

    That is every ValueError of our own, and what Pydantic says of a record. Told by where the
    class comes from, so that a command need not load every room to know its errors.
    """
    room = type(error).__module__
    return room.startswith("fairsmoke.") or type(error).__name__ == "ValidationError"


def message_of(error: ValueError) -> str:
    """Return what to tell a person about an error that is for a person."""
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
