"""Whether what a scale shows can be true of a piece, by what it showed before. Asks, never refuses.

Meat on a cooker only loses. What lay on the scale with it and was never weighed alone leaves room.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

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

_ORDER = tuple(MeatState)


class DoubtKind(StrEnum):
    """What is odd about a weighing."""

    GAINED = "gained"
    LOST = "lost"
    LESS_THAN_ITS_TRAY = "less than its tray"


@dataclass(frozen=True)
class Doubt:
    """What is odd, the meat's mass by this weighing and by the last, and that last weighing."""

    kind: DoubtKind
    now_kg: float
    before_kg: float
    last: Weighing | None


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
