"""A trial of a notebook as something to simulate: its protocol, arms and pieces as recorded."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from fairsmoke.answers.simulation import Simulation
from fairsmoke.answers.simulation_file import assumptions
from fairsmoke.cooking import (
    CUTS,
    ArmToCook,
    Conditions,
    CookerModel,
    PieceToCook,
    SideBySide,
    Site,
)
from fairsmoke.cooking import MeasuredPiece as ModelPiece
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
from fairsmoke.messages.message import N_, InputField, Listed, Message, OnFace
from fairsmoke.quantity.values import Temperature
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, Part, PartKind
from fairsmoke.weighing import Solution, solve_ledger

USUAL_START_C = 4.0
WARMEST_START_C = 25.0
_SOON_MS = 30 * 60 * 1000
_MINUTE_S = 60.0
_SIZES = {"length": N_("length"), "width": N_("width"), "thick": N_("thickness")}

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
class SimulationOptions:
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


def plan_of_trial(record: TrialRecord, options: SimulationOptions | None = None) -> Simulation:
    """Return a trial as something to simulate: every arm on every piece, as matched as can be.

    Raises JobError that names the piece and what to record when something is missing.
    """
    options = options or SimulationOptions()
    units = _chosen(record, options)
    solution = solve_ledger(record.weighings, record.scales, record.estimates)
    notes: list[Message] = []
    asked = _Asked(record, options, notes)
    pieces = tuple(_piece_to_cook(asked, unit, solution) for unit in units)
    trial = record.trial
    arms = tuple(ArmToCook(arm.id, arm.name, trial.protocol_of(arm.id)) for arm in trial.arms)
    notes += assumptions([arm.protocol for arm in arms], options.tender_c)
    plan = SideBySide(trial.title, arms, pieces, options.members, options.seed, options.whole_body)
    assumed = [note for at, note in enumerate(notes) if note not in notes[:at]]
    return Simulation(plan, trial.title, {arm.id: arm.name for arm in arms}, tuple(assumed))


@dataclass(frozen=True)
class _Asked:
    """A record, what is said besides it, and what is assumed for want of it."""

    record: TrialRecord
    options: SimulationOptions
    notes: list[Message]


def _chosen(record: TrialRecord, options: SimulationOptions) -> list[Piece]:
    known = {piece.id: piece for piece in record.units}
    for handle in options.pieces:
        if handle not in known:
            message = N_(
                "there is no piece '%(piece)s' with an arm; known: %(known)s",
                piece=handle,
                known=Listed(list(known)),
            )
            raise JobError(message, field="piece")
    chosen = [known[handle] for handle in dict.fromkeys(options.pieces)] or list(known.values())
    if not chosen:
        message = N_(
            "trial '%(trial)s' has no piece with an arm yet; record one first",
            trial=record.trial.id,
        )
        raise JobError(message)
    return chosen


def _piece_to_cook(asked: "_Asked", piece: Piece, solution: Solution) -> PieceToCook:
    record = asked.record
    assert piece.cook is not None
    cook = record.cook(piece.cook)
    on_ms = went_on_ms(record, piece)
    start_c = _start_c(record, piece, on_ms)
    if start_c is None:
        start_c = USUAL_START_C
        start = Temperature(USUAL_START_C)
        asked.notes.append(N_("%(piece)s: %(core)s when it went on", piece=piece.name, core=start))
    model = ModelPiece(
        _cut(piece, asked.options),
        _trimmed_kg(piece, solution),
        _size(piece, "length"),
        _size(piece, "width"),
        _size(piece, "thick"),
        piece.thin_m,
        piece.fat_cap_m,
        start_c,
    )
    return PieceToCook(piece.id, piece.name, model, _conditions(asked, piece, cook))


def _conditions(asked: "_Asked", piece: Piece, cook: Cook) -> Conditions:
    record, options = asked.record, asked.options
    on_ms = went_on_ms(record, piece)
    began = on_ms if on_ms is not None else epoch_ms(cook.starts)
    room = time_weighted(trace_of(record, placements_for(record, "room", cook=cook.id)))
    room_c = room[0] if room is not None else options.room_c
    if room is None:
        air = Temperature(room_c)
        asked.notes.append(N_("%(air)s in the air outside the cooker", air=air))
    base = Conditions(
        cooker=CookerModel(pieces=sum(one.cook == cook.id for one in record.units)),
        site=Site(record.trial.altitude_m, room_c),
        start_clock_s=_clock_s(began, cook),
        tender_c=options.tender_c,
    )
    if options.measured:
        seconds, degrees = _history(record, piece, cook, began)
        return replace(base, pit_s=seconds, pit_c=degrees)
    offset = _position_k(record, piece, cook)
    if offset is None:
        message = N_(
            "%(piece)s: the air at its place as set, for no probe read it there", piece=piece.name
        )
        asked.notes.append(message)
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
        message = N_(
            "piece '%(piece)s': no pit temperature was read at its place during cook '%(cook)s'; "
            "take the logger's file in, or leave out %(field)s",
            piece=piece.id,
            cook=cook.id,
            field=InputField("measured"),
        )
        raise JobError(message, field="measured")
    minute = np.floor(seconds / _MINUTE_S).astype(np.int64)
    each, where, count = np.unique(minute, return_inverse=True, return_counts=True)
    mean = np.bincount(where, weights=trace.value_c[later]) / count
    times = _MINUTE_S * (each + 0.5)
    times[0] = 0.0
    return tuple(times.tolist()), tuple(mean.tolist())


def _pit_at(record: TrialRecord, piece: Piece, cook: Cook) -> Trace:
    if piece.spot is None:
        message = N_(
            "piece '%(piece)s': its place is not recorded; give it its 'spot'", piece=piece.id
        )
        raise JobError(message)
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
        message = N_(
            "piece '%(piece)s': nothing says its trimmed mass; record a weighing", piece=piece.id
        )
        raise JobError(message)
    return known.spread.mean


def _size(piece: Piece, name: str) -> float:
    value: float | None = getattr(piece, f"{name}_m")
    if value is None:
        message = N_(
            "piece '%(piece)s': its %(size)s is not recorded; %(mend)s",
            piece=piece.id,
            size=_SIZES[name],
            mend=OnFace(
                f"fairsmoke correct piece {piece.id} {name}='12 cm' --why measured",
                N_("write it down where the cook is set up"),
            ),
        )
        raise JobError(message)
    return value


def _cut(piece: Piece, options: SimulationOptions) -> str:
    return cut_of(piece.id, piece.cut, piece.species, options)


def cut_of(handle: str, cut: str, species: str, options: SimulationOptions) -> str:
    """Return the model's cut for a piece's free words. Raises JobError where there is none."""
    given = (options.cuts or {}).get(handle)
    if given is not None:
        return given
    words = cut.casefold()
    if words in CUTS:
        return words
    for word, known in _CUT_WORDS:
        if word in words and CUTS[known].species == _model_species(species, known):
            return known
    message = N_(
        "piece '%(piece)s': the model has no cut for '%(cut)s' of %(species)s; say which it is "
        "most like: %(field)s '%(piece)s=brick'. There are: %(known)s",
        piece=handle,
        cut=cut,
        species=species,
        field=InputField("as"),
        known=Listed(list(CUTS)),
    )
    raise JobError(message, field="as")


def _model_species(species: str, cut: str) -> str:
    """Turkey melts like pork in the model; any other animal must be its own."""
    return CUTS[cut].species if species == "turkey" else species
