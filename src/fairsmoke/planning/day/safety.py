"""Each stage of a plan against published tables. It warns; it never says that food is safe."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from fairsmoke.physics.cook_table import AT_ONCE_C, LOWEST_C, TABLE_SOURCE, table_share
from fairsmoke.physics.growth import GROWTH_MODELS, growth_log10
from fairsmoke.physics.history import come_up_time_s, time_in_range_s
from fairsmoke.physics.limits import COME_UP, OVEN_ROWS, OVEN_SOURCE, SAFETY_LIMITS, SafetyLimit
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Humidity, Place, Protocol, Stage

PROBE_MARGIN_K = 1.0
"""Taken off every core temperature before a table is read; a household probe's usual accuracy."""
CAREFUL = 0.95
"""Figures are those that 95 of 100 draws keep to."""
DEFER = (
    "These tables differ between authorities and editions. The law and the food authority where "
    "the food is served decide, and a checked thermometer in the coldest place tells."
)
_TABLE_SPECIES = frozenset({"beef", "pork", "lamb"})
_HOT_C, _COLD_C, _ROAST_KG = 57.0, 4.0, 4.5
_LEFT_OVER = (("code 57 to 21", 21.0), ("code 57 to 5", 5.0))


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


@dataclass(frozen=True)
class SafetyNote:
    """One line: the stage, whether it is a warning, what was found, and the table it is read in.

    `code` and `figures` (SI) say the same without words, for who tells it in another language.
    """

    piece: str
    stage: str
    warns: bool
    words: str
    table: str
    code: str = ""
    figures: Mapping[str, float | str] = field(default_factory=dict, hash=False)


def safety_notes(piece: SafetyPiece, margin_k: float = PROBE_MARGIN_K) -> tuple[SafetyNote, ...]:
    """Return what the published tables say of a piece's plan, stage by stage."""
    return tuple(
        SafetyNote(piece.name, stage, warns, words, table, code, figures)
        for stage, warns, words, table, code, figures in (
            *_coming_up(piece),
            *_killing(piece, margin_k),
            *_ovens(piece),
            *_holding(piece),
            *_standing(piece),
            *_leftovers(piece),
        )
    )


_Line = tuple[str, bool, str, str, str, Mapping[str, float | str]]
"""Stage, whether it warns, words, table, code, figures."""


def _coming_up(piece: SafetyPiece) -> Iterator[_Line]:
    limit_s = COME_UP.within_s or 0.0
    stage = piece.protocol.stages[0].name
    took, warm, grown = [], [], []
    model = GROWTH_MODELS["perfringens pork" if piece.species == "pork" else "perfringens beef"]
    for time, core in _records(piece):
        up = come_up_time_s(time, core)
        took.append(np.inf if up is None else up)
        warm.append(time_in_range_s(time, core, _COLD_C, 60.0))
        first = np.argmax(core >= LOWEST_C) if np.any(core >= LOWEST_C) else core.size - 1
        if first >= 1:
            grown.append(growth_log10(time[: first + 1], core[: first + 1], model, lag=False))
    slow = float(np.quantile(took, CAREFUL, method="higher"))
    over = float(np.mean(np.array(took) > limit_s))
    hours = "never" if not np.isfinite(slow) else f"{slow / 3600:.1f} h"
    words = (
        f"the core takes up to {hours} from 10 to 54.4 °C (95 of 100 draws); the limit told is "
        f"{limit_s / 3600:g} h, and {_hundred(over)} draws pass it"
    )
    if piece.punctured:
        words += "; it was injected or pierced, so that the inside counts like the surface"
    # One draw in twenty over is what the careful figure leaves open already.
    figures = {"took_s": slow, "limit_s": limit_s, "over": over, "pierced": float(piece.punctured)}
    yield stage, over > 1.0 - CAREFUL, words, _named(COME_UP), "come-up", figures
    careful = float(np.quantile(warm, CAREFUL))
    text = f"the core is between 4 and 60 °C for up to {careful / 3600:.1f} h (95 of 100 draws)"
    figures = {"warm_s": careful}
    if grown:
        figures["grown"] = float(np.quantile(grown, CAREFUL))
        text += (
            f"; were spores awake inside, up to {figures['grown']:.1f} tenfold steps "
            "of growth while it warms, by a careful model that is off by ±0.5; it counts where the "
            "inside was pierced, injected, rolled or ground"
        )
    table = f"growth: {model.organism}, {model.source.text}"
    yield stage, False, text, table, "growth", figures


def _killing(piece: SafetyPiece, margin_k: float) -> Iterator[_Line]:
    last = _last_cooked(piece.protocol)
    if piece.species not in _TABLE_SPECIES:
        yield (
            last.name,
            True,
            f"the table of whole beef, pork and lamb does not hold for {piece.species}; read the "
            "one for poultry",
            TABLE_SOURCE.text,
            "other table",
            {"species": piece.species},
        )
        return
    shares = [table_share(t, c, "6.5", margin_k) for t, c in _records(piece)]
    low = float(np.quantile(shares, 1.0 - CAREFUL, method="lower"))
    hottest = [float(np.max(c)) - margin_k for _, c in _records(piece)]
    least = float(np.quantile(hottest, 1.0 - CAREFUL))
    if low == np.inf:
        words = f"the core passes {AT_ONCE_C:g} °C with {margin_k:g} K taken off for the probe"
    else:
        words = (
            f"with {margin_k:g} K taken off for the probe the core earns {low:.2g} of the time "
            f"that the table asks for 6.5 log (hottest {least:.0f} °C)"
        )
    logs = float(np.quantile(piece.log_salmonella, 1.0 - CAREFUL))
    more = "more than 12" if logs > 12 else f"{logs:.1f}"
    words += f"; the coldest lean place of the model, unmargined: {more} log of Salmonella"
    words += ". Killing never undoes a toxin made before"
    figures = {"share": low, "hottest_c": least, "logs": logs, "margin_k": margin_k}
    yield last.name, low < 1.0, words, TABLE_SOURCE.text, "killing", figures


def _ovens(piece: SafetyPiece) -> Iterator[_Line]:
    row = OVEN_ROWS[0]
    least = row.from_4_5_kg_c if piece.mass_kg >= _ROAST_KG else row.below_4_5_kg_c
    for stage in piece.protocol.stages:
        if stage.place is not Place.COOKER or stage.surround_c is None:
            continue
        damp = stage.humidity in (Humidity.STEAM, Humidity.SEALED_WRAP)
        if damp or stage.surround_c >= least - 0.5:
            continue
        yield (
            stage.name,
            True,
            f"air of {stage.surround_c:.0f} °C meets no row for dry ovens and {piece.mass_kg:.1f} "
            f"kg ({least:g} °C at the least; the damp rows need 90 % humidity or a sealed bag)",
            OVEN_SOURCE.text,
            "oven",
            {"air_c": stage.surround_c, "mass_kg": piece.mass_kg, "least_c": least},
        )


def _holding(piece: SafetyPiece) -> Iterator[_Line]:
    for stage in piece.protocol.stages:
        if stage.place not in (Place.CABINET, Place.COOLER):
            continue
        if stage.surround_c is None:
            words = "no temperature is given for the hold"
            yield stage.name, True, words, _rule("hold 57 °C"), "hold unknown", {}
            continue
        air = stage.surround_c
        coldest = _coldest_in_hold(piece)
        words = (
            f"air of {air:.0f} °C; core {coldest:.0f} °C at the end of the protocol's hold "
            "(95 of 100 draws are above)"
        )
        lowest = min(air, coldest) if np.isfinite(coldest) else air
        if lowest < 54.0:
            code, verdict = "hold below all", "below every published limit"
            table = _rule("hold 57 °C")
        elif lowest < _HOT_C:
            code = "hold below 57"
            verdict = "below the usual 57 °C; only for whole roasts cooked by the table"
            table = f"{_rule('hold 57 °C')}; {_rule('hold 54 °C roast')}"
        else:
            above = lowest >= 60.0
            code = "hold above 60" if above else "hold below 60"
            verdict = f"{'above' if above else 'below'} the careful 60 °C"
            table = _rule("hold 60 °C")
        figures = {"air_c": air, "core_c": coldest}
        yield stage.name, code != "hold above 60", f"{words}: {verdict}", table, code, figures


def _standing(piece: SafetyPiece) -> Iterator[_Line]:
    limit = SAFETY_LIMITS["4 h without heat"]
    within = limit.within_s or 0.0
    held = any(s.place is Place.CABINET for s in piece.protocol.stages)
    stands = 0.0 if held else piece.waits_s
    if stands > within:
        yield (
            "hold",
            True,
            f"up to {stands / 3600:.1f} h without heat that is controlled; {within / 3600:g} h at "
            "the most, with the time marked, or keep it at 57 °C by a thermometer",
            _named(limit),
            "standing",
            {"stands_s": stands, "within_s": within},
        )


def _leftovers(piece: SafetyPiece) -> Iterator[_Line]:
    rules = "; ".join(_rule(key) for key, _ in _LEFT_OVER)
    option = _rule("option 1, 54.4 to 26.7")
    if piece.cools_s is None:
        yield (
            "left over",
            True,
            "from 57 to 21 °C within 2 h and to 5 °C within 6 h in all: slice and spread it thin, "
            "how fast it cools was not worked out",
            f"{rules}; {option}",
            "left over unknown",
            {},
        )
        return
    limits = [SAFETY_LIMITS[key].within_s or 0.0 for key, _ in _LEFT_OVER]
    slow = any(took > limit for took, limit in zip(piece.cools_s, limits, strict=True))
    words = (
        f"whole in a fridge at 4 °C the middle would take {_took(piece.cools_s[0])} from 57 to 21 "
        f"°C and {_took(piece.cools_s[1])} to 5 °C; told are 2 h and 6 h in all"
    )
    words += ": cut and spread what is left over" if slow else ""
    figures = {"first_s": piece.cools_s[0], "last_s": piece.cools_s[1], "slow": float(slow)}
    yield "left over", slow, words, f"{rules}; {option}", "left over", figures


def _took(seconds: float) -> str:
    return f"{seconds / 3600:.1f} h" if np.isfinite(seconds) else "more than two days"


def _records(piece: SafetyPiece) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Yield each draw's core over time, stretched as the scatter of real pits has it."""
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


def _rule(key: str) -> str:
    return _named(SAFETY_LIMITS[key])


def _named(limit: SafetyLimit) -> str:
    return f"{limit.source.text} ({limit.key})"


def _hundred(share: float) -> str:
    return f"{100 * share:.0f} of 100"


def warnings_of(notes: Sequence[SafetyNote]) -> tuple[SafetyNote, ...]:
    """Return only what warns."""
    return tuple(note for note in notes if note.warns)


__all__ = [
    "CAREFUL",
    "DEFER",
    "PROBE_MARGIN_K",
    "SafetyNote",
    "SafetyPiece",
    "safety_notes",
    "warnings_of",
]
