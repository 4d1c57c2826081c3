"""What a simulation says, worked out once for text, JSON and chart."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking import Difference, Simulated, difference
from fairsmoke.cooking.side_by_side import VALUES, interval
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Cover, Place

LEVEL = 0.8
MARKS_SHOWN_C = (54.0, 60.0, 66.0, 71.0, 77.0, 82.0, 88.0, 93.0)
"""Core temperatures whose times are told, °C."""

GUIDELINE_LOG = 6.5
"""Log10 reduction of Salmonella that the USDA FSIS cooking guideline asks of beef."""
LOWEST_TABLED_C = 54.4
"""Lowest temperature in the guideline's time and temperature table."""
HOLD_CODE_C = 57.0
"""Lowest hot holding temperature of the FDA Food Code 3-501.16(A)(1), 135 °F."""
FILM_RATED_C = 110.0
"""Kitchen films are commonly rated 100 to 120 °C: common practice, no source."""
LONGEST_COME_UP_S = 6 * 3600.0
"""Longest slow heating from 10 to 54.4 °C by the same guideline."""
COME_UP_C = (10.0, 54.0)
"""The whole degrees of the model's marks that stand for its ends."""


@dataclass(frozen=True)
class Range:
    """An interval that holds `LEVEL` of the draws, and its middle; NaN when too few have one."""

    low: float
    middle: float
    high: float

    @property
    def known(self) -> bool:
        """Whether there is one."""
        return bool(np.isfinite(self.middle))

    @property
    def width(self) -> float:
        """From low to high."""
        return self.high - self.low

    @staticmethod
    def of(values: FloatArray, least_share: float = 0.5) -> "Range":
        """Return the range of an outcome by member, if so many have it."""
        return Range(*interval(values, LEVEL, least_share))


@dataclass(frozen=True)
class ArmSummary:
    """One arm: ranges by the names in cooking's VALUES, marks of the core, ends of stages (s)."""

    id: str
    name: str
    values: dict[str, Range]
    marks_s: dict[float, Range]
    stages_s: dict[str, Range]
    band_hours: FloatArray
    band_c: FloatArray
    never_ended: int
    not_worked_out: int


@dataclass(frozen=True)
class ArmDifference:
    """How an arm differs from the base in the same draws."""

    arm: str
    name: str
    values: dict[str, Difference]


@dataclass(frozen=True)
class PieceSummary:
    """What is expected of one piece: arm → ranges of time on the cooker and of yield."""

    id: str
    name: str
    arms: dict[str, dict[str, Range]]


@dataclass(frozen=True)
class Summary:
    """The whole simulation as it is told. Means over all pieces unless it says of one."""

    title: str
    complete: bool
    cooks_done: int
    cooks: int
    draws: int
    seed: int
    whole_body: bool
    arms: tuple[ArmSummary, ...]
    differences: tuple[ArmDifference, ...]
    pieces: tuple[PieceSummary, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]


def summary_of(found: Simulated) -> Summary:
    """Work out every number that is told."""
    plan = found.plan
    arms = tuple(_arm(found, arm.id, arm.name) for arm in plan.arms)
    base = plan.arms[0].id
    differences = tuple(
        ArmDifference(
            arm.id,
            arm.name,
            {n: difference(found.value(arm.id, n), found.value(base, n), LEVEL) for n in VALUES},
        )
        for arm in plan.arms[1:]
    )
    pieces = tuple(
        PieceSummary(
            piece.id,
            piece.name,
            {
                arm.id: {n: Range.of(found.value(arm.id, n, piece.id)) for n in VALUES}
                for arm in plan.arms
            },
        )
        for piece in plan.pieces
    )
    return Summary(
        title=plan.title,
        complete=found.complete,
        cooks_done=found.done,
        cooks=found.cooks,
        draws=plan.members,
        seed=plan.seed,
        whole_body=plan.whole_body,
        arms=arms,
        differences=differences,
        pieces=pieces,
        assumed=plan.assumed,
        cautions=tuple(cautions(found, arms)),
    )


def _arm(found: Simulated, arm: str, name: str) -> ArmSummary:
    protocol = next(one.protocol for one in found.plan.arms if one.id == arm)
    # A mark that only the quicker cooks reach would look early.
    marks = {c: Range.of(found.mark(arm, c), 0.9) for c in MARKS_SHOWN_C}
    hours, band = _band(found, arm)
    return ArmSummary(
        arm,
        name,
        {n: Range.of(found.value(arm, n)) for n in VALUES},
        {c: shown for c, shown in marks.items() if shown.known},
        {s.id: Range.of(found.stage_end(arm, k)) for k, s in enumerate(protocol.stages)},
        hours,
        band,
        found.never_ended(arm),
        found.not_worked_out(arm),
    )


def _band(found: Simulated, arm: str) -> tuple[FloatArray, FloatArray]:
    """Return hours and the core's low, middle and high there, while most cooks still run."""
    core = np.concatenate([found.cooked[arm, one.id].core_c for one in found.plan.pieces])
    run = np.concatenate([found.cooked[arm, one.id].ended for one in found.plan.pieces]) > 0
    core = core[run]
    if not core.size:
        return np.zeros(0), np.zeros((3, 0))
    # Those that have ended are no longer there to be counted; below half the rest misleads.
    some = np.mean(np.isfinite(core), axis=0) >= 0.5
    edge = 0.5 * (1.0 - LEVEL)
    band = np.nanquantile(core[:, some], [edge, 0.5, 1.0 - edge], axis=0)
    return found.sample_s[some] / 3600.0, np.asarray(band)


STANDING = (
    "Take this as a rough guide. In published studies that the model was not fitted to, half of "
    "its losses were off by about 4 points or more; in cooks' own logs half of its times were off "
    "by about a third or more (docs/validation.md)"
)
"""What is told before any number, for as long as the bars of docs/validation.md are missed."""


def cautions(found: Simulated, arms: tuple[ArmSummary, ...]) -> Iterator[str]:
    """Yield what a person must bear in mind about these very cooks. Nothing here says safe."""
    for arm, told in zip(found.plan.arms, arms, strict=True):
        if told.never_ended:
            yield (
                f"{arm.name}: {told.never_ended} of {found.cooks // len(arms)} cooks never came "
                "to the end of their protocol and are left out, so times lean to the short side"
            )
        if told.not_worked_out:
            yield (
                f"{arm.name}: the solver gave up on {told.not_worked_out} of "
                f"{found.cooks // len(arms)} cooks, which are left out; that is a fault of ours"
            )
        salmonella, end = told.values["log_salmonella"], told.values["core_end_c"]
        if salmonella.known and salmonella.low < GUIDELINE_LOG:
            yield (
                f"{arm.name}: the coldest part may get fewer than {GUIDELINE_LOG} log10 of "
                "Salmonella, which the published cooking guideline for beef asks for"
            )
        if end.known and end.low < LOWEST_TABLED_C:
            yield f"{arm.name}: may end below {LOWEST_TABLED_C} °C, where that guideline begins"
        first, last = (found.mark(arm.id, c) for c in COME_UP_C)
        come_up = Range.of(last - first)
        if come_up.known and come_up.high > LONGEST_COME_UP_S:
            yield (
                f"{arm.name}: the core may take more than 6 h from 10 to 54 °C, the longest that "
                "the guideline gives for slow heating"
            )
        for stage in arm.protocol.stages:
            covers = {stage.wrap.above, stage.wrap.below}
            hot = stage.surround_c is not None and stage.surround_c > FILM_RATED_C
            if hot and covers & {Cover.FILM, Cover.FILM_UNDER_FOIL}:
                yield (
                    f"{arm.name}, stage '{stage.id}': film in air of {stage.surround_c:g} °C; look "
                    "up its rated temperature and keep it from direct heat"
                )
            holds = stage.place in (Place.CABINET, Place.COOLER)
            if holds and stage.surround_c is not None and stage.surround_c < HOLD_CODE_C:
                yield (
                    f"{arm.name}, stage '{stage.id}': holds at {stage.surround_c:g} °C, below the "
                    f"{HOLD_CODE_C:g} °C of the Food Code"
                )
    if not found.plan.whole_body:
        yield (
            "Quick: one column through the thick part. Edges and thin ends are not in it, so a "
            "piece keeps less than it says here"
        )
    yield (
        "A model's numbers, not a record: they never show that food is safe. Cook, hold and cool "
        "by your local code and your food authority's tables, with a thermometer"
    )
    yield (
        "Intervals cover what the model leaves open, not what it leaves out (docs/limits.md); how "
        "far it was off in published cooks stands in docs/validation.md"
    )
