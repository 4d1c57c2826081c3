"""From a record to the columns of its table and back, for every kind by one set of rules.

A scalar field is a column of its own type. A field that holds several handles of other records is
a table of links. A spot is two columns, so that its cooker can be a foreign key. Everything else
that is nested is JSON.
"""

import enum
import types
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import PlainSerializer, ValidationError
from pydantic.fields import FieldInfo
from sqlalchemy import JSON, BigInteger, Boolean, Column, Dialect, Float, RowMapping, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

from fairsmoke.messages.errors import pydantic_message
from fairsmoke.messages.message import N_, Message, Words, chained, placed
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.kinds import Key, Kind
from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Spot

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def microseconds_of(instant: datetime) -> int:
    """Return whole microseconds since 1970 UTC: all that a datetime can hold, in 64 bits."""
    return (instant - _EPOCH) // _MICROSECOND


def instant_of(microseconds: int) -> datetime:
    """Return the instant (UTC) that lies so many microseconds after 1970."""
    return _EPOCH + timedelta(microseconds=microseconds)


class Moment(TypeDecorator[datetime]):
    """An instant as whole microseconds since 1970 UTC."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:
        """Return the number that is kept."""
        return None if value is None else microseconds_of(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> datetime | None:
        """Return the instant of a kept number."""
        return None if value is None else instant_of(value)


Columns = Mapping[str, Any] | RowMapping
"""The values of a row by the names of its columns."""

Form = Literal["text", "number", "whole", "yes or no", "instant", "spot", "links", "json"]

_SCALARS: dict[type, Form] = {
    bool: "yes or no",
    int: "whole",
    float: "number",
    str: "text",
    datetime: "instant",
    Spot: "spot",
}


def _column_type(form: Form) -> TypeEngine[Any]:
    match form:
        case "text" | "spot" | "links":
            return Text()
        case "number":
            return Float()
        case "whole":
            return BigInteger()
        case "yes or no":
            return Boolean()
        case "instant":
            return Moment()
        case "json":
            return JSON()


@dataclass(frozen=True)
class FieldMap:
    """How one field of a record is kept. ``target`` is the kind that its handle points at."""

    name: str
    form: Form
    required: bool
    target: str | None

    def columns(self) -> list[Column[Any]]:
        """Return fresh columns for this field: two for a spot, none for links."""
        kind = _column_type(self.form)
        return [
            Column(name, kind, primary_key=name == "id", nullable=not self.required)
            for name in self.column_names
        ]

    @property
    def column_names(self) -> tuple[str, ...]:
        """The names of its columns."""
        if self.form == "spot":
            return (f"{self.name}_cooker", f"{self.name}_position")
        return () if self.form == "links" else (self.name,)


def plain_type(annotation: Any) -> Any:
    """Return a type without ``Annotated`` and "or None": the type whose values are kept."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in (Union, types.UnionType):
            kept = [part for part in get_args(annotation) if part is not type(None)]
            if len(kept) != 1:
                return annotation
            annotation = kept[0]
        else:
            return annotation


def _form_of(info: FieldInfo, target: str | None) -> Form:
    if any(isinstance(m, PlainSerializer) and m.return_type is str for m in info.metadata):
        return "text"
    plain = plain_type(info.annotation)
    if get_origin(plain) is Literal:
        return "text"
    if get_origin(plain) is tuple and target is not None and plain_type(get_args(plain)[0]) is str:
        return "links"
    if isinstance(plain, type) and issubclass(plain, enum.StrEnum):
        return "text"
    return _SCALARS.get(plain, "json")


@cache
def fields_of(kind: Kind) -> tuple[FieldMap, ...]:
    """Return how each field of a kind is kept, in the order of its class."""
    maps = []
    for name, info in kind.model.model_fields.items():
        target = kind.points_at.get(name) or kind.points_at.get(f"{name}.cooker")
        maps.append(FieldMap(name, _form_of(info, target), info.is_required(), target))
    return tuple(maps)


def body_of(record: Record) -> dict[str, Any]:
    """Return a whole record as plain JSON data, by field name, in SI units and UTC."""
    return record.model_dump(mode="json")


def row_of(kind: Kind, record: Record) -> dict[str, Any]:
    """Return the values of a record's own columns."""
    body = body_of(record)
    row: dict[str, Any] = {}
    for field in fields_of(kind):
        value = getattr(record, field.name)
        match field.form:
            case "links":
                continue
            case "spot":
                cooker, position = field.column_names
                row[cooker] = None if value is None else value.cooker
                row[position] = None if value is None else value.position
            case "instant":
                row[field.name] = value
            case _:
                row[field.name] = body[field.name]
    return row


def record_of(kind: Kind, key: Key, row: Columns, links: Mapping[str, tuple[str, ...]]) -> Record:
    """Return the record that a row and its links hold.

    A column without a value is the field's default, so a column that a later version adds needs
    no filling in. Raises NotebookError when the row is not a sound record.
    """
    content: dict[str, Any] = {}
    for field in fields_of(kind):
        if field.form == "links":
            content[field.name] = links.get(field.name, ())
        elif field.form == "spot":
            cooker, position = (row[name] for name in field.column_names)
            if cooker is not None:
                content[field.name] = {"cooker": cooker, "position": position}
        elif row[field.name] is not None:
            content[field.name] = row[field.name]
    return record_of_body(kind, key, content)


def record_of_body(kind: Kind, key: Key, body: Mapping[str, Any]) -> Record:
    """Return the record of a whole body; raises NotebookError when it is not a sound one."""
    try:
        return kind.model.model_validate(dict(body))
    except ValidationError as error:
        raise NotebookError(
            N_(
                "%(key)s as kept in the notebook is not sound: %(plain_problem)s",
                key=key.words,
                plain_problem=plain_problem(error),
            )
        ) from error


def plain_problem(error: ValidationError) -> Message:
    """Return what a validation found wrong, in one line."""
    found: list[Words] = []
    for problem in error.errors(include_url=False, include_input=False):
        place = ", ".join(str(part) for part in problem["loc"])
        wrong = pydantic_message(problem)
        found.append(placed(place, wrong) if place else wrong)
    return chained(found)
