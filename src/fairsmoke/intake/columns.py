"""Recognise what the columns beside the times hold: probes, their names, units, or other things."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fairsmoke.intake.cells import Cell, parse_cell
from fairsmoke.intake.layout import Use
from fairsmoke.intake.structure import MARKS, Structure
from fairsmoke.intake.units import UNIT_CELLS, unit_at_end, unit_named, unit_of_line, without_unit
from fairsmoke.messages.message import N_, Words
from fairsmoke.trial.reading import ReadingUnit

MAX_PROBES = 64
HOT_NUMBER = 165.0
"""A pit above this would be grilling in °C and is ordinary in °F: a hint, never a decision."""

COLD_KELVIN = 200.0
"""Below this "K" does not mean kelvin but, for instance, a thermocouple of type K."""

_NOT_A_PROBE = re.compile(
    r"humid|\brh\b|batt|volt|\bfan\b|percent|rpm|speed|set.?point|\bset\b|target|alarm|setting|"
    r"index|record|^#$|^no\.?$|^n$|\bid\b|count|signal|rssi|pressure|weight|timer|duration|"
    r"\blid\b|duty|output|power|damper|valve|dew ?point|serial|seq",
    re.IGNORECASE,
)
_OTHER_UNIT = re.compile(
    r"[(\[]\s*(?:%|%? ?rh|v|mv|psi|k?pa|hpa|m?bar|g|kg|lb|oz|rpm|w|m?a|s|sec|min|h|hrs?|ppm|m/s)"
    r"\s*[)\]]",
    re.IGNORECASE,
)
_NAME_WORD = re.compile(
    r"probe|channel|sensor|^ch\.?$|name|location|position|label|thermo|source|piece", re.IGNORECASE
)
_NUMBERED_NAME = re.compile(
    r"(?:probe|channel|sensor|ch\.?)(?: ?(?:#|no\.?|number|id|name))?", re.IGNORECASE
)
_UNIT_WORD = re.compile(r"unit|scale", re.IGNORECASE)
_UNIT_BEHIND = re.compile(r"[0-9.,]\s*(?:°|º|˚|deg\.?\s*)?([CFK])$", re.IGNORECASE)


_HOLDS_TEXT = N_("it holds text")


@dataclass(frozen=True)
class ColumnGuess:
    """What one column holds, and in plain words why. ``ask``: only a person can tell."""

    use: Use
    reason: Words
    probe: str = ""
    unit: ReadingUnit | None = None
    unit_reason: Words = ""
    ask: bool = False


def guess_columns(structure: Structure, taken: dict[int, Use]) -> list[ColumnGuess]:
    """Recognise every column; those of the times are ``taken`` already."""
    cells = [[f[i].strip() for _, f in structure.rows] for i in range(structure.width)]
    guesses = [
        ColumnGuess(taken[i], N_("holds the times"))
        if i in taken
        else _one(i, structure.header[i].strip(), cells[i], structure)
        for i in range(structure.width)
    ]
    values = [i for i, guess in enumerate(guesses) if guess.use == "value"]
    _find_names(guesses, values, cells, structure, sorted(taken))
    values = [i for i, guess in enumerate(guesses) if guess.use == "value"]
    for index, (unit, why, at_end) in _units(structure, values, cells).items():
        header = structure.header[index].lstrip("# ")
        name = without_unit(header, at_end=at_end) or f"column {index + 1}"
        guesses[index] = ColumnGuess(
            "value", guesses[index].reason, name, unit, why, guesses[index].ask
        )
    _make_names_differ(guesses, values)
    return guesses


def _one(index: int, header: str, cells: Sequence[str], structure: Structure) -> ColumnGuess:
    filled = [cell for cell in cells if cell]
    mark = MARKS[structure.decimal_mark]
    kinds = [parse_cell(cell, mark).kind for cell in filled]
    numbers = kinds.count(Cell.VALUE)
    words = {cell.lower() for cell in filled}
    if words and words <= UNIT_CELLS.keys() and (len(words) == 1 or _UNIT_WORD.search(header)):
        return ColumnGuess("unit", N_("it says nothing but units of temperature"))
    if _NOT_A_PROBE.search(header) or _OTHER_UNIT.search(header):
        return ColumnGuess("ignore", N_("its header does not speak of a probe"))
    if kinds.count(Cell.BAD) > numbers:
        return ColumnGuess("ignore", _HOLDS_TEXT)
    if not filled or not numbers:
        if header:
            return ColumnGuess("value", N_("it is empty here, but its header may name a probe"))
        return ColumnGuess("ignore", N_("it is empty and has no header"))
    if (index == 0 or not header) and _counts_rows(filled):
        return ColumnGuess("ignore", N_("it numbers the rows"))
    if not header:
        return ColumnGuess(
            "value", N_("it holds numbers, and no header says which probe"), ask=True
        )
    return ColumnGuess("value", N_("it holds numbers, and its header may name a probe"))


def _counts_rows(cells: Sequence[str]) -> bool:
    """Tell whether whole numbers from 0 or 1 go up by one from row to row."""
    if (
        len(cells) < 5
        or cells[0] not in ("0", "1")
        or not all(cell.isascii() and cell.isdigit() for cell in cells)
    ):
        return False
    steps = np.diff([int(cell) for cell in cells[:100]])
    return bool(np.mean(steps == 1) > 0.9)


def _find_names(
    guesses: list[ColumnGuess],
    values: Sequence[int],
    cells: Sequence[Sequence[str]],
    structure: Structure,
    times: Sequence[int],
) -> None:
    """Mark the column that names the probe of each row, if there is one."""
    for index, guess in enumerate(guesses):
        header = structure.header[index]
        others = [i for i in values if i != index]
        text = guess.reason is _HOLDS_TEXT
        numbered = _few_whole(cells[index]) and bool(_NUMBERED_NAME.fullmatch(header.strip()))
        if index in times or len(others) != 1 or not (text or numbered):
            continue
        distinct = {cell for cell in cells[index] if cell}
        by_time: dict[tuple[str, ...], set[str]] = {}
        for row, name in enumerate(cells[index]):
            by_time.setdefault(tuple(cells[i][row] for i in times), set()).add(name)
        shared = any(len(names) > 1 for names in by_time.values())
        named = bool(_NAME_WORD.search(header))
        if len(distinct) > MAX_PROBES or not (named or (text and shared and len(distinct) > 1)):
            continue
        why = N_("its header says so") if named else N_("several names stand at the same time")
        guesses[index] = ColumnGuess(
            "probe name", N_("it names the probe of each row: %(why)s", why=why)
        )
        return


def _few_whole(cells: Sequence[str]) -> bool:
    distinct = {cell for cell in cells if cell}
    return 0 < len(distinct) <= 16 and all(c.isascii() and c.isdigit() for c in distinct)


def _units(
    structure: Structure, values: Sequence[int], cells: Sequence[Sequence[str]]
) -> dict[int, tuple[ReadingUnit | None, Words, bool]]:
    """Return for each value column its unit, why, and whether it is the last letter of the header.

    A last letter counts only if no probe of the file ends in another one: "Probe C" may stand
    beside "Probe A" and "Probe B".
    """
    last = {re.sub(r".*[ _./-]", "", structure.header[i].strip()).upper() for i in values}
    letters = {word for word in last if len(word) == 1 and word.isalpha()}
    above = next((u for u in map(unit_of_line, structure.above) if u), None)
    result: dict[int, tuple[ReadingUnit | None, Words, bool]] = {}
    for index in values:
        header = structure.header[index].strip()
        cold = _colder_than(COLD_KELVIN, cells[index], MARKS[structure.decimal_mark])
        below = UNIT_CELLS.get(structure.units[index].strip(" \t()[]").lower())
        behind = {m[1].upper() for cell in cells[index] if (m := _UNIT_BEHIND.search(cell))}
        at_end = unit_at_end(header) if len(letters) == 1 else None
        named = unit_named(header)
        if cold and "K" in (named, at_end):
            named = at_end = None
        if named:
            result[index] = (named, N_("its header says so"), False)
        elif below:
            result[index] = (below, N_("the row of units says so"), False)
        elif len(behind) == 1:
            result[index] = (
                UNIT_CELLS[behind.pop().lower()],
                N_("it stands behind the values"),
                False,
            )
        elif at_end:
            result[index] = (at_end, N_("its header ends in that letter"), True)
        elif above:
            result[index] = (above, N_("a line above the header says so"), False)
        else:
            result[index] = (None, "", False)
    return result


def _colder_than(limit: float, cells: Sequence[str], mark: str) -> bool:
    parsed = [parse_cell(cell, mark) for cell in cells]
    return any(p.kind is Cell.VALUE and p.raw / 10**p.decimals < limit for p in parsed)


def _make_names_differ(guesses: list[ColumnGuess], values: Sequence[int]) -> None:
    seen: set[str] = set()
    for index in values:
        guess = guesses[index]
        name = guess.probe
        while name in seen:
            name = f"{name} ({index + 1})"
        seen.add(name)
        guesses[index] = ColumnGuess(
            guess.use, guess.reason, name, guess.unit, guess.unit_reason, guess.ask
        )


def unit_hint(structure: Structure, values: Sequence[int]) -> tuple[ReadingUnit | None, Words]:
    """Return the unit that the size of the values speaks for: only a hint for a person."""
    mark = MARKS[structure.decimal_mark]
    medians = []
    for index in values:
        parsed = [parse_cell(fields[index], mark) for _, fields in structure.rows]
        numbers = [p.raw / 10**p.decimals for p in parsed if p.kind is Cell.VALUE]
        if numbers:
            medians.append(float(np.median(numbers)))
    if not medians:
        return None, N_("there are no values to judge by")
    hottest = max(medians)
    if hottest > HOT_NUMBER:
        return "degF", N_(
            "values around %(hottest)s would be very hot in °C", hottest=f"{hottest:.0f}"
        )
    return "degC", N_(
        "no column is above %(hot_number)s for most of the time, as a pit in °F is",
        hot_number=f"{HOT_NUMBER:.0f}",
    )
