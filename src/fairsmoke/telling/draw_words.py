"""How what a simulator's draws say is written: a middle with its interval, a change, a chance."""

import math
from collections.abc import Callable
from typing import Literal

from fairsmoke.cooking import EnsembleDifference
from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.planning.methods.simulated import DrawInterval
from fairsmoke.quantity.values import Duration, Number, Quantity, Share, Temperature

Kind = Literal["time", "temperature", "share", "log", "crust"]

MOST_LOG = 12.0
"""Log reductions above this are told as "more than": no count of organisms reaches further."""
NOT_REACHED = N_("not known: most draws never got there")

_LEAST_CRUST_KG_M2 = 0.005


def interval_words(found: DrawInterval, kind: Kind) -> Words:
    """Return "13 h (11 h to 16 h)" in digits that the width of the interval can bear.

    Times in s, temperatures in °C, shares of one, log10 reductions, crusts in kg/m².
    """
    if not math.isfinite(found.middle):
        return NOT_REACHED
    width = found.high - found.low
    match kind:
        case "time":
            return _between(found, lambda value: Duration(_stepped(value, width)))
        case "temperature":
            return _between(found, lambda value: Temperature(value, 0))
        case "share":
            digits = 0 if width >= 0.03 else 1
            return _between(
                found,
                lambda value: Share(value, digits),
                lambda value: Number(100 * value, digits),
            )
        case "log":
            if found.low > MOST_LOG:
                return N_("more than %(most)s", most=Number(MOST_LOG, 0))
            return _between(found, _log)
        case "crust":
            if found.high < _LEAST_CRUST_KG_M2:
                return N_("none")
            return N_(
                "%(middle)s kg/m² (%(low)s to %(high)s kg/m²)",
                middle=Number(max(0.0, found.middle)),
                low=Number(max(0.0, found.low)),
                high=Number(max(0.0, found.high)),
            )


def change_words(found: EnsembleDifference, kind: Literal["time", "share"]) -> Words:
    """Return "−2.1 points (−4.0 to −0.3 points), less in 95 % of draws"; a change of nothing so."""
    if not math.isfinite(found.middle):
        return NOT_REACHED
    width = found.high - found.low
    ends = (found.low, found.middle, found.high)
    if kind == "time":
        step = 300.0 if width < 6 * 3600 else 900.0
        low, middle, high = (step * round(end / step) for end in ends)
        nothing = not (low or middle or high)
        changed: Message = N_(
            "%(middle)s (%(low)s to %(high)s)",
            middle=Duration(middle, sign=True),
            low=Duration(low, sign=True),
            high=Duration(high, sign=True),
        )
    else:
        digits = 0 if width >= 0.1 else 1
        # Adding nothing makes a nothing without a sign of "−0.0".
        points = [round(100 * end, digits) + 0.0 for end in ends]
        nothing = not any(points)
        low, middle, high = points
        changed = N_(
            "%(middle)s points (%(low)s to %(high)s points)",
            middle=Number(middle, digits, sign=True),
            low=Number(low, digits, sign=True),
            high=Number(high, digits, sign=True),
        )
    if nothing:
        return N_("no difference")
    return N_("%(change)s, %(sure)s", change=changed, sure=_surely(found.chance_more, kind))


def chance_words(chance: float | None) -> Words:
    """Return a chance in whole per cents: a few dozen draws tell no more."""
    if chance is None or not math.isfinite(chance):
        return N_("not known")
    if not 0.005 <= chance <= 0.995:
        return "< 1 %" if chance < 0.5 else "> 99 %"
    return alone(Share(chance, 0))


def size_words(size: float, kind: Literal["time", "share"]) -> Words:
    """Return a size of a difference to two digits, "2.3 points" or "55 min"."""
    if not math.isfinite(size):
        return N_("not known")
    if kind == "time":
        step = 300.0 if size >= 3600 else 60.0
        return alone(Duration(step * round(size / step)))
    digits = len(f"{100 * size:.2g}".partition(".")[2])
    return N_("%(number)s points", number=Number(100 * size, digits))


def alone(value: Quantity | str) -> Message:
    """Return a quantity as words of their own, as in a cell of a table."""
    return N_("%(value)s", value=value)


def _surely(more: float, kind: Literal["time", "share"]) -> Message:
    chance = chance_words(max(more, 1.0 - more))
    every = more in (0.0, 1.0)
    if kind == "time":
        if more >= 0.5:
            return (
                N_("longer in every draw")
                if every
                else N_("longer in %(chance)s of draws", chance=chance)
            )
        return (
            N_("shorter in every draw")
            if every
            else N_("shorter in %(chance)s of draws", chance=chance)
        )
    if more >= 0.5:
        return (
            N_("more in every draw") if every else N_("more in %(chance)s of draws", chance=chance)
        )
    return N_("less in every draw") if every else N_("less in %(chance)s of draws", chance=chance)


def _between(
    found: DrawInterval,
    write: Callable[[float], Quantity | str],
    write_low: Callable[[float], Quantity | str] | None = None,
) -> Words:
    """Return the middle with its ends; ``write_low`` where the unit need not be said twice."""
    low, middle, high = write(found.low), write(found.middle), write(found.high)
    if str(low) == str(high):
        return alone(middle)
    return N_(
        "%(middle)s (%(low)s to %(high)s)",
        middle=middle,
        low=(write_low or write)(found.low),
        high=high,
    )


def _stepped(value_s: float, width_s: float) -> float:
    step = 300.0 if width_s < 2 * 3600 else 600.0 if width_s < 6 * 3600 else 1800.0
    return step * round(value_s / step)


def _log(value: float) -> Quantity | str:
    return f"> {MOST_LOG:.0f}" if value > MOST_LOG else Number(value)
