"""How a logger lays out its file: which column is what, and how times and numbers are written."""

import hashlib
import re
from collections.abc import Mapping as Dict
from typing import Any, Literal, Self, get_args

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    field_validator,
    model_validator,
)

from fairsmoke.intake.answers import choice_meant
from fairsmoke.intake.text import Encoding, IntakeError
from fairsmoke.intake.times import DateOrder, TimeForm
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.reading import ReadingUnit

Use = Literal["time", "date", "clock", "value", "probe name", "unit", "ignore"]
"""What a column holds. "time" is a whole time, "date" and "clock" are its two halves."""

Separator = Literal["comma", "semicolon", "tab", "pipe"]

SEPARATORS: dict[Separator, str] = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}
_MARKS = {"point": ".", "comma": ","}


class FileColumn(BaseModel):
    """One column: its header as written, what it holds, and for a probe its name and unit."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    header: str = ""
    use: Use = "ignore"
    probe: str = ""
    unit: ReadingUnit | None = None

    @field_validator("unit", mode="before")
    @classmethod
    def _as_people_write_it(cls, unit: object) -> object:
        return (
            (choice_meant(unit, get_args(ReadingUnit)) or unit) if isinstance(unit, str) else unit
        )


class Mapping(BaseModel):
    """How to read one logger's files. Made by ``recognise``, or written by hand.

    With a column "probe name" the file has one reading a row and one column "value"; else each
    "value" column is a probe. ``lines_above`` stand above the header (or above the first row when
    there is none), ``lines_below`` between the header and the first row, such as one of units.
    ``no_value`` are words that stand for no value in this logger's files, beside the usual ones.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    columns: tuple[FileColumn, ...] = Field(min_length=2)
    time_form: TimeForm | None = None
    date_order: DateOrder | None = None
    twelve_hour: bool = False
    zone: str | None = None
    encoding: Encoding = "utf-8"
    separator: Separator = "comma"
    decimal_mark: Literal["point", "comma"] = "point"
    has_header: bool = True
    lines_above: int = Field(default=0, ge=0)
    lines_below: int = Field(default=0, ge=0)
    no_value: tuple[str, ...] = ()

    @field_validator("date_order", mode="before")
    @classmethod
    def _as_people_write_it(cls, order: object) -> object:
        return (
            (choice_meant(order, get_args(DateOrder)) or order) if isinstance(order, str) else order
        )

    @model_validator(mode="after")
    def _columns_make_sense(self) -> Self:
        count = {use: len(self.numbers(use)) for use in Use.__args__}  # type: ignore[attr-defined]
        times = (count["time"], count["date"], count["clock"])
        if times not in ((1, 0, 0), (0, 1, 1), (0, 0, 1)):
            raise InputError(N_("give one column the use 'time', or one 'date' and one 'clock'"))
        if times == (0, 0, 1) and self.time_form not in (None, "clock"):
            raise InputError(N_("a column 'clock' without a column 'date' needs time_form 'clock'"))
        if times == (0, 1, 1) and self.time_form not in (None, "date and clock"):
            raise InputError(N_("columns 'date' and 'clock' need time_form 'date and clock'"))
        if not count["value"]:
            raise InputError(N_("give at least one column the use 'value'"))
        if count["probe name"] > 1 or count["unit"] > 1:
            raise InputError(N_("only one column can name the probe, and only one the unit"))
        if count["probe name"] and count["value"] > 1:
            raise InputError(N_("with a column 'probe name' there is one column 'value'"))
        names = [self.probe_name(number) for number in self.numbers("value")]
        if len(set(names)) < len(names):
            raise InputError(N_("two 'value' columns have the same probe; give each its own name"))
        if self.zone is not None:
            time_zone(self.zone)
        return self

    def numbers(self, use: Use) -> tuple[int, ...]:
        """Return the indices (from 0) of the columns of that use."""
        return tuple(i for i, column in enumerate(self.columns) if column.use == use)

    def probe_name(self, index: int) -> str:
        """Return the probe of a value column: as given, else its header, else its number."""
        column = self.columns[index]
        return column.probe or column.header.strip() or f"column {index + 1}"

    @property
    def one_reading_a_row(self) -> bool:
        """Whether each row names its probe, instead of each probe having its column."""
        return bool(self.numbers("probe name"))

    @property
    def separator_mark(self) -> str:
        """The character between two fields."""
        return SEPARATORS[self.separator]

    @property
    def decimal_character(self) -> str:
        """The character before the decimals."""
        return _MARKS[self.decimal_mark]

    @property
    def open_points(self) -> tuple[str, ...]:
        """What still must be said before a file can be read; the time zone is said to ``read``."""
        points = []
        if self.time_form is None:
            points.append("time_form")
        if self.time_form == "date and clock" and self.date_order is None:
            points.append("date_order")
        if not self.numbers("unit"):
            points += [
                f"unit: {self.probe_name(i)}"
                for i in self.numbers("value")
                if self.columns[i].unit is None
            ]
        return tuple(points)

    @property
    def needs_start(self) -> bool:
        """Whether the times count from a start, or lack the date, that a person must give."""
        return self.time_form is not None and self.time_form.startswith(("elapsed", "clock"))

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data for a YAML file; ``from_dict`` makes the same mapping of it."""
        return self.model_dump(mode="json", exclude_defaults=True)

    @classmethod
    def from_dict(cls, content: Dict[str, Any]) -> Self:
        """Make a mapping of plain data, as read from a YAML file.

        Raises IntakeError which names each entry that is wrong.
        """
        try:
            return cls.model_validate(content)
        except ValidationError as error:
            wrong = "; ".join(
                f"{_place(entry['loc'])}: {entry['msg'].removeprefix('Value error, ')}"
                for entry in error.errors(include_url=False)
            )
            raise IntakeError(
                N_("the mapping of a logger's file is wrong: %(wrong)s", wrong=wrong)
            ) from error


def _place(loc: tuple[int | str, ...]) -> str:
    """Name an entry of a mapping as a person counts: ("columns", 0, "unit") is "column 1, unit"."""
    if len(loc) > 1 and loc[0] == "columns" and isinstance(loc[1], int):
        return ", ".join([f"column {loc[1] + 1}", *map(str, loc[2:])])
    return ", ".join(map(str, loc)) or "as a whole"


def layout_digest(mapping: Mapping, time_cell: str) -> str:
    """Return a digest which is the same for every file that a logger lays out in the same way.

    It depends on the separator, the headers and the pattern of the times (``time_cell`` is the
    first one, as written), not on what a person decided the columns to be.
    """
    pattern = re.sub(r"[A-Za-z]+", "A", re.sub(r"[0-9]+", "9", time_cell.strip()))
    headers = [column.header.strip() for column in mapping.columns]
    parts = [mapping.separator, str(mapping.has_header), pattern, *headers]
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:16]
