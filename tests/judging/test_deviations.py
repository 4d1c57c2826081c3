"""What differs from a registered plan is told, with or without an amendment."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import product

import numpy as np
import pytest
from tests.judging.records import MADE, finding_text, record_of

from fairsmoke.judging.deviations import deviations_of, first_result, is_late, untold_changes
from fairsmoke.judging.judge import judge
from fairsmoke.telling.as_json import finding_json
from fairsmoke.trial.cook import Event, EventKind
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, Plan, PlannedPiece, Slot
from fairsmoke.trial.question import Draw, VerdictRule
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import Amendment, Registered, frozen, registered_of

EARLY = datetime(2026, 4, 1, tzinfo=UTC)
YIELDS = ((0.60, 0.63), (0.61, 0.62), (0.59, 0.63))


def planned(record: TrialRecord) -> TrialRecord:
    """The record with the plan that its units followed, registered early."""
    pieces = tuple(PlannedPiece(id=unit.id, name=unit.name) for unit in record.units)
    cooks = {cook.id: number for number, cook in enumerate(record.cooks, start=1)}
    slots = tuple(
        Slot(
            piece=unit.id,
            arm=unit.arm or "",
            cook=cooks[unit.cook or ""],
            block=unit.pair or "",
            spot=unit.spot,
        )
        for unit in record.units
    )
    layout = Layout(kind=LayoutKind.MATCHED, seed=1, algorithm="by the test", slots=slots)
    plan = Plan(at_hand=AtHand(cut="chuck", species="beef", pieces=pieces), layout=layout)
    return replace(record, plan=plan, registration=frozen(record.trial, plan, EARLY))


def test_a_trial_that_kept_to_its_plan_has_nothing_to_tell() -> None:
    record = planned(record_of(YIELDS))
    assert deviations_of(record) == ()
    assert not judge(record, made=MADE).exploratory


def test_without_a_registration_the_trial_is_exploratory() -> None:
    assert judge(record_of(YIELDS), made=MADE).exploratory


def test_a_changed_rule_is_told_until_an_amendment_tells_it() -> None:
    record = planned(record_of(YIELDS))
    trial = record.trial.model_copy(update={"verdict": VerdictRule(sure=0.8)})
    changed = replace(record, trial=trial)
    (found,) = deviations_of(changed)
    assert not found.told
    assert str(found.sentence) == "verdict, sure: 0.95 → 0.8."
    said = finding_text(judge(changed, made=MADE))
    assert "Not as registered: verdict, sure: 0.95 → 0.8." in said

    registration = changed.registration
    assert registration is not None
    registered = registered_of(registration.plan)
    changes = untold_changes(registered, Registered(trial, record.plan), ())
    amendment = Amendment(at=EARLY, what="a softer rule", why="few pieces", changes=changes)
    amended = registration.model_copy(update={"amendments": (amendment,)})
    (told,) = deviations_of(replace(changed, registration=amended))
    assert told.told
    finding = judge(replace(changed, registration=amended), made=MADE)
    assert finding.untold == ()
    assert finding_json(finding)["amendments"][0]["why"] == "few pieces"
    assert finding_json(finding)["deviations"][0]["told"] is True
    # Changing it once more, or back in silence, is not what the amendment said.
    once_more = record.trial.model_copy(update={"verdict": VerdictRule(sure=0.7)})
    (again,) = deviations_of(replace(record, trial=once_more, registration=amended))
    assert not again.told
    (back,) = deviations_of(replace(record, registration=amended))
    assert not back.told
    assert str(back.sentence) == "verdict, sure: 0.8 → 0.95."


def test_words_beside_the_plan_may_change() -> None:
    record = planned(record_of(YIELDS))
    trial = record.trial.model_copy(update={"note": "rained", "title": "Paper"})
    assert deviations_of(replace(record, trial=trial)) == ()


def test_who_got_what_otherwise_than_drawn_is_told_by_piece() -> None:
    record = planned(record_of(YIELDS))
    first, second = record.units[:2]
    pieces = tuple(
        piece.model_copy(update={"arm": {first.id: second.arm, second.id: first.arm}[piece.id]})
        if piece.id in (first.id, second.id)
        else piece
        for piece in record.pieces
    )
    found = deviations_of(replace(record, pieces=pieces))
    assert [one.about for one in found] == ["conduct", "conduct"]
    assert f"{first.name} was to be" in str(found[0].sentence)


def test_pieces_left_out_left_over_and_brought_along_are_told() -> None:
    record = planned(record_of(YIELDS))
    gone = record.units[0]
    without = replace(
        record,
        pieces=tuple(piece for piece in record.pieces if piece is not gone),
        weighings=tuple(one for one in record.weighings if one.piece != gone.id),
    )
    (found,) = deviations_of(without)
    assert str(found.sentence) == f"{gone.name} was planned and not cooked."
    excluded = replace(record, exclusions=(Exclusion(id="x", why="fell", piece=gone.id),))
    (found,) = deviations_of(excluded)
    assert "the plan named no reason to leave out" in str(found.sentence)
    assert record.plan is not None
    layout = record.plan.layout
    assert layout is not None
    fewer = layout.model_copy(update={"slots": layout.slots[:-1]})
    plan = record.plan.model_copy(update={"layout": fewer})
    brought = replace(record, plan=plan, registration=frozen(record.trial, plan, EARLY))
    (found,) = deviations_of(brought)
    assert "was not in the plan" in str(found.sentence)


def test_a_later_cook_of_the_plan_is_no_deviation_yet() -> None:
    whole = planned(record_of(YIELDS))
    last = whole.cooks[-1].id
    so_far = replace(
        whole,
        cooks=whole.cooks[:-1],
        pieces=tuple(piece for piece in whole.pieces if piece.cook != last),
        weighings=tuple(
            one for one in whole.weighings if whole.piece(one.piece or "").cook != last
        ),
    )
    assert deviations_of(so_far) == ()


def test_a_plan_registered_after_the_first_result_stays_exploratory() -> None:
    record = planned(record_of(YIELDS))
    seen = Event(
        id="e",
        cook=record.cooks[0].id,
        at=EARLY - timedelta(hours=3),
        kind=EventKind.ON,
        pieces=(record.units[0].id,),
    )
    late = replace(record, events=(seen,))
    assert first_result(late) == seen.at
    assert is_late(late)
    (found,) = deviations_of(late)
    assert "3 hours after the first result" in str(found.sentence)
    cooks = tuple(
        cook.model_copy(update={"starts": EARLY - timedelta(hours=4), "ends": None})
        for cook in record.cooks
    )
    assert judge(replace(late, cooks=cooks), made=MADE).exploratory


def test_another_layout_and_a_plan_struck_out_are_one_line_each() -> None:
    record = planned(record_of(YIELDS))
    assert record.plan is not None
    layout = record.plan.layout
    assert layout is not None
    redrawn = record.plan.model_copy(update={"layout": layout.model_copy(update={"seed": 2})})
    (found,) = deviations_of(replace(record, plan=redrawn))
    assert "seed 1" in str(found.sentence)
    assert "seed 2" in str(found.sentence)
    (gone,) = deviations_of(replace(record, plan=None))
    assert str(gone.sentence).endswith("→ nothing.")
    bare = replace(record, registration=frozen(record.trial, None, EARLY))
    (added,) = deviations_of(bare)
    assert str(added.sentence).startswith("plan: nothing → a plan")


def test_an_unreadable_registered_plan_is_told() -> None:
    record = record_of(YIELDS)
    from fairsmoke.trial.canonical import digest_of
    from fairsmoke.trial.registration import Registration

    odd = Registration(at=EARLY, plan='{"x":1}', digest=digest_of('{"x":1}'))
    (found,) = deviations_of(replace(record, registration=odd))
    assert "cannot be compared" in str(found.sentence)


def test_even_layouts_are_redrawn_as_they_were_drawn() -> None:
    """Three pairs over two places: of the 8 layouts 6 are even. p counted by hand over those 6."""
    draw = Draw(how="drawn", within="pair", even=True)
    differences = (0.030, 0.010, 0.040)
    record = record_of([(0.60, 0.60 + d) for d in differences], draw=draw)
    # Bare left in the first two cooks and right in the third.
    spots = {"bare": ("left", "left", "right"), "paper": ("right", "right", "left")}
    cooks = [cook.id for cook in record.cooks]
    pieces = []
    for piece in record.pieces:
        assert piece.spot is not None
        where = spots[piece.arm or ""][cooks.index(piece.cook or "")]
        spot = piece.spot.model_copy(update={"position": where})
        pieces.append(piece.model_copy(update={"spot": spot}))
    finding = judge(replace(record, pieces=tuple(pieces)), made=MADE)
    (classical,) = (
        one for one in finding.main.differences[0].classical if one.name == "re-randomisation"
    )
    # +1 where bare stands left: the signs of a layout relative to the one cooked.
    cooked = np.array([1, 1, -1])
    even = [np.array(s) for s in product((1, -1), repeat=3) if abs(sum(s)) == 1]
    sums = [abs(float(np.sum(s * cooked * differences))) for s in even]
    observed = sum(differences)
    expected = sum(value >= observed - 1e-9 for value in sums) / len(even)
    assert len(even) == 6
    assert classical.p == pytest.approx(expected)
    assert "6 layouts" in str(classical.sentence)
