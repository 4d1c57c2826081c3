"""What else may have been meant by a weighing that is doubted, the commonest slips first."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fairsmoke.quantity import QuantityError, parse_mass
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, PartKind, Weighing

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_UNITS = ("kg", "g", "lb", "oz")
_SHIFTS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)


@dataclass(frozen=True)
class Meant:
    """What may have been meant: the reading as it would be written, its mass, whose it would be.

    ``piece`` and ``sum`` are None where those stay as they were said.
    """

    written: str
    mass_kg: float
    piece: str | None = None
    sum: tuple[Part, ...] | None = None


def as_meant(weighing: Weighing, meant: Meant) -> Weighing:
    """Return a weighing as it would be, without checking it again."""
    changes = {"reading_kg": meant.mass_kg, "written": meant.written}
    return weighing.model_copy(
        update={
            **changes,
            "piece": meant.piece or weighing.piece,
            "sum": weighing.sum if meant.sum is None else meant.sum,
        }
    )


def candidates(
    record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing
) -> Iterator[Meant]:
    """Yield what else may have been meant; whether it would be less odd is for the caller."""
    written = weighing.written or f"{weighing.reading_kg:.3f} kg"
    yield from _as_number(written)
    yield from _with_tray(earlier, weighing, written)
    own = next((one.cook for one in record.pieces if one.id == weighing.piece), None)
    cook = weighing.cook or own
    for other in record.pieces:
        if other.id != weighing.piece and other.cook == cook and weighing.piece is not None:
            yield Meant(written, weighing.reading_kg, other.id)


def _as_number(written: str) -> Iterator[Meant]:
    """Yield the number in another unit, with its point elsewhere, with two digits swapped."""
    numbers = list(_NUMBER.finditer(written))
    if len(numbers) == 1:
        number = numbers[0]
        unit = written[number.end() :].strip()
        yield from _read(f"{number[0]} {other}" for other in _UNITS if other != unit)
        value = float(number[0].replace(",", "."))
        yield from _read(f"{value * shift:.6g} {unit}" for shift in _SHIFTS)
        yield from _read(f"{swapped} {unit}" for swapped in _swapped(number[0]))
    elif len(numbers) == 2:
        first, second = (one[0] for one in numbers)
        units = re.findall(r"[a-z]+", written.casefold())
        if len(units) == 2:
            yield from _read(iter([f"{second} {units[0]} {first} {units[1]}"]))
            yield from _read(iter([f"{first}.{second} {other}" for other in ("lb", "kg")]))


def _read(texts: Iterator[str]) -> Iterator[Meant]:
    for text in texts:
        try:
            yield Meant(text, parse_mass(text))
        except QuantityError:
            continue


def _swapped(number: str) -> Iterator[str]:
    """Yield a number with two neighbouring digits changed over; the point keeps its place."""
    digits = [at for at, letter in enumerate(number) if letter.isdigit()]
    for one, other in pairwise(digits):
        if number[one] != number[other]:
            letters = list(number)
            letters[one], letters[other] = letters[other], letters[one]
            yield "".join(letters)


def _with_tray(earlier: Sequence[Weighing], weighing: Weighing, written: str) -> Iterator[Meant]:
    """Yield the sum without its tray (the scale was set to zero), or with a forgotten one."""
    trays = [part for part in weighing.sum if part.kind is PartKind.TRAY]
    if trays and len(weighing.sum) > len(trays):
        rest = tuple(part for part in weighing.sum if part not in trays)
        yield Meant(written, weighing.reading_kg, sum=rest)
    if trays or not any(part.kind is PartKind.MEAT for part in weighing.sum):
        return
    known = {one.sum[0] for one in earlier if len(one.sum) == 1 and one.piece is None}
    own = [one for one in reversed(earlier) if one.piece == weighing.piece]
    used = (part for one in own for part in one.sum if part.kind is PartKind.TRAY)
    for tray in dict.fromkeys(part for part in used if part in known):
        yield Meant(written, weighing.reading_kg, sum=(*weighing.sum, tray))
