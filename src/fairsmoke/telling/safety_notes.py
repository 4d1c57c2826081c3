"""The words of what the published tables say of a day's stages."""

import math
from collections.abc import Sequence
from typing import Any

from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.physics.cook_table import AT_ONCE_C
from fairsmoke.physics.limits import COME_UP, GROWTH_WINDOW_C
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

Figures = dict[str, Any]


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
    figures = dict(note.figures)
    if note.code.startswith("hold "):
        return _hold(note.code, figures)
    return {
        "come-up": _come_up,
        "growth": _growth,
        "other table": _other_table,
        "killing": _killing,
        "oven": _oven,
        "standing": _standing,
        "left over": _left_over,
        "left over unknown": _left_over_unknown,
    }[note.code](figures)


def _hours(seconds: float | None, digits: int = 1) -> Message:
    if seconds is None or not math.isfinite(seconds):
        return N_("never")
    return N_("%(hours)s h", hours=Number(seconds / 3600, digits))


def _come_up(figures: Figures) -> list[Message]:
    low_c, high_c = COME_UP.from_c or 0.0, COME_UP.to_c or 0.0
    found = [
        N_(
            "the core takes up to %(took)s from %(from)s to %(to)s (95 of 100 draws); the limit "
            "told is %(limit)s, and %(over)s of 100 draws pass it",
            **{"from": Temperature(low_c), "to": Temperature(high_c)},
            took=_hours(figures["took_s"]),
            limit=_hours(figures["limit_s"], 0),
            over=round(100 * figures["over"]),
        )
    ]
    if figures["pierced"]:
        found.append(N_("it was injected or pierced, so that the inside counts like the surface"))
    return found


def _growth(figures: Figures) -> list[Message]:
    cold_c, hot_c = GROWTH_WINDOW_C
    found = [
        N_(
            "the core is between %(cold)s and %(hot)s for up to %(warm)s (95 of 100 draws)",
            cold=Temperature(cold_c),
            hot=Temperature(hot_c),
            warm=_hours(figures["warm_s"]),
        )
    ]
    if "grown" in figures:
        found.append(
            N_(
                "were spores awake inside, up to %(grown)s tenfold steps of growth while it warms, "
                "by a careful model that is off by ±0.5; it counts where the inside was pierced, "
                "injected, rolled or ground",
                grown=Number(figures["grown"]),
            )
        )
    return found


def _other_table(figures: Figures) -> list[Message]:
    return [
        N_(
            "the table of whole beef, pork and lamb does not hold for %(species)s; read the one "
            "for poultry",
            species=_SPECIES.get(figures["species"], figures["species"]),
        )
    ]


def _killing(figures: Figures) -> list[Message]:
    margin = TemperatureDifference(figures["margin_k"])
    if not math.isfinite(figures["share"]):
        first = N_(
            "the core passes %(hot)s with %(margin)s taken off for the probe",
            hot=Temperature(AT_ONCE_C),
            margin=margin,
        )
    else:
        share = figures["share"]
        digits = max(0, 1 - math.floor(math.log10(share))) if share > 0.0 else 0
        first = N_(
            "with %(margin)s taken off for the probe the core earns %(share)s of the time that the "
            "table asks for 6.5 log (hottest %(hottest)s)",
            margin=margin,
            share=Number(share, digits),
            hottest=Temperature(figures["hottest_c"]),
        )
    logs = figures["logs"]
    if not logs <= _MANY_LOGS:
        last = N_("the coldest lean place of the model, unmargined: more than 12 log of Salmonella")
    else:
        last = N_(
            "the coldest lean place of the model, unmargined: %(logs)s log of Salmonella",
            logs=Number(logs),
        )
    return [first, last, N_("killing never undoes a toxin made before")]


def _oven(figures: Figures) -> list[Message]:
    return [
        N_(
            "air of %(air)s meets no row for dry ovens and %(mass)s (%(least)s at the least; the "
            "damp rows need 90 %% humidity or a sealed bag)",
            air=Temperature(figures["air_c"]),
            mass=Mass(figures["mass_kg"], 1),
            least=Temperature(figures["least_c"]),
        )
    ]


def _hold(code: str, figures: Figures) -> list[Message]:
    if code == "hold unknown":
        return [N_("no temperature is given for the hold")]
    air = Temperature(figures["air_c"])
    if not math.isfinite(figures["core_c"]):
        first = N_("air of %(air)s", air=air)
    else:
        first = N_(
            "air of %(air)s; core %(core)s at the end of the protocol's hold (95 of 100 draws are "
            "above)",
            air=air,
            core=Temperature(figures["core_c"]),
        )
    usual = Temperature(HOLD_USUAL.at_least_c or 0.0)
    careful = Temperature(HOLD_CAREFUL.at_least_c or 0.0)
    verdict = {
        "hold below all": N_("below every published limit"),
        "hold below 57": N_(
            "below the usual %(usual)s; only for whole roasts cooked by the table", usual=usual
        ),
        "hold below 60": N_("below the careful %(careful)s", careful=careful),
        "hold above 60": N_("above the careful %(careful)s", careful=careful),
    }[code]
    return [first, verdict]


def _standing(figures: Figures) -> list[Message]:
    return [
        N_(
            "up to %(stands)s without heat that is controlled; %(within)s at the most, with the "
            "time marked, or keep it at %(usual)s by a thermometer",
            stands=_hours(figures["stands_s"]),
            within=_hours(figures["within_s"], 0),
            usual=Temperature(HOLD_USUAL.at_least_c or 0.0),
        )
    ]


def _cooling() -> dict[str, Any]:
    """Return the limits on cooling what is left over, as values of a message."""
    first, last = LEFT_OVER
    return {
        "hot": Temperature(first.from_c or 0.0),
        "warm": Temperature(first.to_c or 0.0),
        "cold": Temperature(last.to_c or 0.0),
        "soon": _hours(first.within_s, 0),
        "all": _hours(last.within_s, 0),
    }


def _left_over(figures: Figures) -> list[Message]:
    def took(seconds: float) -> Message:
        return _hours(seconds) if math.isfinite(seconds) else N_("more than two days")

    found = [
        N_(
            "whole in a fridge at %(fridge)s the middle would take %(first)s from %(hot)s to "
            "%(warm)s and %(last)s to %(cold)s; told are %(soon)s, and %(all)s in all",
            fridge=Temperature(FRIDGE_C),
            first=took(figures["first_s"]),
            last=took(figures["last_s"]),
            **_cooling(),
        )
    ]
    if figures["slow"]:
        found.append(N_("cut and spread what is left over"))
    return found


def _left_over_unknown(_figures: Figures) -> list[Message]:
    return [
        N_(
            "from %(hot)s to %(warm)s within %(soon)s and to %(cold)s within %(all)s in all: slice "
            "and spread it thin, how fast it cools was not worked out",
            **_cooling(),
        )
    ]
