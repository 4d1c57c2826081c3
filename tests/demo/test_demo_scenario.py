"""The invented trial is what it says it is, and its effects are really in it."""

import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from datetime import timedelta

import numpy as np
import pytest

from fairsmoke.demo import DemoTrial, demo_trial
from fairsmoke.demo.scenario import SHOULDERS, ZONE, Shoulder
from fairsmoke.demo.truth import Truth, draw_truth
from fairsmoke.trial.base import Record
from fairsmoke.trial.canonical import digest_of
from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.registration import plan_text


@pytest.fixture(scope="module")
def demo() -> DemoTrial:
    return demo_trial()


@pytest.mark.parametrize("seed", [2026, 0, 1, 2, 3])
def test_the_record_is_sound(seed: int) -> None:
    assert demo_trial(seed).record.problems() == []


def test_everything_says_that_it_is_invented(demo: DemoTrial) -> None:
    assert demo.kitchen.invented
    assert demo.record.trial.invented
    notes = [demo.kitchen.note, demo.record.trial.note]
    notes += [cook.note for cook in demo.record.cooks]
    notes += [piece.note for piece in demo.record.pieces]
    assert all("nvented" in note for note in notes)


def test_three_cooks_of_a_matched_pair(demo: DemoTrial) -> None:
    record = demo.record
    assert len(record.cooks) == 3
    assert len(record.units) == len(record.pieces) == 6
    for cook in record.cooks:
        pair = [piece for piece in record.units if piece.cook == cook.id]
        assert sorted(piece.arm or "" for piece in pair) == ["bare", "paper"]
        assert sorted(piece.spot.text for piece in pair if piece.spot) == [
            "barrel/left",
            "barrel/right",
        ]
        assert len({piece.pair for piece in pair}) == 1


def test_no_arm_always_stood_on_one_side(demo: DemoTrial) -> None:
    where = {(piece.arm, piece.spot.position) for piece in demo.record.units if piece.spot}
    assert len(where) == 4


def test_drawing_again_as_the_note_says_gives_the_same_arms_and_sides(demo: DemoTrial) -> None:
    draw = demo.record.trial.draw
    assert draw.how == "drawn"
    assert draw.within == "pair"
    drawn = np.random.default_rng(draw.seed).integers(2, size=(3, 2))
    for (paper, right), cook in zip(drawn.tolist(), demo.record.cooks, strict=True):
        pair = [piece for piece in demo.record.units if piece.cook == cook.id]
        assert [piece.arm for piece in pair].index("paper") == paper
        assert [piece.spot.position for piece in pair if piece.spot].index("right") == right


def test_the_protocol_and_the_measures(demo: DemoTrial) -> None:
    trial = demo.record.trial
    assert [arm.id for arm in trial.arms] == ["bare", "paper"]
    bare, paper = trial.protocol_of("bare").stages, trial.protocol_of("paper").stages
    changed = [a.id for a, b in zip(bare, paper, strict=True) if a != b]
    assert changed == ["finish"]
    assert paper[1].wrap.text == "paper"
    assert [(m.id, m.better, m.worthwhile) for m in trial.measures] == [
        ("yield", "higher", 0.02),
        ("cook-time", "lower", 45 * 60),
        ("tenderness", "higher", 1.0),
        ("bark", "higher", 1.0),
    ]
    assert trial.main_measure.id == "yield"


def test_the_plan_was_registered_before_the_first_fire(demo: DemoTrial) -> None:
    registration = demo.record.registration
    assert registration is not None
    assert registration.at < min(cook.starts for cook in demo.record.cooks)
    assert registration.digest == digest_of(plan_text(demo.record.trial, None))


def test_every_cook_crosses_midnight_and_the_last_a_day_of_25_hours(demo: DemoTrial) -> None:
    """In 2026 British clocks go back on 25 October, 02:00 to 01:00 (Summer Time Order 2002,
    last Sunday of October, from memory)."""
    for cook in demo.record.cooks:
        assert cook.ends is not None
        start, end = cook.starts.astimezone(ZONE), cook.ends.astimezone(ZONE)
        assert (end.date() - start.date()).days == 1
    last = demo.record.cooks[-1]
    assert last.ends is not None
    start, end = last.starts.astimezone(ZONE), last.ends.astimezone(ZONE)
    assert start.date().isoformat() == "2026-10-24"
    assert start.utcoffset() == timedelta(hours=1)
    assert end.utcoffset() == timedelta(0)
    by_the_clock = end.replace(tzinfo=None) - start.replace(tzinfo=None)
    assert last.ends - last.starts == by_the_clock + timedelta(hours=1)


def test_every_step_of_every_piece_was_written_down(demo: DemoTrial) -> None:
    record = demo.record
    for piece in record.units:
        kinds = [event.kind for event in record.events_of(piece.id)]
        steps = [k for k in kinds if k in (EventKind.ON, EventKind.WRAP, EventKind.UNWRAP)]
        expected = [EventKind.ON, EventKind.WRAP, EventKind.UNWRAP]
        assert steps == (expected if piece.arm == "paper" else expected[:1])
        ending = [
            EventKind.PULL,
            EventKind.HOLD,
            EventKind.HOLD_END,
            EventKind.SLICE,
            EventKind.SERVE,
        ]
        assert [k for k in kinds if k in ending] == ending
    for cook in record.cooks:
        kinds_of_cook = Counter(event.kind for event in record.events if event.cook == cook.id)
        assert kinds_of_cook[EventKind.FUEL] >= 3
        assert kinds_of_cook[EventKind.WATER] >= 2
        assert kinds_of_cook[EventKind.LID] >= 2


def test_pieces_are_held_for_about_three_hours(demo: DemoTrial) -> None:
    for piece in demo.record.units:
        (held,) = demo.record.events_of(piece.id, EventKind.HOLD)
        (ended,) = demo.record.events_of(piece.id, EventKind.HOLD_END)
        assert abs(ended.at - held.at - timedelta(hours=3)) <= timedelta(minutes=6)


def test_one_needle_fell_out_for_an_hour_and_that_stretch_is_left_out(demo: DemoTrial) -> None:
    record = demo.record
    (out,) = [event for event in record.events if event.kind is EventKind.PROBE_OUT]
    (back,) = [
        event
        for event in record.events
        if event.kind is EventKind.PROBE_IN and event.cook == out.cook
    ]
    assert back.probe == out.probe
    assert abs(back.at - out.at - timedelta(hours=1)) <= timedelta(minutes=2)
    (exclusion,) = record.exclusions
    assert (exclusion.cook, exclusion.probe) == (out.cook, out.probe)
    assert exclusion.since is not None
    assert exclusion.until is not None
    assert exclusion.since < out.at
    assert exclusion.until > back.at


def test_in_one_cook_a_needle_is_in_the_other_piece_for_the_last_hour(demo: DemoTrial) -> None:
    record = demo.record
    pieces_by_probe: dict[tuple[str, str], set[str]] = {}
    for stay in record.placements:
        if stay.measures == "core" and stay.piece:
            pieces_by_probe.setdefault((stay.cook, stay.probe), set()).add(stay.piece)
    ((cook, probe),) = [key for key, pieces in pieces_by_probe.items() if len(pieces) == 2]
    moved = [x for x in record.placements if (x.cook, x.probe) == (cook, probe)][-1]
    assert moved.piece is not None
    (pull,) = record.events_of(moved.piece, EventKind.PULL)
    assert moved.until == pull.at
    assert pull.at - moved.since == timedelta(hours=1)


def test_tasting_has_own_codes_and_one_ballot_is_missing(demo: DemoTrial) -> None:
    record = demo.record
    assert len(record.tasters) == 4
    codes = [sample.code for sample in record.samples]
    assert len(set(codes)) == len(codes) == 4 * 6
    asked = {
        (cook.id, taster.id, measure)
        for cook in record.cooks
        for taster in record.tasters
        for measure in ("tenderness", "bark")
    }
    answered = {(ballot.cook, ballot.taster, ballot.measure) for ballot in record.ballots}
    assert len(asked - answered) == 1
    assert answered < asked
    assert all(len(ballot.scores) == 2 for ballot in record.ballots)


def test_records_come_back_the_same_from_their_file_form(demo: DemoTrial) -> None:
    record = demo.record
    everything: list[Record] = [demo.kitchen, record.trial]
    for part in (
        record.cookers,
        record.scales,
        record.probes,
        record.tasters,
        record.cooks,
        record.pieces,
        record.placements,
        record.events,
        record.weighings,
        record.estimates,
        record.samples,
        record.ballots,
        record.exclusions,
    ):
        everything += part
    for one in everything:
        assert type(one).from_file(one.to_file(ZONE), ZONE) == one


def _effects(value: Callable[[Shoulder, Truth], float], seeds: int = 400) -> tuple[float, float]:
    """Return the means over seeds of what paper does, and of what the right side does.

    Where the paper stands right a pair differs by both, where it stands left by the paper's effect
    less the side's; so half the sum is the paper's effect and half the difference the side's.
    """
    by_side: dict[str, list[float]] = {"left": [], "right": []}
    for seed in range(seeds):
        truth = draw_truth(seed)
        for paper in (row for row in SHOULDERS if row.arm == "paper"):
            (bare,) = (row for row in SHOULDERS if row.cook == paper.cook and row.arm == "bare")
            difference = value(paper, truth[paper.handle]) - value(bare, truth[bare.handle])
            by_side[paper.side].append(difference)
    left, right = (float(np.mean(by_side[side])) for side in ("left", "right"))
    return (right + left) / 2, (right - left) / 2


def test_paper_and_the_hot_side_do_what_the_scenario_says() -> None:
    """The brief of the scenario: +3 points and 1 h faster with paper, bark 1.2 lower, tenderness
    equal; the right side costs 0.8 points and is faster. Bounds are about 4 standard errors, wider
    for time because the pieces of a pair differ in mass."""
    paper, right = _effects(lambda row, truth: truth.cooked_kg / row.trimmed_kg)
    assert paper == pytest.approx(0.030, abs=0.0045)
    assert right == pytest.approx(-0.008, abs=0.0045)
    paper, right = _effects(lambda row, truth: truth.pulled_s / 3600)
    assert paper == pytest.approx(-1.0, abs=0.2)
    assert -0.7 < right < -0.2
    assert _effects(lambda row, truth: truth.bark)[0] == pytest.approx(-1.2, abs=0.09)
    assert _effects(lambda row, truth: truth.tenderness)[0] == pytest.approx(0.0, abs=0.09)


def test_it_is_made_in_under_half_a_second() -> None:
    started = time.process_time()
    demo_trial(7)
    assert time.process_time() - started < 0.5


def test_it_needs_no_other_part_of_the_house() -> None:
    script = (
        "import sys, fairsmoke.demo; "
        "print(*sorted({m.split('.')[1] for m in sys.modules if m.startswith('fairsmoke.')}))"
    )
    found = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert found.stdout.split() == ["demo", "messages", "quantity", "trial"]
