"""The words of what the published tables say of a day's stages."""

import math
from collections.abc import Iterator, Sequence
from typing import Any

from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.physics.cook_table import AT_ONCE_C
from fairsmoke.physics.limits import COME_UP, GROWTH_WINDOW_C, least_c, timed
from fairsmoke.planning.day.safety import (
    FRIDGE_C,
    HOLD_CAREFUL,
    HOLD_STAGE,
    HOLD_USUAL,
    LEFT_OVER,
    LEFT_OVER_STAGE,
    SafetyNote,
)
from fairsmoke.quantity.values import Mass, Number, Temperature, TemperatureDifference

DEFER = N_(
    "These tables differ between authorities and editions. The law and the food authority where "
    "the food is served decide, and a checked thermometer in the coldest place tells."
)
_STAGES = {HOLD_STAGE: N_("hold"), LEFT_OVER_STAGE: N_("left over")}
_SPECIES = {
    "turkey": N_("turkey"),
    "chicken": N_("chicken"),
    "poultry": N_("poultry"),
    "other": N_("other meat"),
}
_MANY_LOGS = 12.0
_HELD = N_(
    "air of %(air)s; core %(core)s at the end of the protocol's hold (95 of 100 draws are above)"
)
_WORDS = {
    "come-up": N_(
        "the core takes up to %(took)s from %(from)s to %(to)s (95 of 100 draws); the limit "
        "told is %(limit)s, and %(over)s of 100 draws pass it"
    ),
    "growth": N_("the core is between %(cold)s and %(hot)s for up to %(warm)s (95 of 100 draws)"),
    "other table": N_(
        "the table of whole beef, pork and lamb does not hold for %(species)s; read the one "
        "for poultry"
    ),
    "killing": N_(
        "with %(margin)s taken off for the probe the core earns %(share)s of the time that the "
        "table asks for 6.5 log (hottest %(hottest)s)"
    ),
    "oven": N_(
        "air of %(air)s meets no row for dry ovens and %(mass)s (%(least)s at the least; the "
        "damp rows need 90 %% humidity or a sealed bag)"
    ),
    "hold unknown": N_("no temperature is given for the hold"),
    "hold below all": N_("below every published limit"),
    "hold below 57": N_("below the usual %(usual)s; only for whole roasts cooked by the table"),
    "hold below 60": N_("below the careful %(careful)s"),
    "hold above 60": N_("above the careful %(careful)s"),
    "standing": N_(
        "up to %(stands)s without heat that is controlled; %(within)s at the most, with the "
        "time marked, or keep it at %(usual)s by a thermometer"
    ),
    "left over": N_(
        "whole in a fridge at %(fridge)s the middle would take %(first)s from %(hot)s to "
        "%(warm)s and %(last)s to %(cold)s; told are %(soon)s, and %(all)s in all"
    ),
    "left over unknown": N_(
        "from %(hot)s to %(warm)s within %(soon)s and to %(cold)s within %(all)s in all: slice "
        "and spread it thin, how fast it cools was not worked out"
    ),
}
"""What a note says, by its code; `_texts` has what is said besides or instead."""


def stage_words(note: SafetyNote) -> Words:
    """Return the stage that a note is about: a protocol's own name, or ours."""
    return _STAGES.get(note.stage, note.stage)


def gathered(notes: Sequence[SafetyNote]) -> list[tuple[SafetyNote, list[str]]]:
    """Put notes that say the same of several pieces together with their names, warnings first."""
    found: dict[tuple[str, str], tuple[SafetyNote, list[str]]] = {}
    for note in sorted(notes, key=lambda one: not one.warns):
        told = (note.stage, "; ".join(str(words) for words in note_words(note)))
        found.setdefault(told, (note, []))[1].append(note.piece)
    return list(found.values())


def note_words(note: SafetyNote) -> list[Message]:
    """Return what a note says, in one sentence or several."""
    values = {name.rpartition("_")[0] or name: _typed(name, v) for name, v in note.figures.items()}
    values |= _limits(note.code)
    return [
        Message(one.text, {name: v for name, v in values.items() if f"%({name})s" in one.text})
        for one in _texts(note)
    ]


def _texts(note: SafetyNote) -> Iterator[Message]:
    figures: dict[str, Any] = dict(note.figures)
    if note.code in ("hold below all", "hold below 57", "hold below 60", "hold above 60"):
        yield _HELD if math.isfinite(figures["core_c"]) else N_("air of %(air)s")
    if note.code == "killing" and not math.isfinite(figures["share"]):
        yield N_("the core passes %(at_once)s with %(margin)s taken off for the probe")
    else:
        yield _WORDS[note.code]
    if figures.get("pierced"):
        yield N_("it was injected or pierced, so that the inside counts like the surface")
    if "grown" in figures:
        yield N_(
            "were spores awake inside, up to %(grown)s tenfold steps of growth while it warms, "
            "by a careful model that is off by up to 0.5; it counts where the inside was pierced, "
            "injected, rolled or ground"
        )
    if note.code == "killing":
        if figures["logs"] <= _MANY_LOGS:
            yield N_("the coldest lean place of the model, unmargined: %(logs)s log of Salmonella")
        else:
            yield N_(
                "the coldest lean place of the model, unmargined: more than 12 log of Salmonella"
            )
        yield N_("killing never undoes a toxin made before")
    if figures.get("slow"):
        yield N_("cut and spread what is left over")


def _typed(name: str, value: Any) -> Any:
    """Return a figure as a value of a message, by the unit in its name."""
    match name.rpartition("_")[2]:
        case "species":
            return _SPECIES.get(value, value)
        case "c":
            return Temperature(value)
        case "k":
            return TemperatureDifference(value)
        case "kg":
            return Mass(value, 1)
        case "s" if name in ("first_s", "last_s") and not math.isfinite(value):
            return N_("more than two days")
        case "s":
            return _hours(value, 0 if name in ("limit_s", "within_s") else 1)
        case "over":
            return round(100 * value)
        case "share" if math.isfinite(value):
            # Two digits that count.
            return Number(value, max(0, 1 - math.floor(math.log10(value))) if value > 0.0 else 0)
        case _:
            return Number(value)


def _hours(seconds: float, digits: int = 0) -> Message:
    if math.isfinite(seconds):
        return N_("%(hours)s h", hours=Number(seconds / 3600, digits))
    return N_("never")


def _limits(code: str) -> dict[str, Any]:
    """Return the limits that a note's words name, from the tables themselves."""
    found: dict[str, float]
    times: dict[str, Message] = {}
    match code:
        case "left over" | "left over unknown":
            (hot, warm, soon_s), (_, cold, all_s) = map(timed, LEFT_OVER)
            found = {"fridge": FRIDGE_C, "hot": hot, "warm": warm, "cold": cold}
            times = {"soon": _hours(soon_s), "all": _hours(all_s)}
        case "come-up":
            low, high, _ = timed(COME_UP)
            found = {"from": low, "to": high}
        case "growth":
            found = {"cold": GROWTH_WINDOW_C[0], "hot": GROWTH_WINDOW_C[1]}
        case "killing":
            found = {"at_once": AT_ONCE_C}
        case _:
            found = {"usual": least_c(HOLD_USUAL), "careful": least_c(HOLD_CAREFUL)}
    return {name: Temperature(value, limit=True) for name, value in found.items()} | times
