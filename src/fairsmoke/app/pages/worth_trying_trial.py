"""A trial from the answer to "which method is worth trying": the fields of its questions."""

from collections.abc import Mapping
from typing import Any

from fairsmoke.app.pages.kept_answers import KeptAnswers
from fairsmoke.messages.message import N_
from fairsmoke.planning.methods.contrasts import Contrast
from fairsmoke.planning.methods.space import MethodSettings
from fairsmoke.telling.draw_words import size_words
from fairsmoke.telling.method_words import contrast_words, setting_words
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.simulator_words import CUT_NAMES
from fairsmoke.telling.worth_trying_chart import contrast_from
from fairsmoke.trial.protocol import Humidity

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
"""The fields of a method in the questions, by the factors."""


def trial_fields(kept: KeptAnswers, digest: str, measure: int, row: int) -> dict[str, str] | None:
    """Return the fields of a trial of one contrast of the ranking, all else as in the base.

    None when the answer is no longer kept or has no such row.
    """
    entry, reader = kept.store.find("worth-trying", digest), kept.page.way
    numbers = None if entry is None else entry.get("numbers")
    if entry is None or numbers is None or not 0 <= measure < len(numbers["ranked"]):
        return None
    kind, best = list(numbers["ranked"].items())[measure]
    if not 0 <= row < len(best):
        return None
    one, form = numbers["knobs"][best[row]], entry.get("form") or {}
    contrast, cut = contrast_from(one), form.get("piece-cut", "")
    what = reader.say(contrast_words(contrast))
    worthwhile = size_words(one["seen"][kind]["worthwhile"], "share" if kind == "yield" else "time")
    fields = _method(numbers["base"], reader) | {
        "cut": reader.say(CUT_NAMES.get(cut, cut)),
        "species": _SPECIES.get(cut, "other"),
        "title": what[:60],
        "differs": what,
        "question": reader.say(N_("What does it change: %(what)s?", what=what)),
        "measure-0-kind": kind,
        "measure-0-worthwhile": reader.say(worthwhile),
        "tasters": "0",
        "cooks": "2",
    }
    fields |= {name: form.get(name, "") for name in ("price_piece", "price_cook", "currency")}
    return fields | arm_fields(contrast, fields["wrap_at"], reader)


def _method(base: Mapping[str, Any], reader: Reader) -> dict[str, str]:
    method = MethodSettings(**base)
    found = {name: reader.say(setting_words(of, method)) for of, name in _FIELDS.items()}
    return found | {"wrap": _wrap_field(method), "humidity": _humidity(method)}


def _wrap_field(method: MethodSettings) -> str:
    return "" if method.wrap == "bare" else method.wrap


def _humidity(method: MethodSettings) -> str:
    return str(Humidity.WATER_PAN if method.pan else Humidity.NONE)


def arm_fields(contrast: Contrast, wrap_at: str, reader: Reader) -> dict[str, str]:
    """Return what the arms say: the factor that differs, and nothing else."""
    factor, found = contrast.factor, {}
    if factor == "wrap":
        # Left out of what all of them do: there is no word for taking a wrap away again.
        found["wrap"] = ""
    for at, method in enumerate((contrast.before, contrast.after)):
        found[f"arm-{at}-name"] = reader.say(setting_words(factor, method))
        if factor == "pan":
            found[f"arm-{at}-humidity"] = _humidity(method)
        elif factor != "wrap":
            found[f"arm-{at}-{_FIELDS[factor]}"] = found[f"arm-{at}-name"]
        elif method.wrap != "bare":
            found |= {f"arm-{at}-wrap": method.wrap, f"arm-{at}-wrap_at": wrap_at}
    return found
