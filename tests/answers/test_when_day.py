"""The day of a cook that is only planned: sizes guessed and said, what is missing is named."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.planning.when_days import ZONE, shoulders_day

from fairsmoke.answers.when import plan_day
from fairsmoke.answers.when_day import day_of_file, day_of_trial
from fairsmoke.demo import demo_trial
from fairsmoke.demo.scenario import BARREL, COOKERS, TRIAL
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook.errors import FolderError
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.day_plan import OnTheDay
from fairsmoke.planning.day.time_errors import NO_MORE
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
    assert day.who == (
        OnTheDay("s-1", "bare", "The barrel", "Left, away from the firebox"),
        OnTheDay("s-2", "paper", "The barrel", "Right, by the firebox"),
    )
    assert day.guessed == {"s-1", "s-2"}
    told = plan_day(day, DayConstraints(), with_adjustments=False)
    assert told is not None
    # The fewest of 24 draws that are 90 % of them are 22; whole minutes may give one away.
    assert 22 <= round(24 * told.plan.ready) <= 23


def test_a_begun_cook_is_planned_from_what_was_measured() -> None:
    record = demo_trial(2026).record
    day = day_of_trial(record, "july", SERVE, ZONE, draws=24)
    assert day.who == (
        OnTheDay("shoulder-3", "paper", "The barrel", "Right, by the firebox"),
        OnTheDay("shoulder-4", "bare", "The barrel", "Left, away from the firebox"),
    )
    assert [piece.id for piece in day.sides.pieces] == ["shoulder-3", "shoulder-4"]
    # The demo's table: 25.5 cm long, 18.5 and 18.0 cm wide; as measured, not from the mass.
    assert [piece.piece.width_m for piece in day.sides.pieces] == pytest.approx([0.185, 0.18])
    assert not day.guessed
    # A cooker that is no longer listed keeps its handle, and a piece without a spot has none.
    bare = replace(
        record,
        cookers=(),
        pieces=tuple(
            one.model_copy(update={"spot": None}) if one.id == "shoulder-4" else one
            for one in record.pieces
        ),
    )
    assert day_of_trial(bare, "july", SERVE, ZONE, draws=24).who == (
        OnTheDay("shoulder-3", "paper", "barrel", "right"),
        OnTheDay("shoulder-4", "bare"),
    )


FILE = """
title: Paper or bare
altitude: 60 m
pieces:
  - {id: a, cut: pork shoulder, mass: 4.1 kg, length: 26 cm, width: 19 cm, thick: 12 cm, arm: bare,
     in_cooker: The barrel, place: left}
  - {id: b, cut: pork shoulder, mass: 4.2 kg, length: 26 cm, width: 19 cm, thick: 12 cm, arm: paper}
protocol:
  stages:
    - {id: smoke, name: Smoke, surround: 121 °C, ends: [{core: 71 °C}]}
    - {id: finish, name: Finish, surround: 121 °C, ends: [{core: 92 °C}, {elapsed: 16 h}]}
arms:
  - {id: bare, name: Bare}
  - {id: paper, name: Paper, changes: [{stage: finish, wrap: paper}]}
"""


def test_a_file_says_who_stands_where(tmp_path: Path) -> None:
    path = tmp_path / "day.yaml"
    path.write_text(FILE, encoding="utf-8")
    day = day_of_file(path, SERVE, ZONE, draws=24, seed=3)
    assert day.who == (
        OnTheDay("a", "bare", "The barrel", "left"),
        OnTheDay("b", "paper", "the cooker", ""),
    )
    assert (day.sides.members, day.sides.seed, day.invented) == (24, 3, False)


@pytest.mark.parametrize(
    ("was", "now", "error", "words"),
    [
        (", arm: paper}", "}", JobError, "piece “b” does not say its arm.*bare, paper"),
        ("place: left", "plaice: left", FolderError, r"line 6: pieces 1.*did you mean 'place'"),
        ("title:", "title: [", FolderError, "not YAML"),
    ],
)
def test_a_wrong_file_names_the_place(
    tmp_path: Path, was: str, now: str, error: type[Exception], words: str
) -> None:
    path = tmp_path / "wrong.yaml"
    path.write_text(FILE.replace(was, now, 1), encoding="utf-8")
    with pytest.raises(error, match=words):
        day_of_file(path, SERVE, ZONE)


@pytest.mark.parametrize(
    ("record", "cook", "words"),
    [
        (planned(), "7", "number of the plan"),
        (planned(thick_m=None), "1", "does not say how thick it is"),
        (TrialRecord(TRIAL), "1", "nothing is drawn yet"),
    ],
)
def test_what_is_missing_is_named(record: TrialRecord, cook: str, words: str) -> None:
    with pytest.raises(JobError, match=words):
        day_of_trial(record, cook, SERVE, ZONE)


def test_an_impossible_time_names_the_earliest_on_the_clock() -> None:
    day = day_of_trial(planned(), "1", SERVE, ZONE, draws=24)
    with pytest.raises(JobError, match=r"earliest possible is \d May 2026, .*must be on"):
        plan_day(day, DayConstraints(), not_before=parse_instant("2026-05-03 06:00", ZONE))


def test_a_piece_without_a_hold_that_waits_long_is_warned_of() -> None:
    # FDA Food Code 3-501.19: 4 h at the most without heat or cold that is controlled.
    day = shoulders_day(60)
    bare = tuple(
        replace(arm, protocol=arm.protocol.model_copy(update={"stages": arm.protocol.stages[:2]}))
        for arm in day.sides.arms
    )
    told = plan_day(replace(day, sides=replace(day.sides, arms=bare)), with_adjustments=False)
    assert told is not None
    assert np.quantile(told.plan.held_s, 0.95) > 4 * 3600.0
    warned = {note.piece for note in told.safety if note.warns and note.code == "standing"}
    assert warned == {piece.name for piece in day.sides.pieces}
    sure = plan_day(
        replace(day, sides=replace(day.sides, arms=bare)), log_sd=NO_MORE, with_adjustments=False
    )
    assert sure is not None
    waits = np.quantile(sure.plan.held_s, 0.95, axis=1, method="higher") > 4 * 3600.0
    assert sum(n.code == "standing" for n in sure.safety) == np.sum(waits)
