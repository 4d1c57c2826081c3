"""What the invented cooks wrote down of each night: events, placements and what was left out."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from fairsmoke.demo.scenario import (
    BARREL,
    CABINET,
    LEFT,
    RIGHT,
    SMOKE_LIMIT_S,
    STALL_MARK_C,
    Shoulder,
)
from fairsmoke.demo.timeline import MINUTE, Course, core_probe, moved_at, pulled_first
from fairsmoke.trial.cook import Event, EventKind, Spot
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.probe import Placement

CORE_DEPTH_M = 0.06


@dataclass(frozen=True)
class _Step:
    seconds: float
    kind: EventKind
    details: dict[str, Any] = field(default_factory=dict)


def events_of(course: Course) -> tuple[Event, ...]:
    """Return the events of one cook in order of time."""
    steps = [*_fire_steps(course), *_probe_steps(course), *_table_steps(course)]
    for row in course.pair:
        steps += _piece_steps(course, row)
    steps.sort(key=lambda step: step.seconds)
    return tuple(
        Event(
            id=f"{course.night.handle}-event-{number:02d}",
            cook=course.night.handle,
            at=course.at(step.seconds),
            kind=step.kind,
            **step.details,
        )
        for number, step in enumerate(steps, start=1)
    )


def _fire_steps(course: Course) -> Iterator[_Step]:
    barrel = {"cooker": BARREL}
    yield _Step(0.0, EventKind.FUEL, barrel | {"amount_kg": 5.0, "note": "Lit the fire."})
    first, *topped = course.waters
    yield _Step(first, EventKind.WATER, barrel | {"amount_kg": 3.0, "note": "Filled the pan."})
    for at in topped:
        yield _Step(at, EventKind.WATER, barrel | {"amount_kg": 1.5, "note": "Topped up."})
    for at in course.refuels:
        yield _Step(at, EventKind.FUEL, barrel | {"amount_kg": 1.2})
    for at in course.looks:
        yield _Step(at, EventKind.LID, barrel | {"note": "A look at both."})


def _piece_steps(course: Course, row: Shoulder) -> Iterator[_Step]:
    times = course.times[row.handle]
    mine = {"pieces": (row.handle,)}
    if row is course.pair[0]:
        both = tuple(other.handle for other in course.pair)
        yield _Step(times.on, EventKind.ON, {"pieces": both, "cooker": BARREL})
    late = times.stall - times.on >= SMOKE_LIMIT_S
    why = "9 h are up." if late else f"Core at {STALL_MARK_C:.0f} °C."
    if times.wrap is not None:
        note = f"{why} Two sheets of paper, all round."
        yield _Step(times.wrap, EventKind.WRAP, mine | {"note": note})
        yield _Step(times.pull + 2 * MINUTE, EventKind.UNWRAP, mine)
    else:
        note = f"{why} Lid lifted as long as for a wrap; left bare."
        yield _Step(times.stall, EventKind.LID, mine | {"cooker": BARREL, "note": note})
    yield _Step(times.pull, EventKind.PULL, mine)
    yield _Step(times.hold, EventKind.HOLD, mine | {"cooker": CABINET})
    yield _Step(times.hold_end, EventKind.HOLD_END, mine)


def _probe_steps(course: Course) -> Iterator[_Step]:
    if course.fall is not None:
        fall = course.fall
        about = {"pieces": (fall.piece,), "probe": fall.probe}
        note = "Lay beside the piece; seen on the display later."
        yield _Step(fall.noted, EventKind.PROBE_OUT, about | {"note": note})
        yield _Step(fall.back, EventKind.PROBE_IN, about | {"note": "Put back in the middle."})
    moved = moved_at(course)
    if moved is not None:
        first, last = pulled_first(course)
        about = {"pieces": (last.handle,), "probe": core_probe(course, first)}
        note = f"The needle of {first.name}, now beside the bone of {last.name}."
        yield _Step(moved, EventKind.PROBE_IN, about | {"note": note})
    if course.gap is not None:
        note = "The logger had stopped; gave it a new battery."
        yield _Step(course.gap[1], EventKind.NOTE, {"note": note})


def _table_steps(course: Course) -> Iterator[_Step]:
    both = {"pieces": tuple(row.handle for row in course.pair)}
    yield _Step(course.slice, EventKind.SLICE, both)
    yield _Step(course.serve, EventKind.SERVE, both)


def placements_of(course: Course) -> tuple[Placement, ...]:
    """Return where the cooks say that each probe was, in the order in which it was put there."""
    cook = course.night.handle
    found = [stay for row in course.pair for stay in _core_placements(course, row)]
    found += [
        Placement(
            id=f"{cook}-pit-{side}",
            cook=cook,
            probe=f"pit-{side}",
            since=course.at(0.0),
            until=course.at(course.last_pull),
            measures="pit",
            spot=Spot(cooker=BARREL, position=side),
        )
        for side in (LEFT, RIGHT)
    ]
    found.append(
        Placement(
            id=f"{cook}-cabinet",
            cook=cook,
            probe="cabinet",
            since=course.at(course.cabinet_on),
            measures="cabinet",
            spot=Spot(cooker=CABINET, position="shelf"),
        )
    )
    return tuple(sorted(found, key=lambda placement: placement.since))


def _core_placements(course: Course, row: Shoulder) -> Iterator[Placement]:
    cook, times, probe = course.night.handle, course.times[row.handle], core_probe(course, row)
    first, last = pulled_first(course)
    moved = moved_at(course) if row is first else None

    def placement(name: str, piece: str, where: str, since: float, until: float) -> Placement:
        return Placement(
            id=f"{cook}-{probe}-{name}",
            cook=cook,
            probe=probe,
            since=course.at(since),
            until=course.at(until),
            measures="core",
            piece=piece,
            where=where,
            depth_m=CORE_DEPTH_M,
        )

    middle = "middle, clear of the bone"
    if moved is None:
        yield placement("smoke", row.handle, middle, times.on, times.pull)
        yield placement("hold", row.handle, middle, times.hold, times.hold_end)
    else:
        yield placement("smoke", row.handle, middle, times.on, min(times.pull, moved))
        yield placement("moved", last.handle, "beside the bone", moved, course.last_pull)


def exclusions_of(course: Course) -> tuple[Exclusion, ...]:
    """Return what the cooks left out: the hour in which a needle lay in the pit air."""
    fall = course.fall
    if fall is None:
        return ()
    return (
        Exclusion(
            id=f"{course.night.handle}-probe-out",
            why="The needle had fallen out and lay in the pit air.",
            probe=fall.probe,
            cook=course.night.handle,
            since=course.at(fall.noted - 5 * MINUTE),
            until=course.at(fall.back + 10 * MINUTE),
            decided=course.at(course.ends),
        ),
    )
