"""What must be said beside an answer, in words: one sentence a kind of remark."""

from collections.abc import Callable, Iterable, Mapping

from fairsmoke.judging.finding import Difference, MeasureFinding
from fairsmoke.judging.remark import Remark, RemarkKind
from fairsmoke.telling.numbers import show_chance, show_size
from fairsmoke.trial.question import Measure

SOURCES = frozenset(
    {
        RemarkKind.SPREAD_STATED,
        RemarkKind.SPREAD_PAST,
        RemarkKind.SPREAD_PUBLISHED,
        RemarkKind.SPREAD_SEEN,
    }
)
"""Remarks that say where a spread is from; all others are cautions."""


def remark_sentence(measure: Measure, remark: Remark) -> str:
    """Say one remark on a measure."""
    return _WORDS[remark.kind](measure, remark)


def caution_lines(found: MeasureFinding) -> list[str]:
    """Say the remarks that must stand with the answer."""
    return [remark_sentence(found.measure, r) for r in found.remarks if r.kind not in SOURCES]


def source_lines(found: MeasureFinding) -> list[str]:
    """Say which spread between pieces was used."""
    return [remark_sentence(found.measure, r) for r in found.remarks if r.kind in SOURCES]


def settled_below_lines(measure: Measure, found: Iterable[Difference]) -> list[str]:
    """Say under which spread between pieces an unsettled answer would be settled."""
    lines = [
        "It would be settled only if pieces treated alike differed by less than "
        f"{show_size(measure, one.verdict.settled_below)} (one standard deviation)."
        for one in found
        if one.verdict.settled_below is not None
    ]
    return list(dict.fromkeys(lines))


def amended_lines(found: Iterable[Difference]) -> list[str]:
    """Say the verdicts by the question as it was changed after the first result."""
    return [
        f"Exploratory, by the question as it was changed after the first result: "
        f"{one.as_amended.sentence}"
        for one in found
        if one.as_amended is not None
    ]


def _spread(measure: Measure, remark: Remark) -> str:
    return show_size(measure, remark.numbers[0])


def _names(remark: Remark) -> str:
    return ", ".join(remark.names)


_WORDS: Mapping[RemarkKind, Callable[[Measure, Remark], str]] = {
    RemarkKind.SPREAD_STATED: lambda m, r: (
        f"How far pieces treated alike differ was stated beforehand: {_spread(m, r)} (one standard "
        "deviation)."
    ),
    RemarkKind.SPREAD_PAST: lambda m, r: (
        f"How far pieces treated alike differ, about {_spread(m, r)}, comes from this notebook's "
        f"own past ({_names(r)}) and published spreads."
    ),
    RemarkKind.SPREAD_PUBLISHED: lambda m, r: (
        f"How far pieces treated alike differ, about {_spread(m, r)} before the data, is a "
        "published figure or a guess, not this kitchen's own."
    ),
    RemarkKind.SPREAD_SEEN: lambda m, r: (
        f"How far pieces treated alike differ was not known beforehand; this trial's own pieces "
        f"({_spread(m, r)}, {r.numbers[1]:.0f} degrees of freedom) are all there is."
    ),
    RemarkKind.NO_SPREAD: lambda m, r: (
        "One pair of this measure cannot be judged: nothing tells how far pieces treated alike "
        "differ. State a spread, or cook more pairs."
    ),
    RemarkKind.POSITION_UNKNOWN: lambda m, r: (
        f"Where {_names(r)} stood was not recorded, so one method may have had the better place; "
        "the answer is widened by that."
    ),
    RemarkKind.ANIMAL_UNKNOWN: lambda m, r: (
        "Nobody drew which piece got which method and the animals were not recorded, so one method "
        "may have had the better animal; the answer is widened by that."
    ),
    RemarkKind.NOT_CODED: lambda m, r: (
        "Samples carried no code (or none was recorded), so tasters may have known which was "
        "which; the answer is widened by what expectation can do."
    ),
    RemarkKind.SERVING_UNKNOWN: lambda m, r: (
        f"The order of serving was not recorded on {r.numbers[0]:.0f} of {r.numbers[1]:.0f} "
        "ballots, so one method may always have come first; the answer is widened by that."
    ),
    RemarkKind.SERVED_FIRST: lambda m, r: (
        f"“{_names(r)}” came first on {r.numbers[0]:.0f} of {r.numbers[1]:.0f} ballots; the answer "
        "is widened by what coming first can do."
    ),
    RemarkKind.PLATED_KNOWING: lambda m, r: (
        f"Who plated knew which piece was which, or it was not recorded ({_names(r)}); the answer "
        "is widened by what that can do."
    ),
    RemarkKind.FEW_TASTERS: lambda m, r: (
        "One taster only: what that person happens to like cannot be told from what is better."
        if r.numbers[0] < 2
        else f"{r.numbers[0]:.0f} tasters only: what they happen to like is a large part of this."
    ),
    RemarkKind.CHOICES_ONLY: lambda m, r: (
        f"{r.numbers[0]:.0f} ballots hold a choice and no score. Choices are judged by the test "
        "for choices, not as scores."
    ),
    RemarkKind.WHOLE_COOKS: lambda m, r: (
        f"Methods were given to whole cooks: {r.numbers[0]:.0f} cooks are what was repeated, "
        "however many pieces each held."
    ),
    RemarkKind.ODD_PIECE: lambda m, r: (
        f"{_names(r)} lies so far out that it is probably odd ({show_chance(r.numbers[0])}); it "
        "counts for less. Look for a slip before anything else."
    ),
    RemarkKind.CENSORED: lambda m, r: (
        f"{_names(r)} never reached the mark: it counts as “at least that long”."
    ),
    RemarkKind.SEVERAL_COMPARISONS: lambda m, r: (
        f"{r.numbers[0]:.0f} comparisons were made; that one of them settles wrongly has a chance "
        f"of up to {show_chance(r.numbers[1])}."
    ),
    RemarkKind.SHARED_ESTIMATE: lambda m, r: (
        f"The {_names(r)} was estimated alike for {r.numbers[0]:.0f} pieces: that is one unknown, "
        "which more pieces do not average out."
    ),
}
