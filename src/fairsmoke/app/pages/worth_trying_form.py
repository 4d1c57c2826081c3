"""The form of "which method is worth trying": its fields at first, and what they ask."""

from collections.abc import Mapping

from fairsmoke.answers.worth_trying_kept import WorthAsked
from fairsmoke.app.pages.what_if_form import usual_form, with_unit
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Message
from fairsmoke.planning.methods.space import GOALS, USUAL_GOALS, Space, Way
from fairsmoke.quantity import Units, show_duration, show_temperature

Fields = Mapping[str, str]

PIECE_FIELDS: dict[str, Message] = {
    "mass": N_("Trimmed weight"),
    "length": N_("Length"),
    "width": N_("Width"),
    "thick": N_("Where it is thickest"),
    "thin": N_("Where it is thinnest, if you know"),
    "fat_cap": N_("Its fat cap, if you know"),
    "start": N_("When it goes on it has"),
}
SPAN_FIELDS: dict[str, Message] = {
    "pit": N_("Pit"),
    "wrap_at": N_("Wrapped when the core is at"),
    "until": N_("Comes off when the core is at"),
    "hold": N_("Holding cabinet"),
    "hold_for": N_("Held for"),
}
GOAL_NAMES: dict[str, Message] = {
    "yield": N_("yield"),
    "tenderness": N_("tenderness (collagen dissolved)"),
    "crust": N_("crust"),
    "cap": N_("fat cap rendered"),
    "time": N_("time to the end of the hold"),
}
PANS: dict[str, Message] = {
    "both": N_("with and without"),
    "without": N_("without"),
    "with": N_("with"),
}
WRAP_KINDS = ("bare", "paper", "foil", "boat")

_OPTION = {"wrap_at": "wrap-at", "hold_for": "hold-for"}
_KNOBS = {
    "pit": "pit_c",
    "wrap_at": "wrap_at_c",
    "until": "until_c",
    "hold": "hold_c",
    "hold_for": "hold_s",
}
"""The fields of a method and of the ranges, by what they are called inside."""


def usual_fields(units: Units) -> dict[str, str]:
    """Return the fields as they are first seen: usual ranges, a piece as many cook it."""
    space, base = Space(), Way()
    found = {f"piece-{name}": said for name, said in usual_form(units).piece.items()}
    for name, knob in _KNOBS.items():
        span = getattr(space, knob)
        found[f"{name}-low"] = _shown(name, span.low, units)
        found[f"{name}-high"] = _shown(name, span.high, units)
        found[f"base-{name}"] = _shown(name, getattr(base, knob), units)
    found |= {f"wrap-{kind}": "yes" for kind in WRAP_KINDS}
    found |= {f"goal-{goal}": "yes" for goal in USUAL_GOALS}
    return found | {
        "pan": "both",
        "hold_wrap": space.hold_wrap,
        "base-wrap": base.wrap,
        "base-pan": "no",
        "worth-yield": "2",
        "worth-time": "1 h",
        "halves": "no",
        "methods": "200",
        "room": "20 °C" if units.temperature == "C" else "68 °F",
    }


def _shown(name: str, value: float, units: Units) -> str:
    if name == "hold_for":
        return show_duration(value)
    return show_temperature(value, units, 0)


def asked_of(fields: Fields, units: Units) -> WorthAsked:
    """Return what is asked; a bare number has the person's unit.

    Raises JobError for what cannot be read as it is written.
    """

    def said(name: str, field: str) -> str:
        text = with_unit(name, fields.get(field, "").strip()[:60], units)
        # Options are joined by commas further down; a comma in a number is a decimal one.
        return text.replace(",", ".")

    piece = {"cut": fields.get("piece-cut", "")}
    piece |= {name: said(name, f"piece-{name}") for name in PIECE_FIELDS}
    spans = {}
    for name in SPAN_FIELDS:
        ends = [said(name, f"{name}-{end}") for end in ("low", "high")]
        spans[_OPTION.get(name, name)] = " to ".join(end for end in ends if end)
    base = {_OPTION.get(name, name): said(name, f"base-{name}") for name in SPAN_FIELDS}
    base |= {"wrap": fields.get("base-wrap", ""), "pan": fields.get("base-pan", "")}
    methods = fields.get("methods", "").strip()
    if not (methods.isascii() and methods.isdigit() and len(methods) < 6):
        raise JobError(f"methods '{methods[:20]}': write a whole number, such as 200")
    points = fields.get("worth-yield", "").strip()[:30].replace(",", ".")
    return WorthAsked(
        piece=piece,
        spans=spans,
        wraps=[kind for kind in WRAP_KINDS if fields.get(f"wrap-{kind}")],
        pan=fields.get("pan", ""),
        hold_wrap=fields.get("hold_wrap", ""),
        base=base,
        goals=[goal for goal in GOALS if fields.get(f"goal-{goal}")],
        worthwhile=[
            f"{points} points" if points.replace(".", "", 1).isdigit() else points,
            said("hold_for", "worth-time"),
        ],
        halves=fields.get("halves") == "yes",
        prices=[fields.get(f"price_{one}", "").strip()[:20] for one in ("piece", "cook")],
        currency=fields.get("currency", "").strip()[:12],
        kitchen={"room": said("room", "room"), "altitude": said("altitude", "altitude")},
        methods=int(methods),
    )
