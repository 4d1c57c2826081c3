"""A registered plan stays as it is: only amendments join it, and those stay too."""

from fairsmoke.notebook.errors import CorrectionError
from fairsmoke.trial.base import Record
from fairsmoke.trial.registration import Registration


def check_frozen(before: Record, after: Record, *, struck: bool) -> None:
    """Raise CorrectionError when a registration would lose or change what it froze."""
    if not isinstance(before, Registration) or not isinstance(after, Registration):
        return
    same = (before.at, before.plan, before.digest) == (after.at, after.plan, after.digest)
    kept = after.amendments[: len(before.amendments)] == before.amendments
    if struck or not same or not kept:
        raise CorrectionError(
            "a registered plan is never changed or struck out, nor are its amendments; "
            "tell what is otherwise now with an amendment (fairsmoke amend)"
        )
