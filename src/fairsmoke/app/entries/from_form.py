"""Entries from forms of pages, for browsers without scripts; the page's script does the same.

A field is named as in the entry. Fields that are lists may come several times; what is empty counts
as not said; times are those of the clocks at the cooker, and now when none is given.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter

from fairsmoke.app.entries.accept import AnyEntry
from fairsmoke.trial.clock import Which, parse_instant

LISTS = ("pieces", "sum")
SPOTS = ("to", "spot")
MOMENTS = ("at", "since", "until")
RANGE = ("low", "best", "high")
"""The fields of an estimate that are masses."""
SCORE = "score-"
NEW_TASTER = "new"
POUNDS_AND_OUNCES = "lb oz"
_OURS = ("csrf", "lb", "oz", "unit", "other", "hour")
"""Fields of forms that are no fields of entries."""

_DEGREES = re.compile(r"(-?[0-9.,]+)\s*°?\s*([cfCF])")
_ADAPTER: TypeAdapter[Any] = TypeAdapter(AnyEntry)


def entry_of_form(
    fields: Sequence[tuple[str, str]], trial: str, cook: str, zone: ZoneInfo, now: datetime
) -> Any:
    """Return the entry that a form says.

    Raises pydantic.ValidationError or ClockError for what has to be mended.
    """
    content: dict[str, Any] = {"trial": trial, "cook": cook}
    said = [(name, value.strip()) for name, value in fields if value.strip()]
    units = dict(said)
    for name, value in said:
        if name in LISTS:
            # One button may stand for several parts: "cooked meat+used wrap".
            content.setdefault(name, []).extend(part.strip() for part in value.split("+"))
        elif name in SPOTS:
            cooker, _, position = value.partition("/")
            content[name] = {"cooker": cooker, "position": position}
        elif name in MOMENTS:
            content[name] = parse_instant(value, zone, which_said(units))
        elif name == "place":
            content |= _place(value)
        elif name not in _OURS:
            content[name] = value
    kind = content.get("kind")
    if kind == "weighing":
        content |= _weighed(units, content)
    if kind == "reading":
        content["unit"] = units.get("unit", "degC")
        if read := _DEGREES.fullmatch(content.get("value", "")):
            content |= {"value": read[1], "unit": f"deg{read[2].upper()}"}
    if kind == "score":
        content |= _scored(content)
    if kind == "estimate":
        content |= {
            one: _with_unit(content[one], units.get("unit", "")) for one in RANGE if one in content
        }
    if kind in ("event", "reading", "probe", "weighing", "score", "end"):
        content.setdefault("at", now)
    if kind == "event" and "set" in content:
        content["set"] = _with_unit(content["set"], units.get("unit", ""))
    if kind in ("undo", "mend"):
        del content["cook"]
    content.setdefault("id", uuid4())
    return _ADAPTER.validate_python(content)


def _scored(content: dict[str, Any]) -> dict[str, Any]:
    """Return the scores of fields such as "score-shoulder-1", by the handle of the piece."""
    named = [name for name in content if name.startswith(SCORE)]
    given = {name.removeprefix(SCORE): content.pop(name).replace(",", ".") for name in named}
    if content.get("taster") == NEW_TASTER:
        del content["taster"]
    return {"scores": given}


def which_said(fields: Mapping[str, str]) -> Which:
    """Return which of two instants with one clock time a form's field "hour" says."""
    said = fields.get("hour", "")
    return "first" if said == "first" else "second" if said == "second" else ""


def _place(value: str) -> dict[str, Any]:
    """Return where a probe goes, from "core:shoulder-1" or "pit:barrel/left" or "cabinet:"."""
    measures, _, where = value.partition(":")
    found: dict[str, Any] = {"measures": measures}
    if measures in ("core", "surface"):
        found["piece"] = where
    elif "/" in where:
        cooker, _, position = where.partition("/")
        found["spot"] = {"cooker": cooker, "position": position}
    return found if measures != "out" else {}


def _weighed(units: dict[str, str], content: dict[str, Any]) -> dict[str, Any]:
    pounds, ounces = units.get("lb", ""), units.get("oz", "")
    if units.get("unit") == POUNDS_AND_OUNCES:
        written = content.get("reading", "")
        # Whatever has a unit of its own is the whole of it.
        pounds, ounces = (written, ounces) if _is_bare(written) else ("", "")
    parts = content.get("sum", [])
    if other := units.get("other"):
        parts = [*parts, *(part.strip() for part in other.split("+"))]
    if pounds or ounces:
        reading = " ".join(
            f"{value} {unit}" for value, unit in ((pounds, "lb"), (ounces, "oz")) if value
        )
    else:
        reading = _with_unit(content.get("reading", ""), units.get("unit", ""))
    return {"reading": reading, "sum": parts}


def _with_unit(value: str, unit: str) -> str:
    return f"{value} {unit}" if unit and _is_bare(value) else value


def _is_bare(value: str) -> bool:
    return value.replace(".", "").replace(",", "").isdigit()
