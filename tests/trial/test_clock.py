"""Clock times against the changes of the clocks that the IANA time zone database records."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from fairsmoke.quantity.values import repeat_mark
from fairsmoke.trial.clock import (
    ClockError,
    epoch_ms,
    instant_of_ms,
    instants_of,
    parse_instant,
    show_instant,
    time_zone,
    which_of,
)

LONDON = ZoneInfo("Europe/London")
CHICAGO = ZoneInfo("America/Chicago")


def test_summer_and_winter_offsets() -> None:
    # IANA tz database: Europe/London is UTC+1 from the last Sunday of March to that of October.
    assert parse_instant("2026-07-01 12:00", LONDON) == datetime(2026, 7, 1, 11, tzinfo=UTC)
    assert parse_instant("2026-12-01 12:00", LONDON) == datetime(2026, 12, 1, 12, tzinfo=UTC)


def test_the_repeated_hour_is_refused_and_both_readings_are_offered() -> None:
    # IANA: London clocks go back from 02:00 to 01:00 on 2026-10-25; Chicago on 2026-11-01.
    with pytest.raises(ClockError, match=r"01:30\+01:00'\) or .* \('2026-10-25 01:30\+00:00"):
        parse_instant("2026-10-25 01:30", LONDON)
    with pytest.raises(ClockError, match="twice"):
        parse_instant("2026-11-01 01:30", CHICAGO)
    first = parse_instant("2026-10-25 01:30+01:00", LONDON)
    second = parse_instant("2026-10-25 01:30 +00:00", LONDON)
    assert (second - first).total_seconds() == 3600
    # Or by a word, which says nothing of any other time.
    assert parse_instant("2026-10-25 01:30", LONDON, "first") == first
    assert parse_instant("2026-10-25 01:30", LONDON, "second") == second
    other = parse_instant("2026-10-25 03:30", LONDON)
    assert parse_instant("2026-10-25 03:30", LONDON, "first") == other
    assert [which_of(one, LONDON) for one in (first, second, other)] == ["first", "second", ""]
    # British Summer Time and Greenwich Mean Time: the IANA database's abbreviations.
    assert [repeat_mark(one.astimezone(LONDON)) for one in (first, second, other)] == [
        "BST",
        "GMT",
        "",
    ]
    # Half an hour before the clocks go forward nothing is repeated.
    assert repeat_mark(parse_instant("2026-03-29 00:45", LONDON).astimezone(LONDON)) == ""


def test_the_skipped_hour_is_refused() -> None:
    # IANA: London clocks go forward from 01:00 to 02:00 on 2026-03-29.
    with pytest.raises(ClockError, match=r"never happened.*most likely 2026-03-29 02:30"):
        parse_instant("2026-03-29 01:30", LONDON)
    assert instants_of(datetime(2026, 3, 29, 1, 30), LONDON) == ()


def test_a_night_over_the_change_is_an_hour_longer() -> None:
    on = parse_instant("2026-10-24 20:00", LONDON)
    off = parse_instant("2026-10-25 08:00", LONDON)
    assert (off - on).total_seconds() == 13 * 3600


@pytest.mark.parametrize("text", ["23:40", "2026-05-02", "yesterday", "", "2026-13-01 10:00"])
def test_what_is_no_instant_is_refused_with_the_mend(text: str) -> None:
    with pytest.raises(ClockError, match="write it as"):
        parse_instant(text, LONDON)


def test_without_zone_or_offset_the_mend_is_named() -> None:
    with pytest.raises(ClockError, match="no time zone is known"):
        parse_instant("2026-05-02 10:00", None)


def test_unknown_zone() -> None:
    with pytest.raises(ClockError, match="Europe/London"):
        time_zone("Village/Hall")


@pytest.mark.parametrize(
    "instant",
    [
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
        datetime(2026, 5, 2, 22, 40, 17, 250_000, tzinfo=UTC),
    ],
)
def test_what_is_shown_reads_back(instant: datetime) -> None:
    assert parse_instant(show_instant(instant, LONDON), LONDON) == instant


def test_epoch_of_a_known_second() -> None:
    # POSIX.1-2017, 4.16: 2001-09-09 01:46:40 UTC is 1,000,000,000 s since the Epoch.
    assert epoch_ms(datetime(2001, 9, 9, 1, 46, 40, tzinfo=UTC)) == 1_000_000_000_000
    assert instant_of_ms(1_000_000_000_000) == datetime(2001, 9, 9, 1, 46, 40, tzinfo=UTC)
