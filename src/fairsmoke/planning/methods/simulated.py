"""What a simulation of arms side by side says, as numbers: intervals, differences, warnings."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking import EnsembleDifference, Simulated, difference
from fairsmoke.cooking.side_by_side import VALUES, ArmToCook, interval
from fairsmoke.messages.message import Message, Words
from fairsmoke.physics.cook_table import LOWEST_C
from fairsmoke.physics.limits import (
    COME_UP,
    LEAST_SALMONELLA_LOG,
    SAFETY_LIMITS,
    least_c,
    within_s,
)
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Cover, Place, Stage

LEVEL = 0.8
"""The share of draws that an interval holds."""
MARKS_SHOWN_C = (54.0, 60.0, 66.0, 71.0, 77.0, 82.0, 88.0, 93.0)
"""Core temperatures whose times are told, °C."""

GUIDELINE_LOG = LEAST_SALMONELLA_LOG
"""Log10 reduction of Salmonella that the USDA FSIS cooking guideline asks of beef."""
LOWEST_TABLED_C = LOWEST_C
"""Lowest temperature in the guideline's time and temperature table."""
HOLD_CODE_C = least_c(SAFETY_LIMITS["hold 57 °C"])
"""Lowest hot holding temperature of the FDA Food Code 3-501.16(A)(1), 135 °F."""
FILM_RATED_C = 110.0
"""Kitchen films are commonly rated 100 to 120 °C: common practice, no source."""
LONGEST_COME_UP_S = within_s(COME_UP)
"""Longest slow heating from 10 to 54.4 °C by the same guideline."""
COME_UP_C = (10.0, 54.0)
"""The whole degrees of the model's marks that stand for its ends."""


@dataclass(frozen=True)
class DrawInterval:
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
    def of(values: FloatArray, least_share: float = 0.5) -> "DrawInterval":
        """Return the interval of an outcome by member, if so many have it."""
        return DrawInterval(*interval(values, LEVEL, least_share))


@dataclass(frozen=True)
class ArmWarnings:
    """What a person must bear in mind about the very cooks of an arm.

    ``never_ended`` and ``not_worked_out`` of ``cooks`` are left out. ``few_log``, ``below_table``
    and ``slow_come_up`` hold where the worse end of the interval is beyond the guideline's figure.
    ``hot_film`` and ``cool_hold`` are the stages with film in hot air, or held too cool.
    """

    cooks: int
    never_ended: int
    not_worked_out: int
    few_log: bool
    below_table: bool
    slow_come_up: bool
    hot_film: tuple[Stage, ...]
    cool_hold: tuple[Stage, ...]


@dataclass(frozen=True)
class ArmSummary:
    """One arm: intervals by the names in cooking's VALUES, marks of the core, ends of stages (s).

    ``band_c`` is the core's low, middle and high at ``band_hours``.
    """

    id: str
    name: Words
    values: dict[str, DrawInterval]
    marks_s: dict[float, DrawInterval]
    stages_s: dict[str, DrawInterval]
    band_hours: FloatArray
    band_c: FloatArray
    warnings: ArmWarnings


@dataclass(frozen=True)
class ArmDifference:
    """How an arm differs from the base in the same draws."""

    arm: str
    name: Words
    values: dict[str, EnsembleDifference]


@dataclass(frozen=True)
class PieceSummary:
    """What is expected of one piece: arm → intervals by the names in cooking's VALUES."""

    id: str
    name: str
    arms: dict[str, dict[str, DrawInterval]]


@dataclass(frozen=True)
class SimulationSummary:
    """The whole simulation as it is told. Means over all pieces unless it says of one.

    ``assumed`` says what was taken that nobody gave.
    """

    title: Words
    complete: bool
    cooks_done: int
    cooks: int
    draws: int
    seed: int
    whole_body: bool
    arms: tuple[ArmSummary, ...]
    differences: tuple[ArmDifference, ...]
    pieces: tuple[PieceSummary, ...]
    assumed: tuple[Message, ...]


def summary_of(
    found: Simulated,
    title: Words,
    names: Mapping[str, Words],
    assumed: tuple[Message, ...] = (),
) -> SimulationSummary:
    """Work out every number that is told; ``names`` are the arms' by their handles."""
    plan = found.plan
    base = plan.arms[0].id
    differences = tuple(
        ArmDifference(
            arm.id,
            names[arm.id],
            {n: difference(found.value(arm.id, n), found.value(base, n), LEVEL) for n in VALUES},
        )
        for arm in plan.arms[1:]
    )
    pieces = tuple(
        PieceSummary(
            piece.id,
            piece.name,
            {
                arm.id: {n: DrawInterval.of(found.value(arm.id, n, piece.id)) for n in VALUES}
                for arm in plan.arms
            },
        )
        for piece in plan.pieces
    )
    return SimulationSummary(
        title=title,
        complete=found.complete,
        cooks_done=found.done,
        cooks=found.cooks,
        draws=plan.members,
        seed=plan.seed,
        whole_body=plan.whole_body,
        arms=tuple(_arm(found, arm, names[arm.id]) for arm in plan.arms),
        differences=differences,
        pieces=pieces,
        assumed=assumed,
    )


def _arm(found: Simulated, arm: ArmToCook, name: Words) -> ArmSummary:
    # A mark that only the quicker cooks reach would look early.
    marks = {c: DrawInterval.of(found.mark(arm.id, c), 0.9) for c in MARKS_SHOWN_C}
    values = {n: DrawInterval.of(found.value(arm.id, n)) for n in VALUES}
    hours, band = _band(found, arm.id)
    return ArmSummary(
        arm.id,
        name,
        values,
        {c: shown for c, shown in marks.items() if shown.known},
        {
            stage.id: DrawInterval.of(found.stage_end(arm.id, at))
            for at, stage in enumerate(arm.protocol.stages)
        },
        hours,
        band,
        _warnings(found, arm, values),
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


def _warnings(found: Simulated, arm: ArmToCook, values: dict[str, DrawInterval]) -> ArmWarnings:
    salmonella, end = values["log_salmonella"], values["core_end_c"]
    first, last = (found.mark(arm.id, c) for c in COME_UP_C)
    come_up = DrawInterval.of(last - first)
    stages = [stage for stage in arm.protocol.stages if stage.surround_c is not None]
    return ArmWarnings(
        cooks=found.cooks // len(found.plan.arms),
        never_ended=found.never_ended(arm.id),
        not_worked_out=found.not_worked_out(arm.id),
        few_log=salmonella.known and salmonella.low < GUIDELINE_LOG,
        below_table=end.known and end.low < LOWEST_TABLED_C,
        slow_come_up=come_up.known and come_up.high > LONGEST_COME_UP_S,
        hot_film=tuple(stage for stage in stages if _film_in_hot_air(stage)),
        cool_hold=tuple(stage for stage in stages if _held_too_cool(stage)),
    )


def _film_in_hot_air(stage: Stage) -> bool:
    covers = {stage.wrap.above, stage.wrap.below}
    hot = stage.surround_c is not None and stage.surround_c > FILM_RATED_C
    return hot and bool(covers & {Cover.FILM, Cover.FILM_UNDER_FOIL})


def _held_too_cool(stage: Stage) -> bool:
    held = stage.place in (Place.CABINET, Place.COOLER)
    return held and stage.surround_c is not None and stage.surround_c < HOLD_CODE_C
