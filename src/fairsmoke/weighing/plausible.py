"""Whether what a scale shows can be true: of the plan, of the cut, and of what it showed before.

Asks, never refuses. Meat on a cooker only loses. What lay on the scale with it and was never
weighed alone leaves room. A doubt says what may have been meant: another unit, a decimal place,
two digits swapped, another piece.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from fairsmoke.quantity import QuantityError, parse_mass
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import SHARED_KINDS, MeatState, Part, PartKind, Weighing

UNKNOWN_PART_KG = 0.3
"""A wrap with its juices, a rub, clinging fat weigh at most about so much (common practice, no
source). The other direction, a piece that gains so much, is what people notice."""
GAIN_KG, GAIN_SHARE = 0.03, 0.01
"""What two weighings of one thing may differ by: scales, a damp tray, a hand on it (no source)."""
LEAST_LEFT = 0.35
"""Less of the weight before is left after no cook (common practice, no source)."""
LEAST_SERVED = 0.2
"""Once bone and waste are gone."""

PLANNED_SHARE = (0.6, 1.6)
"""A raw piece weighs from so many to so many times what was planned: trimming takes a third of a
fatty one, and a plan is a guess at the butcher's (common practice, no source)."""
RAW_KG: tuple[tuple[str, float, float], ...] = (
    ("brisket flat", 0.8, 5.5),
    ("flat", 0.6, 5.5),
    ("point", 0.6, 5.0),
    ("brisket", 0.8, 10.0),
    ("shoulder", 0.8, 10.0),
    ("butt", 0.8, 6.5),
    ("picnic", 0.8, 7.0),
    ("chuck", 0.4, 9.0),
    ("rib", 0.3, 10.0),
    ("loin", 0.3, 7.0),
    ("belly", 0.4, 8.0),
    ("leg", 0.3, 12.0),
    ("ham", 0.4, 12.0),
    ("neck", 0.3, 4.0),
    ("breast", 0.1, 5.0),
    ("turkey", 1.5, 16.0),
    ("chicken", 0.3, 4.5),
)
"""What a whole or halved raw cut weighs (kg), the first word found in its name counting: common
practice, no source; wide, for only what nobody has on a kitchen table is to be asked about."""
ANY_CUT_KG = (0.1, 20.0)
OTHER_KG: Mapping[PartKind, tuple[float, float]] = {
    PartKind.TRIM: (0.0, 6.0),
    PartKind.RUB: (0.0, 0.6),
    PartKind.SLATHER: (0.0, 0.6),
    PartKind.ADDED_FAT: (0.0, 2.0),
    PartKind.ADDED_LIQUID: (0.0, 4.0),
    PartKind.WRAP: (0.0, 1.0),
    PartKind.TRAY: (0.01, 10.0),
    PartKind.DRIPPINGS: (0.0, 6.0),
    PartKind.CLINGING_FAT: (0.0, 1.5),
}
"""What else lies on a kitchen's scale for one piece (kg): common practice, no source."""

_ORDER = tuple(MeatState)
_RAW = (MeatState.BOUGHT, MeatState.TRIMMED)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_UNITS = ("kg", "g", "lb", "oz")
_SHIFTS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)


class DoubtKind(StrEnum):
    """What is odd about a weighing."""

    GAINED = "gained"
    LOST = "lost"
    LESS_THAN_ITS_TRAY = "less than its tray"
    NOT_AS_PLANNED = "not as planned"
    NOT_LIKE_ITS_CUT = "not like its cut"
    NOT_LIKE_SUCH_A_PART = "not like such a part"


@dataclass(frozen=True)
class Meant:
    """What the scale may have shown: as it would be written, its mass, and whose it would be."""

    written: str
    mass_kg: float
    piece: str | None = None


@dataclass(frozen=True)
class Doubt:
    """What is odd about a weighing.

    ``now_kg`` is the mass in doubt, ``before_kg`` what it is held against (the last weighing, the
    plan, the nearer end of what the cut weighs), ``last`` that last weighing if it is one.
    """

    kind: DoubtKind
    now_kg: float
    before_kg: float
    last: Weighing | None
    meant: tuple[Meant, ...] = ()

    @property
    def times(self) -> float:
        """How many times what it is held against."""
        return self.now_kg / self.before_kg if self.before_kg > 0.0 else float("inf")


def known_alone(weighings: Sequence[Weighing]) -> Mapping[tuple[str, str], float]:
    """Return the mass of each part that was weighed alone, by (piece or "", part); the last counts.

    A tray is nobody's: "".
    """
    found: dict[tuple[str, str], float] = {}
    for one in weighings:
        if len(one.sum) == 1:
            found[_whose(one.sum[0], one.piece)] = one.reading_kg
    return found


def doubt_of(
    weighings: Sequence[Weighing],
    piece: str | None,
    parts: Sequence[Part],
    reading_kg: float,
    *,
    injected: bool = False,
) -> Doubt | None:
    """Return what is odd about a new weighing; None when nothing is, or nothing can be told.

    ``weighings`` are those before it, in their order.
    """
    alone = known_alone(weighings)
    state = _state(parts)
    tare_kg = sum(alone.get(_whose(part, piece), 0.0) for part in _others(parts))
    if reading_kg < tare_kg - GAIN_KG:
        return Doubt(DoubtKind.LESS_THAN_ITS_TRAY, reading_kg, tare_kg, None)
    last = next((o for o in reversed(weighings) if o.piece == piece and _state(o.sum)), None)
    if state is None or last is None or _unknown_tray(parts, piece, alone):
        return None
    before = _state(last.sum)
    if before is None or _ORDER.index(before) > _ORDER.index(state):
        return None
    least_kg, most_kg = _bounds(parts, piece, reading_kg, alone)
    last_least_kg, last_most_kg = _bounds(last.sum, piece, last.reading_kg, alone)
    may_gain = injected and before is MeatState.BOUGHT and state is MeatState.TRIMMED
    if least_kg > last_most_kg + max(GAIN_KG, GAIN_SHARE * last_most_kg) and not may_gain:
        return Doubt(DoubtKind.GAINED, least_kg, last_most_kg, last)
    least_left = LEAST_SERVED if state is MeatState.SERVED else LEAST_LEFT
    if most_kg < least_left * last_least_kg:
        return Doubt(DoubtKind.LOST, most_kg, last_least_kg, last)
    return None


def _bounds(
    parts: Sequence[Part],
    piece: str | None,
    reading_kg: float,
    alone: Mapping[tuple[str, str], float],
) -> tuple[float, float]:
    """Return between which masses the meat in a sum lies; an unknown tray leaves the least at 0."""
    others = _others(parts)
    known_kg = sum(alone.get(_whose(part, piece), 0.0) for part in others)
    unknown = [part for part in others if _whose(part, piece) not in alone]
    room_kg = UNKNOWN_PART_KG * len(unknown)
    if any(part.kind is PartKind.TRAY for part in unknown):
        room_kg = reading_kg
    return max(0.0, reading_kg - known_kg - room_kg), reading_kg - known_kg


def _unknown_tray(
    parts: Sequence[Part], piece: str | None, alone: Mapping[tuple[str, str], float]
) -> bool:
    return any(p.kind is PartKind.TRAY and _whose(p, piece) not in alone for p in parts)


def _others(parts: Sequence[Part]) -> list[Part]:
    return [part for part in parts if part.kind is not PartKind.MEAT]


def _state(parts: Sequence[Part]) -> MeatState | None:
    found = [MeatState(part.label) for part in parts if part.kind is PartKind.MEAT]
    return found[0] if len(found) == 1 else None


def _whose(part: Part, piece: str | None) -> tuple[str, str]:
    return ("" if part.kind in SHARED_KINDS else piece or "", part.text)


def raw_range_kg(cut: str) -> tuple[float, float]:
    """Return between which masses a raw piece of a cut lies, by the words of its name."""
    words = cut.casefold()
    found = next((row for row in RAW_KG if row[0] in words), None)
    return ANY_CUT_KG if found is None else found[1:]


def doubts_of(record: TrialRecord) -> dict[str, Doubt]:
    """Return what is odd about a record's weighings, by their handles; most have no entry.

    Each is held against those before it that are not in doubt themselves, so that one slip does
    not put the honest weighings after it in doubt.
    """
    found: dict[str, Doubt] = {}
    sound: list[Weighing] = []
    for one in record.weighings:
        doubt = doubt_in_record(record, sound, one)
        if doubt is None:
            sound.append(one)
        else:
            found[one.id] = doubt
    return found


def doubt_in_record(
    record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing
) -> Doubt | None:
    """Return what is odd about a weighing of a trial, with what may have been meant."""
    doubt = _doubt(record, earlier, weighing)
    if doubt is None:
        return None
    meant = tuple(
        one
        for one in _candidates(record, weighing)
        if _doubt(record, earlier, _as_meant(weighing, one)) is None
    )
    return replace(doubt, meant=meant[:3])


def _doubt(record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing) -> Doubt | None:
    piece = next((one for one in record.pieces if one.id == weighing.piece), None)
    odd = _odd_by_itself(record, earlier, weighing)
    if odd is not None:
        return odd
    injected = piece is not None and piece.injected
    return doubt_of(earlier, weighing.piece, weighing.sum, weighing.reading_kg, injected=injected)


def _odd_by_itself(
    record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing
) -> Doubt | None:
    """Hold a weighing against the plan, its cut and its kind of part."""
    alone = known_alone(earlier)
    least, most = _bounds(weighing.sum, weighing.piece, weighing.reading_kg, alone)
    state = _state(weighing.sum)
    if state is None:
        if len(weighing.sum) != 1:
            return None
        low, high = OTHER_KG.get(weighing.sum[0].kind, (0.0, float("inf")))
        kind = DoubtKind.NOT_LIKE_SUCH_A_PART
        return _outside(kind, weighing.reading_kg, weighing.reading_kg, low, high)
    planned = _planned_kg(record, weighing.piece)
    if planned is not None and state in _RAW:
        low, high = (planned * share for share in PLANNED_SHARE)
        found = _outside(DoubtKind.NOT_AS_PLANNED, least, most, low, high)
        return None if found is None else replace(found, before_kg=planned)
    cut = next((one.cut for one in record.pieces if one.id == weighing.piece), "")
    low, high = raw_range_kg(cut)
    low = low if state in _RAW else low * LEAST_SERVED
    return _outside(DoubtKind.NOT_LIKE_ITS_CUT, least, most, low, high)


def _outside(
    kind: DoubtKind, least_kg: float, most_kg: float, low_kg: float, high_kg: float
) -> Doubt | None:
    if least_kg > high_kg:
        return Doubt(kind, least_kg, high_kg, None)
    if most_kg < low_kg:
        return Doubt(kind, most_kg, low_kg, None)
    return None


def _planned_kg(record: TrialRecord, piece: str | None) -> float | None:
    if record.plan is None:
        return None
    planned = (one.mass_kg for one in record.plan.at_hand.pieces if one.id == piece)
    return next(planned, None)


def _candidates(record: TrialRecord, weighing: Weighing) -> Iterator[Meant]:
    """Yield what else may have been meant, the commonest slips first."""
    written = weighing.written or f"{weighing.reading_kg:.3f} kg"
    number = _NUMBER.search(written)
    if number is not None and len(_NUMBER.findall(written)) == 1:
        unit = written[number.end() :].strip()
        yield from _read(f"{number[0]} {other}" for other in _UNITS if other != unit)
        value = float(number[0].replace(",", "."))
        yield from _read(f"{value * shift:.6g} {unit}" for shift in _SHIFTS)
        yield from _read(f"{swapped} {unit}" for swapped in _swapped(number[0]))
    cook = next((one.cook for one in record.pieces if one.id == weighing.piece), None)
    for other in record.pieces:
        if other.id != weighing.piece and other.cook == cook and weighing.piece is not None:
            yield Meant(written, weighing.reading_kg, other.id)


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


def _as_meant(weighing: Weighing, meant: Meant) -> Weighing:
    """Return a weighing as it would be, without checking it again."""
    return weighing.model_copy(
        update={
            "reading_kg": meant.mass_kg,
            "written": meant.written,
            "piece": meant.piece or weighing.piece,
        }
    )
