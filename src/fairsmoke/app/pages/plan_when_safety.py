"""What the published tables say of a day, in one person's words and units."""

from typing import Any

from fairsmoke.messages.message import N_, Message
from fairsmoke.telling.reader import Reader

_STAGES = {"hold": N_("hold"), "left over": N_("left over")}
_SPECIES = {
    "turkey": N_("turkey"),
    "chicken": N_("chicken"),
    "poultry": N_("poultry"),
    "other": N_("other meat"),
}
_MANY_LOGS = 12.0


def safety_lines(page: dict[str, Any], way: Reader) -> list[dict[str, Any]]:
    """Return each line: whose, which stage, whether it warns, words, and the table's name."""
    return [
        {
            "who": ", ".join(one["pieces"]),
            "stage": way.say(_STAGES[one["stage"]]) if one["stage"] in _STAGES else one["stage"],
            "warns": one["warns"],
            "words": _words(one["code"], one["figures"], way),
            "table": one["table"],
        }
        for one in page["safety"]
    ]


def _words(code: str, figures: dict[str, Any], way: Reader) -> list[Message]:
    if code.startswith("hold "):
        return _hold(code, figures, way)
    return {
        "come-up": _come_up,
        "growth": _growth,
        "other table": _other_table,
        "killing": _killing,
        "oven": _oven,
        "standing": _standing,
        "left over": _left_over,
        "left over unknown": _left_over_unknown,
    }[code](figures, way)


def _hours(seconds: float | None, way: Reader) -> str | Message:
    return N_("never") if seconds is None else f"{way.number(seconds / 3600)} h"


def _come_up(figures: dict[str, Any], way: Reader) -> list[Message]:
    found = [
        N_(
            "the core takes up to %(took)s from %(from)s to %(to)s (95 of 100 draws); the limit "
            "told is %(limit)s, and %(over)s of 100 draws pass it",
            **{"from": way.temperature(10.0), "to": way.temperature(54.4)},
            took=_hours(figures["took_s"], way),
            limit=_hours(figures["limit_s"], way),
            over=round(100 * figures["over"]),
        )
    ]
    if figures["pierced"]:
        found.append(N_("it was injected or pierced, so that the inside counts like the surface"))
    return found


def _growth(figures: dict[str, Any], way: Reader) -> list[Message]:
    found = [
        N_(
            "the core is between %(cold)s and %(hot)s for up to %(warm)s (95 of 100 draws)",
            cold=way.temperature(4.0),
            hot=way.temperature(60.0),
            warm=_hours(figures["warm_s"], way),
        )
    ]
    if "grown" in figures:
        found.append(
            N_(
                "were spores awake inside, up to %(grown)s tenfold steps of growth while it warms, "
                "by a careful model that is off by ±0.5; it counts where the inside was pierced, "
                "injected, rolled or ground",
                grown=way.number(figures["grown"]),
            )
        )
    return found


def _other_table(figures: dict[str, Any], _way: Reader) -> list[Message]:
    species = _SPECIES.get(figures["species"], figures["species"])
    return [
        N_(
            "the table of whole beef, pork and lamb does not hold for %(species)s; read the one "
            "for poultry",
            species=species,
        )
    ]


def _killing(figures: dict[str, Any], way: Reader) -> list[Message]:
    margin = way.gap(figures["margin_k"])
    if figures["share"] is None:
        first = N_(
            "the core passes %(hot)s with %(margin)s taken off for the probe",
            hot=way.temperature(71.1),
            margin=margin,
        )
    else:
        first = N_(
            "with %(margin)s taken off for the probe the core earns %(share)s of the time that the "
            "table asks for 6.5 log (hottest %(hottest)s)",
            margin=margin,
            share=way.local(f"{figures['share']:.2g}"),
            hottest=way.temperature(figures["hottest_c"]),
        )
    logs = figures["logs"]
    if logs is None or logs > _MANY_LOGS:
        last = N_("the coldest lean place of the model, unmargined: more than 12 log of Salmonella")
    else:
        last = N_(
            "the coldest lean place of the model, unmargined: %(logs)s log of Salmonella",
            logs=way.number(logs),
        )
    return [first, last, N_("killing never undoes a toxin made before")]


def _oven(figures: dict[str, Any], way: Reader) -> list[Message]:
    return [
        N_(
            "air of %(air)s meets no row for dry ovens and %(mass)s (%(least)s at the least; the "
            "damp rows need 90 %% humidity or a sealed bag)",
            air=way.temperature(figures["air_c"]),
            mass=way.mass(figures["mass_kg"], 1),
            least=way.temperature(figures["least_c"]),
        )
    ]


def _hold(code: str, figures: dict[str, Any], way: Reader) -> list[Message]:
    if code == "hold unknown":
        return [N_("no temperature is given for the hold")]
    if figures["core_c"] is None:
        first = N_("air of %(air)s", air=way.temperature(figures["air_c"]))
    else:
        first = N_(
            "air of %(air)s; core %(core)s at the end of the protocol's hold (95 of 100 draws are "
            "above)",
            air=way.temperature(figures["air_c"]),
            core=way.temperature(figures["core_c"]),
        )
    usual, careful = way.temperature(57.0), way.temperature(60.0)
    verdict = {
        "hold below all": N_("below every published limit"),
        "hold below 57": N_(
            "below the usual %(usual)s; only for whole roasts cooked by the table", usual=usual
        ),
        "hold below 60": N_("below the careful %(careful)s", careful=careful),
        "hold above 60": N_("above the careful %(careful)s", careful=careful),
    }[code]
    return [first, verdict]


def _standing(figures: dict[str, Any], way: Reader) -> list[Message]:
    return [
        N_(
            "up to %(stands)s without heat that is controlled; %(within)s at the most, with the "
            "time marked, or keep it at %(usual)s by a thermometer",
            stands=_hours(figures["stands_s"], way),
            within=_hours(figures["within_s"], way),
            usual=way.temperature(57.0),
        )
    ]


def _left_over(figures: dict[str, Any], way: Reader) -> list[Message]:
    def took(seconds: float | None) -> str | Message:
        return N_("more than two days") if seconds is None else _hours(seconds, way)

    found = [
        N_(
            "whole in a fridge at %(fridge)s the middle would take %(first)s from %(hot)s to "
            "%(warm)s and %(last)s to %(cold)s; told are 2 h, and 6 h in all",
            fridge=way.temperature(4.0),
            hot=way.temperature(57.0),
            warm=way.temperature(21.0),
            cold=way.temperature(5.0),
            first=took(figures["first_s"]),
            last=took(figures["last_s"]),
        )
    ]
    if figures["slow"]:
        found.append(N_("cut and spread what is left over"))
    return found


def _left_over_unknown(_figures: dict[str, Any], way: Reader) -> list[Message]:
    return [
        N_(
            "from %(hot)s to %(warm)s within 2 h and to %(cold)s within 6 h in all: slice and "
            "spread it thin, how fast it cools was not worked out",
            hot=way.temperature(57.0),
            warm=way.temperature(21.0),
            cold=way.temperature(5.0),
        )
    ]
