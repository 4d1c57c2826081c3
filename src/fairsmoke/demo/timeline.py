"""The course of each invented cook: when what was done, and where each probe was meanwhile.

Times are seconds after the fire was lit, on whole minutes as a person notes them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from fairsmoke.demo.scenario import (
    HOLD_S,
    JULY,
    LEFT,
    MAY,
    NIGHTS,
    OCTOBER,
    PAPER,
    RIGHT,
    Night,
    Shoulder,
    shoulders_of,
)
from fairsmoke.demo.truth import Truth

MINUTE, HOUR = 60.0, 3600.0

MOVED_BEFORE_PULL_S = HOUR
"""In July the free needle is put into the other piece for its last hour."""

ROOM, UNPLUGGED, CABINET_AIR = "room", "unplugged", "cabinet"


def pit_air(side: str) -> str:
    """Return the name of the surroundings on that side of the barrel."""
    return f"pit {side}"


def core(piece: str) -> str:
    """Return the name of the surroundings inside that piece."""
    return f"core {piece}"


def core_elsewhere(piece: str) -> str:
    """Return the name of the surroundings inside that piece, beside the bone."""
    return f"core beside the bone {piece}"


@dataclass(frozen=True)
class PieceTimes:
    """When one piece reached each step; ``wrap`` is None for a bare piece."""

    on: float
    stall: float
    wrap: float | None
    pull: float
    hold: float
    hold_end: float


@dataclass(frozen=True)
class Fall:
    """A core probe that lay in the pit air from ``fell`` to ``back``; ``noted`` by the cook."""

    probe: str
    piece: str
    side: str
    fell: float
    noted: float
    back: float


@dataclass(frozen=True)
class Course:
    """All times of one cook."""

    night: Night
    pair: tuple[Shoulder, Shoulder]
    times: Mapping[str, PieceTimes]
    logger_on: float
    refuels: tuple[float, ...]
    waters: tuple[float, ...]
    looks: tuple[float, ...]
    cabinet_on: float
    slice: float
    serve: float
    fall: Fall | None = None
    gap: tuple[float, float] | None = None

    def at(self, seconds: float) -> datetime:
        """Return the instant (UTC) of a time in this course."""
        return self.night.starts + timedelta(seconds=seconds)

    @property
    def on(self) -> float:
        """When both pieces went on."""
        return self.times[self.pair[0].handle].on

    @property
    def last_pull(self) -> float:
        """When the fire was no longer needed."""
        return max(times.pull for times in self.times.values())

    @property
    def ends(self) -> float:
        """When the tables were cleared."""
        return self.serve + 40 * MINUTE

    @property
    def openings(self) -> tuple[float, ...]:
        """Every time at which the lid was lifted."""
        steps = [self.on, *self.refuels, *self.waters, *self.looks]
        for times in self.times.values():
            steps += [times.wrap if times.wrap is not None else times.stall, times.pull]
        if self.fall is not None:
            steps.append(self.fall.back)
        return tuple(sorted(step for step in steps if self.on <= step <= self.last_pull))


def _minute(seconds: float) -> float:
    return round(seconds / MINUTE) * MINUTE


def draw_courses(seed: int, truth: Mapping[str, Truth]) -> tuple[Course, ...]:
    """Return the three cooks under that seed."""
    rng = np.random.default_rng([seed, 2])
    return tuple(_draw_course(night, truth, rng) for night in NIGHTS)


def _draw_course(night: Night, truth: Mapping[str, Truth], rng: np.random.Generator) -> Course:
    pair = shoulders_of(night)
    on = _minute(rng.uniform(65, 80) * MINUTE)
    times = {row.handle: _piece_times(on, truth[row.handle], row.arm, rng) for row in pair}
    last_pull = max(piece.pull for piece in times.values())
    slicing = max(piece.hold_end for piece in times.values()) + 15 * MINUTE
    return Course(
        night=night,
        pair=pair,
        times=times,
        logger_on=float(rng.integers(240, 600)),
        refuels=tuple(_every(on + 2.2 * HOUR, 3.1 * HOUR, last_pull - HOUR, rng)),
        waters=(
            on - 15 * MINUTE,
            *_every(on + 4.8 * HOUR, 4.5 * HOUR, last_pull - HOUR, rng),
        ),
        looks=(_minute(on + rng.uniform(2.9, 3.3) * HOUR),),
        cabinet_on=min(piece.pull for piece in times.values()) - 90 * MINUTE,
        slice=slicing,
        serve=slicing + 12 * MINUTE,
        fall=_fall(on, pair[0]) if night is MAY else None,
        gap=(on + 2 * HOUR + 5 * MINUTE, on + 2 * HOUR + 43 * MINUTE) if night is JULY else None,
    )


def _piece_times(on: float, truth: Truth, arm: str, rng: np.random.Generator) -> PieceTimes:
    pull = _minute(on + truth.pulled_s)
    hold = pull + _minute(rng.uniform(12, 18) * MINUTE)
    return PieceTimes(
        on=on,
        stall=_minute(on + truth.at_stall_s),
        wrap=_minute(on + truth.wrapped_s) if arm == PAPER else None,
        pull=pull,
        hold=hold,
        hold_end=hold + HOLD_S + _minute(rng.uniform(-3, 6) * MINUTE),
    )


def _every(first: float, apart: float, until: float, rng: np.random.Generator) -> Iterator[float]:
    at = first
    while at < until:
        yield _minute(at + rng.uniform(-20, 20) * MINUTE)
        at += apart


def _fall(on: float, row: Shoulder) -> Fall:
    noted = on + 4 * HOUR + 40 * MINUTE
    return Fall(
        probe="core-1",
        piece=row.handle,
        side=row.side,
        fell=noted - 100.0,
        noted=noted,
        back=noted + 61 * MINUTE,
    )


@dataclass(frozen=True)
class Stay:
    """A probe was in ``what`` (the name of its surroundings) from ``since`` to ``until``."""

    what: str
    since: float
    until: float


def core_probe(course: Course, row: Shoulder) -> str:
    """Return the id of the needle that the piece got."""
    return "core-1" if row is course.pair[0] else "core-2"


def pulled_first(course: Course) -> tuple[Shoulder, Shoulder]:
    """Return the pair in the order in which it was pulled."""
    first, second = sorted(course.pair, key=lambda row: course.times[row.handle].pull)
    return first, second


def moved_at(course: Course) -> float | None:
    """Return when the needle of the first piece done was put into the other, if it was."""
    return course.last_pull - MOVED_BEFORE_PULL_S if course.night is JULY else None


def stays_of(course: Course) -> dict[str, tuple[Stay, ...]]:
    """Return where each probe truly was, without a break, from the lighting to the end."""
    # In October the needles are unplugged when idle; on other nights they lie on the bench.
    idle = UNPLUGGED if course.night is OCTOBER else ROOM
    cabinet_idle = ROOM if course.night is JULY else UNPLUGGED
    found = {core_probe(course, row): _core_stays(course, row) for row in course.pair}
    for side in (LEFT, RIGHT):
        found[f"pit-{side}"] = [Stay(pit_air(side), 0.0, course.ends)]
    found["cabinet"] = [Stay(CABINET_AIR, course.cabinet_on, course.ends)]
    return {
        probe: tuple(_filled(stays, cabinet_idle if probe == "cabinet" else idle, course.ends))
        for probe, stays in found.items()
    }


def _core_stays(course: Course, row: Shoulder) -> list[Stay]:
    times = course.times[row.handle]
    inside = core(row.handle)
    first, last = pulled_first(course)
    moved = moved_at(course) if row is first else None
    if moved is not None:
        return [
            Stay(inside, times.on, min(times.pull, moved)),
            Stay(core_elsewhere(last.handle), moved, course.last_pull),
        ]
    held = Stay(inside, times.hold, times.hold_end)
    fall = course.fall
    if fall is not None and fall.piece == row.handle:
        return [
            Stay(inside, times.on, fall.fell),
            Stay(pit_air(fall.side), fall.fell, fall.back),
            Stay(inside, fall.back, times.pull),
            held,
        ]
    return [Stay(inside, times.on, times.pull), held]


def _filled(stays: list[Stay], idle: str, until: float) -> Iterator[Stay]:
    at = 0.0
    for stay in stays:
        if stay.since > at:
            yield Stay(idle, at, stay.since)
        yield stay
        at = stay.until
    if at < until:
        yield Stay(idle, at, until)
