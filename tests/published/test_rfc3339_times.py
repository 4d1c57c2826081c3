"""RFC 3339, "Date and Time on the Internet: Timestamps", July 2002, section 5.8: its examples and
the UTC times that it gives for them (from memory; four of the five also seen in others' tests).

POSIX time counts 86,400 s a day and a leap second as the second after it (from memory).
"""

from datetime import UTC, datetime

import polars as pl
import pytest

from fairsmoke.intake.times import parse_times


def _ms(text: str) -> int:
    parsed = parse_times(pl.Series([text]), "date and clock", "year-month-day")
    assert parsed.ok.all()
    assert not parsed.local.any()
    return int(parsed.ms[0])


def _at(*when: int) -> int:
    return round(datetime(*when, tzinfo=UTC).timestamp() * 1000)  # type: ignore[misc,arg-type]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1985-04-12T23:20:50.52Z", _at(1985, 4, 12, 23, 20, 50, 520_000)),
        # Given there as equivalent to 1996-12-20T00:39:57Z.
        ("1996-12-19T16:39:57-08:00", _at(1996, 12, 20, 0, 39, 57)),
        # The leap second at the end of 1990, and the same in Pacific Standard Time.
        ("1990-12-31T23:59:60Z", _at(1991, 1, 1)),
        ("1990-12-31T15:59:60-08:00", _at(1991, 1, 1)),
        # Noon on 1 January 1937 in the Netherlands, 20 min 28 s (here 20 min) ahead of UTC.
        ("1937-01-01T12:00:27.87+00:20", _at(1937, 1, 1, 11, 40, 27, 870_000)),
    ],
)
def test_examples_of_section_5_8(text: str, expected: int) -> None:
    assert _ms(text) == expected


def test_known_values_of_seconds_since_1970() -> None:
    # POSIX time 10^9 fell on 2001-09-09T01:46:40Z and 1234567890 on 2009-02-13T23:31:30Z; the last
    # that fits in 31 bits, 2147483647, will on 2038-01-19T03:14:07Z (from memory).
    cells = pl.Series(["1000000000", "1234567890", "2147483647"])
    parsed = parse_times(cells, "epoch s")
    assert parsed.ms.tolist() == [
        _at(2001, 9, 9, 1, 46, 40),
        _at(2009, 2, 13, 23, 31, 30),
        _at(2038, 1, 19, 3, 14, 7),
    ]
