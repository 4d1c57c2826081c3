"""What would spoil an answer is said, with code and mend, and a sound trial is left alone."""

from dataclasses import replace
from typing import Any

import pytest
from tests.planning.asked_examples import SOUND, remarks

from fairsmoke.messages.errors import JobError
from fairsmoke.planning.asked import handle_of, plan_of, protocol_changes, trial_of
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.remarks import knobs_between
from fairsmoke.setting_up.ask_answers import Answers, asked_of_answers, measure_of
from fairsmoke.trial.protocol import Protocol


def test_a_sound_trial_has_nothing_to_be_said_about_it() -> None:
    assert remarks() == {}


def test_two_things_changed_at_once() -> None:
    found = remarks(arms=("Hotter", "Cooler: pit=107 °C, until=90 °C"))
    assert set(found) == {"two-changes"}
    sentence = found["two-changes"].sentence
    assert "the temperature of the pit" in sentence
    assert "when “smoke” ends" in sentence


def test_an_arm_between_the_two_tells_them_apart() -> None:
    arms = ("Hotter", "Cooler: pit=107 °C", "Cooler and shorter: pit=107 °C, until=90 °C")
    assert "two-changes" not in remarks(arms=arms)


def test_a_wrap_is_one_thing_though_the_stages_follow_from_it() -> None:
    found = remarks(arms=("Bare", "In paper: wrap=paper"), measures=("cook time: 30 min",))
    assert found == {}


def test_one_pair_in_one_cook_ties_the_arm_to_a_side() -> None:
    found = remarks(pieces=SOUND.pieces[:2], cooks="1")
    assert set(found) == {"one-cook", "tied-to-place"}
    assert "--swap" in found["tied-to-place"].mend


def test_pieces_that_do_not_match() -> None:
    found = remarks(pieces=("a: 3 kg", "b: 3.1 kg", "c: 4 kg", "d: 5 kg"))
    assert set(found) == {"pieces-differ"}
    assert "d is 25 % heavier than c" in found["pieces-differ"].sentence


def test_nothing_to_match_by() -> None:
    assert set(remarks(pieces=("4",))) == {"nothing-to-match"}


def test_the_wrap_holds_juice_and_a_time_set_by_the_clock_shows_nothing() -> None:
    found = remarks(arms=("Bare", "In paper: wrap=paper"))
    assert set(found) == {"measure-disturbed"}
    assert "holds juice" in found["measure-disturbed"].sentence


def test_fat_added_in_one_arm_clings_and_is_weighed() -> None:
    asked = asked_of_answers(SOUND)
    smoke = asked.protocol.stages[0]
    fat = {"stage": smoke.id, "adds": [{"what": "fat", "name": "beef tallow"}]}
    arm = asked.arms[1].model_validate({"id": "fat", "name": "With tallow", "changes": [fat]})
    changed = asked.model_copy(update={"arms": (asked.arms[0], arm)})
    from fairsmoke.planning.remarks import remarks_of

    (found,) = remarks_of(trial_of(changed), plan_of(changed))
    assert found.code == "measure-disturbed"
    assert "fat added" in found.sentence
    assert "clings" in found.sentence


def test_tasters_who_know_and_none_at_all() -> None:
    measures = ("yield: 2 points", "Bark 0-10: 1")
    assert set(remarks(measures=measures, tasters="6")) == {"tasters-know"}
    assert set(remarks(measures=measures, tasters="6", blind=True)) == set()
    assert set(remarks(measures=measures)) == {"no-tasters", "tasters-know"}


def test_meat_that_is_the_arm_cannot_be_drawn() -> None:
    pieces = (
        "a: 3 kg, arm=hotter",
        "b: 3.1 kg, arm=cooler",
        "c: 3 kg, arm=hotter",
        "d: 3.1 kg, arm=cooler",
    )
    assert set(remarks(pieces=pieces)) == {"not-drawn"}


def test_pieces_left_over_are_named() -> None:
    found = remarks(pieces=(*SOUND.pieces, "s-5: 9 kg"))
    assert set(found) == {"spare-pieces"}
    assert "s-5" in found["spare-pieces"].sentence


def test_no_room_is_said_with_the_mend() -> None:
    found = remarks(cookers=("Barrel: middle",))
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
    assert knobs_between(hotter, cooler) == ("the temperature of the pit",)
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
        ({"pieces": ("a: 3", "b: 3 kg")}, "has no unit"),
        ({"cut": ""}, "which cut"),
        ({"measures": ()}, "what is measured"),
        ({"price_cook": "ten"}, "price of a cook"),
        ({"sure": "very"}, "how sure"),
        ({"arms": ("Bare",)}, "two arms"),
        ({"arms": ("Bare", "Foil: wrap=tin")}, "no such wrap"),
        ({"measures": ("cook time: 30",)}, "no unit"),
        ({"cookers": ("Pit: a, a",)}, "two positions"),
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
    given = Answers(**{**SOUND.__dict__, "cookers": (), "stand_in": ("box",)})
    with pytest.raises(PlanError, match="no cooker 'box'"):
        plan_of(asked_of_answers(given))
