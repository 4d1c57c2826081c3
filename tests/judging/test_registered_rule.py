"""What was registered binds the verdict, its words and its main measure, wherever it is told."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.judging.records import LIKING, MADE, YIELD, finding_text, record_of

from fairsmoke.judging.finding import Finding
from fairsmoke.judging.judge import judge
from fairsmoke.judging.rule import Lean, VerdictKind
from fairsmoke.telling.as_json import finding_json
from fairsmoke.telling.document import said
from fairsmoke.telling.finding import finding_document
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.question import Trial, VerdictRule
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import Amendment, PlanChange, frozen

EXPLORATORY = "Exploratory, by the question as it was changed after the first result:"


@pytest.fixture(scope="module")
def cooked() -> TrialRecord:
    rng = np.random.default_rng(5)
    rows = [(0.55 + a, 0.63 + b) for a, b in rng.normal(0, 0.012, (6, 2))]
    strict = YIELD.model_copy(update={"worthwhile": 0.07, "spread": 0.012})
    record = record_of(rows, (strict, LIKING))
    asked = record.trial.model_copy(update={"verdict": VerdictRule(sure=0.975, leaning=0.9)})
    registration = frozen(asked, None, record.cooks[0].starts - timedelta(days=1))
    return replace(record, trial=asked, registration=registration)


def amended(record: TrialRecord, trial: Trial, place: str, *, late: bool = True) -> TrialRecord:
    at = (MADE if late else record.cooks[0].starts) - timedelta(hours=1)
    change = PlanChange(place=place, was="0", now="1")
    amendment = Amendment(at=at, what="softer", why="seen", changes=(change,))
    assert record.registration is not None
    registration = record.registration.model_copy(update={"amendments": (amendment,)})
    return replace(record, trial=trial, registration=registration)


def softer(record: TrialRecord) -> Trial:
    line = record.trial.measures[0].model_copy(update={"worthwhile": 0.02})
    rule = VerdictRule(sure=0.8, hint=0.55, leaning=0.6)
    return record.trial.model_copy(update={"measures": (line, LIKING), "verdict": rule})


def test_a_softer_line_and_rule_after_the_results_stand_beside_as_exploratory(
    cooked: TrialRecord,
) -> None:
    plain = judge(cooked, made=MADE)
    late = judge(amended(cooked, softer(cooked), "measures yield, worthwhile"), made=MADE)
    (own,), (found,) = plain.main.differences, late.main.differences
    assert found.verdict == own.verdict
    assert found.verdict.word is VerdictKind.NOT_SETTLED
    assert found.verdict.sure == 0.975
    assert found.as_amended is not None
    assert found.as_amended.word is VerdictKind.BETTER
    assert found.as_amended.sure == 0.8
    assert late.main.measure.worthwhile == 0.07
    for text in (shell(late), page(late)):
        assert f"{EXPLORATORY} “Paper” is better, by enough to matter (at least 80 % sure)." in text
        assert EXPLORATORY not in page(plain)
    numbers = finding_json(late)["measures"][0]
    assert numbers["worthwhile"] == 0.07
    assert numbers["differences"][0]["verdict"]["word"] == "not settled"
    assert numbers["differences"][0]["as_amended"]["word"] == "better"


def shell(finding: Finding) -> str:
    return " ".join(finding_text(finding).split())


def page(finding: Finding) -> str:
    """What stands first on the page and in the print, which set the same document."""
    shown = str(said(finding_document(finding, cooks=False).front, ENGLISH))
    return " ".join(shown.replace("\\xa0", " ").split())


def test_an_amendment_before_the_first_result_binds(cooked: TrialRecord) -> None:
    line = cooked.trial.measures[0].model_copy(update={"worthwhile": 0.02})
    told = cooked.trial.model_copy(update={"measures": (line, LIKING)})
    early = amended(cooked, told, "measures yield, worthwhile", late=False)
    (found,) = judge(early, made=MADE).main.differences
    assert found.as_amended is None
    assert found.verdict.word is VerdictKind.BETTER


def test_the_words_for_leaning_are_those_that_were_registered(cooked: TrialRecord) -> None:
    words = cooked.trial.model_copy(update={"verdict": VerdictRule(sure=0.975, leaning=0.61)})
    (found,) = judge(amended(cooked, words, "verdict, leaning"), made=MADE).main.differences
    (own,) = judge(cooked, made=MADE).main.differences
    assert found.verdict.lean is own.verdict.lean
    assert found.verdict.lean in (Lean.OPEN, Lean.HINT, Lean.LEANING)


def test_the_main_measure_stays_what_it_was(cooked: TrialRecord) -> None:
    liking = LIKING.model_copy(update={"main": True})
    other = cooked.trial.model_copy(update={"measures": (cooked.trial.measures[0], liking)})
    changed = amended(cooked, other, "measures liking, main")
    assert judge(changed, made=MADE).main.measure.id == "yield"
    early = amended(cooked, other, "measures liking, main", late=False)
    assert judge(early, made=MADE).main.measure.id == "liking"
