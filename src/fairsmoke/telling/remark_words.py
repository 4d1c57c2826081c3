"""What must be said beside an answer: one message a kind of remark."""

from collections.abc import Iterable
from typing import Any

from fairsmoke.judging.finding import MeasureFinding
from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.messages.message import N_, NN_, Listed, Message
from fairsmoke.quantity.values import Share
from fairsmoke.telling.numbers import show_chance, show_p, show_size
from fairsmoke.trial.question import Measure
from fairsmoke.trial.weighing import Part

SOURCES = frozenset(
    {
        CaveatKind.SPREAD_STATED,
        CaveatKind.SPREAD_PAST,
        CaveatKind.SPREAD_PUBLISHED,
        CaveatKind.SPREAD_SEEN,
    }
)
"""Remarks that say where a spread is from; all others are cautions."""


def caution_lines(found: MeasureFinding) -> list[Message]:
    """Say the remarks that must stand with the answer."""
    return _said(found.measure, (one for one in found.remarks if one.kind not in SOURCES))


def source_lines(found: MeasureFinding) -> list[Message]:
    """Say which spread between pieces was used."""
    return _said(found.measure, (one for one in found.remarks if one.kind in SOURCES))


def _said(measure: Measure, remarks: Iterable[Caveat]) -> list[Message]:
    return [remark_words(measure, one) for one in remarks]


def remark_words(measure: Measure, remark: Caveat) -> Message:
    """Say one remark on a measure."""
    numbers, first = remark.numbers, round(remark.numbers[0]) if remark.numbers else 0
    if remark.kind is CaveatKind.FEW_TASTERS:
        return NN_(
            "One taster only: what that person happens to like cannot be told from what is better.",
            "%(count)s tasters only: what they happen to like is a large part of this.",
            first,
        )
    if remark.kind is CaveatKind.PREFERRED:
        return _preferred(remark)
    if remark.kind is CaveatKind.TOLD_APART:
        return _told_apart(remark)
    values: dict[str, Any] = {"names": Listed(remark.names), "first": first}
    if remark.kind in SOURCES or remark.kind is CaveatKind.FIGURE_UNKNOWN:
        values["spread"] = show_size(measure, float(f"{numbers[0]:.3g}"))
    if len(numbers) > 1:
        values["second"] = round(numbers[1])
        values["chance"] = show_chance(numbers[1])
    if remark.kind is CaveatKind.ODD_PIECE:
        values["chance"] = show_chance(numbers[0])
    if remark.kind is CaveatKind.SHARED_ESTIMATE:
        values["names"] = Listed([Part.parse(name).words for name in remark.names])
    text = _WORDS[remark.kind].text
    return Message(text, {name: one for name, one in values.items() if f"%({name})s" in text})


def _preferred(remark: Caveat) -> Message:
    first, second, neither, p, low, high = remark.numbers
    return N_(
        "Choices, counted by taster: “%(one)s” %(first)s, “%(other)s” %(second)s, neither more "
        "often %(neither)s (%(p)s; of all who choose, between %(low)s and %(high)s would take "
        "“%(one)s”, 95 %% interval). That is about people at this table, with these pieces.",
        first=round(first),
        second=round(second),
        neither=round(neither),
        one=remark.names[0],
        other=remark.names[1],
        p=show_p(p),
        low=Share(low, 0),
        high=Share(high, 0),
    )


def _told_apart(remark: Caveat) -> Message:
    right, answers, p, tasters = remark.numbers
    return N_(
        "Odd one out of three: %(right)s of %(answers)s answers right, tasters: %(tasters)s "
        "(guessing: one in three; %(p)s), “%(one)s” against “%(other)s”. That is about people at "
        "this table, with these pieces.",
        right=round(right),
        answers=round(answers),
        tasters=round(tasters),
        one=remark.names[0],
        other=remark.names[1],
        p=show_p(p),
    )


_WORDS = {
    CaveatKind.SPREAD_STATED: N_(
        "How far pieces treated alike differ was stated beforehand: %(spread)s (one standard "
        "deviation)."
    ),
    CaveatKind.SPREAD_PAST: N_(
        "How far pieces treated alike differ, about %(spread)s, comes from this notebook's own "
        "past (%(names)s) and published spreads."
    ),
    CaveatKind.SPREAD_PUBLISHED: N_(
        "How far pieces treated alike differ, about %(spread)s before the data, is a published "
        "figure or a guess, not this kitchen's own."
    ),
    CaveatKind.SPREAD_SEEN: N_(
        "How far pieces treated alike differ was not known beforehand; this trial's own pieces "
        "(%(spread)s, %(second)s degrees of freedom) are all there is."
    ),
    CaveatKind.NO_SPREAD: N_(
        "One pair of this measure cannot be judged: nothing tells how far pieces treated alike "
        "differ. State a spread, or cook more pairs."
    ),
    CaveatKind.POSITION_UNKNOWN: N_(
        "Where %(names)s stood was not recorded, so one method may have had the better place; the "
        "answer is widened by that."
    ),
    CaveatKind.ANIMAL_UNKNOWN: N_(
        "Nobody drew which piece got which method and the animals were not recorded, so one method "
        "may have had the better animal; the answer is widened by that."
    ),
    CaveatKind.NOT_CODED: N_(
        "Samples carried no code (or none was recorded), so tasters may have known which was "
        "which; the answer is widened by what expectation can do."
    ),
    CaveatKind.SERVING_UNKNOWN: N_(
        "The order of serving was not recorded on %(first)s of %(second)s ballots, so one method "
        "may always have come first; the answer is widened by that."
    ),
    CaveatKind.SERVED_FIRST: N_(
        "“%(names)s” came first on %(first)s of %(second)s ballots; the answer is widened by what "
        "coming first can do."
    ),
    CaveatKind.PLATED_KNOWING: N_(
        "Who plated knew which piece was which, or it was not recorded (%(names)s); the answer is "
        "widened by what that can do."
    ),
    CaveatKind.CHOICES_UNREAD: N_(
        "%(first)s of %(second)s ballots hold a choice of which nothing can be made: which samples "
        "were presented, each of one of two methods, is not recorded."
    ),
    CaveatKind.WHOLE_COOKS: N_(
        "Methods were given to whole cooks: %(first)s cooks are what was repeated, however many "
        "pieces each held."
    ),
    CaveatKind.ODD_PIECE: N_(
        "%(names)s lies so far out that it is probably odd (%(chance)s); it counts for less. Look "
        "for a slip before anything else."
    ),
    CaveatKind.CENSORED: N_(
        "Never seen to reach the mark, so counted as “at least that long”: %(names)s."
    ),
    CaveatKind.REACHED_BEFORE: N_(
        "That hot when first read, so counted as “at most that long”: %(names)s."
    ),
    CaveatKind.SEVERAL_COMPARISONS: N_(
        "%(first)s comparisons were made; that one of them settles wrongly has a chance of up to "
        "%(chance)s."
    ),
    CaveatKind.SCALE_UNKNOWN: N_(
        "How far %(names)s may be wrong, or repeat, was not stated; as much as is allowed to a "
        "checked scale in service is assumed."
    ),
    CaveatKind.FIGURE_UNKNOWN: N_(
        "Figures came without an uncertainty; a standard deviation of %(spread)s is assumed."
    ),
    CaveatKind.SHARED_ESTIMATE: N_(
        "The %(names)s was estimated alike for %(first)s pieces: that is one unknown, which more "
        "pieces do not average out."
    ),
}
