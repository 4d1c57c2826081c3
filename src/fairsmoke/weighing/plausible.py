"""Whether what a scale shows can be true: of the plan, of the cut, and of what it showed before.

Asks, never refuses. Meat on a cooker only loses. What lay on the scale with it and was never
weighed alone leaves room. A doubt says what may have been meant (`meant`): another unit, a decimal
place, two digits swapped, another piece, a tray more or less.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import SHARED_KINDS, MeatState, Part, PartKind, Weighing
from fairsmoke.weighing.meant import Meant, as_meant, candidates

UNKNOWN_PART_KG = 0.3
"""A wrap with its juices, a rub, clinging fat weigh at most about so much (common practice, no
source). The other direction, a piece that gains so much, is what people notice."""
GAIN_KG, GAIN_SHARE = 0.03, 0.01
"""What two weighings of one thing may differ by: scales, a damp tray, a hand on it (no source)."""
LEAST_LEFT: Mapping[tuple[str, str], float] = {
    ("raw", "raw"): 0.5,
    ("raw", "cooked"): 0.35,
    ("raw", "served"): 0.2,
    ("cooked", "cooked"): 0.7,
    ("cooked", "served"): 0.4,
    ("served", "served"): 0.7,
}
"""Less of an earlier weight is hardly ever left: trimming a brisket, a long cook, a hold, bones and
waste (common practice, no source)."""
MOST_LEFT = 0.95
"""More of its raw weight no large cut keeps that was not injected (common practice, no source)."""
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
TWICE_WITHIN = timedelta(minutes=1)
"""The same weighing sooner is a button pressed twice, not the meat put on the scale again."""
BEFORE_COOK, COOK_LASTS, AFTER_COOK = timedelta(hours=36), timedelta(days=2), timedelta(days=3)
"""How long before and after its cook a piece is weighed, and how long a cook without an end may
last (common practice, no source)."""

_ORDER = tuple(MeatState)
_RAW = (MeatState.BOUGHT, MeatState.TRIMMED)
_GROUP = {state: "raw" if state in _RAW else "cooked" for state in MeatState} | {
    MeatState.SERVED: "served"
}


class DoubtKind(StrEnum):
    """What is odd about a weighing."""

    GAINED = "gained"
    LOST = "lost"
    HARDLY_LOST = "hardly lost"
    LESS_THAN_ITS_TRAY = "less than its tray"
    NOT_AS_PLANNED = "not as planned"
    NOT_LIKE_ITS_CUT = "not like its cut"
    NOT_LIKE_SUCH_A_PART = "not like such a part"
    WEIGHED_OTHERWISE = "weighed otherwise"
    TWICE = "twice"
    OTHER_COOK = "other cook"
    OTHER_DAY = "other day"
    RAW_AFTER_PULL = "raw after pull"
    COOKED_BEFORE_ON = "cooked before on"


@dataclass(frozen=True)
class Doubt:
    """What is odd about a weighing.

    ``now_kg`` is the mass in doubt, ``before_kg`` what it is held against (another weighing, the
    plan, the nearer end of what the cut weighs), ``last`` that other weighing if it is one;
    ``name`` the cook that it is held against, "" where it is none.
    """

    kind: DoubtKind
    now_kg: float
    before_kg: float
    last: Weighing | None = None
    meant: tuple[Meant, ...] = ()
    name: str = ""

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
    """Return what is odd about a new weighing beside others; None when nothing is.

    ``weighings`` are the sound ones before it. It is held against the same load, then against the
    last one of an earlier state of its meat and the last one of a later state.
    """
    light = _less_than_its_tray(weighings, piece, parts, reading_kg)
    if light is not None:
        return light
    alone = known_alone(weighings)
    same = _same_load(weighings, piece, parts)
    if same is not None:
        most = max(same.reading_kg, reading_kg)
        if abs(same.reading_kg - reading_kg) > max(GAIN_KG, 2.0 * GAIN_SHARE * most):
            return Doubt(DoubtKind.WEIGHED_OTHERWISE, reading_kg, same.reading_kg, same)
        return None
    state = _state(parts)
    if state is None or _unknown_tray(parts, piece, alone):
        return None
    now = _bounds(parts, piece, reading_kg, alone)
    for other in _neighbours(weighings, piece, state):
        there = _state(other.sum)
        assert there is not None
        then = _bounds(other.sum, piece, other.reading_kg, alone)
        if _ORDER.index(there) <= _ORDER.index(state):
            may_keep = injected or _holds_juices(parts, piece, alone)
            found = _loss((then, there), (now, state), injected, may_keep)
        else:
            may_keep = injected or _holds_juices(other.sum, piece, alone)
            found = _turned(_loss((now, state), (then, there), injected, may_keep))
        if found is not None:
            return replace(found, last=other)
    return None


def _less_than_its_tray(
    weighings: Sequence[Weighing], piece: str | None, parts: Sequence[Part], reading_kg: float
) -> Doubt | None:
    alone = known_alone(weighings)
    others = _others(parts)
    tare_kg = sum(alone.get(_whose(part, piece), 0.0) for part in others)
    if others != list(parts) and reading_kg < tare_kg - GAIN_KG:
        return Doubt(DoubtKind.LESS_THAN_ITS_TRAY, reading_kg, tare_kg)
    return None


_Range = tuple[tuple[float, float], MeatState]
"""The least and the most that meat weighs, and when."""


def _loss(before: _Range, after: _Range, injected: bool, may_keep: bool) -> Doubt | None:
    """Hold the mass of meat after against that before; ``may_keep``: it may have lost nothing."""
    ((least, most), earlier), ((now_least, now_most), later) = before, after
    may_gain = injected and (earlier, later) == (MeatState.BOUGHT, MeatState.TRIMMED)
    if now_least > most + max(GAIN_KG, GAIN_SHARE * most) and not may_gain:
        return Doubt(DoubtKind.GAINED, now_least, most)
    groups = _GROUP[earlier], _GROUP[later]
    if now_most < LEAST_LEFT[groups] * least:
        return Doubt(DoubtKind.LOST, now_most, least)
    cooked = groups[0] == "raw" and groups[1] != "raw"
    if cooked and not may_keep and now_least > MOST_LEFT * most:
        return Doubt(DoubtKind.HARDLY_LOST, now_least, most)
    return None


def _holds_juices(
    parts: Sequence[Part], piece: str | None, alone: Mapping[tuple[str, str], float]
) -> bool:
    """Tell whether a wrap or juices of unknown mass lie on the scale.

    What the meat lost is then there too.
    """
    kinds = (PartKind.WRAP, PartKind.DRIPPINGS)
    return any(part.kind in kinds and _whose(part, piece) not in alone for part in parts)


def _turned(found: Doubt | None) -> Doubt | None:
    """Tell a doubt of the earlier state, whose later one was weighed before it."""
    if found is None:
        return None
    kinds = {DoubtKind.GAINED: DoubtKind.LOST, DoubtKind.LOST: DoubtKind.GAINED}
    kind = kinds.get(found.kind, found.kind)
    return Doubt(kind, found.before_kg, found.now_kg)


def _neighbours(
    weighings: Sequence[Weighing], piece: str | None, state: MeatState
) -> Iterator[Weighing]:
    """Yield the last weighing of the same or an earlier state, and the last of a later one."""
    place = _ORDER.index(state)
    own = [
        (one, _ORDER.index(there))
        for one in reversed(weighings)
        if one.piece == piece and (there := _state(one.sum)) is not None
    ]
    for chosen in ([o for o, at in own if at <= place], [o for o, at in own if at > place]):
        yield from chosen[:1]


def _same_load(
    weighings: Sequence[Weighing], piece: str | None, parts: Sequence[Part]
) -> Weighing | None:
    def load(sum_: Sequence[Part], whose: str | None) -> set[tuple[str, str]]:
        return {_whose(part, whose) for part in sum_}

    this = load(parts, piece)
    return next((o for o in reversed(weighings) if load(o.sum, o.piece) == this), None)


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
    not put the honest weighings after it in doubt. What somebody confirmed is not doubted.
    """
    found: dict[str, Doubt] = {}
    sound: list[Weighing] = []
    for one in record.weighings:
        doubt = None if one.checked == one.claim else doubt_in_record(record, sound, one)
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
    meant: list[Meant] = []
    for one in candidates(record, earlier, weighing):
        if len(meant) < MOST_MEANT and _doubt(record, earlier, as_meant(weighing, one)) is None:
            meant.append(one)
    return replace(doubt, meant=tuple(meant))


MOST_MEANT = 3
"""So many likely values are offered at most: they have to fit a phone."""


def _doubt(record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing) -> Doubt | None:
    for rule in _RULES:
        found = rule(record, earlier, weighing)
        if found is not None:
            return found
    piece = next((one for one in record.pieces if one.id == weighing.piece), None)
    injected = piece is not None and piece.injected
    return doubt_of(earlier, weighing.piece, weighing.sum, weighing.reading_kg, injected=injected)


def _odd_by_itself(
    record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing
) -> Doubt | None:
    """Hold a weighing against its tray, the plan, its cut and its kind of part."""
    sum_, kg = weighing.sum, weighing.reading_kg
    light = _less_than_its_tray(earlier, weighing.piece, sum_, kg)
    if light is not None:
        return light
    alone = known_alone(earlier)
    least, most = _bounds(weighing.sum, weighing.piece, weighing.reading_kg, alone)
    state = _state(weighing.sum)
    if state is None:
        ends = [OTHER_KG.get(part.kind, (0.0, float("inf"))) for part in weighing.sum]
        low, high = (sum(one[at] for one in ends) for at in (0, 1))
        kind = DoubtKind.NOT_LIKE_SUCH_A_PART
        return _outside(kind, weighing.reading_kg, weighing.reading_kg, low, high)
    planned = planned_kg(record, weighing.piece)
    if planned is not None and state in _RAW:
        low, high = (planned * share for share in PLANNED_SHARE)
        found = _outside(DoubtKind.NOT_AS_PLANNED, least, most, low, high)
        return None if found is None else replace(found, before_kg=planned)
    cut = next((one.cut for one in record.pieces if one.id == weighing.piece), "")
    low, high = raw_range_kg(cut)
    low = low if state in _RAW else low * LEAST_LEFT["raw", "served"]
    return _outside(DoubtKind.NOT_LIKE_ITS_CUT, least, most, low, high)


def _outside(
    kind: DoubtKind, least_kg: float, most_kg: float, low_kg: float, high_kg: float
) -> Doubt | None:
    if least_kg > high_kg:
        return Doubt(kind, least_kg, high_kg)
    if most_kg < low_kg:
        return Doubt(kind, most_kg, low_kg)
    return None


def planned_kg(record: TrialRecord, piece: str | None) -> float | None:
    """Return what a piece was planned to weigh, None when nobody said."""
    if record.plan is None:
        return None
    planned = (one.mass_kg for one in record.plan.at_hand.pieces if one.id == piece)
    return next(planned, None)


def _twice(record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing) -> Doubt | None:
    at = weighing.at
    for one in reversed(earlier):
        same = (one.piece, one.sum, one.reading_kg, one.scale) == (
            weighing.piece,
            weighing.sum,
            weighing.reading_kg,
            weighing.scale,
        )
        if same and at is not None and one.at is not None and abs(at - one.at) <= TWICE_WITHIN:
            return Doubt(DoubtKind.TWICE, weighing.reading_kg, one.reading_kg, one)
    return None


def _elsewhere(
    record: TrialRecord, earlier: Sequence[Weighing], weighing: Weighing
) -> Doubt | None:
    """Hold a weighing against the cook of its piece: which one it was, and when."""
    own = next((one.cook for one in record.pieces if one.id == weighing.piece), None)
    cooks = {cook.id: cook for cook in record.cooks}
    kg = weighing.reading_kg
    cook = cooks.get(own or weighing.cook or "")
    if own is not None and weighing.cook not in (None, own):
        return Doubt(DoubtKind.OTHER_COOK, kg, kg, name=cook.name if cook else own)
    if weighing.at is None or weighing.piece is None:
        return None
    if cook is not None:
        ends = cook.ends or cook.starts + COOK_LASTS
        if not cook.starts - BEFORE_COOK <= weighing.at <= ends + AFTER_COOK:
            return Doubt(DoubtKind.OTHER_DAY, kg, kg, name=cook.name)
    return _out_of_order(record, weighing, weighing.at)


def _out_of_order(record: TrialRecord, weighing: Weighing, at: datetime) -> Doubt | None:
    state = _state(weighing.sum)
    if state is None or weighing.piece is None:
        return None
    kg = weighing.reading_kg
    went_on = record.events_of(weighing.piece, EventKind.ON)
    pulled = record.events_of(weighing.piece, EventKind.PULL)
    if state in _RAW and pulled and at > pulled[-1].at:
        return Doubt(DoubtKind.RAW_AFTER_PULL, kg, kg)
    if state not in _RAW and went_on and at < went_on[0].at:
        return Doubt(DoubtKind.COOKED_BEFORE_ON, kg, kg)
    return None


_RULES: tuple[Callable[[TrialRecord, Sequence[Weighing], Weighing], Doubt | None], ...] = (
    _twice,
    _odd_by_itself,
    _elsewhere,
)
