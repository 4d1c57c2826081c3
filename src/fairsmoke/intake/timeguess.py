"""Recognise which columns hold the times of a logger's file, and in which form."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from fairsmoke.intake.layout import Use
from fairsmoke.intake.structure import MARKS, Structure
from fairsmoke.intake.text import IntakeError
from fairsmoke.intake.times import (
    DATE_ONLY,
    PATTERN,
    DateOrder,
    TimeForm,
    parse_times,
)
from fairsmoke.messages.message import N_, Words

ORDERS: tuple[DateOrder, ...] = (
    "year-month-day",
    "month-day-year",
    "day-month-year",
    "yyyymmdd",
)
MOST = 0.6
"""So large a share of the cells of a column must be readable in the form."""

EPOCH_RANGE = {"epoch s": (1e9, 4e9), "epoch ms": (1e12, 4e12)}
"""From 2001 to 2096."""

WholeColumns = Callable[[Sequence[int]], pl.Series]
"""Returns the cells of those columns of the whole file, joined by a space."""

_ELAPSED_WORD = re.compile(r"elapsed|since|run ?time|duration|lapse", re.IGNORECASE)
_TIME_WORD = re.compile(
    r"time|clock|date|stamp|elapsed|sec|min|hour|^t$|zeit|datum|heure|hora", re.IGNORECASE
)
_COUNT_FORMS: tuple[tuple[str, TimeForm], ...] = (
    (r"sec|[\[(_ ]s[\])]?$|^s$", "elapsed s"),
    (r"min", "elapsed min"),
    (r"hour|\bhrs?\b|[\[(_ ]h[\])]?$|^h$", "elapsed h"),
)
_DATE_PART = r"^([0-9A-Za-z]+(?:[-/. ]|, |\. )[0-9A-Za-z]+(?:[-/. ]|, |\. )[0-9]+|[0-9]{8})"
_HALF = re.compile(r"[0-9] ?[AaPp]\.?[Mm]\.?")
_OFFSET = re.compile(r":[0-9.,]+ ?(?:Z|z|UTC|GMT|[+-][0-9]{2}:?(?:[0-9]{2})?)$")


@dataclass(frozen=True)
class TimeGuess:
    """Which columns hold the times (uses by index), the form, and in plain words why.

    ``form_choices`` are the forms that a person must choose from, if more than one would do, and
    ``form`` is then only suggested (or None). So are ``orders`` and ``order``.
    """

    uses: dict[int, Use]
    form: TimeForm | None
    reason: Words
    form_choices: tuple[TimeForm, ...] = ()
    orders: tuple[DateOrder, ...] = ()
    order: DateOrder | None = None
    order_reason: Words = ""
    twelve_hour: bool = False
    has_offset: bool = False


def guess_times(structure: Structure, whole: WholeColumns) -> TimeGuess:
    """Recognise the times.

    Raises IntakeError when no column can hold them.
    """
    columns = [[f[i].strip() for _, f in structure.rows] for i in range(structure.width)]
    for guess in (_date_and_clock, _epoch, _clock_or_elapsed, _count):
        found = guess(columns, structure, whole)
        if found:
            return found
    raise IntakeError(
        N_(
            "line %(first_row)s: no column of times was found; give a mapping that "
            "says which column holds them",
            first_row=structure.first_row + 1,
        )
    )


def _share(pattern: str, cells: Sequence[str]) -> float:
    filled = [cell for cell in cells if cell]
    compiled = re.compile(pattern)
    return sum(bool(compiled.match(cell)) for cell in filled) / len(filled) if filled else 0.0


def _date_and_clock(
    columns: Sequence[Sequence[str]], structure: Structure, whole: WholeColumns
) -> TimeGuess | None:
    both = [i for i, c in enumerate(columns) if max(_share(PATTERN[o], c) for o in ORDERS) >= MOST]
    if both:
        with_offset = [
            i for i in both if _share(_OFFSET.pattern.join(["^.*", ""]), columns[i]) > 0.5
        ]
        which = [(with_offset or both)[0]]
        uses: dict[int, Use] = {which[0]: "time"}
    else:
        dates = [
            i
            for i, c in enumerate(columns)
            if max(_share(pattern, c) for pattern in DATE_ONLY.values()) >= MOST
        ]
        clocks = [i for i, c in enumerate(columns) if _share(PATTERN["clock"], c) >= MOST]
        if not dates or not clocks:
            return None
        which = [dates[0], clocks[0]]
        uses = {dates[0]: "date", clocks[0]: "clock"}
    cells = [" ".join(parts) for parts in zip(*(columns[i] for i in which), strict=True)]
    twelve_hour = sum(bool(_HALF.search(cell)) for cell in cells) * 2 > len(cells)
    orders, order, why = _orders(cells, twelve_hour, lambda: whole(which))
    return TimeGuess(
        uses=uses,
        form="date and clock",
        reason=f"for instance {cells[0]!r}",
        orders=orders,
        order=order,
        order_reason=why,
        twelve_hour=twelve_hour,
        has_offset=sum(bool(_OFFSET.search(cell)) for cell in cells) == len(cells),
    )


def _orders(
    cells: Sequence[str], twelve_hour: bool, whole: Callable[[], pl.Series]
) -> tuple[tuple[DateOrder, ...], DateOrder | None, Words]:
    """Return the orders in which every date can be read, the likeliest of them, and why."""
    sample = pl.Series(cells, dtype=pl.String)
    ms = {
        order: parse_times(sample, "date and clock", order, twelve_hour=twelve_hour)
        for order in ORDERS
    }
    fit = _best({order: int(parsed.ok.sum()) for order, parsed in ms.items()})
    if len(fit) == 1:
        return (
            fit,
            fit[0],
            N_("the dates, such as %(cells)r, can be read in no other order", cells=cells[0]),
        )
    dates = whole().str.strip_chars().str.extract(_DATE_PART).drop_nulls().unique()
    days = dates + " 00:00"
    if dates.len():
        counts = {o: int(parse_times(days, "date and clock", o).ok.sum()) for o in fit}
        if len(_best(counts)) == 1:
            only = _best(counts)
            return only, only[0], N_("a date further down can be read in no other order")
    spread = {order: _travel(ms[order].ms[ms[order].ok]) for order in fit}
    shortest = min(spread.values())
    closest = [order for order in fit if spread[order] == shortest]
    if len(closest) == 1:
        return fit, closest[0], N_("in the other order the file would leap over weeks")
    if twelve_hour and "month-day-year" in fit:
        return fit, "month-day-year", N_("AM and PM mostly go with the month first")
    if "." in str(dates[0] if dates.len() else "") and "day-month-year" in fit:
        return fit, "day-month-year", N_("points between the parts mostly go with the day first")
    return fit, None, N_("every date in the file can be read in more than one order")


def _best(counts: dict[DateOrder, int]) -> tuple[DateOrder, ...]:
    most = max(counts.values())
    return tuple(order for order, count in counts.items() if count == most)


def _travel(ms: NDArray[np.int64]) -> int:
    return int(np.abs(np.diff(ms)).sum())


def _numbers(cells: Sequence[str], structure: Structure) -> NDArray[np.float64]:
    """Return the cells as numbers, NaN where they are none."""
    mark = MARKS[structure.decimal_mark]
    plain = pl.Series(cells, dtype=pl.String).str.replace(mark, ".", literal=True)
    return plain.cast(pl.Float64, strict=False).fill_null(float("nan")).to_numpy()


def _epoch(
    columns: Sequence[Sequence[str]], structure: Structure, whole: WholeColumns
) -> TimeGuess | None:
    for index, cells in enumerate(columns):
        numbers = _numbers(cells, structure)
        for form, (low, high) in EPOCH_RANGE.items():
            if numbers.size and np.mean((numbers >= low) & (numbers < high)) >= MOST:
                unit = N_("seconds") if form == "epoch s" else N_("milliseconds")
                reason = N_(
                    "numbers such as %(cells)s are %(unit)s since 1970", cells=cells[0], unit=unit
                )
                found: TimeForm = "epoch s" if form == "epoch s" else "epoch ms"
                return TimeGuess({index: "time"}, found, reason, has_offset=True)
    return None


def _clock_or_elapsed(
    columns: Sequence[Sequence[str]], structure: Structure, whole: WholeColumns
) -> TimeGuess | None:
    for index, cells in enumerate(columns):
        clock = _share(PATTERN["clock"], cells) >= MOST
        if not clock and _share(PATTERN["elapsed h:mm:ss"], cells) < MOST:
            continue
        twelve_hour = sum(bool(_HALF.search(cell)) for cell in cells) * 2 > len(cells)
        says_elapsed = bool(_ELAPSED_WORD.search(structure.header[index]))
        three_parts = any(cell.count(":") == 2 for cell in cells)
        if twelve_hour or (clock and not says_elapsed and not _begins_at_zero(cells)):
            return TimeGuess(
                {index: "clock"},
                "clock",
                N_("times of the day without a date, such as %(cells)r", cells=cells[0]),
                twelve_hour=twelve_hour,
            )
        choices: list[TimeForm] = ["elapsed h:mm:ss"]
        if not three_parts:
            choices.append("elapsed mm:ss")
        if clock and not says_elapsed:
            choices.append("clock")
        form = choices[0] if three_parts else None
        reason = N_("times from a start on, such as %(cells)r", cells=cells[0])
        use: Use = "time"
        return TimeGuess({index: use}, form, reason, tuple(choices) if len(choices) > 1 else ())
    return None


def _begins_at_zero(cells: Sequence[str]) -> bool:
    return bool(cells) and re.match(r"0{1,5}:0{2}", cells[0]) is not None


def _count(
    columns: Sequence[Sequence[str]], structure: Structure, whole: WholeColumns
) -> TimeGuess | None:
    rising = []
    for index, cells in enumerate(columns):
        numbers = _numbers(cells, structure)
        numbers = numbers[~np.isnan(numbers)]
        if numbers.size >= MOST * len(cells) and numbers.size > 1:
            steps = np.diff(numbers)
            if np.mean(steps >= 0) >= 0.9 and numbers[-1] > numbers[0]:
                rising.append(index)
    named = [i for i in rising if _TIME_WORD.search(structure.header[i])]
    first = named[:1] or [i for i in rising if i == 0]
    if not first:
        return None
    index = first[0]
    reason = N_(
        "numbers that only rise, such as %(columns)s, count from a start on",
        columns=columns[index][0],
    )
    for text in (structure.header[index], structure.units[index]):
        for pattern, form in _COUNT_FORMS:
            if re.search(pattern, text.strip(), re.IGNORECASE):
                return TimeGuess({index: "time"}, form, reason)
    choices: tuple[TimeForm, ...] = ("elapsed s", "elapsed min", "elapsed h")
    return TimeGuess({index: "time"}, None, reason, choices)
