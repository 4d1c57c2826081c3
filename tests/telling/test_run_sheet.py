"""The run sheet: one page, everything on it, black and white, no codes."""

import io
from datetime import UTC, datetime
from typing import Literal

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader
from tests.planning.when_days import ZONE, shoulders_day

from fairsmoke.answers.when import plan_day
from fairsmoke.planning.day.constraints import DayConstraints
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.quantity import METRIC
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.run_sheet import run_sheet_content, run_sheet_pdf
from fairsmoke.telling.when import day_steps

MADE = datetime(2026, 4, 30, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def told() -> DayPlan:
    found = plan_day(shoulders_day(40), DayConstraints())
    assert found is not None
    return found


def sheet(
    plan: DayPlan, *, paper: Literal["a4", "us-letter"] = "a4", language: str = "en"
) -> bytes:
    reader = Reader(METRIC, language, "24", ZONE)
    return run_sheet_pdf(run_sheet_content(plan, MADE), MADE, reader, paper=paper)


def words_of(pdf: bytes) -> str:
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split()
    )


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_one_page_with_all_on_it(told: DayPlan, paper: Literal["a4", "us-letter"]) -> None:
    pdf = sheet(told, paper=paper)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 1
    text = words_of(pdf)
    for step in day_steps(told):
        assert str(step.line) in text
    for what in ("Actual", "trimmed meat + rub", "used wrap + drippings", "held meat + tray"):
        assert what in text
    assert "Invented trial" in text


def test_black_and_white(told: DayPlan) -> None:
    pdf = pypdfium2.PdfDocument(sheet(told))
    shown = pdf[0].render(scale=1.0).to_numpy().astype(int)
    assert np.ptp(shown[:, :, :3], axis=2).max() == 0
    assert shown.min() < 64  # An empty page would be without colour too.
    pdf.close()


def test_six_pieces_still_stand_on_one_page() -> None:
    found = plan_day(shoulders_day(24, count=6), DayConstraints(), with_adjustments=False)
    assert found is not None
    pdf = sheet(found)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 1
    assert "Shoulder 6: slice" in words_of(pdf)


def test_the_same_plan_gives_the_same_page(told: DayPlan) -> None:
    pdf = sheet(told)
    assert pdf == sheet(told)
    # Its date is the one given: two pages of one second would else be the same by luck.
    written = PdfReader(io.BytesIO(pdf)).metadata
    assert written is not None
    assert written.creation_date == MADE


# English words of a sheet that no German one has; names of the invented trial are English.
ENGLISH = (
    "Serve",
    "ready",
    "Expected",
    "Actual",
    "of days",
    "put on",
    "pull",
    "slice",
    "due at",
    "fuel",
    "empty",
    "meat",
    "drippings",
    "off between",
    "Planned",
    "Invented",
    "simulated",
)


def test_a_german_sheet_has_no_english_word(told: DayPlan) -> None:
    english, german = words_of(sheet(told)), words_of(sheet(told, language="de"))
    for word in ENGLISH:
        assert word in english, word
        assert word not in german, word
    for word in ("Servieren", "Erwartet", "Wirklich", "auflegen", "90 % der Tage", "Erfundener"):
        assert word in german
    # Set in its own language, for those who have it read aloud.
    root = PdfReader(io.BytesIO(sheet(told, language="de"))).root_object
    assert str(root["/Lang"]) == "de"
