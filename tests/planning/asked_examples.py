"""Invented answers that set up a trial, to be spoilt in one thing at a time by tests."""

from dataclasses import replace
from typing import Any

from fairsmoke.planning.asked import plan_of, trial_of
from fairsmoke.planning.remarks import remarks_of
from fairsmoke.setting_up.ask_answers import WrittenAnswers, asked_of_answers
from fairsmoke.telling.plan import RemarkWords, remark_words

SOUND = WrittenAnswers(
    title="A pit run cooler",
    question="Does a cooler pit keep more?",
    differs="the temperature of the pit",
    cut="pork shoulder",
    species="pork",
    arm=("Hotter", "Cooler: pit=107 °C"),
    measure=("yield: 2 points", "cook time: 30 min"),
    piece=(
        "s-1: 3.41 kg, 11.5 cm, choice",
        "s-2: 3.50 kg, 11 cm, choice",
        "s-3: 4.20 kg, 12 cm, choice",
        "s-4: 4.40 kg, 12.2 cm, choice",
    ),
    cooker=("Barrel: left, right",),
    cooks="2",
)


def remarks(**changes: Any) -> dict[str, RemarkWords]:
    asked = asked_of_answers(replace(SOUND, **changes))
    return {one.code: remark_words(one) for one in remarks_of(trial_of(asked), plan_of(asked))}
