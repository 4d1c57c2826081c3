"""What the charts of an answer show: numbers as they are drawn, and words that are messages.

A finding is kept with what its charts show, so that they are drawn for any reader later.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fairsmoke.judging.finding import Difference, Finding, MeasureFinding
from fairsmoke.messages.message import N_, Listed, Words, alone, bracketed
from fairsmoke.quantity.values import Mass, Share
from fairsmoke.telling.chart_style import shortened
from fairsmoke.telling.document import kept
from fairsmoke.telling.numbers import (
    difference_unit,
    direction,
    level_unit,
    show_chance,
    show_difference,
    show_difference_interval,
    show_size,
    show_value,
    show_with_interval,
    shown_times,
    unit_words,
)
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import Better, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, Part, PartKind
from fairsmoke.weighing import Known, Solution

_NORMAL_95 = 1.959963984540054
_LABEL_ROOM = 0.3
"""Share of a chart's width that the words beside a zone need."""


@kept
@dataclass(frozen=True)
class Dot:
    """One piece's value with the 95 % interval of measuring it; ``arm`` is the arm's number."""

    arm: int
    value: float
    low: float
    high: float
    text: Words


@kept
@dataclass(frozen=True)
class DotRow:
    """The partners of one pair, or a piece on its own, as one row of the chart."""

    label: Sequence[str]
    dots: Sequence[Dot]
    missing: Words


@kept
@dataclass(frozen=True)
class Dots:
    """Every piece's value of a measure, row by row."""

    arms: Sequence[str]
    rows: Sequence[DotRow]
    unit: str


def dots_of(record: TrialRecord, found: MeasureFinding) -> Dots:
    """Gather the values of every piece, partners side by side in the record's order."""
    measure = found.measure
    arms = [arm.id for arm in record.trial.arms]
    rows: dict[str, list[tuple[Piece, Dot | None]]] = {}
    for piece, response in zip(record.units, found.responses.rows, strict=True):
        dot = None
        if response.value is not None:
            # Tasters' disagreement is no error of measuring a piece, so a score is a bare dot.
            unsure = None if measure.kind is MeasureKind.SCORE else response.uncertainty
            dot = _dot(measure, arms.index(piece.arm or ""), response.value, unsure)
        key = piece.pair or piece.half_of or f"(own) {piece.id}"
        rows.setdefault(key, []).append((piece, dot))
    return Dots(
        arms=tuple(arm.name for arm in record.trial.arms),
        rows=tuple(_dot_row(record, members) for members in rows.values()),
        unit=level_unit(measure),
    )


def _dot(measure: Measure, arm: int, value: float, uncertainty: float | None) -> Dot:
    times = shown_times(measure)
    half = _NORMAL_95 * (uncertainty or 0.0)
    low, high = ((value - half) * times, (value + half) * times)
    if measure.kind is MeasureKind.YIELD:
        low = max(low, 0.0)
    return Dot(arm, value * times, low, high, show_value(measure, value))


def _dot_row(record: TrialRecord, members: Sequence[tuple[Piece, Dot | None]]) -> DotRow:
    cooks = {cook.id: cook.name for cook in record.cooks}
    names = " · ".join(piece.name for piece, _ in members)
    cook = cooks.get(members[0][0].cook or "", "")
    gone = [piece.name for piece, dot in members if dot is None]
    return DotRow(
        label=(cook, names) if cook else (names,),
        dots=tuple(dot for _, dot in members if dot is not None),
        missing=N_("no value: %(pieces)s", pieces=shortened(", ".join(gone), 50)) if gone else "",
    )


@kept
@dataclass(frozen=True)
class Zone:
    """A stretch of the difference axis: whether it is better, its words and its chance."""

    side: Literal["better", "worse", "neither", "no difference"]
    words: Words
    chance: Words
    low: float
    high: float


@kept
@dataclass(frozen=True)
class PosteriorCurve:
    """The posterior of a difference, ready to draw.

    ``curve`` as (difference, density); the axis runs from ``low`` to ``high``; ``zones`` are the
    ones below, around and above nought, in that order.
    """

    curve: Sequence[tuple[float, float]]
    mean: float
    interval: tuple[float, float]
    text: Words
    zones: Sequence[Zone]
    low: float
    high: float
    unit: Words


def posterior_of(
    measure: Measure, difference: Difference, lines: Sequence[float] = ()
) -> PosteriorCurve:
    """Gather the posterior of a difference with its three zones.

    No chance is rounded across one of the ``lines`` that decide.
    """
    times = shown_times(measure)
    curve = tuple((x * times, y / times) for x, y in difference.density)
    edge = measure.worthwhile * times
    low, high = _with_room(min(curve[0][0], -edge), max(curve[-1][0], edge), edge)
    verdict = difference.verdict
    above, below = verdict.better_by_enough, verdict.worse_by_enough
    if measure.better is Better.LOWER:
        above, below = below, above
    chances = [show_chance(one, lines=lines) for one in (above, verdict.no_difference, below)]
    within = N_(
        "no difference that matters: under %(size)s", size=show_size(measure, measure.worthwhile)
    )
    return PosteriorCurve(
        curve=curve,
        mean=difference.believed.value * times,
        interval=(difference.believed.low * times, difference.believed.high * times),
        text=_mean_words(measure, difference),
        zones=(
            _outer_zone(measure, -1, chances[2], (low, -edge)),
            Zone("no difference", within, chances[1], -edge, edge),
            _outer_zone(measure, 1, chances[0], (edge, high)),
        ),
        low=low,
        high=high,
        unit=unit_words(difference_unit(measure)),
    )


def _outer_zone(
    measure: Measure, way: Literal[-1, 1], chance: Words, ends: tuple[float, float]
) -> Zone:
    size = show_size(measure, measure.worthwhile)
    words = direction(measure, way, N_("over %(size)s", size=size))
    if measure.better is Better.NEITHER:
        return Zone("neither", words, chance, *ends)
    if (way > 0) == (measure.better is Better.HIGHER):
        return Zone("better", N_("better: %(words)s", words=words), chance, *ends)
    return Zone("worse", N_("worse: %(words)s", words=words), chance, *ends)


def _mean_words(measure: Measure, difference: Difference) -> Words:
    found = difference.believed
    ends = show_difference_interval(measure, found.low, found.high)
    return bracketed(
        show_difference(measure, found.value, found.low, found.high),
        N_("%(level)s interval %(ends)s", level=Share(found.level, 0), ends=ends),
    )


def _with_room(low: float, high: float, edge: float) -> tuple[float, float]:
    """Widen an axis so that there is room for words outside −edge and edge."""
    for _ in range(3):
        low = min(low, (-edge - _LABEL_ROOM * high) / (1 - _LABEL_ROOM))
        high = max(high, (edge - _LABEL_ROOM * low) / (1 - _LABEL_ROOM))
    return low, high


@kept
@dataclass(frozen=True)
class Stripe:
    """One difference in units of what is worthwhile, to the right when it is better."""

    label: Sequence[Words]
    mean: float
    low: float
    high: float
    sided: bool


@kept
@dataclass(frozen=True)
class Stripes:
    """Every difference of every measure; ``axis`` says in what they are drawn."""

    rows: Sequence[Stripe]
    axis: Words


def stripes_of(finding: Finding) -> Stripes:
    """Gather every difference of every measure, on one scale of worthwhile differences."""
    trial = finding.record.trial
    found: list[Stripe] = []
    for one in finding.measures:
        measure = one.measure
        for difference in one.differences:
            name = measure.name
            if len(trial.arms) > 2:
                arm, base = trial.arm(difference.arm).name, trial.arm(difference.base).name
                name = f"{shortened(name, 18)}: {shortened(arm, 14)} − {shortened(base, 14)}"
            believed = difference.believed
            scale = (-1 if measure.better is Better.LOWER else 1) / measure.worthwhile
            low, high = sorted((believed.low * scale, believed.high * scale))
            found.append(
                Stripe(
                    label=(
                        name,
                        show_with_interval(measure, believed.value, believed.low, believed.high),
                    ),
                    mean=believed.value * scale,
                    low=low,
                    high=high,
                    sided=measure.better is not Better.NEITHER,
                )
            )
    return Stripes(tuple(found), N_("← worse  ·  in worthwhile differences  ·  better →"))


@kept
@dataclass(frozen=True)
class MassPart:
    """A stretch of a piece's mass bar."""

    name: Words
    mass_kg: float
    text: Words


@kept
@dataclass(frozen=True)
class MassBar:
    """Where the meat of one piece went: what is left of it and what each step took.

    ``whole`` where that is told from the meat as bought.
    """

    label: str
    parts: Sequence[MassPart]
    whole: bool = False


_STEPS = (
    (MeatState.SERVED, N_("served")),
    (MeatState.HELD, N_("bone and waste")),
    (MeatState.COOKED, N_("lost in the hold")),
    (MeatState.TRIMMED, N_("lost on the cooker")),
    (MeatState.BOUGHT, N_("trimmed off")),
)


@kept
@dataclass(frozen=True)
class Masses:
    """Where the meat of every piece went."""

    bars: Sequence[MassBar]


ChartData = Dots | PosteriorCurve | Stripes | Masses


def masses_of(record: TrialRecord, ledger: Solution | None) -> Masses:
    """Gather where the meat of each piece went, from the states that its weighings settle.

    Pieces with fewer than two such states have no bar.
    """
    if ledger is None:
        return Masses(())
    found = [_mass_bar(ledger, piece) for piece in record.units]
    return Masses(tuple(bar for bar in found if len(bar.parts) > 1))


def _mass_bar(ledger: Solution, piece: Piece) -> MassBar:
    parts: list[MassPart] = []
    skipped: list[Words] = []
    below, whole = 0.0, False
    for state, name in _STEPS:
        part = ledger.known(piece.id, Part(kind=PartKind.MEAT, label=state))
        if part.spread is None or part.how is Known.BOUNDED:
            # Nothing was lost between states that nobody weighed, as far as can be told.
            skipped += [name] if parts else []
            continue
        words = Listed([*skipped, name], "and") if parts else N_("meat left")
        step = part.spread.mean - below
        if step > 0:
            parts.append(MassPart(words, step, alone(Mass(step, rough=True))))
            below, skipped, whole = part.spread.mean, [], state is MeatState.BOUGHT
    return MassBar(piece.name, tuple(parts), whole)
