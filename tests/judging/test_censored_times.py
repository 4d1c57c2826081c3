"""Pieces that never reached the mark, or had it when first read: bounds, not gaps."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.judging.records import finding_text, found, record_of

from fairsmoke.judging.finding import Finding
from fairsmoke.judging.remark import CaveatKind
from fairsmoke.telling.numbers import show_bound
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Event, EventKind
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.question import Better, Measure, MeasureKind
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord

TO_93 = Measure(
    id="time",
    name="Time to 93",
    kind=MeasureKind.TIME_TO_CORE,
    better=Better.LOWER,
    worthwhile=1800.0,
    core_c=93.0,
)
HOUR_MS = 3_600_000
GERMAN = replace(ENGLISH, language="de")


def cooked(hours: Sequence[tuple[float, float]], *, seen: float = 15.0) -> TrialRecord:
    """Pairs whose cores (bare, paper) rise evenly from 5 °C to 93 °C in so many hours, read from
    the start until `seen` hours.
    """
    base = record_of([(0.6, 0.6)] * len(hours), [TO_93])
    starts = {cook.id: cook.starts for cook in base.cooks}
    placements, events, readings = [], [], {}
    for piece in base.pieces:
        assert piece.cook is not None
        begin = starts[piece.cook]
        needs = hours[int(piece.cook[1:])][0 if piece.arm == "bare" else 1]
        at = np.arange(0.0, seen + 1e-9, 0.25)
        core_c = np.minimum(5.0 + 88.0 * at / needs, 95.0)
        probe = f"probe-{piece.id}"
        readings[piece.cook, probe] = Readings(
            (at * HOUR_MS).astype(np.int64) + epoch_ms(begin),
            np.round(core_c * 10).astype(np.int64),
            1,
            "degC",
            np.zeros(at.size, dtype=np.uint8),
        )
        placements.append(
            Placement(
                id=f"stay-{piece.id}",
                cook=piece.cook,
                probe=probe,
                since=begin,
                measures="core",
                piece=piece.id,
            )
        )
        for kind, when in ((EventKind.ON, 0.0), (EventKind.PULL, seen)):
            events.append(
                Event(
                    id=f"{kind}-{piece.id}",
                    cook=piece.cook,
                    at=begin + timedelta(hours=when),
                    kind=kind,
                    pieces=(piece.id,),
                )
            )
    return replace(
        base,
        probes=tuple(Probe(id=stay.probe, name=stay.probe) for stay in placements),
        placements=tuple(placements),
        # Somebody confirmed the early pulls: else the finding would wait for them.
        events=tuple(one.model_copy(update={"checked": one.claim}) for one in events),
        readings=readings,
    )


@pytest.fixture(scope="module")
def slow_bare() -> Finding:
    """Two of three bare pieces were pulled after 15 hours without having reached 93 °C."""
    return found(cooked([(14.0, 10.0), (18.0, 10.5), (17.0, 11.0)]))


def test_a_piece_that_never_reached_it_counts_as_at_least_that_long(slow_bare: Finding) -> None:
    rows = {row.piece: row for row in slow_bare.main.responses.rows}
    assert rows["c1-bare"].value is None
    assert rows["c1-bare"].at_least == pytest.approx(15 * 3600.0)
    remark = next(r for r in slow_bare.main.remarks if r.kind is CaveatKind.CENSORED)
    assert remark.names == ("c1-bare", "c2-bare")
    (one,) = slow_bare.main.differences
    # Paper is quicker, by more than the one complete pair and the bounds show by themselves.
    assert one.believed.value < -3.5 * 3600.0
    assert one.observed is None
    assert all(result.p is None for result in one.classical)
    assert not any("Time to 93" in str(left.what) for left in slow_bare.left_out)


def test_dropping_the_slow_pieces_would_have_favoured_their_arm(slow_bare: Finding) -> None:
    pieces = [
        Exclusion(id=f"x{n}", piece=f"c{n}-bare", why="never reached 93 °C", measure="time")
        for n in (1, 2)
    ]
    dropped = found(
        replace(cooked([(14.0, 10.0), (18.0, 10.5), (17.0, 11.0)]), exclusions=tuple(pieces))
    )
    assert not any(r.kind is CaveatKind.CENSORED for r in dropped.main.remarks)
    held, gone = (one.main.differences[0].believed for one in (slow_bare, dropped))
    assert held.value < gone.value
    assert held.high - held.low < gone.high - gone.low


def test_it_is_said_in_both_languages(slow_bare: Finding) -> None:
    english, german = (
        " ".join(finding_text(slow_bare, reader).split()) for reader in (ENGLISH, GERMAN)
    )
    assert "counted as “at least that long”: c1-bare, c2-bare." in english
    assert "zählt als „mindestens so lange“: c1-bare, c2-bare." in german
    assert "at least that long" not in german
    assert str(show_bound(TO_93, 15 * 3600.0, None)).startswith("over 15 h")
    assert str(show_bound(TO_93, None, 7200.0)).startswith("under 2 h")


def test_a_piece_that_was_that_hot_when_first_read_took_at_most_so_long() -> None:
    record = cooked([(14.0, 10.0), (13.0, 10.5)])
    key = next(iter(k for k in record.readings if k[1] == "probe-c1-paper"))
    late = record.readings[key]
    cut = late.time_ms >= late.time_ms[0] + 12 * HOUR_MS
    shown = Readings(late.time_ms[cut], late.raw[cut], 1, "degC", late.flags[cut])
    record = replace(record, readings={**record.readings, key: shown})
    finding = found(record)
    row = next(row for row in finding.main.responses.rows if row.piece == "c1-paper")
    assert row.value is None
    assert row.at_most == pytest.approx(12 * 3600.0)
    assert any(r.kind is CaveatKind.REACHED_BEFORE for r in finding.main.remarks)
    assert finding.main.differences[0].believed.value < 0.0


def test_an_arm_of_which_nothing_reached_it_is_still_compared() -> None:
    finding = found(cooked([(20.0, 10.0), (21.0, 11.0), (22.0, 10.5)]))
    (one,) = finding.main.differences
    assert one.verdict.better_by_enough > 0.9


def test_where_nothing_reached_it_there_is_no_answer() -> None:
    finding = found(cooked([(20.0, 21.0), (21.0, 19.0)]))
    assert not finding.main.differences
    assert "no piece was seen to reach it" in finding_text(finding)
