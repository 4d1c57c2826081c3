"""Why a row of a logger's file could not be read, for people: records keep it in plain English."""

import re

from fairsmoke.messages.message import N_, Message, Words, in_a_row

_REASONS: tuple[tuple[str, Message], ...] = (
    (r"a quote is opened and not closed", N_("a quote is opened and not closed")),
    (
        r"has (?P<fields>\d+) fields where the file has (?P<columns>\d+) columns",
        N_("has %(fields)s fields where the file has %(columns)s columns"),
    ),
    (
        r"the header again; the logger was probably restarted",
        N_("the header again; the logger was probably restarted"),
    ),
    (r"no probe is named", N_("no probe is named")),
    (r"the unit of the row is not stated", N_("the unit of the row is not stated")),
    (r"(?P<cell>'.*') is not a temperature", N_("%(cell)s is not a temperature")),
    (r"(?P<cell>'.*') is not a unit of temperature", N_("%(cell)s is not a unit of temperature")),
    (
        r"(?P<cell>'.*') is not in the unit of its column",
        N_("%(cell)s is not in the unit of its column"),
    ),
    (
        r"(?P<cell>'.*') is too large for a temperature",
        N_("%(cell)s is too large for a temperature"),
    ),
    (
        r"(?P<cell>'.*') is not a time (?:in the form|of the) .*",
        N_("%(cell)s is not a time of the file's form"),
    ),
)


def bad_row_words(why: str) -> Words:
    """Return why a row could not be read; a reason that is not known here as it was recorded."""
    whole = _one(why)
    if whole != why:
        return whole
    return in_a_row([_one(reason) for reason in why.split("; ")], "; ")


def _one(reason: str) -> Words:
    for pattern, message in _REASONS:
        found = re.fullmatch(rf"(?:(?P<column>.+?): )?{pattern}", reason)
        if found is not None:
            values = found.groupdict()
            return in_a_row([values.pop("column") or "", Message(message.text, values)], ": ")
    return reason
