"""What every record is built from: checked, unchangeable data with one way to and from files.

Inside, a quantity is a float in SI units and its name says which (``pit_c``, ``mass_kg``,
``hold_s``, ``thick_m``). In a file the same field is called ``pit``, ``mass``, ``hold``, ``thick``
and carries its unit in the text ("121 °C", "12 lb 4 oz"); a bare number is refused there.
"""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated, Any, Self
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    StringConstraints,
    ValidationInfo,
)
from pydantic_core.core_schema import SerializationInfo

from fairsmoke import quantity
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.clock import parse_instant, show_instant, time_zone

_UNIT_SUFFIX = re.compile(r"_(c|k|kg|s|m)$")


@dataclass(frozen=True)
class FileContext:
    """Marks that a record is being read from or written to a file, and the zone of its clocks."""

    zone: ZoneInfo | None = None


def file_key(field_name: str) -> str:
    """Return the key under which a field stands in a file: its name without the unit."""
    return _UNIT_SUFFIX.sub("", field_name)


def _in_file(info: ValidationInfo | SerializationInfo) -> FileContext | None:
    return info.context if isinstance(info.context, FileContext) else None


def _quantity_reader(
    parse: Callable[[str], float], example: str
) -> Callable[[Any, ValidationInfo], Any]:
    def read(value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, str):
            return parse(value)
        if _in_file(info) and isinstance(value, int | float) and not isinstance(value, bool):
            raise InputError(
                N_("%(value)s has no unit; write it as '%(example)s'", value=value, example=example)
            )
        return value

    return read


def _quantity_writer(write: Callable[[float], str]) -> Callable[[float, SerializationInfo], Any]:
    def show(value: float, info: SerializationInfo) -> Any:
        return write(value) if _in_file(info) else value

    return show


def _finite(value: float) -> float:
    if value != value or value in (float("inf"), float("-inf")):
        raise InputError(N_("must be a finite number"))
    return value


def _not_negative(value: float) -> float:
    if value < 0:
        raise InputError(N_("cannot be negative"))
    return value


TemperatureC = Annotated[
    float,
    BeforeValidator(_quantity_reader(quantity.parse_temperature, "121 °C")),
    AfterValidator(_finite),
    PlainSerializer(_quantity_writer(quantity.file_temperature)),
]
TemperatureDifferenceK = Annotated[
    float,
    BeforeValidator(_quantity_reader(quantity.parse_temperature_difference, "5.5 K")),
    AfterValidator(_finite),
    PlainSerializer(_quantity_writer(quantity.file_temperature_difference)),
]
MassKg = Annotated[
    float,
    BeforeValidator(_quantity_reader(quantity.parse_mass, "5.57 kg")),
    AfterValidator(_finite),
    AfterValidator(_not_negative),
    PlainSerializer(_quantity_writer(quantity.file_mass)),
]
DurationS = Annotated[
    float,
    BeforeValidator(_quantity_reader(quantity.parse_duration, "4 h 30 min")),
    AfterValidator(_finite),
    AfterValidator(_not_negative),
    PlainSerializer(_quantity_writer(quantity.file_duration)),
]
LengthM = Annotated[
    float,
    BeforeValidator(_quantity_reader(quantity.parse_length, "4.5 cm")),
    AfterValidator(_finite),
    AfterValidator(_not_negative),
    PlainSerializer(_quantity_writer(quantity.file_length)),
]


def _read_instant(value: Any, info: ValidationInfo) -> Any:
    if isinstance(value, str):
        context = _in_file(info)
        return parse_instant(value, context.zone if context else None)
    if isinstance(value, datetime) and value.tzinfo is None:
        raise InputError(N_("a time must know its offset; give it a time zone"))
    return value.astimezone(UTC) if isinstance(value, datetime) else value


def _write_instant(value: datetime, info: SerializationInfo) -> Any:
    context = _in_file(info)
    return show_instant(value, context.zone if context else UTC)


Instant = Annotated[datetime, BeforeValidator(_read_instant), PlainSerializer(_write_instant)]
"""A moment, kept in UTC; in a file, local time with its offset."""


def _zone_exists(name: str) -> str:
    time_zone(name)
    return name


ZoneName = Annotated[str, AfterValidator(_zone_exists)]
"""An IANA time zone name, for instance ``Europe/London``."""


def _printable(text: str) -> str:
    """Refuse control characters, which no page can show and some programs stop at."""
    for letter in text:
        if unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\n\t":
            raise InputError(
                N_("holds the control character U+%(ord)s; take it out", ord=f"{ord(letter):04X}")
            )
    return text


Name = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=200),
    AfterValidator(_printable),
]
Text = Annotated[
    str,
    StringConstraints(strip_whitespace=True, max_length=20_000),
    AfterValidator(_printable),
]
Id = Annotated[
    str,
    StringConstraints(pattern=r"^[a-z0-9]([a-z0-9-]*[a-z0-9])?$", max_length=60),
]
"""A short handle: small letters, digits and hyphens, for instance ``left-shoulder-2``."""


class Record(BaseModel):
    """Something recorded: checked when made, never changed in place, no fields but its own."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        alias_generator=file_key,
        validate_by_name=True,
        validate_by_alias=True,
        ser_json_inf_nan="constants",
    )

    @classmethod
    def from_file(cls, content: Any, zone: ZoneInfo | None = None) -> Self:
        """Read the form that stands in a file: units in the text, local times.

        Raises pydantic.ValidationError, which names each field that is wrong and why.
        """
        return cls.model_validate(content, context=FileContext(zone), by_name=False, by_alias=True)

    def to_file(self, zone: ZoneInfo | None = None) -> dict[str, Any]:
        """Return the form that stands in a file; ``from_file`` makes the identical record of it."""
        return self.model_dump(
            mode="json",
            by_alias=True,
            exclude_defaults=True,
            context=FileContext(zone),
        )
