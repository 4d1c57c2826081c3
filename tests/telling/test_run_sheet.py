"""The run sheet and the plan's text: one page, everything on it, black and white, no codes."""

import io
import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import Literal

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader
from tests.planning.when_days import shoulders_day

from fairsmoke.answers.when import plan_day
from fairsmoke.planning.day.constraints import Asked
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.telling.run_sheet import run_sheet_pdf
from fairsmoke.telling.when import day_rows, when_json, when_text

MADE = datetime(2026, 4, 30, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def told() -> DayPlan:
    found = plan_day(shoulders_day(40), Asked())
    assert found is not None
    return found


def words_of(pdf: bytes) -> str:
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split()
    )


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_one_page_with_all_on_it(told: DayPlan, paper: Literal["a4", "us-letter"]) -> None:
    pdf = run_sheet_pdf(told, MADE, paper=paper)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 1
    text = words_of(pdf)
    for _, words, _, _ in day_rows(told):
        assert words in text
    for what in ("Actual", "trimmed meat + rub", "used wrap + drippings", "held meat + tray"):
        assert what in text
    assert "Invented trial" in text


def test_black_and_white(told: DayPlan) -> None:
    pdf = pypdfium2.PdfDocument(run_sheet_pdf(told, MADE))
    shown = pdf[0].render(scale=1.0).to_numpy().astype(int)
    assert np.ptp(shown[:, :, :3], axis=2).max() == 0
    assert shown.min() < 64  # An empty page would be without colour too.
    pdf.close()


def test_six_pieces_still_stand_on_one_page() -> None:
    found = plan_day(shoulders_day(24, count=6), Asked(), with_levers=False)
    assert found is not None
    pdf = run_sheet_pdf(found, MADE)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 1
    assert "Shoulder 6: slice" in words_of(pdf)


def test_the_same_plan_gives_the_same_page(told: DayPlan) -> None:
    pdf = run_sheet_pdf(told, MADE)
    assert pdf == run_sheet_pdf(told, MADE)
    # Its date is the one given: two pages of one second would else be the same by luck.
    written = PdfReader(io.BytesIO(pdf)).metadata
    assert written is not None
    assert written.creation_date == MADE


def test_text_and_json_agree(told: DayPlan) -> None:
    text, data = when_text(told), json.loads(json.dumps(when_json(told), allow_nan=False))
    assert data["serve"] == "2026-05-03T13:00:00+01:00"
    assert f"{100 * data['ready']:.0f} of 100 simulated days" in " ".join(text.split())
    assert {one["id"] for one in data["pieces"]} == {"shoulder-1", "shoulder-2"}
    assert "AGAINST THE PUBLISHED TABLES" in text
    assert data["levers"]
    assert data["safety"]
    hotter = [one for one in data["levers"] if "hotter" in one["what"]]
    assert hotter
    assert all(one["longer_s"]["middle_s"] < 0 for one in hotter)


def test_an_endless_draw_is_told_as_such(told: DayPlan) -> None:
    first = told.plan.pieces[0]
    due = replace(first.marks[-1].due, high_s=float("inf"))
    marks = (*first.marks[:-1], replace(first.marks[-1], due=due))
    plan = replace(told.plan, pieces=(replace(first, marks=marks), *told.plan.pieces[1:]))
    text = when_text(replace(told, plan=plan))
    assert "no end in sight" in text
    assert when_json(replace(told, plan=plan))["pieces"][0]["marks"][-1]["due"]["high"] is None
