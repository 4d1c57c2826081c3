"""The weighings of the demo: what was weighed, what was forgotten, and that masses fit."""

from fractions import Fraction

import pytest

from fairsmoke.demo import DemoTrial, demo_trial
from fairsmoke.quantity import parse_mass
from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.weighing import Weighing


@pytest.fixture(scope="module")
def demo() -> DemoTrial:
    return demo_trial()


@pytest.fixture(scope="module")
def by_id(demo: DemoTrial) -> dict[str, Weighing]:
    return {weighing.id: weighing for weighing in demo.record.weighings}


def test_one_weighing_of_trimmed_meat_was_forgotten(demo: DemoTrial) -> None:
    weighed = {
        weighing.piece
        for weighing in demo.record.weighings
        if any(part.text == "trimmed meat" for part in weighing.sum)
        and not any(part.text == "rub" for part in weighing.sum)
    }
    assert {piece.id for piece in demo.record.units} - weighed == {"shoulder-4"}


def test_what_was_forgotten_comes_out_in_two_ways(by_id: dict[str, Weighing]) -> None:
    trim = by_id["shoulder-4-trim"].reading_kg - by_id["trim-tray"].reading_kg
    from_bought = by_id["shoulder-4-bought"].reading_kg - trim
    from_tray = (
        by_id["shoulder-4-on"].reading_kg
        - by_id["shoulder-4-rub"].reading_kg
        - by_id["blue-tray"].reading_kg
    )
    # Each has three readings with steps of 5 g.
    assert from_bought == pytest.approx(from_tray, abs=0.025)
    assert 3.5 < from_bought < 4.3


def test_one_was_read_in_pounds_and_ounces(demo: DemoTrial) -> None:
    (odd,) = [weighing for weighing in demo.record.weighings if "lb" in weighing.written]
    assert odd.scale == "spring-scale"
    assert odd.written == "9 lb 12 oz"
    # International pound of 1959: 0.45359237 kg exactly; 16 ounces to the pound.
    exact = (9 + Fraction(12, 16)) * Fraction("0.45359237")
    assert odd.reading_kg == pytest.approx(float(exact), abs=1e-12)


@pytest.mark.parametrize("seed", [2026, 11])
def test_readings_are_what_was_written_and_whole_steps_of_the_scale(seed: int) -> None:
    record = demo_trial(seed).record
    scales = {scale.id: scale for scale in record.scales}
    for weighing in record.weighings:
        assert weighing.reading_kg == pytest.approx(parse_mass(weighing.written), abs=1e-9)
        steps = weighing.reading_kg / scales[weighing.scale].resolution_kg
        assert steps == pytest.approx(round(steps), abs=1e-6)


def test_clinging_fat_is_weighed_or_judged_never_both(demo: DemoTrial) -> None:
    alone = {w.piece for w in demo.record.weighings if [p.text for p in w.sum] == ["clinging fat"]}
    judged = {estimate.piece for estimate in demo.record.estimates}
    assert alone
    assert judged
    assert not alone & judged
    assert alone | judged == {piece.id for piece in demo.record.units}


def test_paper_is_weighed_fresh_and_used_with_what_it_took_up(
    demo: DemoTrial, by_id: dict[str, Weighing]
) -> None:
    for piece in demo.record.units:
        assert (f"{piece.id}-fresh-wrap" in by_id) == (piece.arm == "paper")
        if piece.arm == "paper":
            fresh, used = by_id[f"{piece.id}-fresh-wrap"], by_id[f"{piece.id}-used-wrap"]
            assert used.reading_kg > fresh.reading_kg


def test_every_tray_in_a_sum_was_weighed_alone(demo: DemoTrial) -> None:
    named = {p.text for w in demo.record.weighings for p in w.sum if p.kind == "tray"}
    alone = {w.sum[0].text for w in demo.record.weighings if w.piece is None}
    assert named == alone


@pytest.mark.parametrize("seed", [2026, 0, 1, 2])
def test_no_mass_comes_from_nowhere(seed: int) -> None:
    by_id = {weighing.id: weighing for weighing in demo_trial(seed).record.weighings}
    for number in range(1, 7):
        name, tray = f"shoulder-{number}", "green-tray" if number % 2 else "blue-tray"
        on = by_id[f"{name}-on"].reading_kg - by_id[tray].reading_kg
        cooked = by_id[f"{name}-cooked"].reading_kg - by_id[tray].reading_kg
        held = by_id[f"{name}-held"].reading_kg - by_id["white-tray"].reading_kg
        assert 0.48 < cooked / on < 0.70
        assert 0.93 < held / cooked < 1.0


def test_raw_weighings_stand_before_the_piece_went_on_and_cooked_ones_after_the_pull(
    demo: DemoTrial,
) -> None:
    for weighing in demo.record.weighings:
        if weighing.piece is None:
            continue
        steps = {event.kind: event.at for event in demo.record.events_of(weighing.piece)}
        assert weighing.at is not None
        raw = any(part.text in ("bought meat", "trim", "trimmed meat") for part in weighing.sum)
        if raw:
            assert weighing.at < steps[EventKind.ON]
        if any(part.text in ("cooked meat", "clinging fat") for part in weighing.sum):
            assert steps[EventKind.PULL] < weighing.at < steps[EventKind.HOLD]
        if any(part.text in ("held meat", "hold drippings") for part in weighing.sum):
            assert steps[EventKind.HOLD_END] < weighing.at < steps[EventKind.SLICE]
