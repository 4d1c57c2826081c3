"""A trial from the answer to "which method is worth trying": the fields of its questions."""

from pathlib import Path
from typing import Any

from fairsmoke.app.pages.stored_answers import read_kept
from fairsmoke.app.pages.words import CUT_NAMES
from fairsmoke.app.pages.worth_trying import found_of, place_of
from fairsmoke.app.pages.worth_trying_shown import Shown
from fairsmoke.messages.message import N_
from fairsmoke.telling.reader import Reader

_SPECIES = {
    "brisket": "beef",
    "brisket flat": "beef",
    "chuck roast": "beef",
    "short ribs": "beef",
    "pork shoulder": "pork",
    "pork ribs": "pork",
    "turkey breast": "turkey",
}
_FIELDS = {
    "pit_c": "pit",
    "wrap_at_c": "wrap_at",
    "until_c": "until",
    "hold_c": "hold",
    "hold_s": "hold_for",
}
"""The fields of a method in the questions, by the knobs."""


def trial_fields(
    results: Path, key: str, measure: int, row: int, way: Reader
) -> dict[str, str] | None:
    """Return the fields of a trial that turns one knob of the ranking, all else as in the base.

    None when the answer is no longer kept, has no such row, or turns what the questions do not
    ask about: the water pan.
    """
    found, form = found_of(results, key), read_kept(place_of(results, key) / "form.json")
    if found is None or form is None or not 0 <= measure < len(found["measures"]):
        return None
    ranking = found["measures"][measure]
    if not 0 <= row < len(ranking["ranked"]) or ranking["ranked"][row]["knob"] == "pan":
        return None
    turn = ranking["ranked"][row]
    shown, cut = Shown(way), form.get("piece-cut", "")
    what = shown.turn(turn["knob"], turn["before"], turn["after"])
    fields = _method(found["base"], shown) | {
        "cut": way.say(CUT_NAMES.get(cut, cut)),
        "species": _SPECIES.get(cut, "other"),
        "title": what[:60],
        "differs": what,
        "question": way.say(N_("What does it change: %(what)s?", what=what)),
        "measure-0-kind": ranking["kind"],
        "measure-0-worthwhile": shown.size(ranking["kind"], ranking["worthwhile"]),
        "tasters": "0",
        "cooks": "2",
    }
    fields |= {name: form.get(name, "") for name in ("price_piece", "price_cook", "currency")}
    return fields | _arms(turn, shown, fields)


def _method(way: dict[str, Any], shown: Shown) -> dict[str, str]:
    found = {field: shown.setting(knob, way) for knob, field in _FIELDS.items()}
    return found | {"wrap": "" if way["wrap"] == "bare" else way["wrap"]}


def _arms(turn: dict[str, Any], shown: Shown, fields: dict[str, str]) -> dict[str, str]:
    """Return what the arms say: the knob that is turned, and nothing else."""
    knob, found = turn["knob"], {}
    if knob == "wrap":
        # Left out of what all of them do: there is no word for taking a wrap away again.
        found["wrap"] = ""
    for at, way in enumerate((turn["before"], turn["after"])):
        found[f"arm-{at}-name"] = shown.setting(knob, way)
        if knob != "wrap":
            found[f"arm-{at}-{_FIELDS[knob]}"] = shown.setting(knob, way)
        elif way["wrap"] != "bare":
            found[f"arm-{at}-wrap"] = way["wrap"]
            found[f"arm-{at}-wrap_at"] = fields["wrap_at"]
    return found
