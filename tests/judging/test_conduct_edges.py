"""What the readings show of a cook, exactly at each limit and just beyond, on a few points by hand.

Limits are those of tests/published/test_safety_limits.py; expected times are read off straight
lines between the points.
"""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.judging.records import record_of

from fairsmoke.judging.conduct import (
    Conduct,
    Cooling,
    Implausible,
    PieceConduct,
    conduct_of,
    mean_excess,
)
from fairsmoke.judging.traces import Trace
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Event, EventKind, Spot
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage
from fairsmoke.trial.reading import Readings

H = 3600.0
ON, PULL, WRAP = EventKind.ON, EventKind.PULL, EventKind.WRAP
HOLD, HOLD_END, RAISE = EventKind.HOLD, EventKind.HOLD_END, EventKind.RAISE
Points = list[tuple[float, float]]
Happening = tuple[EventKind, float]

EMPTY = record_of([(0.58, 0.61)])
START = EMPTY.cooks[0].starts
COOKED: tuple[Happening, ...] = ((ON, 1), (PULL, 10))


def readings(points: Points) -> Readings:
    return Readings(
        time_ms=np.array([epoch_ms(START) + round(h * H * 1000) for h, _ in points], np.int64),
        raw=np.array([round(value * 10) for _, value in points], np.int64),
        decimals=1,
        unit="degC",
        flags=np.zeros(len(points), np.uint8),
    )


def stage(name: str, air_c: float | None, place: Place = Place.COOKER) -> Stage:
    ends = (EndCondition(elapsed_s=7200),)
    return Stage(id=name, name=name, surround_c=air_c, place=place, ends=ends)


def happened(piece: str, kind: EventKind, hours: float, number: int) -> Event:
    at = START + timedelta(hours=hours)
    set_c = 150.0 if kind is RAISE else None
    return Event(id=f"e{number}-{piece}", cook="c0", at=at, kind=kind, pieces=(piece,), set_c=set_c)


def conduct(
    core: Points | None = None,
    *,
    air: dict[str, Points] | None = None,
    cabinet: Points | None = None,
    bare: tuple[Happening, ...] = (),
    paper: tuple[Happening, ...] = (),
    stages: tuple[Stage, ...] = (),
) -> Conduct:
    """Return the conduct of one cook: a core in "c0-bare", air at the named positions."""
    stays = [
        Placement(id="core", cook="c0", probe="core", since=START, measures="core", piece="c0-bare")
    ]
    seen = {("c0", "core"): readings(core or [])}
    for position, points in (air or {}).items():
        spot = Spot(cooker="barrel", position=position)
        stays.append(
            Placement(
                id=position, cook="c0", probe=position, since=START, measures="pit", spot=spot
            )
        )
        seen["c0", position] = readings(points)
    if cabinet is not None:
        stays.append(Placement(id="box", cook="c0", probe="box", since=START, measures="cabinet"))
        seen["c0", "box"] = readings(cabinet)
    protocol = Protocol(stages=stages or (stage("smoke", None),))
    events = [
        happened(piece, kind, hours, number)
        for piece, all_of_it in (("c0-bare", bare), ("c0-paper", paper))
        for number, (kind, hours) in enumerate(all_of_it)
    ]
    return conduct_of(
        replace(
            EMPTY,
            trial=EMPTY.trial.model_copy(update={"protocol": protocol}),
            probes=tuple(Probe(id=stay.probe, name=stay.probe) for stay in stays),
            placements=tuple(stays),
            events=tuple(events),
            readings=seen,
        )
    )


def of_piece(core: Points, *bare: Happening, cabinet: Points | None = None) -> PieceConduct:
    return conduct(core, bare=bare, cabinet=cabinet).pieces[0]


# The air at a spot, weighted by time, from the first piece on to the last one off.

QUARTERS: Points = [
    (0.75, 300), (1.0, 100), (1.25, 120), (1.5, 120), (2.0, 140), (2.25, 140), (2.5, 20),
]  # fmt: skip


def test_air_is_averaged_while_anything_cooks() -> None:
    bare, paper = ((ON, 1.0), (PULL, 2.0)), ((ON, 1.25), (PULL, 2.25))
    (found,) = conduct(air={"left": QUARTERS}, bare=bare, paper=paper).spots
    # Quarters of an hour of 110, 120 and 140 °C; the half hour without a reading is not drawn.
    middles = np.array([110.0, 120.0, 140.0])
    assert (found.cook, found.spot) == ("c0", "barrel/left")
    assert found.mean_c == pytest.approx(middles.mean(), rel=1e-12)
    assert found.sd_c == pytest.approx(middles.std(), rel=1e-12)
    assert (found.low_c, found.high_c) == (100.0, 140.0)
    assert found.hours == 0.75
    assert found.hours_without == 0.5


@pytest.mark.parametrize("bare", [(), ((ON, 1.0),), ((PULL, 2.0),)])
def test_air_of_a_cook_without_beginning_or_end_is_all_of_it(bare: tuple[Happening, ...]) -> None:
    (found,) = conduct(air={"left": QUARTERS}, bare=bare).spots
    assert (found.low_c, found.high_c) == (20.0, 300.0)


def test_a_spot_read_once_tells_nothing() -> None:
    assert conduct(air={"left": [(1.0, 120)]}).spots == ()


# How much hotter one spot was than another.


def steady(value: float) -> Points:
    return [(1.0, value), (1.25, value), (1.5, value)]


def test_every_pair_of_spots_is_compared_once_the_hotter_first() -> None:
    found = conduct(air={"left": steady(120), "right": steady(130), "top": steady(105)})
    assert [(c.cook, c.hotter, c.cooler, c.by_k) for c in found.contrasts] == [
        ("c0", "barrel/right", "barrel/left", 10.0),
        ("c0", "barrel/left", "barrel/top", 15.0),
        ("c0", "barrel/right", "barrel/top", 25.0),
    ]
    (same,) = conduct(air={"right": steady(120), "left": steady(120)}).contrasts
    assert (same.hotter, same.cooler, same.by_k) == ("barrel/right", "barrel/left", 0.0)
    assert conduct(air={"left": steady(120), "right": [(9.0, 120)]}).contrasts == ()


def trace(*points: tuple[float, float]) -> Trace:
    """Return a trace of points in minutes and °C."""
    at = np.array([round(minute * 60_000) for minute, _ in points], np.int64)
    return Trace(at, np.array([float(value) for _, value in points]))


@pytest.mark.parametrize(
    ("first", "second", "by_k"),
    [
        # 100 to 130 °C in 15 min: 110 after five of them.
        (trace((5, 115)), trace((0, 100), (15, 130)), 5.0),
        (trace((5, 105)), trace((0, 100), (15, 130)), -5.0),
        # Further apart than a quarter of an hour nothing is drawn between.
        (trace((5, 115)), trace((0, 100), (15.001, 130)), None),
        # Before the first and after the last reading of the other nothing is known.
        (trace((-1, 115), (5, 112), (16, 115)), trace((0, 100), (15, 130)), 2.0),
        (trace((15, 131)), trace((0, 100), (15, 130)), 1.0),
        (trace((16, 115)), trace((0, 100), (15, 130)), None),
        (trace((5, 115)), trace((5, 100)), None),
        (trace((6, 115)), trace((5, 100)), None),
        (trace((5, 115)), trace(), None),
        (trace(), trace((0, 100), (15, 130)), None),
        # Only the stretch that both were read counts.
        (trace((5, 115), (40, 90)), trace((0, 100), (15, 130), (60, 130)), 5.0),
    ],
)
def test_mean_excess_while_both_were_read(first: Trace, second: Trace, by_k: float | None) -> None:
    assert mean_excess(first, second) == pytest.approx(by_k)


# Temperatures that cannot have been.


@pytest.mark.parametrize(
    ("air_c", "stages", "planned"),
    [
        (61.0, (stage("a", 121.0),), None),
        (60.9, (stage("a", 121.0),), (121.0, 150.0)),
        (210.0, (stage("a", 121.0),), None),
        (210.1, (stage("a", 121.0),), (121.0, 150.0)),
        (61.0, (stage("a", 140.0), stage("b", 121.0), stage("c", None)), None),
        # What a cabinet is set to is no plan for the pit.
        (60.0, (stage("a", 121.0), stage("hold", 66.0, Place.CABINET)), (121.0, 150.0)),
    ],
)
def test_air_off_the_plan_by_sixty_kelvin(
    air_c: float, stages: tuple[Stage, ...], planned: tuple[float, float] | None
) -> None:
    # The pit was raised to 150 °C while it ran.
    events = ((ON, 0.5), (RAISE, 1.1), (PULL, 2.0))
    air = {"right": steady(130), "left": steady(air_c)}
    doubts = conduct(air=air, bare=events, stages=stages).implausible
    if planned is None:
        assert doubts == ()
    else:
        (found,) = doubts
        assert found.value_c == pytest.approx(air_c)
        assert replace(found, value_c=air_c) == Implausible(
            "c0", "air", "barrel/left", air_c, planned, ("left",)
        )


@pytest.mark.parametrize(
    ("air_c", "planned_c", "doubted"),
    [
        (400.0, None, False),
        (400.1, None, True),
        (20.0, None, False),
        (400.0, 370.0, False),
        (401.0, 370.0, True),
    ],
)
def test_no_pit_runs_above_four_hundred(
    air_c: float, planned_c: float | None, doubted: bool
) -> None:
    doubts = conduct(air={"left": steady(air_c)}, stages=(stage("a", planned_c),)).implausible
    assert [(d.what, d.planned_c) for d in doubts] == ([("air", None)] if doubted else [])


@pytest.mark.parametrize(("core_c", "doubted"), [(110.0, False), (110.1, True)])
def test_no_core_is_hotter_than_a_hundred_and_ten(core_c: float, doubted: bool) -> None:
    doubts = conduct([(1, 90), (2, core_c), (3, 80)], air={"left": steady(120)}).implausible
    told = [Implausible("c0", "core", "c0-bare", core_c, None, ("core",))]
    assert list(doubts) == (told if doubted else [])


# What a piece went through.


def test_a_piece_from_its_first_on_to_its_last_pull() -> None:
    events = ((ON, 1.0), (ON, 3.0), (WRAP, 4.0), (WRAP, 5.0), (PULL, 8.0), (PULL, 10.0))
    found = of_piece([(1.0, 5), (9.9, 90), (10.1, 96), (10.6, 91)], *events)
    begin = epoch_ms(START)
    at = [found.on_ms, found.wrapped_ms, found.pulled_ms]
    assert at == [begin + hours * 3_600_000 for hours in (1, 4, 10)]
    assert found.cook_s == 9 * H
    # Heat still moves in after the pull: 96 °C is its highest, though not at the pull.
    assert (found.core_at_pull_c, found.core_highest_c) == (90.0, 96.0)
    assert found.core_hours_without == pytest.approx(8.9, rel=1e-9)


def test_a_piece_that_nothing_is_known_of() -> None:
    found = conduct().pieces[1]
    assert found == PieceConduct(
        "c0-paper", None, None, None, None, None, None, None, False, None, None, 0.0, None
    )


@pytest.mark.parametrize("event", [(ON, 1.0), (PULL, 2.0)])
def test_a_piece_of_which_only_one_end_is_known(event: Happening) -> None:
    found = of_piece([(0.0, 5), (1.5, 60), (3.0, 95)], event)
    assert found.cook_s is None
    # All that was read is taken: 10 °C after 5/55 of an hour and a half, 54.4 after 49.4/55.
    assert found.come_up_s == pytest.approx(1.5 * H * (49.4 - 5) / 55)


@pytest.mark.parametrize(
    ("points", "at_pull_c"),
    [
        ([(9.0, 88), (10.0, 93), (10.1, 95)], 93.0),
        ([(9.75, 90), (10.1, 95)], 90.0),
        ([(9.74, 90), (10.1, 95)], None),
        ([(10.1, 95), (10.2, 96)], None),
    ],
)
def test_the_core_at_the_pull_was_read_a_quarter_of_an_hour_before(
    points: Points, at_pull_c: float | None
) -> None:
    assert of_piece(points, *COOKED).core_at_pull_c == at_pull_c


@pytest.mark.parametrize(
    ("points", "come_up_s", "late"),
    [
        ([(1, 0), (6, 50), (7, 60)], (6 - 2 + 0.44) * H, False),
        ([(1, 10), (6, 60)], 4.44 * H, False),
        # From above 10 °C on: at least so long.
        ([(1, 10.1), (6, 60.1)], 4.43 * H, True),
        # What was read before it went on is not its coming up.
        ([(0.5, 0), (1, 10.1), (6, 60.1)], 4.43 * H, True),
        ([(1, 4), (9, 54.3)], None, False),
        ([(1, 4), (9, 9)], None, False),
        ([(1, 4), (9, 54.4)], (8 - 8 * 6 / 50.4) * H, False),
    ],
)
def test_coming_up_is_from_10_to_54_point_4(
    points: Points, come_up_s: float | None, late: bool
) -> None:
    found = of_piece(points, *COOKED)
    assert found.come_up_s == pytest.approx(come_up_s)
    assert found.come_up_starts_late is late


# The hold.

AFTER: Points = [(10, 93), (11, 80), (12, 61), (13, 66), (14, 40)]


@pytest.mark.parametrize(
    ("holds", "hold_s", "lowest_c"),
    [
        (((HOLD, 11), (HOLD_END, 13)), 2 * H, 61.0),
        (((HOLD, 11), (HOLD_END, 12)), 1 * H, 61.0),
        (((HOLD, 11), (HOLD_END, 11.5), (HOLD, 12.5), (HOLD_END, 13)), 2 * H, 61.0),
        (((HOLD, 12.5), (HOLD_END, 14)), 1.5 * H, 40.0),
        (((HOLD, 11), (HOLD_END, 11)), None, None),
        (((HOLD, 13), (HOLD_END, 11)), None, None),
        (((HOLD, 11),), None, None),
        (((HOLD_END, 13),), None, None),
    ],
)
def test_the_hold_and_its_coldest_reading(
    holds: tuple[Happening, ...], hold_s: float | None, lowest_c: float | None
) -> None:
    found = of_piece(AFTER, *COOKED, *holds, cabinet=[(12, 50), (13, 51)])
    assert (found.hold_s, found.hold_lowest_c) == (hold_s, lowest_c)


def test_with_no_probe_in_the_meat_the_cabinet_tells_of_the_hold() -> None:
    holds = ((HOLD, 11), (HOLD_END, 13))
    found = of_piece([(9, 93)], *COOKED, *holds, cabinet=[(10, 20), (11.5, 64), (12, 58), (14, 20)])
    assert (found.hold_s, found.hold_lowest_c) == (2 * H, 58.0)
    assert of_piece([(9, 93)], *COOKED, *holds).hold_lowest_c is None


# Cooling: from where it was last above 57 °C to 21 and to 5 °C.


@pytest.mark.parametrize(
    ("after", "cooling"),
    [
        # 57 °C at 11 h, 21 °C at 13 h, 5 °C at 17 h, the last reading at 18 h.
        (
            [(10, 93), (11, 57), (13, 21), (17, 5), (18, 4)],
            Cooling(2 * H, 6 * H, 7 * H, 4.0),
        ),
        ([(10, 93), (11, 57), (13, 21.1)], Cooling(None, None, 2 * H, 21.1)),
        ([(10, 93), (11, 57), (13, 21), (17, 5.1)], Cooling(2 * H, None, 6 * H, 5.1)),
        # 57 °C itself is no longer above: the time runs from the first of the two.
        ([(10, 93), (11, 57), (12, 57), (14, 21)], Cooling(3 * H, None, 3 * H, 21.0)),
        # Warmed again: 57 °C at 14 h is the last time.
        (
            [(10, 93), (11, 57), (12, 40), (13, 93), (14, 57), (15, 21)],
            Cooling(1 * H, None, 1 * H, 21.0),
        ),
        ([(10, 93), (11, 57.1)], None),
        ([(10, 57), (11, 40)], None),
        ([(10.1, 40), (11, 30)], None),
    ],
)
def test_cooling_runs_from_57(after: Points, cooling: Cooling | None) -> None:
    # What it was at before it was pulled does not count.
    found = of_piece([(5, 93), (6, 57), (7, 20), (8, 4), *after], *COOKED).cooling
    if cooling is None:
        assert found is None
        return
    assert found is not None
    for name in ("to_middle_s", "to_end_s", "read_s", "last_c"):
        assert getattr(found, name) == pytest.approx(getattr(cooling, name)), name


def test_cooling_is_not_told_of_what_was_never_pulled() -> None:
    assert of_piece([(10, 93), (11, 57), (13, 21)], (ON, 1.0)).cooling is None
