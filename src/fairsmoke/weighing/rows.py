"""Lines of a table, as plain text that a screen, a page or a terminal can set as it likes."""

from dataclasses import dataclass

from fairsmoke.messages.message import Message, Words, alone, stretch
from fairsmoke.quantity import show_plus_minus
from fairsmoke.quantity.rounding import interval_ends
from fairsmoke.quantity.values import Digits, MassSpread
from fairsmoke.weighing.uncertainty import DrawSummary


@dataclass(frozen=True)
class LedgerRow:
    """A line: what it is, its value, and what to know about it."""

    label: Words
    value: Words
    note: Words = ""


def mass_words(spread: DrawSummary) -> Message:
    """Return "3.306 ± 0.012 kg" or "7 lb 4.6 oz ± 0.4 oz"; ± is half of the 95 % interval."""
    return alone(MassSpread(spread.mean, spread.half_width))


def percent_words(spread: DrawSummary) -> Message:
    """Return "59.4 ± 1.2 %" for shares; ± is half of the 95 % interval."""
    shown = show_plus_minus(100 * spread.mean, 100 * spread.half_width, "%")
    return alone(Digits(shown))


def percent_interval_words(spread: DrawSummary) -> Message:
    """Return "58.2 to 60.6 %", the 95 % interval of a share."""
    low, high = interval_ends(100 * spread.low, 100 * spread.high)
    return stretch(Digits(low), Digits(f"{high} %"))
