"""Which stage a piece is in, by hand-made cooks whose answer can be read off a clock.

The protocols and times are invented; what begins which stage is as docs/app.md says it.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fairsmoke.live.stages import ProbeTrace, acts_between, next_clock, stage_stand
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Event, EventKind
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage

START = datetime(2026, 5, 2, 20, tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def event(kind: EventKind, hours: float, **more: object) -> Event:
    return Event.model_validate(
        {"id": f"e-{hours:g}".replace(".", "-"), "cook": "c", "at": at(hours), "kind": kind}
        | {"pieces": ("p",), **more}
    )


def core(*points: tuple[float, float]) -> ProbeTrace:
    """Return readings of (hours, °C)."""
    times = [epoch_ms(at(hours)) for hours, _ in points]
    return ProbeTrace(np.array(times, dtype=np.int64), np.array([value for _, value in points]))


def stage(name: str, place: Place = Place.COOKER, wrap: str = "bare", **end: object) -> Stage:
    return Stage.model_validate(
        {"id": name, "name": name, "place": place, "wrap": wrap, "surround_c": 121.0, "ends": [end]}
    )


PROTOCOL = Protocol(
    stages=(
        stage("smoke", core_c=74.0),
        stage("wrapped", wrap="paper", core_c=95.0),
        stage("hold", Place.CABINET, wrap="paper", elapsed_s=7200.0),
    )
)
BARE = Protocol(stages=(stage("smoke", core_c=74.0), stage("finish", core_c=95.0)))


def stand(protocol: Protocol, events: list[Event], *traces: ProbeTrace, now: float):  # type: ignore[no-untyped-def]
    return stage_stand(protocol, events, traces, starts=START, zone=LONDON, now=at(now))


def test_nothing_has_begun_before_it_goes_on() -> None:
    found = stand(PROTOCOL, [], core((0, 5), (1, 80)), now=2)
    assert found.stage is None
    assert found.following is not None
    assert found.following.id == "smoke"


def test_a_mark_is_reached_between_two_readings_and_waits_for_the_hand() -> None:
    on = event(EventKind.ON, 1)
    # From 70 °C at 5 h to 78 °C at 7 h: 74 °C in the middle.
    found = stand(PROTOCOL, [on], core((2, 20), (5, 70), (7, 78)), now=8)
    assert found.stage.id == "smoke"
    assert found.reached.met == at(6)
    assert found.acts == (EventKind.WRAP,)
    done = stand(PROTOCOL, [on, event(EventKind.WRAP, 7.5)], core((5, 70), (7, 78)), now=8)
    assert done.stage.id == "wrapped"
    assert done.runs[0].ended == done.runs[1].began == at(7.5)
    assert done.reached is None


def test_the_coldest_probe_counts() -> None:
    on = event(EventKind.ON, 1)
    late = core((2, 20), (5, 66), (9, 82))
    found = stand(PROTOCOL, [on], core((2, 20), (5, 70), (7, 78)), late, now=10)
    assert found.reached.met == at(7)
    assert (
        stand(PROTOCOL, [on], core((2, 20), (6, 80)), core((2, 20), (6, 60)), now=7).reached is None
    )


def test_what_was_read_before_a_stage_began_does_not_end_it() -> None:
    on, wrap = event(EventKind.ON, 1), event(EventKind.WRAP, 6)
    found = stand(PROTOCOL, [on, wrap], core((2, 20), (3, 96), (7, 80)), now=8)
    assert found.stage.id == "wrapped"
    assert found.reached is None


def test_without_anything_to_be_done_the_next_stage_begins_at_the_mark() -> None:
    found = stand(BARE, [event(EventKind.ON, 1)], core((2, 20), (5, 70), (7, 78)), now=8)
    assert found.stage.id == "finish"
    assert found.runs[1].began == at(6)


def test_one_wrapping_begins_one_stage() -> None:
    twice = Protocol(
        stages=(
            stage("smoke", core_c=74.0),
            stage("paper", wrap="paper", core_c=85.0),
            stage("foil", wrap="foil", core_c=95.0),
        )
    )
    events = [event(EventKind.ON, 1), event(EventKind.WRAP, 5)]
    assert stand(twice, events, now=6).stage.id == "paper"
    assert stand(twice, [*events, event(EventKind.WRAP, 7)], now=8).stage.id == "foil"


def test_pull_and_hold_lead_into_the_hold_and_out_of_it() -> None:
    events = [event(EventKind.ON, 1), event(EventKind.WRAP, 5), event(EventKind.PULL, 10)]
    pulled = stand(PROTOCOL, events, core((9, 90), (10, 96)), now=10.2)
    assert pulled.stage.id == "wrapped"
    assert pulled.acts == (EventKind.HOLD,)
    events.append(event(EventKind.HOLD, 10.5))
    held = stand(PROTOCOL, events, now=11)
    assert held.stage.id == "hold"
    assert held.marks[0].due == at(12.5)
    assert held.reached is None
    assert stand(PROTOCOL, events, now=12.5).reached.met == at(12.5)
    over = stand(PROTOCOL, [*events, event(EventKind.HOLD_END, 13)], now=14)
    assert over.over
    assert over.stage is None


def test_a_stage_that_was_skipped_is_not_waited_for() -> None:
    # Pulled and held without having been wrapped, and never said to have gone on.
    found = stand(PROTOCOL, [event(EventKind.PULL, 8), event(EventKind.HOLD, 8.5)], now=9)
    assert [run.stage.id for run in found.runs] == ["smoke", "hold"]


def test_slicing_ends_it_wherever_it_is() -> None:
    assert stand(PROTOCOL, [event(EventKind.ON, 1), event(EventKind.SLICE, 4)], now=5).over


def test_raising_the_pit_begins_a_hotter_stage_a_small_correction_does_not() -> None:
    hotter = Protocol(
        stages=(
            stage("slow", core_c=60.0),
            Stage.model_validate(
                {"id": "hot", "name": "hot", "surround_c": 149.0, "ends": [{"core_c": 95.0}]}
            ),
        )
    )
    assert acts_between(*hotter.stages) == (EventKind.RAISE,)
    on = event(EventKind.ON, 1)
    small = event(EventKind.RAISE, 3, set_c=126.0, pieces=())
    assert stand(hotter, [on, small], now=4).stage.id == "slow"
    raised = event(EventKind.RAISE, 5, set_c=148.9, pieces=())
    assert stand(hotter, [on, small, raised], now=6).stage.id == "hot"


@pytest.mark.parametrize(
    ("clock", "after", "expected"),
    [
        ("06:30", datetime(2026, 5, 2, 22, tzinfo=UTC), datetime(2026, 5, 3, 5, 30, tzinfo=UTC)),
        ("06:30", datetime(2026, 5, 3, 5, 30, tzinfo=UTC), datetime(2026, 5, 4, 5, 30, tzinfo=UTC)),
        # In London clocks skipped 01:00 to 02:00 on 29 March 2026 (IANA time zone database), so
        # the next 01:30 is the one of the day after.
        ("01:30", datetime(2026, 3, 28, 23, tzinfo=UTC), datetime(2026, 3, 30, 0, 30, tzinfo=UTC)),
    ],
)
def test_the_next_time_that_clocks_show_it(clock: str, after: datetime, expected: datetime) -> None:
    assert next_clock(clock, after, LONDON) == expected


def test_an_end_condition_by_feel_is_never_met_by_itself() -> None:
    tender = Protocol(
        stages=(stage("smoke", feel="tender"), stage("wrapped", wrap="foil", core_c=95.0))
    )
    found = stand(tender, [event(EventKind.ON, 1)], core((2, 99), (3, 99)), now=30)
    assert found.stage.id == "smoke"
    assert found.reached is None
    assert found.marks[0].condition == EndCondition(feel="tender")
