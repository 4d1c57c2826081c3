"""Headers that come again in the middle of a file: a logger restarted, perhaps in another unit."""

import re
from collections.abc import Mapping as Dict
from collections.abc import Sequence
from dataclasses import dataclass, field

from fairsmoke.intake.cells import Cell, parse_cell
from fairsmoke.intake.layout import Mapping
from fairsmoke.intake.structure import is_time, is_units_row, understood
from fairsmoke.intake.text import IntakeError, fields_of
from fairsmoke.intake.units import UNIT_CELLS, unit_at_end, unit_named, unit_of_line, without_unit
from fairsmoke.messages.message import N_, Listed, Message
from fairsmoke.trial.reading import ReadingUnit

NOTES_ABOVE = 20
"""In so many lines above a header a unit for the whole file is looked for."""

SHOWN = {"degC": "°C", "degF": "°F", "K": "K"}
_CLOCK = re.compile(r"[0-9]:[0-9]")
_UNIT_WORDS = r"[°º˚]|deg|fahrenheit|celsius|centigrade|kelvin|[(\[][CFK][)\]]"


@dataclass(frozen=True)
class LineRange:
    """Lines from index ``first`` up to ``end`` that one mapping fits."""

    first: int
    end: int
    mapping: Mapping


@dataclass(frozen=True)
class Restarts:
    """A file in stretches of one unit a column, and what is told of the headers between.

    ``reasons`` say by line number why the line of a header is no reading.
    """

    stretches: tuple[LineRange, ...]
    reasons: Dict[int, str] = field(default_factory=dict)
    notes: tuple[Message, ...] = ()


def restarts(lines: Sequence[str], header: int, first: int, mapping: Mapping) -> Restarts:
    """Split the rows from index ``first`` on where a header names other units than before.

    ``header`` is the index of the first header's line. A column whose header says the same as
    the first one has the unit that the mapping gives it.
    Raises IntakeError when a later header names other columns: their rows would be misread.
    """
    stated = _stated(lines, header, mapping) if mapping.has_header else {}
    stretches = [LineRange(first, len(lines), mapping)]
    reasons: dict[int, str] = {}
    notes: list[Message] = []
    for at in _headers(lines, first, mapping):
        reasons[at + 1] = "the header again; the logger was probably restarted"
        units = _units_from(lines, at, mapping, stated)
        last = stretches[-1]
        there = _in_units(mapping, units)
        if there == last.mapping:
            continue
        stretches[-1] = LineRange(last.first, at, last.mapping)
        stretches.append(LineRange(at, len(lines), there))
        reasons[at + 1] += ", in another unit"
        notes.append(_note(at, last.mapping, there))
    return Restarts(tuple(stretches), reasons, tuple(notes))


def _note(at: int, before: Mapping, after: Mapping) -> Message:
    changed = [
        N_("%(probe)s in %(unit)s", probe=after.probe_name(i), unit=SHOWN[unit])
        for i in after.numbers("value")
        if (unit := after.columns[i].unit) and unit != before.columns[i].unit
    ]
    return N_(
        "From line %(line)s on, the readings are taken as %(changed)s: the header stands there "
        "again and says so.",
        line=str(at + 1),
        changed=Listed(changed),
    )


def _in_units(mapping: Mapping, units: Dict[int, ReadingUnit | None]) -> Mapping:
    columns = [
        column.model_copy(update={"unit": units[i]}) if i in units else column
        for i, column in enumerate(mapping.columns)
    ]
    return mapping.model_copy(update={"columns": tuple(columns)})


def _headers(lines: Sequence[str], first: int, mapping: Mapping) -> list[int]:
    """Return the indices of the lines that are headers.

    Raises IntakeError for one that has the name of the times but other columns.
    """
    times = _time_names(mapping)
    telling = re.compile("|".join([*map(re.escape, times), _UNIT_WORDS]), re.IGNORECASE)
    begins_with_digit = mapping.columns[0].header.strip()[:1].isdigit()
    found = []
    for at in range(first, len(lines)):
        line = lines[at]
        # Most rows are told from a header by their first character, or by a clock time.
        if (line[:1].isdigit() and not begins_with_digit) or _CLOCK.search(line):
            continue
        if not telling.search(line):
            continue
        cells = _cells(line, mapping)
        if not times.isdisjoint(cell.casefold() for cell in cells):
            if _same_columns(cells, mapping):
                found.append(at)
            elif not _cut_short(cells, mapping):
                raise _other_columns(at, cells, mapping)
        elif _names_values(cells, mapping):
            found.append(at)
    return found


def _time_names(mapping: Mapping) -> set[str]:
    used = (*mapping.numbers("time"), *mapping.numbers("date"), *mapping.numbers("clock"))
    return {name for i in used if (name := mapping.columns[i].header.strip().casefold())}


def _cells(line: str, mapping: Mapping) -> list[str]:
    cells = [cell.strip() for cell in fields_of(line, mapping.separator_mark) or []]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _expected(mapping: Mapping) -> list[str]:
    expected = [column.header.strip() for column in mapping.columns]
    while expected and not expected[-1]:
        expected.pop()
    return expected


def _bare(text: str, mapping: Mapping, index: int) -> str:
    """Return a header without its unit. A last letter is one where the mapping took it so."""
    column = mapping.columns[index]
    at_end = column.unit is not None and unit_at_end(column.header) == column.unit
    return without_unit(text, at_end=at_end).casefold()


def _same_columns(cells: Sequence[str], mapping: Mapping) -> bool:
    expected = _expected(mapping)
    return len(cells) == len(expected) and all(
        one.casefold() == other.casefold() or _bare(one, mapping, i) == _bare(other, mapping, i)
        for i, (one, other) in enumerate(zip(cells, expected, strict=True))
    )


def _cut_short(cells: Sequence[str], mapping: Mapping) -> bool:
    """Tell whether a header stops within itself, as when the power fails."""
    mark = mapping.separator_mark
    return mark.join(_expected(mapping)).casefold().startswith(mark.join(cells).casefold())


def _names_values(cells: Sequence[str], mapping: Mapping) -> bool:
    """Tell whether cells are a header that calls the times otherwise, or the first one of all."""
    values = mapping.numbers("value")
    if not values or values[-1] >= len(cells) or len(cells) > len(mapping.columns):
        return False
    if any(cells[i][:1].isdigit() for i in values):  # quickly past rows with units behind numbers
        return False
    if any(parse_cell(cells[i], mapping.decimal_character).kind is not Cell.BAD for i in values):
        return False
    if any(is_time(cell) for cell in cells) or not any(unit_named(cells[i]) for i in values):
        return False
    if not mapping.has_header:
        return all(unit_named(cells[i]) for i in values)
    headers = [column.header for column in mapping.columns]
    return all(_bare(cells[i], mapping, i) == _bare(headers[i], mapping, i) for i in values)


def _other_columns(at: int, cells: Sequence[str], mapping: Mapping) -> IntakeError:
    return IntakeError(
        N_(
            "line %(at)s: the header stands here again with other columns: %(cells)s "
            "in place of %(expected)s; split the file before this line and take both "
            "parts in, each with its own layout (if the line is only a remark, put # "
            "before it)",
            at=at + 1,
            cells=", ".join(map(repr, cells)),
            expected=", ".join(map(repr, _expected(mapping))),
        )
    )


def _stated(lines: Sequence[str], header: int, mapping: Mapping) -> dict[int, ReadingUnit | None]:
    """Return the unit that a header, the units below it or the notes above it state by column."""
    cells = _cells(lines[header], mapping)
    below = _cells(lines[header + 1], mapping) if header + 1 < len(lines) else []
    units = [UNIT_CELLS.get(cell.strip(" \t()[]").lower()) for cell in below]
    units = units if is_units_row(below) else []
    whole = _unit_above(lines, header, mapping)
    stated: dict[int, ReadingUnit | None] = {}
    for i in mapping.numbers("value"):
        cell = cells[i] if i < len(cells) else ""
        below_it = units[i] if i < len(units) else None
        stated[i] = unit_named(cell) or below_it or unit_at_end(cell) or whole
    return stated


def _unit_above(lines: Sequence[str], header: int, mapping: Mapping) -> ReadingUnit | None:
    for at in range(header - 1, max(header - 1 - NOTES_ABOVE, -1), -1):
        if understood(_cells(lines[at], mapping), mapping.decimal_character):
            return None
        if unit := unit_of_line(lines[at]):
            return unit
    return None


def _units_from(
    lines: Sequence[str], at: int, mapping: Mapping, stated: Dict[int, ReadingUnit | None]
) -> dict[int, ReadingUnit | None]:
    """Return the units of the value columns below the header at index ``at``.

    Raises IntakeError when it no longer says a unit that the first header said.
    """
    if mapping.numbers("unit"):
        return {}
    units: dict[int, ReadingUnit | None] = {}
    for i, unit in _stated(lines, at, mapping).items():
        if unit is None and stated.get(i) is not None:
            raise IntakeError(
                N_(
                    "line %(at)s: the header stands here again and no longer says the unit "
                    "of %(probe_name)r; write it into that line, or split the file there",
                    at=at + 1,
                    probe_name=mapping.probe_name(i),
                )
            )
        units[i] = mapping.columns[i].unit if unit == stated.get(i) else unit
    return units
