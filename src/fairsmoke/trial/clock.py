"""Clock times as people write them, and the instants they stand for.

A long cook crosses midnight and, twice a year, a change of the clocks. A local time without an
offset may then name two instants or none; it is refused rather than guessed.
"""

import re
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.quantity.values import repeat_mark

EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(3000, 1, 1, tzinfo=UTC)
"""Instants that are kept lie in [EARLIEST, LATEST); a clock that is further off shows no time."""
EARLIEST_MS, LATEST_MS = (round(at.timestamp()) * 1000 for at in (EARLIEST, LATEST))


class ClockError(InputError):
    """A clock time that is unreadable, names two instants, or names none."""


def time_zone(name: str) -> ZoneInfo:
    """Return the time zone of that IANA name, for instance ``Europe/London``.

    Raises ClockError when there is no such zone.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ClockError(
            N_(
                "%(name)r is not a time zone; write one such as 'Europe/London' or "
                "'America/Chicago'",
                name=name,
            )
        ) from error


def check_instant(instant: datetime) -> datetime:
    """Return the instant; raises ClockError when it lies outside the years 1900 to 2999."""
    if not EARLIEST <= instant < LATEST:
        raise ClockError(
            N_("%(instant)s lies outside the years 1900 to 2999", instant=instant.isoformat())
        )
    return instant


def instants_of(naive: datetime, zone: ZoneInfo) -> tuple[datetime, ...]:
    """Return every instant (UTC) at which clocks of that zone show that local time: 0, 1 or 2.

    Two in the hour that a change of the clocks repeats, none in the hour that it skips.
    """
    found: list[datetime] = []
    for fold in (0, 1):
        instant = naive.replace(tzinfo=zone, fold=fold).astimezone(UTC)
        shown = instant.astimezone(zone).replace(tzinfo=None)
        if shown == naive and instant not in found:
            found.append(instant)
    return tuple(found)


Which = Literal["", "first", "second"]
"""Which of two instants that a clock shows alike is meant; "" where nobody said."""


def instant_from_local(naive: datetime, zone: ZoneInfo, which: Which = "") -> datetime:
    """Return the one instant (UTC) at which clocks of that zone show that local time.

    ``which`` tells the two apart in the hour that a change of the clocks repeats, and says nothing
    of any other time.
    Raises ClockError for a time of that hour without it (code "twice"), and for one of the hour
    that a change of the clocks skips (code "never").
    """
    instants = instants_of(naive, zone)
    if len(instants) == 1:
        return instants[0]
    if instants and which:
        return instants[0] if which == "first" else instants[1]
    written = naive.isoformat(sep=" ", timespec="minutes")
    if not instants:
        raise ClockError(
            N_(
                "%(written)s never happened in %(zone)s: the clocks went forward over it; write "
                "the time that the clock showed, most likely %(likely)s",
                written=written,
                zone=zone.key,
                likely=_shown(naive.replace(tzinfo=zone, fold=0).astimezone(UTC), zone),
            ),
            code="never",
        )
    raise ClockError(
        N_(
            "%(written)s happened twice in %(zone)s: the clocks went back; say which is meant, the "
            "first ('%(first)s') or the second ('%(second)s')",
            written=written,
            zone=zone.key,
            first=show_instant(instants[0], zone),
            second=show_instant(instants[1], zone),
        ),
        code="twice",
    )


def _shown(instant: datetime, zone: ZoneInfo) -> str:
    local = instant.astimezone(zone).replace(tzinfo=None)
    return local.isoformat(sep=" ", timespec="minutes")


def which_of(instant: datetime, zone: tzinfo) -> Which:
    """Return which of the two instants with its clock time it is; "" where there is one."""
    local = instant.astimezone(zone)
    if not repeat_mark(local):
        return ""
    return "second" if local.fold else "first"


def parse_instant(text: str, zone: ZoneInfo | None, which: Which = "") -> datetime:
    """Read a date with a clock time, with or without an offset, as an instant in UTC.

    ``2026-05-02 23:40`` needs ``zone``; ``2026-05-02 23:40+01:00`` does not. ``which`` is that of
    `instant_from_local`.
    Raises ClockError when it is unreadable, has no date, or is not one instant.

    >>> parse_instant("2026-05-02 23:40", ZoneInfo("Europe/London")).isoformat()
    '2026-05-02T22:40:00+00:00'
    """
    stripped = text.strip()
    if re.fullmatch(r"\d{1,2}[:.]\d{2}([:.]\d{2})?", stripped):
        raise ClockError(
            N_(
                "%(text)r has no date; write it as '2026-05-02 %(stripped)s'",
                text=text,
                stripped=stripped,
            )
        )
    try:
        value = datetime.fromisoformat(re.sub(r"\s+([+-]\d{2}:?\d{2}|Z)$", r"\1", stripped))
    except ValueError as error:
        raise ClockError(
            N_("%(text)r is not a date and time; write it as '2026-05-02 23:40'", text=text)
        ) from error
    if value.tzinfo is not None:
        try:
            return check_instant(value.astimezone(UTC))
        except OverflowError as error:
            raise ClockError(
                N_("%(instant)s lies outside the years 1900 to 2999", instant=text)
            ) from error
    if not re.search(r"\d[T ]\d", stripped):
        raise ClockError(
            N_(
                "%(text)r has no clock time; write it as '%(stripped)s 23:40'",
                text=text,
                stripped=stripped,
            )
        )
    if zone is None:
        raise ClockError(
            N_(
                "%(text)r has no offset and no time zone is known here; write '%(stripped)s+00:00'",
                text=text,
                stripped=stripped,
            )
        )
    check_instant(value.replace(tzinfo=UTC))
    return instant_from_local(value, zone, which)


def show_instant(instant: datetime, zone: tzinfo | None, *, seconds: bool = False) -> str:
    """Write an instant as a local date and time with its offset, which reads back the same.

    >>> show_instant(datetime(2026, 5, 2, 22, 40, tzinfo=UTC), ZoneInfo("Europe/London"))
    '2026-05-02 23:40+01:00'
    """
    local = instant.astimezone(zone or UTC)
    if local.microsecond:
        spec = "microseconds"
    elif local.second or seconds:
        spec = "seconds"
    else:
        spec = "minutes"
    return local.isoformat(sep=" ", timespec=spec)


def epoch_ms(instant: datetime) -> int:
    """Return whole milliseconds since 1970-01-01 UTC of an instant that knows its offset."""
    return (instant - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def instant_of_ms(milliseconds: int) -> datetime:
    """Return the instant (UTC) that lies so many milliseconds after 1970-01-01."""
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=milliseconds)
