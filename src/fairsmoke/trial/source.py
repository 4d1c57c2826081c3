"""Where readings came from: one logger file, as it was taken in."""

from typing import Annotated

from pydantic import Field, StringConstraints

from fairsmoke.trial.base import Id, Instant, Name, Record, Text


class BadRow(Record):
    """A row of a file that could not be read: its line, its text, and why."""

    line: Annotated[int, Field(ge=1)]
    text: Annotated[str, Field(max_length=2000)]
    why: Text


STREAM = "stream"
"""The layout of a source that is no file: what one channel sent for one cook, as it arrived."""


class Source(Record):
    """One logger file taken in: what it was, how it was read, what came of its rows.

    Or what one channel sent (``layout`` is ``STREAM``): then there are no rows to count,
    ``file_name`` says who sent it and ``sha256`` tells the channel and the cook.
    ``rows_good + rows_bad + rows_blank == rows_read``. ``mapping`` is how its columns were
    read, as JSON.
    """

    id: Id
    cook: Id
    file_name: Name
    sha256: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
    taken_in: Instant
    layout: Annotated[str, Field(max_length=64)]
    mapping: Text = ""
    rows_read: Annotated[int, Field(ge=0)]
    rows_good: Annotated[int, Field(ge=0)]
    rows_bad: Annotated[int, Field(ge=0)]
    rows_blank: Annotated[int, Field(ge=0)] = 0
    readings_new: Annotated[int, Field(ge=0)] = 0
    readings_repeated: Annotated[int, Field(ge=0)] = 0
    readings_conflicting: Annotated[int, Field(ge=0)] = 0
    bad_rows: tuple[BadRow, ...] = ()
