"""The report tells amendments and what is not as registered, and still fits."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

from pypdf import PdfReader
from tests.telling.conftest import MADE

from fairsmoke.judging.judge import judge
from fairsmoke.telling.report import report_pdf
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, Plan, PlannedPiece, Slot
from fairsmoke.trial.question import VerdictRule
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import Amendment, PlanChange, frozen

EARLY = datetime(2026, 4, 25, 17, tzinfo=UTC)


def pages_of(record: TrialRecord) -> list[str]:
    reader = PdfReader(BytesIO(report_pdf(judge(record, made=MADE))))
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


def strayed(record: TrialRecord) -> TrialRecord:
    """The demo with a registered layout in which every piece had another side, and a softer rule
    that was amended, and a measure that silently changed."""
    other = {"left": "right", "right": "left"}
    numbers = {cook.id: number for number, cook in enumerate(record.cooks, start=1)}
    slots = []
    for unit in record.units:
        assert unit.spot is not None
        spot = Spot(cooker=unit.spot.cooker, position=other[unit.spot.position])
        slots.append(
            Slot(
                piece=unit.id,
                arm=unit.arm or "",
                cook=numbers[unit.cook or ""],
                block=unit.pair or "",
                spot=spot,
            )
        )
    at_hand = AtHand(
        cut="pork shoulder",
        species="pork",
        pieces=tuple(PlannedPiece(id=unit.id) for unit in record.units),
    )
    layout = Layout(
        kind=LayoutKind.MATCHED,
        seed=7,
        algorithm="a test",
        slots=tuple(slots),
        free="All free.",
        drawn_before=2,
    )
    plan = Plan(at_hand=at_hand, layout=layout)
    change = PlanChange(place="verdict, sure", was="0.95", now="0.9")
    amendment = Amendment(
        at=datetime(2026, 6, 1, 10, tzinfo=UTC),
        what="A softer rule.",
        why="One night less.",
        changes=(change,),
    )
    registration = frozen(record.trial, plan, EARLY)
    main = record.trial.measures[0].model_copy(update={"worthwhile": 0.03})
    trial = record.trial.model_copy(
        update={
            "verdict": VerdictRule(sure=0.9),
            "measures": (main, *record.trial.measures[1:]),
        }
    )
    return replace(
        record,
        trial=trial,
        plan=plan,
        registration=registration.model_copy(update={"amendments": (amendment,)}),
    )


def test_what_strayed_from_the_plan_is_told_and_the_answer_stays_on_its_page(
    demo_record: TrialRecord,
) -> None:
    pages = pages_of(strayed(demo_record))
    first, whole = pages[0], " ".join(pages)
    assert "1 amendment" in first
    assert "7 things are not as registered, and no amendment says so" in first
    assert f"Page 1 of {len(pages)}" in first
    assert "arms drawn by chance" in first
    assert "Every measure" in pages[1]
    assert "A softer rule. Why: One night less." in whole
    assert "Not as registered, as amended: verdict, sure: 0.95 → 0.9." in whole
    assert "worthwhile: 2 points → 3 points" in whole
    assert whole.count("was to stand in") == 6
    assert "seed 7; 2 earlier draws thrown away" in whole
    assert "sha256sum" in whole


def test_a_plan_that_was_kept_says_so(demo_record: TrialRecord) -> None:
    whole = " ".join(pages_of(demo_record))
    assert "Nothing was found that was done otherwise than registered." in whole


def test_a_late_registration_is_exploratory_on_the_first_page(demo_record: TrialRecord) -> None:
    late = frozen(demo_record.trial, None, datetime(2026, 12, 1, tzinfo=UTC))
    first = pages_of(replace(demo_record, registration=late))[0]
    assert "Exploratory: the plan was registered after the first result" in first
    assert "may have been shaped by what was seen" in first
