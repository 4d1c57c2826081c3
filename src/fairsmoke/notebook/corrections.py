"""Changing some fields of a record, given as people write them or as plain values."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from fairsmoke.messages.message import N_, placed
from fairsmoke.notebook.errors import CorrectionError, did_you_mean
from fairsmoke.notebook.kinds import KINDS, Key
from fairsmoke.notebook.mapper import body_of, fields_of, plain_problem
from fairsmoke.trial.base import Record, file_key
from fairsmoke.trial.clock import ClockError, parse_instant
from fairsmoke.trial.registration import Registration


def corrected(
    key: Key, record: Record, changes: Mapping[str, Any], zone: ZoneInfo | None
) -> Record:
    """Return the record with some fields changed.

    Fields go by their name in files or in Python ("reading" or "reading_kg"). A text is read as in
    a file, local times in ``zone``; any other value is taken as it is, in SI units; None empties
    a field. Raises CorrectionError when a field is unknown or the outcome is not sound.
    """
    fields = {field.name: field for field in fields_of(KINDS[key.kind])}
    by_name = {file_key(name): name for name in fields} | {name: name for name in fields}
    content = body_of(record)
    changed = set()
    for given, value in changes.items():
        name = by_name.get(given)
        if name is None:
            known = [file_key(known) for known in fields]
            raise CorrectionError(
                N_(
                    "%(key)s has no '%(given)s'%(hint)s",
                    key=key.words,
                    given=given,
                    hint=did_you_mean(given, known),
                )
            )
        if name == "id":
            raise CorrectionError(
                N_(
                    "%(key)s: a handle never changes; strike the record out and record it anew",
                    key=key.words,
                )
            )
        changed.add(name)
        content[name] = _instant(key, given, value, zone, fields[name].form == "instant")
        if value is None:
            del content[name]
    if "reading_kg" in changed and "written" not in changed:
        # What the person had written belongs to the old reading.
        content.pop("written", None)
    try:
        return type(record).model_validate(content)
    except ValidationError as error:
        raise CorrectionError(placed(key.words, plain_problem(error))) from error


def _instant(key: Key, given: str, value: Any, zone: ZoneInfo | None, is_instant: bool) -> Any:
    if not (is_instant and isinstance(value, str)):
        return value
    try:
        found: datetime = parse_instant(value, zone)
    except ClockError as error:
        raise CorrectionError(placed(key.words, placed(given, error))) from error
    return found


def check_frozen(before: Record, after: Record, *, struck: bool) -> None:
    """Raise CorrectionError when a registration would lose or change what it froze."""
    if not isinstance(before, Registration) or not isinstance(after, Registration):
        return
    same = (before.at, before.plan, before.digest) == (after.at, after.plan, after.digest)
    kept = after.amendments[: len(before.amendments)] == before.amendments
    if struck or not same or not kept:
        raise CorrectionError(
            N_(
                "a registered plan is never changed or struck out, nor are its "
                "amendments; tell what is otherwise now with an amendment"
            )
        )
