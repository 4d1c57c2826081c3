"""What came of "which method is worth trying" in a person's units and language."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from fairsmoke.app.pages.words import WRAPS
from fairsmoke.messages.message import N_, Message
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.worth_trying_live import FrontWords

NARROW = "\u00a0"
"""Between a number and its unit: no line ends there."""

Ends = Sequence[float] | None
"""Low, middle and high; None where most draws have none."""

GOAL_WORDS: dict[str, Message] = {
    "yield": N_("Yield"),
    "tenderness": N_("Collagen dissolved in the core"),
    "crust": N_("Dried crust on top"),
    "cap": N_("Fat cap rendered"),
    "time": N_("To the end of the hold"),
}
_AXES: dict[str, Message] = {
    "yield": N_("yield, %"),
    "tenderness": N_("collagen dissolved, %"),
    "crust": N_("dried crust, kg/m²"),
    "cap": N_("fat cap rendered, %"),
    "time": N_("to the end of the hold, h"),
}
LIMITS: dict[str, Message] = {
    "lethality": N_(
        "at least 6.5 log10 of Salmonella in the coldest lean part (USDA FSIS cooking guideline "
        "for beef)"
    ),
    "come-up": N_("the core from 10 to 54 °C within 6 h (USDA FSIS guideline, second hand)"),
    "reached": N_(
        "comes off at its core temperature and not by the longest time (ours: otherwise it is "
        "another method than it says)"
    ),
    "ended": N_("comes to the end of its protocol (ours)"),
}
"""The limits by code: planning's own rules and sources."""

SAFETY_WORDS: dict[str, Message] = {
    "log_salmonella": N_("Salmonella, log10 reduction in the coldest lean part"),
    "come_up_s": N_("Core from 10 to 54 °C"),
    "growth_s": N_("Core between 4 and 60 °C"),
}
MEASURE_TITLES: dict[str, Message] = {
    "yield": N_("By yield"),
    "cook time": N_("By time on the cooker"),
}
MOST_LOG = 12.0
"""Beyond it a number of log reductions tells nothing more."""

_WRAP_NAMES = {**WRAPS, "bare": WRAPS[""]}
CAUTIONS: tuple[Message, ...] = (
    N_(
        "A model's numbers, not a record: they never show that food is safe. Cook, hold and cool "
        "by your local code and your food authority's tables, with a thermometer. A better yield "
        "is no reason to cook less, hold cooler or come up slower."
    ),
    N_(
        "The chances take the model's differences as true within its draws; where the model is "
        "wrong about a knob, so are they. Only a trial tells."
    ),
    N_(
        "Collagen dissolved stands for tenderness up to where a piece falls apart; the model does "
        "not know too tender. Nothing here knows taste, smoke or bark's flavour, and no rule is "
        "known from collagen or crust to a score, so those are not ranked."
    ),
)


@dataclass(frozen=True)
class Turned:
    """A knob turned, in words: what it does, how surely, and the chance for each number of pairs.

    ``row`` is its place in the ranking, for asking it as a trial; ``askable`` whether it can be.
    """

    row: int
    what: str
    change: str
    sure: str
    ratio: str
    chances: tuple[str, ...]
    enough: int | None
    askable: bool


def whole(text: str) -> str:
    """Return a number with its unit as one word: no line ends within it."""
    return text.replace(" ", NARROW)


def _signed(value: float, size: str) -> str:
    if not any(digit in size for digit in "123456789"):
        return size
    return f"+{size}" if value > 0 else f"−{size}"


class Shown:
    """Writes numbers of the answer for one person."""

    def __init__(self, way: Reader) -> None:
        self._way = way

    def wrap(self, code: str) -> str:
        """Return the name of a wrap."""
        return self._way.say(_WRAP_NAMES.get(code, code))

    def method(self, way: dict[str, Any]) -> str:
        """Return a method in one line."""
        say, degrees = self._way.say, self._degrees
        pan = say(N_(" over a water pan")) if way["pan"] else ""
        wrap = self.wrap(way["wrap"])
        if way["wrap"] != "bare":
            core = degrees(way["wrap_at_c"])
            wrap = say(N_("%(wrap)s at %(core)s", wrap=wrap, core=core))
        return say(
            N_(
                "pit %(pit)s%(pan)s, %(wrap)s, off at %(core)s, held %(long)s at %(hold)s",
                pit=degrees(way["pit_c"]),
                pan=pan,
                wrap=wrap,
                core=degrees(way["until_c"]),
                long=self._long(way),
                hold=degrees(way["hold_c"]),
            )
        )

    def parts(self, way: dict[str, Any]) -> tuple[str, str, str, str, str]:
        """Return a method's pit, wrap, water pan, end and hold, for the columns of a table."""
        wrap = self.wrap(way["wrap"])
        if way["wrap"] != "bare":
            core = self._degrees(way["wrap_at_c"])
            wrap = self._way.say(N_("%(wrap)s at %(core)s", wrap=wrap, core=core))
        held = N_("%(long)s at %(hold)s", long=self._long(way), hold=self._degrees(way["hold_c"]))
        return (
            self._degrees(way["pit_c"]),
            wrap,
            self._way.say(N_("yes") if way["pan"] else N_("no")),
            self._degrees(way["until_c"]),
            self._way.say(held),
        )

    def _degrees(self, value_c: float) -> str:
        return whole(self._way.temperature(value_c, 0))

    def _long(self, way: dict[str, Any]) -> str:
        return whole(self._way.duration(900.0 * max(1, round(way["hold_s"] / 900.0))))

    def turn(self, knob: str, before: dict[str, Any], after: dict[str, Any]) -> str:
        """Return a knob turned, "pit 107 °C to 149 °C"."""
        say = self._way.say
        if knob == "pan":
            return say(N_("water pan put in") if after["pan"] else N_("water pan left out"))
        if knob == "wrap":
            first, last = self.wrap(before["wrap"]), self.wrap(after["wrap"])
            return say(N_("%(first)s to %(last)s", first=first, last=last))
        ends = [whole(self.setting(knob, way)) for way in (before, after)]
        return say(_TURNS[knob](*ends))

    def setting(self, knob: str, way: dict[str, Any]) -> str:
        """Return where a knob stands in a method."""
        if knob == "wrap":
            return self.wrap(way["wrap"])
        if knob == "pan":
            return self._way.say(N_("with a water pan") if way["pan"] else N_("no water pan"))
        if knob == "hold_s":
            return self._way.duration(way[knob])
        return self._way.temperature(way[knob], 0)

    def goal(self, goal: str, ends: Ends) -> str:
        """Return a goal's value with its interval, "55 % (52 to 58 %)"."""
        if goal == "time":
            return self.time(ends)
        if goal != "crust":
            digits = 0 if ends is None or ends[2] - ends[0] >= 0.03 else 1
            return self._between(ends, lambda value: self._way.number(100 * value, digits), "%")
        if ends is not None and ends[2] < 0.005:
            return self._way.say(N_("none"))
        return self._between(ends, lambda value: self._way.number(max(0.0, value)), "kg/m²")

    def time(self, ends: Ends) -> str:
        """Return a time with its interval, in steps that its width can bear."""
        width = 0.0 if ends is None else ends[2] - ends[0]
        step = 300.0 if width < 2 * 3600 else 600.0 if width < 6 * 3600 else 1800.0
        return self._between(ends, lambda value: self._way.duration(step * round(value / step)))

    def safety(self, name: str, ends: Ends) -> str:
        """Return a value of safety with its interval."""
        if name != "log_salmonella":
            return self.time(ends)
        if ends is not None and ends[0] > MOST_LOG:
            return self._way.say(N_("more than %(most)s", most=f"{MOST_LOG:.0f}"))
        return self._between(ends, self._log)

    def _log(self, value: float) -> str:
        if value > MOST_LOG:
            return f"> {MOST_LOG:.0f}"
        return self._way.number(value)

    def _between(self, ends: Ends, write: Callable[[float], str], unit: str = "") -> str:
        """Return a middle with the ends of its interval; the unit once for each."""
        if ends is None or not all(map(math.isfinite, ends)):
            return self._way.say(N_("not known: most draws never got there"))
        low, middle, high = (whole(write(end)) for end in ends)
        behind = f"{NARROW}{unit}" if unit else ""
        if low == high:
            return middle + behind
        return self._way.say(
            N_(
                "%(middle)s (%(low)s to %(high)s)",
                middle=middle + behind,
                low=low,
                high=high + behind,
            )
        )

    def chance(self, chance: float | None) -> str:
        """Return a chance, to whole per cents."""
        if chance is None or not math.isfinite(chance):
            return self._way.say(N_("not known"))
        if not 0.005 <= chance <= 0.995:
            return whole("< 1 %" if chance < 0.5 else "> 99 %")
        return whole(self._way.percent(chance, 0))

    def size(self, kind: str, size: float | None) -> str:
        """Return a size of a difference to two digits, "2.3 points" or "55 min"."""
        if size is None:
            return self._way.say(N_("not known"))
        if kind != "yield":
            step = 300.0 if size >= 3600 else 60.0
            return self._way.duration(step * round(size / step))
        shown = f"{100 * size:.2g}"
        digits = len(shown.partition(".")[2])
        return self._way.say(N_("%(number)s points", number=self._way.number(100 * size, digits)))

    def change(self, kind: str, ends: Ends) -> str:
        """Return a difference with its sign and interval, in the digits that its width bears."""
        width = 0.0 if ends is None else ends[2] - ends[0]
        if kind == "yield":
            digits = 0 if width >= 0.1 else 1

            def points(value: float) -> str:
                return _signed(value, self._way.number(abs(100 * value), digits))

            return self._between(ends, points, self._way.say(N_("points")))
        step = 300.0 if width < 6 * 3600 else 900.0

        def time(value: float) -> str:
            return _signed(value, self._way.duration(abs(step * round(value / step))))

        return self._between(ends, time)

    def turned(self, kind: str, row: int, one: dict[str, Any]) -> Turned:
        """Return a ranked knob in words."""
        more = one["chance_more"]
        longer = kind != "yield"
        if more >= 0.5:
            words = (
                N_("longer in %(chance)s of draws") if longer else N_("more in %(chance)s of draws")
            )
        else:
            words = (
                N_("shorter in %(chance)s of draws")
                if longer
                else N_("less in %(chance)s of draws")
            )
        chance = self.chance(max(more, 1.0 - more))
        return Turned(
            row,
            self.turn(one["knob"], one["before"], one["after"]),
            self.change(kind, one["difference"]),
            self._way.say(Message(words.text, {"chance": chance})),
            self._way.number(one["ratio"]),
            tuple(self.chance(chance) for chance in one["chances"]),
            one["enough"],
            one["knob"] != "pan",
        )

    def cost(self, cost: float | None) -> str:
        """Return a sum of money, without its currency."""
        return "–" if cost is None else self._way.count(round(cost))

    def words(self) -> FrontWords:
        """Return the words of the chart."""
        say = self._way.say
        axes = {goal: say(words) for goal, words in _AXES.items()}
        return FrontWords(axes, {code: self.wrap(code) for code in _WRAP_NAMES})


_TURNS: dict[str, Callable[[str, str], Message]] = {
    "pit_c": lambda first, last: N_("pit %(first)s to %(last)s", first=first, last=last),
    "wrap_at_c": lambda first, last: N_("wrap at %(first)s to %(last)s", first=first, last=last),
    "until_c": lambda first, last: N_("off at %(first)s to %(last)s", first=first, last=last),
    "hold_c": lambda first, last: N_("hold at %(first)s to %(last)s", first=first, last=last),
    "hold_s": lambda first, last: N_("hold for %(first)s to %(last)s", first=first, last=last),
}
