"""What would spoil an answer is said, with code and mend, and a sound trial is left alone."""

from dataclasses import replace
from typing import Any

import pytest
from tests.planning.asked_examples import SOUND, remarks
from tests.telling.german import untranslated

from fairsmoke.design.draw import ALGORITHM, Wish, draw_again, draw_layout
from fairsmoke.messages.errors import JobError
from fairsmoke.planning.asked import handle_of, plan_of, protocol_changes, trial_of
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.remarks import Factor, Remark, factors_between, remarks_of
from fairsmoke.setting_up.ask import look_at
from fairsmoke.setting_up.ask_answers import (
    WrittenAnswers,
    asked_of_answers,
    check_used,
    measure_of,
    price_of,
)
from fairsmoke.telling.plan import remark_words
from fairsmoke.trial.plan import LayoutKind, Plan
from fairsmoke.trial.protocol import Protocol
from fairsmoke.trial.question import Trial


def test_a_sound_trial_has_nothing_to_be_said_about_it() -> None:
    assert remarks() == {}


def test_two_things_changed_at_once() -> None:
    found = remarks(arm=("Hotter", "Cooler: pit=107 °C, until=90 °C"))
    assert set(found) == {"two-changes"}
    sentence = str(found["two-changes"].sentence)
    assert "the temperature of the pit" in sentence
    assert "when “smoke” ends" in sentence


def test_an_arm_between_the_two_tells_them_apart() -> None:
    arms = ("Hotter", "Cooler: pit=107 °C", "Cooler and shorter: pit=107 °C, until=90 °C")
    assert "two-changes" not in remarks(arm=arms)


def test_a_wrap_is_one_thing_though_the_stages_follow_from_it() -> None:
    found = remarks(arm=("Bare", "In paper: wrap=paper"), measure=("cook time: 30 min",))
    assert found == {}


def test_one_pair_in_one_cook_ties_the_arm_to_a_side() -> None:
    found = remarks(piece=SOUND.piece[:2], cooks="1")
    assert set(found) == {"one-cook", "tied-to-place"}
    assert "swap" in str(found["tied-to-place"].mend)


def test_pieces_that_do_not_match() -> None:
    found = remarks(piece=("a: 3 kg", "b: 3.1 kg", "c: 4 kg", "d: 5 kg"))
    assert set(found) == {"pieces-differ"}
    assert "d is 25 % heavier than c" in str(found["pieces-differ"].sentence)


def test_nothing_to_match_by() -> None:
    assert set(remarks(piece=("4",))) == {"nothing-to-match"}


def test_the_wrap_holds_juice_and_a_time_set_by_the_clock_shows_nothing() -> None:
    found = remarks(arm=("Bare", "In paper: wrap=paper"))
    assert set(found) == {"measure-disturbed"}
    assert "holds juice" in str(found["measure-disturbed"].sentence)


def test_fat_added_in_one_arm_clings_and_is_weighed() -> None:
    asked = asked_of_answers(SOUND)
    smoke = asked.protocol.stages[0]
    fat = {"stage": smoke.id, "adds": [{"what": "fat", "name": "beef tallow"}]}
    arm = asked.arms[1].model_validate({"id": "fat", "name": "With tallow", "changes": [fat]})
    changed = asked.model_copy(update={"arms": (asked.arms[0], arm)})
    (found,) = remarks_of(trial_of(changed), plan_of(changed))
    assert found.code == "measure-disturbed"
    sentence = str(remark_words(found).sentence)
    assert "gets fat added" in sentence
    assert "clings" in sentence


def test_tasters_who_know_and_none_at_all() -> None:
    measures = ("yield: 2 points", "Bark 0-10: 1")
    assert set(remarks(measure=measures, tasters="6")) == {"tasters-know"}
    assert set(remarks(measure=measures, tasters="6", blind=True)) == set()
    assert set(remarks(measure=measures)) == {"no-tasters", "tasters-know"}


def test_meat_that_is_the_arm_cannot_be_drawn() -> None:
    pieces = (
        "a: 3 kg, arm=hotter",
        "b: 3.1 kg, arm=cooler",
        "c: 3 kg, arm=hotter",
        "d: 3.1 kg, arm=cooler",
    )
    assert set(remarks(piece=pieces)) == {"not-drawn"}


def test_pieces_left_over_are_named() -> None:
    found = remarks(piece=(*SOUND.piece, "s-5: 9 kg"))
    assert set(found) == {"spare-pieces"}
    assert "s-5" in str(found["spare-pieces"].sentence)


def test_no_room_is_said_with_the_mend() -> None:
    found = remarks(cooker=("Barrel: middle",))
    assert set(found) == {"no-layout"}


@pytest.mark.parametrize(
    ("text", "kind", "better"),
    [
        ("yield: 2 points", "yield", "higher"),
        ("cook time: 30 min", "cook time", "lower"),
        ("time to 93 °C: 45 min", "time to core", "lower"),
        ("Bark 0-10: 1", "score", "higher"),
        ("Shear force in kgf, lower: 0.5", "measured", "lower"),
    ],
)
def test_measures_are_read_from_a_line(text: str, kind: str, better: str) -> None:
    found = measure_of(text)
    assert (found["kind"], found["better"]) == (kind, better)


@pytest.mark.parametrize("text", ["yield", "Bark: 1", "Shear force in kgf, up: 1", "yield:"])
def test_a_measure_that_cannot_be_read_shows_how(text: str) -> None:
    with pytest.raises(JobError, match="measure"):
        measure_of(text)


def test_arms_become_changes_of_a_shared_protocol() -> None:
    asked = asked_of_answers(SOUND)
    trial = trial_of(asked)
    hotter, cooler = (trial.protocol_of(arm.id) for arm in trial.arms)
    assert factors_between(hotter, cooler) == (Factor("surround", "cooker"),)
    assert [stage.surround_c for stage in cooler.stages] == [107.0]


def test_stages_added_and_left_out_are_changes_too() -> None:
    def stage(handle: str, core: str) -> dict[str, object]:
        return {"id": handle, "name": handle, "ends": [{"core": core}]}

    shared = Protocol.from_file({"stages": [stage("a", "70 °C"), stage("b", "90 °C")]})
    own = Protocol.from_file({"stages": [stage("a", "70 °C"), stage("c", "80 °C")]})
    changes = protocol_changes(shared, own)
    assert shared.changed_by(changes) == own
    first = Protocol.from_file({"stages": [stage("c", "50 °C"), stage("a", "70 °C")]})
    with pytest.raises(PlanError, match="before all shared"):
        protocol_changes(shared, first)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"piece": ("a: 3", "b: 3 kg")}, "has no unit"),
        ({"cut": ""}, "which cut"),
        ({"measure": ()}, "what is measured"),
        ({"price_cook": "ten"}, "price_cook, “ten”"),
        ({"sure": "very"}, "how sure"),
        ({"arm": ("Bare",)}, "two arms"),
        ({"arm": ("Bare", "Foil: wrap=tin")}, "no such wrap"),
        ({"measure": ("cook time: 30",)}, "no unit"),
        ({"cooker": ("Pit: a, a",)}, "two positions"),
    ],
)
def test_answers_that_cannot_be_read_say_which(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(JobError, match=said):
        asked_of_answers(replace(SOUND, **changes))


def test_handles_are_made_of_words() -> None:
    assert handle_of("Paper, or bare?") == "paper-or-bare"
    with pytest.raises(PlanError, match="no handle"):
        handle_of("…")


def test_a_cooker_that_is_not_there_is_named() -> None:
    given = WrittenAnswers(**{**SOUND.__dict__, "cooker": (), "stand_in": ("box",)})
    with pytest.raises(PlanError, match="no cooker “box”"):
        plan_of(asked_of_answers(given))


def layout_by_search(seed: int, pieces: int, cooker: str, cooks: str) -> tuple[Trial, Plan]:
    given = replace(
        SOUND,
        piece=[f"p{n}: {3 + n / 100} kg" for n in range(pieces)],
        cooker=(cooker,),
        cooks=cooks,
    )
    asked = asked_of_answers(given)
    trial, plan = trial_of(asked), plan_of(asked)
    arms = [arm.id for arm in trial.arms]
    layout = draw_layout(plan.at_hand, arms, seed, Wish(LayoutKind.SEARCH))
    assert draw_again(plan.at_hand, arms, layout) == layout
    return trial, plan.model_copy(update={"layout": layout})


@pytest.mark.parametrize("seed", range(8))
def test_a_search_ties_no_arm_to_a_place_where_another_layout_is_as_good(seed: int) -> None:
    # Three pieces in two cooks: by hand, (A left, B right; A left) is tied, (…; A right) is not.
    codes = [one.code for one in remarks_of(*layout_by_search(seed, 3, "Barrel: left, right", "2"))]
    assert codes == []


def test_arms_that_stand_mostly_in_different_places_are_said_of_a_search() -> None:
    trial, plan = layout_by_search(0, 6, "Barrel: left, right", "3")
    assert plan.layout is not None
    places = {"hotter": ["left", "left", "left"], "cooler": ["right", "right", "right"]}
    slots = []
    for slot in plan.layout.slots:
        assert slot.spot is not None
        spot = slot.spot.model_copy(update={"position": places[slot.arm].pop()})
        slots.append(slot.model_copy(update={"spot": spot}))
    # One pair the other way round: five of six still stand on one side.
    for at in (0, 1):
        other = slots[1 - at].spot
        slots[at] = plan.layout.slots[at].model_copy(update={"spot": other})
    layout = plan.layout.model_copy(update={"slots": tuple(slots)})
    found = remarks_of(trial, plan.model_copy(update={"layout": layout}))
    assert {one.code for one in found} <= {"uneven-places", "tied-to-place"}
    assert found


@pytest.mark.parametrize("kind", ["search", "matched sets", "blocks"])
def test_each_arm_in_one_place_is_said_however_it_was_drawn(kind: str) -> None:
    trial, plan = layout_by_search(0, 6, "Barrel: left, right", "3")
    assert plan.layout is not None
    side = {"hotter": "left", "cooler": "right"}
    slots = [
        slot.model_copy(
            update={"spot": slot.spot and slot.spot.model_copy(update={"position": side[slot.arm]})}
        )
        for slot in plan.layout.slots
    ]
    layout = plan.layout.model_copy(update={"slots": tuple(slots), "kind": LayoutKind(kind)})
    found = remarks_of(trial, plan.model_copy(update={"layout": layout}))
    assert "tied-to-place" in {one.code for one in found}


def test_a_search_that_has_only_one_pair_says_what_no_search_can_mend() -> None:
    found = remarks_of(*layout_by_search(0, 2, "Barrel: left, right", "1"))
    assert "tied-to-place" in {one.code for one in found}


def test_an_earlier_way_of_searching_is_drawn_again_as_it_was() -> None:
    trial, plan = layout_by_search(0, 3, "Barrel: left, right", "2")
    assert plan.layout is not None
    arms = [arm.id for arm in trial.arms]
    old = plan.layout.model_copy(update={"algorithm": ALGORITHM})
    before = draw_again(plan.at_hand, arms, old)
    # Seed 0 tied an arm to a side before; a registered plan of then is still checked.
    assert before.algorithm == ALGORITHM
    assert before.slots != plan.layout.slots


def test_one_fire_cannot_hold_two_moistures_and_two_fires_can() -> None:
    pan = ("Dry", "Pan: humidity=water pan")
    found = remarks(arm=pan)
    assert set(found) == {"shared-air"}
    assert "“Dry” and “Pan” would share a cooker" in str(found["shared-air"].sentence)
    assert "two fires" in str(found["shared-air"].mend)
    assert "shared-air" not in remarks(arm=pan, cooker=("Barrel: middle", "Kettle: middle"))
    # A spritz stays with its piece.
    assert "shared-air" not in remarks(arm=("Dry", "Spritzed: humidity=spritz"))


def test_equal_arms_are_refused_unless_the_meat_differs() -> None:
    equal = replace(SOUND, arm=("A", "B"))
    with pytest.raises(JobError, match=r"nothing differs between “A” and “B”.*pit, humidity, wrap"):
        look_at(asked_of_answers(equal))
    meat = replace(equal, piece=("a: 3 kg, arm=a", "b: 3.1 kg, arm=b"))
    assert "not-drawn" in {one.code for one in look_at(asked_of_answers(meat)).remarks}
    note = replace(SOUND, arm=("A", "B: note=rubbed with B, twice"))
    assert look_at(asked_of_answers(note)).trial.arms[1].changes


@pytest.mark.parametrize(
    ("changes", "said", "words"),
    [
        ({}, {"wrap_at"}, "wrap_at is said without wrap"),
        ({}, {"hold_for"}, "hold_for is said without hold"),
        ({}, {"currency"}, "currency is said without price_piece"),
        ({}, {"blind"}, "blind is said without tasters"),
        ({"arm": ("A", "B: finish=90 °C")}, set(), "finish is said without wrap"),
    ],
)
def test_what_nothing_would_come_of_is_refused(
    changes: dict[str, Any], said: set[str], words: str
) -> None:
    with pytest.raises(JobError, match=words):
        check_used(replace(SOUND, **changes), said)


def test_what_something_comes_of_is_taken() -> None:
    wrapped = replace(SOUND, arm=("A", "B: wrap=paper"), tasters="3", price_cook="$12")
    check_used(wrapped, {"wrap_at", "blind", "currency"})


@pytest.mark.parametrize(
    ("text", "price"),
    [("32", "32"), ("$32", "32"), ("12,50 €", "12.50"), ("", None), ("USD 9.5", "9.5")],
)
def test_prices_are_read_with_their_sign(text: str, price: str | None) -> None:
    assert price_of(text, "price_cook") == price


@pytest.mark.parametrize("text", ["1,160", "ten", "3.4.1", "-5", "30-40"])
def test_a_price_that_may_mean_two_things_is_none(text: str) -> None:
    with pytest.raises(JobError, match="plain number"):
        price_of(text, "price_cook")


def test_remarks_in_german_say_everything() -> None:
    spoilt = {
        one.kind: remark_words(one)
        for one in (
            *remarks_with(
                arm=("A", "B: humidity=steam, pit=107 °C"), piece=SOUND.piece[:2], cooks="1"
            ),
            *remarks_with(arm=("A", "B: wrap=paper"), measure=("yield: 2 points", "Bark 0-10: 1")),
            *remarks_with(piece=("a: 3 kg", "b: 3.1 kg", "c: 4 kg", "d: 5 kg", "e: 9 kg")),
            *remarks_with(piece=("4",), cooker=("Barrel: middle",)),
        )
    }
    assert len(spoilt) > 8
    assert untranslated(list(spoilt.values())) == set()


def remarks_with(**changes: Any) -> tuple[Remark, ...]:
    asked = asked_of_answers(replace(SOUND, **changes))
    return remarks_of(trial_of(asked), plan_of(asked))
