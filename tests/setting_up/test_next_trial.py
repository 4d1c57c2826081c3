"""The trial after this one begins with what was said of it."""

import dataclasses
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fairsmoke.app.pages.worth_trying_trial import arm_fields
from fairsmoke.app.set_up import ask_form
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.planning.methods.contrasts import Contrast
from fairsmoke.planning.methods.space import MethodSettings
from fairsmoke.quantity import METRIC
from fairsmoke.setting_up.ask import ask
from fairsmoke.setting_up.ask_answers import WrittenAnswers, asked_of_answers
from fairsmoke.setting_up.method import Method
from fairsmoke.setting_up.next_trial import carried_over
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.protocol import Humidity

FIRST = WrittenAnswers(
    title="Paper or bare",
    question="Does paper keep more?",
    differs="paper at the stall",
    cut="pork shoulder",
    species="pork",
    arm=["Bare", "Paper: wrap=paper, wrap-at=71 °C, fat=60 g", "Steam: humidity=steam, hold=66 °C"],
    measure=["yield: 2 points", "cook time: 45 min", "Bark 0-10: 1"],
    piece=["4"],
    method=Method(pit="275 °F", until="95 °C"),
    cooker=["Barrel: left, right"],
    cooks="2",
    tasters="3",
    blind=False,
    price_cook="12.5",
    currency="EUR",
    leave_out=("dropped",),
    sure="90 %",
)


@pytest.fixture
def book(tmp_path: Path) -> Notebook:
    kitchen = Kitchen(name="Hall (invented)", time_zone="Europe/London")
    return Notebook.create(tmp_path / "hall.db", kitchen)


def test_question_cut_method_measures_and_cookers_are_carried_over(book: Notebook) -> None:
    made = ask(book, asked_of_answers(FIRST))
    carried = carried_over(book, made.trial.id)
    assert (carried.title, carried.piece) == ("", ())
    named = dataclasses.replace(carried, title="Once more", piece=["6"])
    # Through the fields of the form too, as the app does it.
    fields = ask_form.fields_of(named) | {"pieces": "6"}
    for answers in (named, ask_form.answers_of(fields, METRIC, tuple(carried.stand_in))):
        again = ask(book, asked_of_answers(answers), why="tried twice")
        assert again.trial.protocol == made.trial.protocol
        assert [one.changes for one in again.trial.arms] == [o.changes for o in made.trial.arms]
        assert again.trial.measures == made.trial.measures
        assert again.trial.verdict == made.trial.verdict
        assert again.plan.leave_out == made.plan.leave_out
        kept = ("cut", "species", "spots", "cooks", "tasters", "blind", "price_cook", "currency")
        for name in kept:
            assert getattr(again.plan.at_hand, name) == getattr(made.plan.at_hand, name), name
        assert len(again.plan.at_hand.pieces) == 6


def test_a_trial_that_is_not_there_is_named(book: Notebook) -> None:
    with pytest.raises(JobError, match="no trial 'nothing'; known: none"):
        carried_over(book, "nothing")


def test_a_water_pan_that_is_worth_trying_is_asked_as_what_differs() -> None:
    base = MethodSettings(wrap="bare", pan=False)
    contrast = Contrast("pan", base, dataclasses.replace(base, pan=True))
    fields = arm_fields(contrast, "71 °C", Reader(METRIC, "en", "24", ZoneInfo("UTC")))
    given = {"pieces": "4", "cut": "pork shoulder", "title": "Pan", "cooker": "Barrel"}
    given |= {"measure-0-kind": "yield", "measure-0-worthwhile": "2 points"}
    asked = asked_of_answers(ask_form.answers_of(fields | given, METRIC, ()))
    changed = [change.humidity for arm in asked.arms for change in arm.changes]
    assert changed == [Humidity.WATER_PAN]
