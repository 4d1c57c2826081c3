"""A simulation as text for a terminal, and as JSON: what is expected of every arm, how sure."""

from collections.abc import Callable, Iterator
from typing import Any

from fairsmoke.cooking import UNKNOWNS, Difference
from fairsmoke.quantity import METRIC, Units, show_duration, show_temperature
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.lines import wrapped
from fairsmoke.telling.numbers import NOT_KNOWN, show_chance
from fairsmoke.telling.simulated_data import LEVEL, STANDING, ArmSummary, Range, Summary

FORM = 1
"""Raised when a key of the JSON changes its meaning or goes away."""

MOST_LOG = 12.0
"""Log reductions above this are told as "more than": no count of organisms reaches further."""

ROWS: tuple[tuple[str, str, str], ...] = (
    ("cook_s", "time on the cooker", "time"),
    ("end_s", "time to the end", "time"),
    ("core_end_c", "core at the end", "temperature"),
    ("yield", "yield", "share"),
    ("collagen_dissolved", "collagen dissolved", "share"),
    ("cap_rendered", "fat cap rendered", "share"),
    ("log_salmonella", "Salmonella, log10", "log"),
    ("log_listeria", "Listeria, log10", "log"),
    ("growth_s", "core at 4 to 60 °C", "time"),
)
SPLIT = (
    ("yield", "kept"),
    ("evaporated", "evaporated"),
    ("dripped", "dripped"),
    ("rendered", "fat run off"),
    ("in_wrap", "juice in the wrap"),
)
_LABELS = 2 + max(len(label) for _, label in SPLIT)
COMPARED = ("cook_s", "end_s", "yield", "collagen_dissolved", "cap_rendered")
_WORDS = {"time": ("longer", "shorter"), "share": ("more", "less")}


def simulated_text(told: Summary, units: Units = METRIC) -> str:
    """Return the simulation in plain words, lines of about ``lines.WIDTH`` letters."""
    lines = [*_heading(told)]
    for arm in told.arms:
        lines += ["", *_arm(arm, units)]
    for change in told.differences:
        lines += ["", *_difference(change.name, change.values, told.arms[0].name)]
    if len(told.pieces) > 1:
        lines += ["", *_pieces(told)]
    if told.assumed:
        lines += ["", "TAKEN AS GIVEN"]
        for text in told.assumed:
            lines += wrapped(text, "  ")
    lines += ["", "CAUTIONS"]
    for text in told.cautions:
        lines += wrapped(f"{text}.", "  ")
    return "\n".join(lines)


def _heading(told: Summary) -> Iterator[str]:
    yield f"{told.title} (simulated, nothing was cooked)"
    pieces = "1 piece" if len(told.pieces) == 1 else f"{len(told.pieces)} pieces"
    arms = "1 arm" if len(told.arms) == 1 else f"{len(told.arms)} arms"
    yield from wrapped(
        f"{arms} on {pieces}, {told.draws:,} draws of what is not known, the same for every arm "
        f"(seed {told.seed}). In brackets: where {100 * LEVEL:.0f} % of the draws lie."
    )
    yield from wrapped(f"{STANDING}.")
    if not told.complete:
        yield from wrapped(
            f"Not finished: {told.cooks_done:,} of {told.cooks:,} cooks were run. "
            "The same command goes on from there."
        )


def _arm(arm: ArmSummary, units: Units) -> Iterator[str]:
    yield arm.name.upper()
    wide = _LABELS
    for name, label, kind in ROWS:
        shown = arm.values[name]
        if name == "end_s" and _same(shown, arm.values["cook_s"]):
            continue
        if name == "cap_rendered" and not shown.known:
            continue
        yield f"  {label.ljust(wide)}  {show_range(shown, kind, units)}"
    if arm.marks_s:
        yield "  the core reaches"
        for core_c, when in arm.marks_s.items():
            mark = show_temperature(core_c, units)
            yield f"    {mark.ljust(wide - 2)}  {show_range(when, 'time', units)}"
    yield "  of the raw mass"
    for name, label in SPLIT:
        if name == "in_wrap" and not arm.values[name].high >= 0.0005:
            continue
        yield f"    {label.ljust(wide - 2)}  {show_range(arm.values[name], 'share', units)}"
    if arm.values["fat_in_wrap"].high >= 0.0005:
        # Of fat run off and fat added: beside the parts above, not one of them.
        fat = show_range(arm.values["fat_in_wrap"], "share", units)
        yield f"  {'fat in the wrap'.ljust(wide)}  {fat}"


def _same(one: Range, other: Range) -> bool:
    return (one.low, one.middle, one.high) == (other.low, other.middle, other.high)


def _difference(name: str, values: dict[str, Difference], base: str) -> Iterator[str]:
    yield f"{name.upper()} LESS {base.upper()}"
    kinds = {row[0]: (row[1], row[2]) for row in ROWS}
    wide = max(len(kinds[key][0]) for key in COMPARED)
    for key in COMPARED:
        label, kind = kinds[key]
        found = values[key]
        shown = show_change(found, kind)
        if found.middle != found.middle:
            continue
        if key == "end_s" and shown == show_change(values["cook_s"], kind):
            continue
        yield f"  {label.ljust(wide)}  {shown}"


def _pieces(told: Summary) -> Iterator[str]:
    yield "PIECE BY PIECE (time on the cooker; yield)"
    for piece in told.pieces:
        yield f"  {piece.name}"
        for arm in told.arms:
            values = piece.arms[arm.id]
            time = show_range(values["cook_s"], "time", METRIC)
            kept = show_range(values["yield"], "share", METRIC)
            yield from wrapped(f"{arm.name}: {time}; {kept}", "    ")


def show_range(shown: Range, kind: str, units: Units) -> str:
    """Return "about 13 h (11 h to 16 h)" in digits that the width of the interval can bear."""
    if not shown.known:
        return f"{NOT_KNOWN}: most draws never got there"
    if kind == "log":
        return _log(shown)
    write = _writer(kind, shown.width, units)
    return f"{write(shown.middle)} ({_ends(write(shown.low), write(shown.high))})"


def _ends(low: str, high: str) -> str:
    """Return "52 to 60 %": a unit that both ends share is written once, times stay whole."""
    first, last = low.split(" "), high.split(" ")
    if len(first) == len(last) == 2 and first[1] == last[1] and first[1] not in ("h", "min"):
        return f"{first[0]} to {high}"
    return f"{low} to {high}"


def _log(shown: Range) -> str:
    if shown.low > MOST_LOG:
        return f"more than {MOST_LOG:.0f} in the coldest part"
    ends = [
        f"more than {MOST_LOG:.0f}" if end > MOST_LOG else f"{end:.1f}"
        for end in (shown.middle, shown.low, shown.high)
    ]
    return f"{ends[0]} ({ends[1]} to {ends[2]}) in the coldest part"


def _writer(kind: str, width: float, units: Units) -> Callable[[float], str]:
    if kind == "time":
        step = 300.0 if width < 2 * 3600 else 600.0 if width < 6 * 3600 else 1800.0
        return lambda value: show_duration(step * round(value / step))
    if kind == "temperature":
        return lambda value: show_temperature(value, units)
    digits = 0 if width >= 0.03 else 1
    return lambda value: f"{100 * value:.{digits}f} %"


def show_change(found: Difference, kind: str) -> str:
    """Return "−2.1 points (−4.0 to −0.3), less in 95 % of the draws"."""
    write = _signed(kind, found.high - found.low)
    more, less = _WORDS[kind]
    share = found.chance_more
    word, chance = (more, share) if share >= 0.5 else (less, 1.0 - share)
    sure = f"{word} in {show_chance(chance)} of draws" if chance < 1.0 else f"{word} in every draw"
    ends = _ends(write(found.low), write(found.high))
    return f"{write(found.middle)} ({ends}), {sure}"


def _signed(kind: str, width: float) -> Callable[[float], str]:
    step = 300.0 if width < 6 * 3600 else 900.0
    digits = 0 if width >= 0.1 else 1

    def write(value: float) -> str:
        if kind == "time":
            shown = show_duration(abs(step * round(value / step)))
        else:
            shown = f"{100 * abs(value):.{digits}f} points"
        seen = any(digit in shown for digit in "123456789")
        return shown if not seen else f"+{shown}" if value > 0 else f"−{shown}"

    return write


def simulated_json(told: Summary) -> dict[str, Any]:
    """Return the simulation as dictionaries, lists, numbers, text and None.

    Times in s, temperatures in °C, shares of the raw mass, log10 reductions as worked out. A share
    that no draw has is None.
    """
    return {
        "form": FORM,
        "simulated": True,
        "title": told.title,
        "complete": told.complete,
        "cooks": told.cooks,
        "cooks_done": told.cooks_done,
        "draws": told.draws,
        "seed": told.seed,
        "whole_body": told.whole_body,
        "level": LEVEL,
        "arms": [_arm_json(arm) for arm in told.arms],
        "base": told.arms[0].id,
        "differences": [
            {"arm": one.arm, "base": told.arms[0].id, "values": plain(one.values)}
            for one in told.differences
        ],
        "pieces": plain(told.pieces),
        "not_known": [
            {
                "name": u.name,
                "sd": u.standard_deviation,
                "of_logarithm": u.logarithmic,
                "why": u.why,
            }
            for u in UNKNOWNS
        ],
        "assumed": list(told.assumed),
        "cautions": [STANDING, *told.cautions],
    }


def _arm_json(arm: ArmSummary) -> dict[str, Any]:
    low, middle, high = arm.band_c if arm.band_c.size else ([], [], [])
    return {
        "id": arm.id,
        "name": arm.name,
        "values": plain(arm.values),
        "marks": [{"core_c": c, **plain(when)} for c, when in arm.marks_s.items()],
        "stages": [{"id": stage, **plain(end)} for stage, end in arm.stages_s.items()],
        "core": {
            "hours": plain(arm.band_hours),
            "low_c": plain(list(low)),
            "middle_c": plain(list(middle)),
            "high_c": plain(list(high)),
        },
        "never_ended": arm.never_ended,
        "not_worked_out": arm.not_worked_out,
    }
