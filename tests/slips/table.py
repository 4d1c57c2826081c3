"""The slips of a tired person, as they are typed. docs/slips.md is this table for reading.

Which of them people make: common practice, no source.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from tests.slips.hall import FIRST, HOURS, LAST, NIGHTS

ON = NIGHTS["may"] + timedelta(hours=1)
OFF = ON + timedelta(hours=HOURS[FIRST])
LAST_OFF = NIGHTS["june"] + timedelta(hours=1 + HOURS[LAST])
REFUSED = "refused"
"""Cannot be read at all, or does not fit together: the mend is named."""


@dataclass(frozen=True)
class Slip:
    """One slip.

    ``kind``     what is typed: "weighing", "event", "reading", "probe" (a move), or a correction
                 ("correct weighing", "correct event", "correct placement") of ``handle``
    ``typed``    its fields
    ``asks``     what the question says, or `REFUSED`
    ``likely``   a value that must be among the likely ones, "" where none can be known
    """

    group: str
    what: str
    kind: str
    typed: dict[str, Any]
    asks: str
    likely: str = ""
    handle: str = field(default="", kw_only=True)


def weighed(reading: str, parts: str, piece: str = FIRST, **more: Any) -> dict[str, Any]:
    at = {"trimmed": ON - timedelta(minutes=30), "bought": ON - timedelta(hours=2)}
    when = at.get(parts.split()[0], (OFF if piece != LAST else LAST_OFF) + timedelta(hours=1))
    if parts == "rub" and piece == LAST:
        when = NIGHTS["june"]
    return {"reading": reading, "sum": parts, "piece": piece, "at": when, **more}


def done(event: str, at: datetime, piece: str = FIRST) -> dict[str, Any]:
    return {"event": event, "at": at, "pieces": [piece]}


_W, _E, _R = "weighing", "event", "reading"
_CW, _CE, _CP = "correct weighing", "correct event", "correct placement"
_RAW, _COOKED, _HELD, _SERVED = "trimmed meat", "cooked meat", "held meat", "served meat"
_PLAN, _CUT, _PART = "planned", "such a cut", "such a thing"
_GAINED, _LOST, _SAME = "gains nothing", "much to lose", "the same was weighed before"
_SMALL = "may-paper"
_TRAY = {"piece": ""}
_HOUR = timedelta(hours=1)

SLIPS: tuple[Slip, ...] = (
    Slip("unit", "g of a roast typed as kg", _W, weighed("5600 kg", _RAW), _PLAN, "5600 g"),
    Slip("unit", "kg typed as lb", _W, weighed("5.6 lb", _RAW), _PLAN, "5.6 kg"),
    Slip("unit", "lb typed as kg", _W, weighed("12.3 kg", _RAW), _PLAN, "12.3 lb"),
    Slip("unit", "kg typed as g", _W, weighed("5.6 g", _RAW), _PLAN, "5.6 kg"),
    Slip("unit", "kg typed as oz", _W, weighed("5.6 oz", _RAW), _PLAN, "5.6 kg"),
    Slip("unit", "g typed as oz", _W, weighed("5600 oz", _RAW), _PLAN, "5600 g"),
    Slip("unit", "cooked, lb as kg", _W, weighed("7.7 kg", _COOKED, LAST), _GAINED, "7.7 lb"),
    Slip("unit", "cooked, kg as lb", _W, weighed("3.5 lb", _COOKED, LAST), _LOST, "3.5 kg"),
    Slip("unit", "cooked, g as kg", _W, weighed("3500 kg", _COOKED, LAST), _CUT, "3500 g"),
    Slip("unit", "cooked, oz as g", _W, weighed("124 g", _COOKED, LAST), _CUT, "124 oz"),
    Slip("unit", "served, lb as kg", _W, weighed("6.2 kg", _SERVED), _GAINED, "6.2 lb"),
    Slip("unit", "rub, g as kg", _W, weighed("45 kg", "rub", LAST), _PART, "45 g"),
    Slip("unit", "drippings, g as kg", _W, weighed("400 kg", "drippings", LAST), _PART, "400 g"),
    Slip("unit", "tray, g as kg", _W, weighed("830 kg", "blue tray", ""), _PART, "830 g"),
    Slip("unit", "no unit", _W, weighed("5.6", _RAW), REFUSED),
    Slip("digit", "a digit too many", _W, weighed("56 kg", _RAW), _PLAN, "5.6 kg"),
    Slip("digit", "a nought before it", _W, weighed("0.56 kg", _RAW), _PLAN, "5.6 kg"),
    Slip("digit", "a roast of 560 kg", _W, weighed("560 kg", _RAW), _PLAN, "5.6 kg"),
    Slip("digit", "2.4 as 4.2", _W, weighed("4.2 kg", _RAW, _SMALL), _PLAN, "2.4 kg"),
    Slip("digit", "3.51 as 5.31", _W, weighed("5.31 kg", _COOKED, LAST), "next to", "3.51 kg"),
    Slip("digit", "cooked, 10 times", _W, weighed("35 kg", _COOKED, LAST), _CUT, "3.5 kg"),
    Slip("digit", "cooked, a tenth", _W, weighed("0.35 kg", _COOKED, LAST), _LOST, "3.5 kg"),
    Slip("digit", "3.3 as 5.3, two keys off", _W, weighed("5.3 kg", _COOKED, LAST), "next to"),
    Slip("digit", "served, a tenth", _W, weighed("0.28 kg", _SERVED), _LOST, "2.8 kg"),
    Slip("comma", "two commas", _W, weighed("5,600,5 kg", _RAW), REFUSED),
    Slip("comma", "56,0 for 5,60", _W, weighed("56,0 kg", _RAW), _PLAN, "5.6 kg"),
    Slip("comma", "0,351 for 3,51", _W, weighed("0,351 kg", _COOKED, LAST), _LOST, "3.51 kg"),
    Slip(
        "piece", "the big one's raw weight", _W, weighed("5.6 kg", _RAW, _SMALL), _PLAN, "may bare"
    ),
    Slip("piece", "the small one's, cooked", _W, weighed("1.5 kg", _HELD), _LOST, "may paper"),
    Slip("piece", "the big one's, held", _W, weighed("3.3 kg", _HELD, _SMALL), _GAINED, "may bare"),
    Slip("piece", "the big one's, served", _W, weighed("2.9 kg", _SERVED, _SMALL), _GAINED),
    Slip("piece", "weighed raw once more", _W, weighed("4.9 kg", f"{_RAW} + green tray"), _SAME),
    Slip("piece", "weighed cooked once more", _W, weighed("3.1 kg", _COOKED), _SAME),
    Slip(
        "piece",
        "cooked corrected by the wrong one's",
        _CW,
        {"reading": "1.2 kg"},
        _LOST,
        handle="may-bare-off",
    ),
    Slip(
        "piece",
        "the cooked weight corrected into the raw one",
        _CW,
        {"reading": "3.42 kg", "sum": "trimmed meat"},
        "next to",
        handle="may-bare-raw",
    ),
    Slip(
        "piece",
        "a cooked weighing moved to the other piece",
        _CW,
        {"piece": "may-paper"},
        _SAME,
        handle="may-bare-off",
    ),
    Slip(
        "unit",
        "a correction in lb typed as kg",
        _CW,
        {"reading": "12.3 kg"},
        _PLAN,
        handle="june-bare-raw",
    ),
    Slip(
        "night",
        "the piece of the other night",
        _CW,
        {"cook": "june"},
        "belongs to the cook",
        handle="may-bare-off",
    ),
    Slip(
        "night",
        "the date of the other night",
        _W,
        weighed("3.3 kg", _HELD) | {"at": NIGHTS["june"] + 15 * _HOUR},
        "days away",
    ),
    Slip(
        "night",
        "last year's date",
        _W,
        weighed("3.3 kg", _HELD) | {"at": OFF - timedelta(days=365)},
        "days away",
    ),
    Slip(
        "order",
        "cooked before it went on",
        _W,
        weighed("3.3 kg", _HELD) | {"at": ON - _HOUR},
        "cooked before it went on",
    ),
    Slip(
        "order",
        "raw after it came off",
        _W,
        weighed("5.6 kg", _RAW) | {"at": OFF + _HOUR},
        "before it was weighed raw",
    ),
    Slip(
        "twice",
        "a weighing sent twice",
        _W,
        weighed("0.045 kg", "rub") | {"at": ON - timedelta(minutes=50, seconds=-20)},
        "sent twice",
    ),
    Slip("twice", "put on twice", _E, done("on", ON + timedelta(seconds=1)), "pressed twice"),
    Slip("twice", "wrapped twice", _E, done("wrap", ON + 5 * _HOUR), "pressed twice"),
    Slip("twice", "pulled twice", _E, done("pull", OFF + timedelta(minutes=1)), "pressed twice"),
    Slip("order", "put on while on", _E, done("on", ON + 2 * _HOUR), "it was on already"),
    Slip("order", "wrapped before it was on", _E, done("wrap", ON - _HOUR), "not on before"),
    Slip("order", "in the hold while on", _E, done("hold", OFF - _HOUR), "still on"),
    Slip("order", "sliced while on", _E, done("slice", OFF - 3 * _HOUR), "still on"),
    Slip("order", "out of a hold it was not in", _E, done("hold end", OFF + _HOUR), "in no hold"),
    Slip(
        "night",
        "on, 12 h early",
        _CE,
        {"at": ON - 12 * _HOUR},
        "before its cook began",
        "2 May 2026, 19:00",
        handle="may-bare-on",
    ),
    Slip(
        "night",
        "on, 5 h late",
        _CE,
        {"at": ON + 5 * _HOUR - timedelta(minutes=1)},
        "had risen",
        handle="may-bare-on",
    ),
    Slip(
        "night",
        "on, 4 h before its readings",
        _CE,
        {"at": ON - timedelta(hours=3, minutes=55)},
        "still at",
        handle="may-bare-on",
    ),
    Slip(
        "night",
        "pulled, 4 h early",
        _CE,
        {"at": OFF - 4 * _HOUR},
        "with 94 °C planned",
        handle="may-bare-pull",
    ),
    Slip(
        "night",
        "pulled, 2 h late",
        _CE,
        {"at": OFF + 2 * _HOUR},
        "had fallen",
        handle="may-bare-pull",
    ),
    Slip("night", "the date of tomorrow", _E, done("note", OFF + timedelta(days=1)), REFUSED),
    Slip(
        "order",
        "pulled before it went on",
        _CE,
        {"at": ON - _HOUR},
        REFUSED,
        handle="may-bare-pull",
    ),
    Slip(
        "tray",
        "its tray named, scale at zero",
        _W,
        weighed("0.6 kg", f"{_HELD} + green tray"),
        "less than what lies",
    ),
    Slip("tray", "the tray forgotten", _W, weighed("5.35 kg", _COOKED, LAST), "next to"),
    Slip(
        "tray",
        "the tray weighed anew, a digit off",
        _W,
        weighed("8.3 kg", "green tray", ""),
        _SAME,
        "0.83 kg",
    ),
    Slip(
        "tray",
        "the tray weighed with something on it",
        _W,
        weighed("1.4 kg", "green tray", ""),
        _SAME,
    ),
    Slip(
        "probe", "a core of 715 °C", _R, {"value": "715", "unit": "degC"}, "hardly ever", "71.5 °C"
    ),
    Slip("probe", "°F typed as °C", _R, {"value": "160", "unit": "degC"}, "hardly ever", "160 °F"),
    Slip(
        "probe",
        "two digits swapped, 62 as 26",
        _R,
        {"value": "26", "unit": "degC"},
        "minutes ago",
        "62 °C",
    ),
    Slip(
        "probe",
        "a probe said to be in the other piece",
        _CP,
        {"piece": "may-paper"},
        "rose on",
        handle="in-may-bare",
    ),
)
