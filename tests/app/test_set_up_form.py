"""A trial goes into a form and comes out the same; what is typed becomes the record it says."""

from pathlib import Path

import pytest
from tests.app.clients import DATA

from fairsmoke.app.set_up.trial_form import empty, fields_of, trial_of
from fairsmoke.demo.scenario import TRIAL as DEMO
from fairsmoke.notebook.folder.transfer import read_folder
from fairsmoke.quantity import METRIC, US, Units
from fairsmoke.trial.protocol import Addition, Stage, StageChange
from fairsmoke.trial.question import Trial


def by_hand(folder: Path = DATA) -> Trial:
    (record,) = read_folder(folder).trial_records()
    return record.trial


def elaborate() -> Trial:
    """Return a trial with all that a form must not lose."""
    plain = by_hand()
    rest = Stage.model_validate(
        {"id": "rest", "name": "Rest", "place": "counter", "ends": [{"elapsed_s": 1234.5}]}
    )
    later = StageChange.model_validate({"stage": "rest", "surround_c": 21.3})
    fat = Addition.model_validate({"what": "fat", "name": "tallow, clarified", "mass_kg": 0.0613})
    changes = (
        StageChange(stage="finish", put_after=rest),
        later,
        StageChange(stage="smoke", adds=()),
        StageChange.model_validate({"stage": "finish", "wrap": {"below": "foil"}, "adds": [fat]}),
    )
    arms = (plain.arms[0], plain.arms[1].model_copy(update={"changes": changes}))
    third = plain.arms[0].model_copy(
        update={
            "id": "short",
            "name": "Short",
            "changes": (StageChange(stage="finish", leave_out=True),),
        }
    )
    content = {**plain.model_dump(), "arms": [*arms, third], "altitude_m": 123.4}
    content["draw"] = {"how": "by hand", "within": "cook", "seed": -7}
    content["draw"] |= {"given_to": "cooks", "even": True}
    content["verdict"] = {"sure": 0.975, "hint": 0.55, "leaning": 0.9}
    shear = {"id": "shear", "name": "Shear force", "kind": "measured", "better": "lower"}
    figures = {"worthwhile": 5.0, "unit": "N", "spread_share": 0.213}
    content["measures"] = [*content["measures"], {**shear, **figures}]
    content["measures"][0]["spread"] = 0.0213
    return Trial.model_validate(content)


@pytest.mark.parametrize(
    "trial", [by_hand(), DEMO, elaborate()], ids=["by hand", "demo", "elaborate"]
)
@pytest.mark.parametrize("units", [METRIC, US])
def test_a_trial_comes_back_the_same(trial: Trial, units: Units) -> None:
    assert trial_of(fields_of(trial, units), units, handle=trial.id) == trial


def test_a_spread_may_be_a_per_cent_of_the_value() -> None:
    fields = fields_of(elaborate(), METRIC)
    (share,) = (name for name in fields if name.endswith("spread_share"))
    changed = trial_of(fields | {share: "20 %"}, METRIC, handle="t")
    assert changed.measures[-1].spread_share == 0.2


def test_bare_numbers_are_in_ones_own_units() -> None:
    fields = empty() | {
        "title": "Hot",
        "question": "Is hot better?",
        "differs": "the pit",
        "stage-0-name": "Cook",
        "stage-0-surround": "250",
        "stage-0-core": "203; 200",
        "stage-0-elapsed": "12",
        "arm-0-name": "Cool",
        "arm-1-name": "Hot",
        "change-0-arm": "1",
        "change-0-stage": "0",
        "change-0-surround": "300",
        "measure-0-name": "Yield",
        "measure-0-worthwhile": "2",
    }
    trial = trial_of(fields, US, handle="hot")
    (stage,) = trial.protocol_of("cool").stages
    assert stage.surround_c == pytest.approx((250 - 32) / 1.8)
    assert [end.core_c for end in stage.ends[:2]] == pytest.approx([95, (200 - 32) / 1.8])
    assert stage.ends[2].elapsed_s == 12 * 3600
    assert trial.protocol_of("hot").stages[0].surround_c == pytest.approx((300 - 32) / 1.8)
    assert trial.main_measure.worthwhile == pytest.approx(0.02)
    assert trial.main_measure.main
