"""Each stage of a plan against published tables. It warns; it never says that food is safe."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from fairsmoke.physics.cook_table import LOWEST_C, TABLE_SOURCE, table_share
from fairsmoke.physics.growth import GROWTH_MODELS, growth_log10
from fairsmoke.physics.history import come_up_time_s, time_in_range_s
from fairsmoke.physics.limits import (
    COME_UP,
    GROWTH_WINDOW_C,
    OVEN_ROWS,
    OVEN_SOURCE,
    SAFETY_LIMITS,
    SafetyLimit,
)
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Humidity, Place, Protocol, Stage

PROBE_MARGIN_K = 1.0
"""Taken off every core temperature before a table is read; a household probe's usual accuracy."""
CAREFUL = 0.95
"""Figures are those that 95 of 100 draws keep to."""
_TABLE_SPECIES = frozenset({"beef", "pork", "lamb"})
HOLD_ALL, HOLD_USUAL, HOLD_CAREFUL = (
    SAFETY_LIMITS[key] for key in ("hold 54 °C roast", "hold 57 °C", "hold 60 °C")
)
WITHOUT_HEAT = SAFETY_LIMITS["4 h without heat"]
LEFT_OVER = (SAFETY_LIMITS["code 57 to 21"], SAFETY_LIMITS["code 57 to 5"])
_LEFT_OVER_TABLES = (*LEFT_OVER, SAFETY_LIMITS["option 1, 54.4 to 26.7"])
_ROAST_KG = 4.5
FRIDGE_C = 4.0
"""What a fridge is set to, in which what is left over is cooled; common practice, no source."""


@dataclass(frozen=True, eq=False)
class SafetyPiece:
    """What the check needs of a piece: draws of its core over time, and of its killing.

    `core_c`: members × times (°C), from putting on (s) to the end of the hold, NaN after it;
    `stretch` is each member's factor on time. `log_salmonella`: at the coldest lean place.
    `waits_s`: how long it is off the cooker before it is opened, which 95 of 100 days keep to.
    `cools_s`: hours that the whole piece would take in a fridge from 57 °C to 21 and to 5 °C.
    """

    name: str
    arm_name: str
    species: str
    mass_kg: float
    protocol: Protocol
    time_s: FloatArray
    core_c: FloatArray
    stretch: FloatArray
    log_salmonella: FloatArray
    waits_s: float
    cools_s: tuple[float, float] | None = None
    punctured: bool = False


NoteCode = Literal[
    "come-up",
    "growth",
    "other table",
    "killing",
    "oven",
    "hold unknown",
    "hold below all",
    "hold below 57",
    "hold below 60",
    "hold above 60",
    "standing",
    "left over",
    "left over unknown",
]
HOLD_STAGE, LEFT_OVER_STAGE = "hold", "left over"
"""What a note that belongs to no stage of the protocol has as its stage."""


@dataclass(frozen=True)
class SafetyNote:
    """What one table says of one stage: `code`, whether it warns, figures (SI), and the table.

    `figures` are what 95 of 100 draws keep to, with the limit where the table has one number;
    `fairsmoke.telling.safety_notes` has the words.
    """

    piece: str
    stage: str
    warns: bool
    code: NoteCode
    figures: Mapping[str, float | str] = field(hash=False)
    table: str


def safety_notes(piece: SafetyPiece, margin_k: float = PROBE_MARGIN_K) -> tuple[SafetyNote, ...]:
    """Return what the published tables say of a piece's plan, stage by stage."""
    return tuple(
        SafetyNote(piece.name, *line)
        for line in (
            *_coming_up(piece),
            *_killing(piece, margin_k),
            *_ovens(piece),
            *_holding(piece),
            *_standing(piece),
            *_leftovers(piece),
        )
    )


_Line = tuple[str, bool, NoteCode, Mapping[str, float | str], str]
"""Stage, whether it warns, code, figures, table."""


def _coming_up(piece: SafetyPiece) -> Iterator[_Line]:
    limit_s = COME_UP.within_s or 0.0
    stage = piece.protocol.stages[0].name
    took, warm, grown = [], [], []
    model = GROWTH_MODELS["perfringens pork" if piece.species == "pork" else "perfringens beef"]
    for time, core in _records(piece):
        up = come_up_time_s(time, core)
        took.append(np.inf if up is None else up)
        warm.append(time_in_range_s(time, core, *GROWTH_WINDOW_C))
        first = np.argmax(core >= LOWEST_C) if np.any(core >= LOWEST_C) else core.size - 1
        if first >= 1:
            grown.append(growth_log10(time[: first + 1], core[: first + 1], model, lag=False))
    slow = float(np.quantile(took, CAREFUL, method="higher"))
    over = float(np.mean(np.array(took) > limit_s))
    # One draw in twenty over is what the careful figure leaves open already.
    figures = {"took_s": slow, "limit_s": limit_s, "over": over, "pierced": float(piece.punctured)}
    yield stage, over > 1.0 - CAREFUL, "come-up", figures, _named(COME_UP)
    figures = {"warm_s": float(np.quantile(warm, CAREFUL))}
    if grown:
        figures["grown"] = float(np.quantile(grown, CAREFUL))
    yield stage, False, "growth", figures, f"growth: {model.organism}, {model.source.text}"


def _killing(piece: SafetyPiece, margin_k: float) -> Iterator[_Line]:
    last = _last_cooked(piece.protocol)
    if piece.species not in _TABLE_SPECIES:
        yield last.name, True, "other table", {"species": piece.species}, TABLE_SOURCE.text
        return
    shares = [table_share(t, c, "6.5", margin_k) for t, c in _records(piece)]
    low = float(np.quantile(shares, 1.0 - CAREFUL, method="lower"))
    hottest = [float(np.max(c)) - margin_k for _, c in _records(piece)]
    figures = {
        "share": low,
        "hottest_c": float(np.quantile(hottest, 1.0 - CAREFUL)),
        "logs": float(np.quantile(piece.log_salmonella, 1.0 - CAREFUL)),
        "margin_k": margin_k,
    }
    yield last.name, low < 1.0, "killing", figures, TABLE_SOURCE.text


def _ovens(piece: SafetyPiece) -> Iterator[_Line]:
    row = OVEN_ROWS[0]
    least = row.from_4_5_kg_c if piece.mass_kg >= _ROAST_KG else row.below_4_5_kg_c
    for stage in piece.protocol.stages:
        if stage.place is not Place.COOKER or stage.surround_c is None:
            continue
        damp = stage.humidity in (Humidity.STEAM, Humidity.SEALED_WRAP)
        if damp or stage.surround_c >= least - 0.5:
            continue
        figures = {"air_c": stage.surround_c, "mass_kg": piece.mass_kg, "least_c": least}
        yield stage.name, True, "oven", figures, OVEN_SOURCE.text


def _holding(piece: SafetyPiece) -> Iterator[_Line]:
    for stage in piece.protocol.stages:
        if stage.place not in (Place.CABINET, Place.COOLER):
            continue
        air = stage.surround_c
        if air is None:
            yield stage.name, True, "hold unknown", {}, _named(HOLD_USUAL)
            continue
        coldest = _coldest_in_hold(piece)
        figures = {"air_c": air, "core_c": coldest}
        lowest = min(air, coldest) if np.isfinite(coldest) else air
        if lowest < _least_c(HOLD_ALL):
            yield stage.name, True, "hold below all", figures, _named(HOLD_USUAL)
        elif lowest < _least_c(HOLD_USUAL):
            yield stage.name, True, "hold below 57", figures, _named(HOLD_USUAL, HOLD_ALL)
        elif lowest < _least_c(HOLD_CAREFUL):
            yield stage.name, True, "hold below 60", figures, _named(HOLD_CAREFUL)
        else:
            yield stage.name, False, "hold above 60", figures, _named(HOLD_CAREFUL)


def _least_c(limit: SafetyLimit) -> float:
    assert limit.at_least_c is not None
    return limit.at_least_c


def _standing(piece: SafetyPiece) -> Iterator[_Line]:
    within = WITHOUT_HEAT.within_s or 0.0
    held = any(s.place is Place.CABINET for s in piece.protocol.stages)
    stands = 0.0 if held else piece.waits_s
    if stands > within:
        figures = {"stands_s": stands, "within_s": within}
        yield HOLD_STAGE, True, "standing", figures, _named(WITHOUT_HEAT)


def _leftovers(piece: SafetyPiece) -> Iterator[_Line]:
    table = _named(*_LEFT_OVER_TABLES)
    if piece.cools_s is None:
        yield LEFT_OVER_STAGE, True, "left over unknown", {}, table
        return
    limits = [limit.within_s or 0.0 for limit in LEFT_OVER]
    slow = any(took > limit for took, limit in zip(piece.cools_s, limits, strict=True))
    figures = {"first_s": piece.cools_s[0], "last_s": piece.cools_s[1], "slow": float(slow)}
    yield LEFT_OVER_STAGE, slow, "left over", figures, table


def _records(piece: SafetyPiece) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Yield each draw's core over time, stretched as the variation of real pits has it."""
    for core, stretch in zip(piece.core_c, piece.stretch, strict=True):
        known = np.isfinite(core)
        if np.sum(known) >= 2:
            yield piece.time_s[known] * stretch, core[known]


def _coldest_in_hold(piece: SafetyPiece) -> float:
    """Return the core that 95 of 100 draws stay above from their hottest to the end."""
    ends = [float(core[-1]) for _, core in _records(piece)]
    return float(np.quantile(ends, 1.0 - CAREFUL)) if ends else float("nan")


def _last_cooked(protocol: Protocol) -> Stage:
    return [s for s in protocol.stages if s.place is Place.COOKER][-1]


def _named(*limits: SafetyLimit) -> str:
    return "; ".join(f"{limit.source.text} ({limit.key})" for limit in limits)


def warnings_of(notes: Sequence[SafetyNote]) -> tuple[SafetyNote, ...]:
    """Return only what warns."""
    return tuple(note for note in notes if note.warns)
