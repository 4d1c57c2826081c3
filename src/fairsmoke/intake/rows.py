"""The rows of a logger's file as numbers, with a reason for each one that cannot be read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
import polars as pl
from numpy.typing import NDArray

from fairsmoke.intake.cells import Cell, parse_cells
from fairsmoke.intake.layout import Mapping
from fairsmoke.intake.text import RowBlock
from fairsmoke.intake.times import ParsedTimes, parse_times
from fairsmoke.intake.units import UNIT_CELLS
from fairsmoke.trial.reading import ReadingUnit

UNITS: tuple[ReadingUnit, ...] = ("degC", "degF", "K")
NO_UNIT = len(UNITS)
"""The code of a unit that the row does not state."""

Reasons = dict[int, list[str]]
"""By line number, what is wrong with a row."""


@dataclass(frozen=True, eq=False)
class Rows:
    """n rows with k columns of values, in order of their lines.

    ``lines``, ``ms`` (n,) int64; ``local``, ``usable`` (n,) bool; ``kind`` (n, k) uint8 of Cell,
    ``raw`` (n, k) int64, ``decimals`` (n, k) int8; ``probe`` (n,) int64, the number of the name;
    ``unit`` (n, k) uint8, an index of ``UNITS`` or ``NO_UNIT``. A row is usable when its time,
    name and unit can be read.
    """

    lines: NDArray[np.int64]
    ms: NDArray[np.int64]
    local: NDArray[np.bool_]
    usable: NDArray[np.bool_]
    kind: NDArray[np.uint8]
    raw: NDArray[np.int64]
    decimals: NDArray[np.int8]
    probe: NDArray[np.int64]
    unit: NDArray[np.uint8]

    @classmethod
    def joined(cls, parts: Sequence["Rows"], values: int) -> Self:
        """Put blocks of rows together, in order of their lines; none make an empty one."""
        if not parts:
            return cls(
                lines=np.empty(0, np.int64),
                ms=np.empty(0, np.int64),
                local=np.empty(0, np.bool_),
                usable=np.empty(0, np.bool_),
                kind=np.empty((0, values), np.uint8),
                raw=np.empty((0, values), np.int64),
                decimals=np.empty((0, values), np.int8),
                probe=np.empty(0, np.int64),
                unit=np.empty((0, values), np.uint8),
            )
        order = np.argsort(np.concatenate([part.lines for part in parts]), kind="stable")

        def column(of: Callable[[Rows], NDArray[Any]]) -> NDArray[Any]:
            return np.concatenate([of(part) for part in parts])[order]

        return cls(
            lines=column(lambda part: part.lines),
            ms=column(lambda part: part.ms),
            local=column(lambda part: part.local),
            usable=column(lambda part: part.usable),
            kind=column(lambda part: part.kind),
            raw=column(lambda part: part.raw),
            decimals=column(lambda part: part.decimals),
            probe=column(lambda part: part.probe),
            unit=column(lambda part: part.unit),
        )


def rows_of(block: RowBlock, mapping: Mapping, names: dict[str, int], reasons: Reasons) -> Rows:
    """Read the cells of a block.

    Names of probes met for the first time are added to ``names``, what is wrong to ``reasons``.
    """
    time_cells = _time_cells(block, mapping)
    times = _times(time_cells, mapping)
    usable = times.ok.copy()
    for index in np.flatnonzero(~times.ok).tolist():
        _blame(reasons, block, index, f"{_short(time_cells[index])} is not {_expected(mapping)}")
    probe = _probe_numbers(block, mapping, names, usable, reasons)
    values = mapping.numbers("value")
    unit = _unit_codes(block, mapping, usable, reasons)
    kind = np.empty((len(block.lines), len(values)), dtype=np.uint8)
    raw = np.empty(kind.shape, dtype=np.int64)
    decimals = np.empty(kind.shape, dtype=np.int8)
    no_value = frozenset(word.strip().lower() for word in mapping.no_value)
    for at, number in enumerate(values):
        column_unit = None if mapping.numbers("unit") else mapping.columns[number].unit
        cells = parse_cells(
            pl.Series(block.columns[number], dtype=pl.String),
            mapping.decimal_character,
            column_unit,
            no_value,
        )
        kind[:, at], raw[:, at], decimals[:, at] = cells.kind, cells.raw, cells.decimals
        for index, reason in cells.reasons.items():
            _blame(reasons, block, index, f"{mapping.probe_name(number)}: {reason}")
    if mapping.numbers("unit"):
        unstated = usable & ((unit == NO_UNIT) & (kind == Cell.VALUE)).any(axis=1)
        usable &= ~unstated
        for index in np.flatnonzero(unstated).tolist():
            _blame(reasons, block, index, "the unit of the row is not stated")
    return Rows(block.lines, times.ms, times.local, usable, kind, raw, decimals, probe, unit)


def _blame(reasons: Reasons, block: RowBlock, index: int, reason: str) -> None:
    reasons.setdefault(int(block.lines[index]), []).append(reason)


def _short(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")


def _time_cells(block: RowBlock, mapping: Mapping) -> pl.Series:
    if mapping.numbers("time"):
        return pl.Series(block.columns[mapping.numbers("time")[0]], dtype=pl.String)
    clock = pl.Series(block.columns[mapping.numbers("clock")[0]], dtype=pl.String)
    if not mapping.numbers("date"):
        return clock
    date = pl.Series(block.columns[mapping.numbers("date")[0]], dtype=pl.String)
    return date.str.strip_chars() + " " + clock.str.strip_chars()


def _times(cells: pl.Series, mapping: Mapping) -> ParsedTimes:
    assert mapping.time_form is not None
    return parse_times(
        cells,
        mapping.time_form,
        mapping.date_order,
        twelve_hour=mapping.twelve_hour,
        decimal_mark=mapping.decimal_character,
    )


def _expected(mapping: Mapping) -> str:
    clock = "12-hour clock" if mapping.twelve_hour else "24-hour clock"
    if mapping.time_form == "date and clock":
        return f"a time in the form {mapping.date_order}, {clock}"
    if mapping.time_form == "clock":
        return f"a time of the {clock}"
    return f"a time in the form {mapping.time_form!r}"


def _probe_numbers(
    block: RowBlock,
    mapping: Mapping,
    names: dict[str, int],
    usable: NDArray[np.bool_],
    reasons: Reasons,
) -> NDArray[np.int64]:
    if not mapping.one_reading_a_row:
        return np.zeros(len(block.lines), dtype=np.int64)
    cells = [cell.strip() for cell in block.columns[mapping.numbers("probe name")[0]]]
    for index in [i for i, cell in enumerate(cells) if not cell]:
        _blame(reasons, block, index, "no probe is named")
        usable[index] = False
    # Only rows that can be used name a probe; damaged ones must not invent any.
    for cell, use in zip(cells, usable.tolist(), strict=True):
        if use:
            names.setdefault(cell, len(names))
    return np.array([names.get(cell, -1) for cell in cells], dtype=np.int64)


def _unit_codes(
    block: RowBlock, mapping: Mapping, usable: NDArray[np.bool_], reasons: Reasons
) -> NDArray[np.uint8]:
    values = mapping.numbers("value")
    codes = np.full((len(block.lines), len(values)), NO_UNIT, dtype=np.uint8)
    if not mapping.numbers("unit"):
        stated = [unit for i in values if (unit := mapping.columns[i].unit)]
        codes[:] = [UNITS.index(unit) for unit in stated]
        return codes
    known = {word: UNITS.index(unit) for word, unit in UNIT_CELLS.items()}
    for index, cell in enumerate(block.columns[mapping.numbers("unit")[0]]):
        word = cell.strip().lower()
        code = known.get(word)
        if code is not None:
            codes[index] = code
        elif word:
            _blame(reasons, block, index, f"{_short(cell)} is not a unit of temperature")
            usable[index] = False
    return codes
