"""What lay on which scale, what it read, and what was only guessed.

Forgotten: the trimmed meat of Shoulder 4 on its tray. Read in pounds and ounces: the trimmed meat
of Shoulder 5, on the hall's spring scale. Bought weights were noted in May and July only.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from fairsmoke.demo.scenario import (
    KITCHEN_SCALE,
    NIGHTS,
    OCTOBER,
    OUNCE_KG,
    PAPER,
    POCKET_SCALE,
    SCALES,
    SPRING_SCALE,
    Shoulder,
)
from fairsmoke.demo.timeline import MINUTE, Course
from fairsmoke.demo.truth import Truth
from fairsmoke.trial.weighing import Part, PartEstimate, Scale, Weighing

FORGOTTEN = "shoulder-4-trimmed"
IN_POUNDS = "shoulder-5-trimmed"
SCRAPED = ("shoulder-1", "shoulder-2", "shoulder-3")
"""The pieces whose clinging fat was scraped off onto a scale."""

TRAYS_KG = {"green tray": 0.4137, "blue tray": 0.4209, "white tray": 0.3884, "trim tray": 0.1526}


@dataclass(eq=False)
class _Bench:
    """The scales on the bench, each with an error of its own that it keeps all summer."""

    rng: np.random.Generator
    error_kg: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for scale in SCALES:
            self.error_kg[scale.id] = self.rng.uniform(-0.6, 0.6) * scale.max_error_kg

    def read(self, scale: Scale, true_kg: float) -> tuple[float, str]:
        """Return what the scale shows in kg, and as a person writes it."""
        felt = true_kg + self.error_kg[scale.id] + self.rng.normal(0.0, scale.repeatability_kg)
        steps = max(0, round(felt / scale.resolution_kg))
        if scale is SPRING_SCALE:
            return round(steps * OUNCE_KG, 12), f"{steps // 16} lb {steps % 16} oz"
        grams = steps * round(scale.resolution_kg * 1000)
        return grams / 1000, f"{grams} g"


@dataclass(frozen=True)
class _Load:
    """One thing put on a scale: its parts as a person names them, with their true masses."""

    name: str
    at: datetime
    parts_kg: dict[str, float]
    scale: Scale = KITCHEN_SCALE


def weighings(
    courses: tuple[Course, ...], truth: Mapping[str, Truth], seed: int
) -> tuple[Weighing, ...]:
    """Return every weighing of the trial in the order in which it was made."""
    bench = _Bench(np.random.default_rng([seed, 3]))
    found = list(_tray_weighings(bench))
    for course in courses:
        loads = [
            (row, load)
            for row in course.pair
            for load in _loads(course, row, truth[row.handle])
            if f"{row.handle}-{load.name}" != FORGOTTEN
        ]
        loads.sort(key=lambda pair: pair[1].at)
        found += [_weighed(course, row, load, bench) for row, load in loads]
    return tuple(found)


def _tray_weighings(bench: _Bench) -> Iterator[Weighing]:
    for tray, true_kg in TRAYS_KG.items():
        reading, written = bench.read(KITCHEN_SCALE, true_kg)
        yield Weighing(
            id=tray.replace(" ", "-"),
            cook=NIGHTS[0].handle,
            scale=KITCHEN_SCALE.id,
            reading_kg=reading,
            written=written,
            sum=(Part.parse(tray),),
        )


def _weighed(course: Course, row: Shoulder, load: _Load, bench: _Bench) -> Weighing:
    handle = f"{row.handle}-{load.name}"
    scale = SPRING_SCALE if handle == IN_POUNDS else load.scale
    reading, written = bench.read(scale, sum(load.parts_kg.values()))
    return Weighing(
        id=handle,
        cook=course.night.handle,
        piece=row.handle,
        at=load.at,
        scale=scale.id,
        reading_kg=reading,
        written=written,
        sum=tuple(Part.parse(part) for part in load.parts_kg),
        note="Somebody had borrowed the kitchen scale." if handle == IN_POUNDS else "",
    )


def _loads(course: Course, row: Shoulder, truth: Truth) -> Iterator[_Load]:
    yield from _raw_loads(course, row, truth)
    yield from _cooked_loads(course, row, truth)


def _raw_loads(course: Course, row: Shoulder, truth: Truth) -> Iterator[_Load]:
    on = course.on
    second = 4 * MINUTE * (row is course.pair[1])

    def before(minutes: float) -> datetime:
        return course.at(on - minutes * MINUTE + second)

    tray = f"{row.tray} tray"
    raw = {"trimmed meat": row.trimmed_kg}
    on_tray = {tray: TRAYS_KG[tray]}
    if course.night is not OCTOBER:
        yield _Load("bought", before(130), {"bought meat": row.bought_kg})
    yield _Load("trim", before(100), {"trim": row.trim_kg, "trim tray": TRAYS_KG["trim tray"]})
    yield _Load("trimmed", before(95), raw | on_tray)
    yield _Load("rub", before(60), {"rub": row.rub_kg}, POCKET_SCALE)
    yield _Load("on", before(15), raw | {"rub": row.rub_kg} | on_tray)
    if row.arm == PAPER:
        wrap = {"fresh wrap": truth.fresh_wrap_kg}
        yield _Load("fresh-wrap", before(50), wrap, POCKET_SCALE)


def _cooked_loads(course: Course, row: Shoulder, truth: Truth) -> Iterator[_Load]:
    times = course.times[row.handle]
    tray, white = f"{row.tray} tray", {"white tray": TRAYS_KG["white tray"]}
    on_tray = {tray: TRAYS_KG[tray]}
    clinging = {"clinging fat": truth.clinging_fat_kg}
    pulled = course.at(times.pull + 5 * MINUTE)
    if row.arm == PAPER:
        used = {"fresh wrap": truth.fresh_wrap_kg, "paper drippings": truth.paper_drippings_kg}
        yield _Load("used-wrap", course.at(times.pull + 4 * MINUTE), used, POCKET_SCALE)
    yield _Load("cooked", pulled, {"cooked meat": truth.cooked_kg} | clinging | on_tray)
    if row.handle in SCRAPED:
        yield _Load("clinging-fat", course.at(times.pull + 8 * MINUTE), clinging, POCKET_SCALE)
    held = course.at(times.hold_end + 5 * MINUTE)
    yield _Load("held", held, {"held meat": truth.held_kg} | white)
    juice = {"hold drippings": truth.hold_drippings_kg}
    yield _Load("hold-tray", course.at(times.hold_end + 7 * MINUTE), juice | on_tray)


def estimates(courses: tuple[Course, ...]) -> tuple[PartEstimate, ...]:
    """Return the guesses for the clinging fat that nobody weighed."""
    return tuple(
        PartEstimate(
            id=f"{row.handle}-clinging-fat",
            piece=row.handle,
            part=Part.parse("clinging fat"),
            low_kg=0.020 if row.arm == PAPER else 0.005,
            best_kg=0.040 if row.arm == PAPER else 0.015,
            high_kg=0.070 if row.arm == PAPER else 0.030,
            shape="triangular",
            why="Scraped off and thrown away; judged beside what was weighed on the others.",
        )
        for course in courses
        for row in course.pair
        if row.handle not in SCRAPED
    )
