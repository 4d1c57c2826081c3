"""The form of a what-if: what its fields say at first, and reading what came back."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from fairsmoke.answers.what_if import DRAWS, WhatIf
from fairsmoke.messages.message import N_, Message
from fairsmoke.quantity import Units

RIVALS = 2
"""Arms beside the first."""

METHOD_FIELDS: dict[str, Message] = {
    "pit": N_("Pit"),
    "humidity": N_("Moisture"),
    "wrap": N_("Wrap"),
    "wrap_at": N_("Wrapped when the core is at"),
    "finish": N_("Pit once wrapped, if other"),
    "until": N_("Comes off when the core is at"),
    "longest": N_("Longest time for each stage"),
    "hold": N_("Holding cabinet, if it is held"),
    "hold_for": N_("Held for"),
    "hold_wrap": N_("Wrap in the hold, if other"),
    "fat": N_("Fat added in the wrap"),
}
"""The fields of a method, in the order of a cook."""

_TEMPERATURES = {"pit", "wrap_at", "finish", "until", "hold", "start", "room", "tender"}
_LENGTHS = {"length", "width", "thick", "thin", "fat_cap"}
_TIMES = {"longest", "hold_for"}
_BARE = re.compile(r"^-?\d+(?:[.,]\d+)?$")


@dataclass
class Form:
    """What stands in the form: the piece, the arms (the first one whole, others as they differ)."""

    piece: dict[str, str]
    methods: list[dict[str, str]]
    kitchen: dict[str, str] = field(default_factory=dict)
    draws: int = DRAWS[0]
    whole_body: bool = True

    def asked(self) -> WhatIf:
        """Return what is asked; a rival's empty field is as in the first arm, "-" is none."""
        base = self.methods[0]
        rivals = [one for one in self.methods[1:] if any(one.values())]
        whole = [{n: _rival(said, base[n]) for n, said in one.items()} for one in rivals]
        return WhatIf(
            piece=self.piece,
            methods=[base, *whole],
            kitchen={name: value for name, value in self.kitchen.items() if name != "tender"},
            tender=self.kitchen.get("tender") or "94 °C",
            draws=self.draws,
            whole_body=self.whole_body,
        )


def _rival(said: str, base: str) -> str:
    return base if not said else "" if said == "-" else said


def usual_form(units: Units) -> Form:
    """Return the form as it is first seen: a piece and a method as many cook it."""
    celsius = units.temperature == "C"

    def degrees(value_c: int, value_f: int) -> str:
        return f"{value_c} °C" if celsius else f"{value_f} °F"

    base = {
        "pit": degrees(121, 250),
        "humidity": "none",
        "wrap": "",
        "wrap_at": degrees(71, 160),
        "finish": "",
        "until": degrees(94, 201),
        "longest": "",
        "hold": "",
        "hold_for": "2 h",
        "hold_wrap": "",
        "fat": "",
    }
    metric = units.length == "cm"
    piece = {
        "cut": "brisket",
        "mass": "5.6 kg" if units.mass == "kg" else "12 lb 4 oz",
        "length": "42 cm" if metric else "16.5 in",
        "width": "28 cm" if metric else "11 in",
        "thick": "7.5 cm" if metric else "3 in",
        "start": degrees(4, 40),
    }
    rival = dict.fromkeys(base, "")
    return Form(
        piece,
        [base, {**rival, "wrap": "paper"}, dict(rival)],
        {"room": degrees(20, 68), "altitude": "", "air": "draught", "tender": degrees(94, 201)},
    )


def kept_form(asked: WhatIf) -> Form:
    """Return the form that asks the same again; rivals show only what differs."""
    base, *rivals = asked.methods
    found = [
        {name: _differs(said, base.get(name, "")) for name, said in one.items()} for one in rivals
    ]
    empty = dict.fromkeys(base, "")
    found += [dict(empty)] * (RIVALS - len(found))
    kitchen = {**asked.kitchen, "tender": asked.tender}
    return Form(dict(asked.piece), [dict(base), *found], kitchen, asked.draws, asked.whole_body)


def _differs(said: str, base: str) -> str:
    return "" if said == base else said or "-"


def filled(given: Mapping[str, str], units: Units) -> Form:
    """Return the form as it was sent; a bare number gets the person's unit."""
    usual = usual_form(units)

    def said(prefix: str, name: str) -> str:
        return with_unit(name, given.get(f"{prefix}-{name}", "").strip()[:60], units)

    draws = given.get("draws", "")
    return Form(
        {name: said("piece", name) for name in usual.piece},
        [{name: said(f"arm{at}", name) for name in METHOD_FIELDS} for at in range(1 + RIVALS)],
        {name: said("kitchen", name) for name in usual.kitchen},
        int(draws) if draws in map(str, DRAWS) else DRAWS[0],
        given.get("body") != "quick",
    )


def with_unit(name: str, text: str, units: Units) -> str:
    """Return the text of a field with its unit: "250" is 250 °F to whoever thinks in °F."""
    if not _BARE.match(text):
        return text
    number = text.replace(",", ".")
    if name in _TEMPERATURES:
        return f"{number} °{units.temperature}"
    if name in _LENGTHS:
        return f"{number} {units.length}"
    if name in _TIMES:
        return f"{number} h"
    if name == "fat":
        return f"{number} {'g' if units.mass == 'kg' else 'oz'}"
    return f"{number} {units.mass}" if name == "mass" else number
