"""What can go wrong in a job that a person can mend."""

from pydantic import ValidationError

from fairsmoke.intake.errors import IntakeError
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.notebook import CorrectionError, FolderError, NotebookError
from fairsmoke.quantity import QuantityError
from fairsmoke.trial.clock import ClockError
from fairsmoke.weighing import LedgerError


class JobError(ValueError):
    """A job that cannot be done as asked; the message names the place and the mend."""


MENDABLE: tuple[type[Exception], ...] = (
    JobError,
    ClockError,
    ComparisonError,
    CorrectionError,
    FolderError,
    IntakeError,
    LedgerError,
    NotebookError,
    QuantityError,
    ValidationError,
)
"""Errors whose message is meant for a person; anything else is a fault of ours."""


def message_of(error: Exception) -> str:
    """Return what to tell a person about a mendable error."""
    if not isinstance(error, ValidationError):
        return str(error)
    lines = []
    for found in error.errors(include_url=False, include_context=False):
        place = ".".join(str(part) for part in found["loc"])
        text = found["msg"].removeprefix("Value error, ")
        lines.append(f"{place}: {text}" if place else text)
    return "\n".join(lines)
