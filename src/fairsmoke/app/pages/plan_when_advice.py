"""What a plan of a day leaves to say, in one person's words: buffer, arms, levers, givens."""

from datetime import datetime, timedelta
from typing import Any

from fairsmoke.app.pages.plan_when_words import Told
from fairsmoke.messages.message import N_, Message
from fairsmoke.telling.reader import Reader

_DIFFERS = {
    "own": N_("the stage “%(stage)s” itself"),
    "surround_c": N_("the pit temperature in “%(stage)s”"),
    "wrap": N_("the wrap in “%(stage)s”"),
    "humidity": N_("the moisture in “%(stage)s”"),
    "place": N_("the place in “%(stage)s”"),
    "ends": N_("what ends “%(stage)s”"),
    "adds": N_("what is added in “%(stage)s”"),
}


_WHEN = {"late": N_("When it runs late"), "early": N_("When it runs early")}
_TOGETHER = N_(
    "All go on at once, so the quicker arm holds longer, and a difference found may be the hold's. "
    "To keep holds equal: put pieces on at their own times, or open each piece the same time after "
    "its own pull, and serve or measure it then."
)
_OWN_TIMES = N_(
    "Each piece goes on at its own time, so that the middle of the holds is the same. What the day "
    "then does remains; to keep holds equal in fact, open each piece the same time after its own "
    "pull, and measure it then."
)
DEFERS = N_(
    "These tables differ between authorities and editions. The law and the food authority where "
    "the food is served decide, and a checked thermometer in the coldest place tells."
)
"""As ``planning.safety.DEFER``."""


def buffer(told: Told) -> Message | None:
    """Return what the hold does not bridge; None when it does."""
    buffer = told.page["buffer"]
    if buffer["within"] >= told.page["certainty"]:
        return None
    values = {
        "within": round(100 * buffer["within"]),
        "needed": told.length(buffer["needed_s"]),
        "move": told.length(abs(buffer["move_s"])),
        "best": round(100 * buffer["best"]),
    }
    if buffer["move_s"] >= 0:
        return N_(
            "The hold does not bridge the spread: every piece is ready and no hold passes its "
            "longest in only %(within)s of 100 days. That would take a longest hold of "
            "%(needed)s. With the longest as given the best start is %(move)s later, and even "
            "that keeps both in %(best)s of 100 days. Give the stages a longest time, or plan "
            "on turning the pit as below.",
            **values,
        )
    return N_(
        "The hold does not bridge the spread: every piece is ready and no hold passes its "
        "longest in only %(within)s of 100 days. That would take a longest hold of "
        "%(needed)s. With the longest as given the best start is %(move)s earlier, and even "
        "that keeps both in %(best)s of 100 days. Give the stages a longest time, or plan "
        "on turning the pit as below.",
        **values,
    )


def arms(told: Told) -> list[Message]:
    """Return what the arms' difference forces, and what it does to the holds."""
    found = [_arm(told, gap) for gap in told.page["arms"]]
    if told.page["holds"]:
        found.append(_TOGETHER if told.page["together"] else _OWN_TIMES)
    found += [_held(told, one) for one in told.page["holds"]]
    found += [
        N_(
            "%(one)s and %(other)s stand in one cooker (%(cooker)s), but their arms want "
            "unlike pit temperatures, and one cooker has one at a time: give each arm its own "
            "cooker, or its own cook.",
            one=one,
            other=other,
            cooker=cooker,
        )
        for one, other, cooker in told.page["pits"]
    ]
    if told.page["unlike_holds"]:
        found.append(
            N_("The arms' protocols hold for unlike times: what differs is the hold as well.")
        )
    return found


def _held(told: Told, one: dict[str, Any]) -> Message:
    longer = one["longer"]
    middle = longer["middle_s"]
    values = {
        "piece": one["piece"],
        "other": one["other"],
        "longer": told.length(None if middle is None else abs(middle)),
        "between": told.lengths({"low": longer["low_s"], "high": longer["high_s"]}),
    }
    if middle is not None and middle < 0:
        return N_(
            "%(piece)s is held %(longer)s shorter than %(other)s in the middle; the difference "
            "is %(between)s (− is shorter)",
            **values,
        )
    return N_(
        "%(piece)s is held %(longer)s longer than %(other)s in the middle; the difference is "
        "%(between)s (− is shorter)",
        **values,
    )


def _arm(told: Told, gap: dict[str, Any]) -> Message:
    middle = gap["longer"]["middle"]
    if middle is not None and abs(middle) < 60.0:
        return N_("%(arm)s: as long as %(base)s in the middle", arm=gap["arm"], base=gap["base"])
    values = {
        "arm": gap["arm"],
        "base": gap["base"],
        "longer": told.length(None if middle is None else abs(middle)),
        "between": told.lengths(_on_the_side(gap["longer"])),
        "stage": gap["stage"],
        "differs": _differs(told, gap["differs"]),
    }
    if middle is None or middle > 0:
        return N_(
            "%(arm)s: %(longer)s longer than %(base)s on the same pieces (%(between)s), most "
            "of it in “%(stage)s”. What differs: %(differs)s",
            **values,
        )
    return N_(
        "%(arm)s: %(longer)s shorter than %(base)s on the same pieces (%(between)s), most "
        "of it in “%(stage)s”. What differs: %(differs)s",
        **values,
    )


def _on_the_side(span: dict[str, float | None]) -> dict[str, float | None]:
    """Return an interval of how much sooner, where the middle says sooner; else of how much later.

    So that "2 h sooner (1 h to 5 h)" needs no signs, but where the interval reaches past nothing.
    """
    middle = span["middle"]
    if middle is None or middle >= 0:
        return span

    def turned(value: float | None) -> float | None:
        return None if value is None else -value

    return {"low": turned(span["high"]), "middle": -middle, "high": turned(span["low"])}


def _differs(told: Told, differs: list[list[str]]) -> str:
    said = [Message(_DIFFERS[what].text, {"stage": stage}) for what, stage in differs]
    return ", ".join(told.way.say(one) for one in said or [N_("nothing before the hold")])


def levers(told: Told) -> list[Message]:
    """Return when a stage's end means late or early, and what can then be done."""
    found = []
    for point in told.page["turning"]:
        values = {"piece": point["piece"], "stage": point["stage"]}
        if point["late_s"] is not None:
            late = told.clock(point["late_s"])
            found.append(
                N_(
                    "%(piece)s: if “%(stage)s” ends after %(late)s, it is more likely late "
                    "than not: act",
                    late=late,
                    **values,
                )
            )
        if point["early_s"] is not None:
            early = told.clock(point["early_s"])
            found.append(
                N_(
                    "%(piece)s: if “%(stage)s” ends before %(early)s, its hold is more likely "
                    "too long than not: cool the pit",
                    early=early,
                    **values,
                )
            )
    found += [
        N_(
            "%(piece)s: off before %(early)s is too early (it can be held up to %(longest)s); "
            "off after %(late)s is too late",
            piece=one["name"],
            longest=told.length(one["longest_s"]),
            early=told.clock(one["open"] - one["longest_s"]),
            late=told.clock(one["open"] - one["shortest_s"]),
        )
        for one in told.page["pieces"]
    ]
    return found


def effects(told: Told) -> list[tuple[Message, list[tuple[Message, Message]]]]:
    """Return what can be done when it runs late, and early: what it is, and what it does."""
    found = []
    for when, words in _WHEN.items():
        mine = [one for one in told.page["levers"] if one["when"] == when]
        if mine:
            said = [(_named_lever(told, one), _effect(told, one)) for one in mine]
            found.append((words, said))
    return found


def _named_lever(told: Told, one: dict[str, Any]) -> Message:
    return N_("%(arm)s: %(what)s", arm=one["arm"], what=_lever(told, one))


def _lever(told: Told, one: dict[str, Any]) -> Message:
    match one["id"]:
        case "hotter":
            pit = told.way.temperature(one["to_c"])
            return N_("from “%(stage)s” on, the pit at %(pit)s", stage=one["stage"], pit=pit)
        case "cooler":
            pit = told.way.temperature(one["to_c"])
            return N_("from “%(stage)s” on, the pit only at %(pit)s", stage=one["stage"], pit=pit)
        case "foil":
            return N_("foil all round from “%(stage)s” on", stage=one["stage"])
        case _:
            gap = told.way.gap(one["sooner_k"], 0)
            return N_("wrap %(gap)s of core sooner", gap=gap)


def _effect(told: Told, one: dict[str, Any]) -> Message:
    middle = one["longer"]["middle"]
    values = {
        "longer": told.length(None if middle is None else abs(middle)),
        "between": told.lengths(_on_the_side(one["longer"])),
        "kept": _kept(told, one["kept"]),
    }
    if middle is None or middle > 0:
        return N_("%(longer)s later (%(between)s), %(kept)s", **values)
    return N_("%(longer)s sooner (%(between)s), %(kept)s", **values)


def _kept(told: Told, kept: float) -> Message:
    """Return a change of yield to half a point: it has no interval of its own here."""
    halves = 0.5 * round(200.0 * kept)
    points = told.way.number(abs(halves))
    if halves == 0.0:
        return N_("yield about the same")
    if halves > 0.0:
        return N_("yield %(points)s points more", points=points)
    return N_("yield %(points)s points less", points=points)


def given(told: Told) -> list[Message]:
    """Return what was taken as given, besides what the model says in its own words."""
    found = [
        N_(
            "%(piece)s: %(long)s by %(wide)s, guessed from its mass and thickness; "
            "%(start)s when it goes on",
            piece=one["piece"],
            long=told.way.size(one["long_m"]),
            wide=told.way.size(one["wide_m"]),
            start=told.way.temperature(one["start_c"]),
        )
        for one in told.page["sizes"]
    ]
    found += [
        N_(
            "“%(feel)s” is taken to be when the core is at %(core)s",
            feel=one["feel"],
            core=told.way.temperature(one["core_c"]),
        )
        for one in told.page["feels"]
    ]
    minutes = {key.removesuffix("_s"): round(one / 60) for key, one in told.page["minutes"].items()}
    found.append(
        N_(
            "One pair of hands: %(on)s min to put on, %(wrap)s to wrap, %(pull)s to pull and "
            "weigh, %(slice)s to slice a piece; %(heat)s to heat a cooker; opened %(rest)s "
            "before it is sliced (common practice, no source).",
            on=minutes["on"],
            wrap=minutes["wrap"],
            pull=minutes["pull"],
            slice=minutes["slice"],
            heat=told.length(told.page["heat_up_s"]),
            rest=told.length(told.page["rest_s"]),
        )
    )
    return found


def too_soon_message(page: dict[str, Any], way: Reader) -> tuple[Message, Message, datetime, str]:
    """Return that a serving time cannot be met, why, the earliest that can, and it for a form."""
    said, told = page["too_soon"], Told.of(page["too_soon"], way)
    earliest = told.serve + timedelta(seconds=said["later_s"])
    sure = round(100 * said["certainty"])
    cannot = N_(
        "Nothing can be ready with %(sure)s %% certainty by %(serve)s. The earliest possible is "
        "%(earliest)s.",
        sure=sure,
        serve=f"{way.long_day(told.serve, told.zone)}, {way.time(told.serve, told.zone)}",
        earliest=f"{way.long_day(earliest, told.zone)}, {way.time(earliest, told.zone)}",
    )
    why = N_(
        "%(piece)s (%(arm)s) must be on %(before)s before its hold to be ready with %(sure)s %% "
        "certainty; half of the days it takes %(middle)s. To that come %(heat)s to heat the "
        "cooker, a hold of %(hold)s at the least, and %(ending)s to open, rest and slice.",
        piece=said["piece"],
        arm=said["arm"],
        before=told.length(said["before_s"]),
        sure=sure,
        middle=told.length(said["middle_s"]),
        heat=told.length(said["heat_up_s"]),
        hold=told.length(said["hold_s"]),
        ending=told.length(said["ending_s"]),
    )
    # A few minutes on: the clock goes on while one reads.
    later = earliest + timedelta(minutes=15)
    return cannot, why, later, later.astimezone(told.zone).strftime("%Y-%m-%dT%H:%M")
