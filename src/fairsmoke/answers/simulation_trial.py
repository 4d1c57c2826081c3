"""A trial of a notebook as something to simulate: its protocol, arms and pieces as recorded."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from fairsmoke.answers.simulation_file import assumptions
from fairsmoke.cooking import CUTS, ArmToCook, Conditions, Cooker, PieceToCook, SideBySide, Site
from fairsmoke.cooking import Piece as ModelPiece
from fairsmoke.judging.traces import (
    Trace,
    core_trace,
    pit_trace,
    placements_for,
    spots_measured,
    time_weighted,
    trace_of,
    went_on_ms,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, Part, PartKind
from fairsmoke.weighing import Solution, solve_ledger

USUAL_START_C = 4.0
WARMEST_START_C = 25.0
_SOON_MS = 30 * 60 * 1000
_MINUTE_S = 60.0

# Words of the trade in a free text, most telling first, and the model's cut that they mean.
_CUT_WORDS: tuple[tuple[str, str], ...] = (
    ("brisket flat", "brisket flat"),
    ("brisket", "brisket"),
    ("short rib", "short ribs"),
    ("shoulder", "pork shoulder"),
    ("boston butt", "pork shoulder"),
    ("pork butt", "pork shoulder"),
    ("chuck", "chuck roast"),
    ("rib", "pork ribs"),
    ("turkey breast", "turkey breast"),
)


@dataclass(frozen=True)
class Choices:
    """What a person says besides the record.

    `measured` puts each piece into the air that was measured at its place; `cuts` names the
    model's cut by piece; `pieces` are those to simulate, all when empty; `room_c` the air outside
    where no probe measured it.
    """

    measured: bool = False
    cuts: Mapping[str, str] | None = None
    pieces: Sequence[str] = ()
    room_c: float = 20.0
    tender_c: float = 94.0
    members: int = 100
    seed: int = 1
    whole_body: bool = True


def plan_of_trial(record: TrialRecord, choices: Choices | None = None) -> SideBySide:
    """Return a trial as something to simulate: every arm on every piece, as matched as can be.

    Raises JobError that names the piece and what to record when something is missing.
    """
    told = choices or Choices()
    units = _chosen(record, told)
    solution = solve_ledger(record.weighings, record.scales, record.estimates)
    notes: list[str] = []
    pieces = tuple(_piece_to_cook(record, unit, solution, told, notes) for unit in units)
    trial = record.trial
    arms = tuple(ArmToCook(arm.id, arm.name, trial.protocol_of(arm.id)) for arm in trial.arms)
    notes += assumptions(tuple(arm.protocol for arm in arms), told.tender_c)
    return SideBySide(
        trial.title,
        arms,
        pieces,
        told.members,
        told.seed,
        told.whole_body,
        assumed=tuple(dict.fromkeys(notes)),
    )


def _chosen(record: TrialRecord, told: Choices) -> list[Piece]:
    known = {piece.id: piece for piece in record.units}
    for handle in told.pieces:
        if handle not in known:
            raise JobError(f"there is no piece '{handle}' with an arm; known: {', '.join(known)}")
    chosen = [known[handle] for handle in dict.fromkeys(told.pieces)] or list(known.values())
    if not chosen:
        raise JobError(f"trial '{record.trial.id}' has no piece with an arm yet; record one first")
    return chosen


def _piece_to_cook(
    record: TrialRecord, piece: Piece, solution: Solution, told: Choices, notes: list[str]
) -> PieceToCook:
    assert piece.cook is not None
    cook = record.cook(piece.cook)
    on_ms = went_on_ms(record, piece)
    start_c = _start_c(record, piece, on_ms)
    if start_c is None:
        start_c = USUAL_START_C
        notes.append(f"{piece.name}: {USUAL_START_C:g} °C when it went on")
    model = ModelPiece(
        _cut(piece, told),
        _trimmed_kg(piece, solution),
        _size(piece, "length"),
        _size(piece, "width"),
        _size(piece, "thick"),
        piece.thin_m,
        piece.fat_cap_m,
        start_c,
    )
    return PieceToCook(piece.id, piece.name, model, _conditions(record, piece, cook, told, notes))


def _conditions(
    record: TrialRecord, piece: Piece, cook: Cook, told: Choices, notes: list[str]
) -> Conditions:
    on_ms = went_on_ms(record, piece)
    began = on_ms if on_ms is not None else epoch_ms(cook.starts)
    room = time_weighted(trace_of(record, placements_for(record, "room", cook=cook.id)))
    room_c = room[0] if room is not None else told.room_c
    if room is None:
        notes.append(f"{room_c:g} °C in the air outside the cooker")
    base = Conditions(
        cooker=Cooker(pieces=sum(one.cook == cook.id for one in record.units)),
        site=Site(record.trial.altitude_m, room_c),
        start_clock_s=_clock_s(began, cook),
        tender_c=told.tender_c,
    )
    if told.measured:
        seconds, degrees = _history(record, piece, cook, began)
        return replace(base, pit_s=seconds, pit_c=degrees)
    offset = _position_k(record, piece, cook)
    if offset is None:
        notes.append(f"{piece.name}: the air at its place as set, for no probe read it there")
        offset = 0.0
    return replace(base, cooker=replace(base.cooker, position_k=offset))


def _clock_s(at_ms: int, cook: Cook) -> float:
    local = datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(time_zone(cook.time_zone))
    return 3600.0 * local.hour + 60.0 * local.minute + local.second


def _history(
    record: TrialRecord, piece: Piece, cook: Cook, began_ms: int
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the air measured at a piece's place, a value a minute, from when it went on."""
    trace = _pit_at(record, piece, cook)
    later = trace.time_ms >= began_ms
    seconds = (trace.time_ms[later] - began_ms) / 1000.0
    if seconds.size < 2:
        raise JobError(
            f"piece '{piece.id}': no pit temperature was read at its place during cook "
            f"'{cook.id}'; take the logger's file in, or leave out --measured"
        )
    minute = np.floor(seconds / _MINUTE_S).astype(np.int64)
    each, where, count = np.unique(minute, return_inverse=True, return_counts=True)
    mean = np.bincount(where, weights=trace.value_c[later]) / count
    times = _MINUTE_S * (each + 0.5)
    times[0] = 0.0
    return tuple(times.tolist()), tuple(mean.tolist())


def _pit_at(record: TrialRecord, piece: Piece, cook: Cook) -> Trace:
    if piece.spot is None:
        raise JobError(f"piece '{piece.id}': its place is not recorded; give it its 'spot'")
    return pit_trace(record, cook, piece.spot.text)


def _position_k(record: TrialRecord, piece: Piece, cook: Cook) -> float | None:
    """Return how much hotter a piece's place was than the mean of the measured places (K)."""
    if piece.spot is None:
        return None
    means = {}
    for spot in spots_measured(record, cook):
        found = time_weighted(_while_on(record, cook, pit_trace(record, cook, spot)))
        if found is not None:
            means[spot] = found[0]
    here = means.get(piece.spot.text)
    return None if here is None else here - float(np.mean(list(means.values())))


def _while_on(record: TrialRecord, cook: Cook, trace: Trace) -> Trace:
    starts = [went_on_ms(record, one) for one in record.units if one.cook == cook.id]
    begun = [at for at in starts if at is not None]
    ends = epoch_ms(cook.ends) if cook.ends is not None else 2**62
    return trace.between(max(begun), ends) if begun else trace


def _start_c(record: TrialRecord, piece: Piece, on_ms: int | None) -> float | None:
    """Return the core's first reading about when it went on; None when it is no raw piece's."""
    if on_ms is None:
        return None
    early = core_trace(record, piece).between(on_ms - _SOON_MS, on_ms + _SOON_MS)
    if not len(early):
        return None
    first = float(np.min(early.value_c))
    return first if -1.5 <= first <= WARMEST_START_C else None


def _trimmed_kg(piece: Piece, solution: Solution) -> float:
    known = solution.known(piece.id, Part(kind=PartKind.MEAT, label=MeatState.TRIMMED))
    if known.spread is None:
        raise JobError(f"piece '{piece.id}': nothing says its trimmed mass; record a weighing")
    return known.spread.mean


def _size(piece: Piece, name: str) -> float:
    value: float | None = getattr(piece, f"{name}_m")
    if value is None:
        raise JobError(
            f"piece '{piece.id}': its {name} is not recorded; "
            f"fairsmoke correct piece {piece.id} {name}='12 cm' --why measured"
        )
    return value


def _cut(piece: Piece, told: Choices) -> str:
    return cut_of(piece.id, piece.cut, piece.species, told)


def cut_of(handle: str, cut: str, species: str, told: Choices) -> str:
    """Return the model's cut for a piece's free words. Raises JobError where there is none."""
    given = (told.cuts or {}).get(handle)
    if given is not None:
        return given
    words = cut.casefold()
    if words in CUTS:
        return words
    for word, known in _CUT_WORDS:
        if word in words and CUTS[known].species == _model_species(species, known):
            return known
    raise JobError(
        f"piece '{handle}': the model has no cut for '{cut}' of {species}; "
        f"say which it is most like: --as '{handle}=brick'. There are: {', '.join(CUTS)}"
    )


def _model_species(species: str, cut: str) -> str:
    """Turkey melts like pork in the model; any other animal must be its own."""
    return CUTS[cut].species if species == "turkey" else species
