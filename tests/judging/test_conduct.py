"""What the readings show of a cook: cooling, and temperatures that cannot have been."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.judging.records import finding_text, found, record_of

from fairsmoke.judging.conduct import conduct_of
from fairsmoke.quantity import US
from fairsmoke.telling.as_json import finding_json
from fairsmoke.telling.finding.cautions import cooling_words
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Event, EventKind, Spot
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord

# A core of straight lines: 57 °C is passed at 12.5 h, 21 °C at 14.3 h, 5 °C at 17.5 h.
HOURS = (0.0, 1.0, 10.0, 12.0, 12.5, 14.3, 17.5, 18.0)
CORE_C = (5.0, 5.0, 94.0, 70.0, 57.0, 21.0, 5.0, 4.0)

AMERICAN = replace(ENGLISH, units=US)


def watched(
    core_c: tuple[float, ...] = CORE_C, pit_c: float = 121.0, hours: float = 18.0
) -> TrialRecord:
    """Return one cook of two pieces with a core and a pit probe, planned for 121 °C."""
    record = record_of([(0.58, 0.61)])
    start = record.cooks[0].starts
    time_s = np.arange(0.0, hours * 3600, 60.0)

    def readings(values: np.ndarray) -> Readings:
        return Readings(
            time_ms=(epoch_ms(start) + time_s * 1000).astype(np.int64),
            raw=np.round(values * 10).astype(np.int64),
            decimals=1,
            unit="degC",
            flags=np.zeros(time_s.size, dtype=np.uint8),
        )

    events = tuple(
        Event(
            id=f"{kind.name.lower()}-{piece.id}",
            cook="c0",
            at=start + timedelta(hours=at),
            kind=kind,
            pieces=(piece.id,),
        )
        for piece in record.pieces
        for kind, at in ((EventKind.ON, 1), (EventKind.PULL, 10))
    )
    stage = Stage(id="smoke", name="Smoke", surround_c=121.0, ends=(EndCondition(core_c=94.0),))
    return replace(
        record,
        trial=record.trial.model_copy(update={"protocol": Protocol(stages=(stage,))}),
        events=events,
        probes=(Probe(id="needle", name="Needle"), Probe(id="air", name="Air")),
        placements=(
            Placement(
                id="m1", cook="c0", probe="needle", since=start, measures="core", piece="c0-bare"
            ),
            Placement(
                id="m2",
                cook="c0",
                probe="air",
                since=start,
                measures="pit",
                spot=Spot(cooker="barrel", position="left"),
            ),
        ),
        readings={
            ("c0", "needle"): readings(np.interp(time_s / 3600, HOURS, core_c)),
            ("c0", "air"): readings(np.full(time_s.size, pit_c)),
        },
    )


def test_cooling_is_told_as_far_as_it_was_read() -> None:
    whole = conduct_of(watched()).pieces[0].cooling
    assert whole is not None
    assert whole.to_middle_s == pytest.approx(1.8 * 3600, abs=60)
    assert whole.to_end_s == pytest.approx(5.0 * 3600, abs=60)
    assert "longer" not in ENGLISH.say(cooling_words(whole))
    part = conduct_of(watched(hours=16.0)).pieces[0].cooling
    assert part is not None
    assert part.to_middle_s is not None
    assert part.to_end_s is None
    assert "readings end before" in AMERICAN.say(cooling_words(part))
    assert "°C" not in AMERICAN.say(cooling_words(part))
    assert conduct_of(watched(hours=12.0)).pieces[0].cooling is None
    assert conduct_of(watched()).pieces[1].cooling is None


def test_what_was_warmed_again_cools_from_its_last_heat() -> None:
    # Below 57 °C from 11 h on, warm again at 12.5 h, and 30 °C only when the readings end.
    record = watched((5.0, 5.0, 94.0, 40.0, 60.0, 30.0, 10.0, 4.0))
    cooling = conduct_of(record).pieces[0].cooling
    assert cooling is not None
    assert cooling.to_middle_s is not None
    # From 60 °C at 12.5 h to 30 °C at 14.3 h, and on to 10 °C at 17.5 h: straight lines.
    started, middle = 12.5 + 1.8 * 3 / 30, 14.3 + 3.2 * 9 / 20
    assert cooling.to_middle_s / 3600 == pytest.approx(middle - started, abs=0.03)


def test_slow_cooling_is_held_against_the_code() -> None:
    # FDA Food Code 3-501.14(A): 57 to 21 °C within 2 h, to 5 °C within 6 h in all.
    slow = conduct_of(watched((5.0, 5.0, 94.0, 70.0, 60.0, 55.0, 30.0, 29.0))).pieces[0].cooling
    told = ENGLISH.say(cooling_words(slow))
    assert "readings end before" in told
    assert "longer than the code's 2 h already" in told


def test_a_sound_cook_raises_no_doubt() -> None:
    assert conduct_of(watched()).implausible == ()


@pytest.mark.parametrize("pit_c", [250.0, 45.0, 410.0])
def test_air_far_from_the_plan_asks_for_the_unit(pit_c: float) -> None:
    # 121 °C written as 250 °F and read as 250 °C; and 113 °C taken for °F is 45 °C.
    finding = found(watched(pit_c=pit_c))
    (one,) = finding.conduct.implausible
    assert (one.what, one.probes) == ("air", ("air",))
    assert "Check the unit of Air" in finding_text(finding)
    assert "121 °C planned" in finding_json(finding)["check_units"][0]


def test_a_core_that_no_meat_has_asks_for_the_unit() -> None:
    record = watched(tuple(c * 1.8 + 32 for c in CORE_C))
    finding = found(record)
    (one,) = finding.conduct.implausible
    assert (one.what, one.where) == ("core", "c0-bare")
    assert one.value_c == pytest.approx(94 * 1.8 + 32, abs=0.5)
    told = finding_text(finding)
    assert told.index("Some temperatures cannot be right") < told.index("Check the unit of")


def test_the_terminal_speaks_in_the_persons_units_and_tells_the_hold() -> None:
    told = finding_text(found(watched()), AMERICAN)
    assert "50 °F to 130 °F" in told
    assert "°C" not in told
    assert "Held" in told


def test_no_table_stands_without_a_row() -> None:
    told = finding_text(found(record_of([(0.58, 0.61)])))
    assert "WHAT THE READINGS SHOW" not in told
    assert "Core at" not in told
