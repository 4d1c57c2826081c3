"""What spans several records: faults that are named with their mend, and what is let pass."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from fairsmoke.demo import demo_trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import PartEstimate

RECORD = demo_trial(2026).record


def problems(**changes: object) -> str:
    return "\n".join(map(str, replace(RECORD, **changes).problems()))  # type: ignore[arg-type]


def test_the_demo_is_sound() -> None:
    assert RECORD.problems() == []
    assert RECORD.remarks() == []


def with_code(record: TrialRecord, handle: str, code: int | None) -> TrialRecord:
    samples = tuple(
        s.model_copy(update={"code": code}) if s.id == handle else s for s in record.samples
    )
    return replace(record, samples=samples)


def test_one_code_cannot_stand_for_two_pieces_of_a_cook() -> None:
    units = {p.id: p for p in RECORD.units}
    first = RECORD.samples[0]
    same_cook = [s for s in RECORD.samples if units[s.piece].cook == units[first.piece].cook]
    other_piece = next(s for s in same_cook if s.piece != first.piece)
    other_cook = next(s for s in RECORD.samples if units[s.piece].cook != units[first.piece].cook)
    told = with_code(RECORD, other_piece.id, first.code).problems()
    assert len(told) == 1
    assert f"both carried code {first.code}" in str(told[0])
    assert with_code(RECORD, other_cook.id, first.code).problems() == []


def test_a_sample_is_scored_where_its_piece_was_cooked() -> None:
    ballot = RECORD.ballots[0]
    elsewhere = next(c.id for c in RECORD.cooks if c.id != ballot.cook)
    moved = ballot.model_copy(update={"cook": elsewhere})
    told = problems(ballots=(moved, *RECORD.ballots[1:]))
    assert f"ballot '{ballot.id}': sample" in told
    assert f"not '{elsewhere}'" in told


def test_a_probe_is_in_a_piece_of_its_own_cook() -> None:
    inside = next(m for m in RECORD.placements if m.piece is not None)
    elsewhere = next(p for p in RECORD.units if p.cook != inside.cook)
    moved = inside.model_copy(update={"piece": elsewhere.id})
    others = tuple(m for m in RECORD.placements if m is not inside)
    assert f"placement '{inside.id}': piece '{elsewhere.id}' is in cook" in problems(
        placements=(moved, *others)
    )


def test_an_event_days_before_its_cook_has_a_wrong_date() -> None:
    event = RECORD.events[0]
    starts = RECORD.cook(event.cook).starts
    at = starts - timedelta(hours=20)
    assert problems(events=(event.model_copy(update={"at": at}), *RECORD.events[1:])) == ""
    wrong = event.model_copy(update={"at": datetime(2025, 5, 2, 20, tzinfo=UTC)})
    assert "more than a day before cook" in problems(events=(wrong, *RECORD.events[1:]))


def test_what_lay_alone_on_a_scale_is_not_guessed_too() -> None:
    alone = next(w for w in RECORD.weighings if len(w.sum) == 1 and w.piece is not None)
    guess = PartEstimate(
        id="guess", piece=alone.piece, part=alone.sum[0], low_kg=0.0, high_kg=9.0, why="by eye"
    )
    told = problems(estimates=(*RECORD.estimates, guess))
    assert f"was also weighed alone ('{alone.id}')" in told
