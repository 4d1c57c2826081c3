"""The day of a cook that is only planned: sizes guessed and said, what is missing is named."""

import pytest
from tests.planning.when_days import ZONE

from fairsmoke.demo.scenario import BARREL, COOKERS, TRIAL
from fairsmoke.jobs.errors import JobError
from fairsmoke.jobs.when import plan_day
from fairsmoke.jobs.when_day import day_of_trial
from fairsmoke.planning.when import Asked
from fairsmoke.trial.clock import parse_instant
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, Plan, PlannedPiece, Slot
from fairsmoke.trial.record import TrialRecord

SERVE = parse_instant("2026-05-03 13:00", ZONE)


def planned(thick_m: float | None = 0.12) -> TrialRecord:
    pieces = tuple(PlannedPiece(id=f"s-{k}", mass_kg=4.1, thick_m=thick_m) for k in (1, 2))
    slots = tuple(
        Slot(piece=f"s-{k}", arm=arm, cook=1, block="one", spot=Spot(cooker=BARREL, position=side))
        for k, arm, side in ((1, "bare", "left"), (2, "paper", "right"))
    )
    layout = Layout(kind=LayoutKind.MATCHED, seed=1, algorithm="by hand 1", slots=slots)
    at_hand = AtHand(cut="pork shoulder", species="pork", pieces=pieces)
    return TrialRecord(TRIAL, cookers=COOKERS, plan=Plan(at_hand=at_hand, layout=layout))


def test_a_planned_cook_is_planned_back() -> None:
    day = day_of_trial(planned(), "1", SERVE, ZONE, draws=24)
    assert [(one.piece, one.arm, one.cooker) for one in day.who] == [
        ("s-1", "bare", "The barrel"),
        ("s-2", "paper", "The barrel"),
    ]
    assert any("from its mass and thickness" in text for text in day.sides.assumed)
    told = plan_day(day, Asked(), with_levers=False)
    assert told is not None
    # The fewest of 24 draws that are 90 % of them are 22; whole minutes may give one away.
    assert 22 <= round(24 * told.plan.ready) <= 23


@pytest.mark.parametrize(
    ("record", "cook", "words"),
    [
        (planned(), "7", "number of the plan"),
        (planned(thick_m=None), "1", "its thick is not in the plan"),
        (TrialRecord(TRIAL), "1", "nothing is drawn yet"),
    ],
)
def test_what_is_missing_is_named(record: TrialRecord, cook: str, words: str) -> None:
    with pytest.raises(JobError, match=words):
        day_of_trial(record, cook, SERVE, ZONE)


def test_an_impossible_time_names_the_earliest_on_the_clock() -> None:
    day = day_of_trial(planned(), "1", SERVE, ZONE, draws=24)
    with pytest.raises(JobError, match=r"earliest possible is 2026-05-0\d .*must be on"):
        plan_day(day, Asked(), not_before=parse_instant("2026-05-03 06:00", ZONE))
