"""Answers as people write them. The short forms are common practice, no source."""

from typing import get_args

import pytest

from fairsmoke.intake import IntakeError, Mapping, recognise
from fairsmoke.intake.answers import choice_meant
from fairsmoke.intake.times import DateOrder
from fairsmoke.trial.reading import ReadingUnit


@pytest.mark.parametrize(
    ("answer", "unit"),
    [
        ("F", "degF"),
        ("°F", "degF"),
        ("fahrenheit", "degF"),
        ("deg F", "degF"),
        ("C", "degC"),
        ("°c", "degC"),
        ("Celsius", "degC"),
        ("kelvin", "K"),
        ("warm", None),
        ("dmy", None),
    ],
)
def test_units(answer: str, unit: str | None) -> None:
    assert choice_meant(answer, get_args(ReadingUnit)) == unit


@pytest.mark.parametrize(
    ("answer", "order"),
    [
        ("us", "month-day-year"),
        ("month first", "month-day-year"),
        ("mdy", "month-day-year"),
        ("MM/DD/YYYY", "month-day-year"),
        ("dmy", "day-month-year"),
        ("Day-first", "day-month-year"),
        ("dd.mm.yyyy", "day-month-year"),
        ("iso", "year-month-day"),
        ("day month year", "day-month-year"),
        ("F", None),
    ],
)
def test_date_orders(answer: str, order: str | None) -> None:
    assert choice_meant(answer, get_args(DateOrder)) == order


def test_only_a_choice_that_is_offered_is_meant() -> None:
    assert choice_meant("us", ["day-month-year", "year-month-day"]) is None


TEXT = "Time,Ch1,Ch2\n" + "".join(f"03/04/2026 18:{i:02d},{100 + i},{i}\n" for i in range(20))


def test_recognition_takes_them_and_names_its_probes() -> None:
    found = recognise(TEXT.encode())
    assert found.names == ("Ch1", "Ch2")
    mapping = found.answered({"date_order": "us", "unit": "F", "zone": "America/Chicago"})
    assert mapping.date_order == "month-day-year"
    assert [column.unit for column in mapping.columns] == [None, "degF", "degF"]
    with pytest.raises(IntakeError, match="asked are: date_order, zone, unit"):
        found.answered({"units": "F"})


def test_a_zone_is_no_answer_where_each_time_has_its_offset() -> None:
    text = "Time,Ch1\n" + "".join(f"2026-05-02T18:{i:02d}:00Z,{100 + i}\n" for i in range(20))
    with pytest.raises(IntakeError, match="'zone' is not asked here"):
        recognise(text.encode()).answered({"zone": "Europe/London"})


def test_a_mapping_counts_its_columns_from_one() -> None:
    columns = [{"use": "time"}, {"use": "value", "unit": "°F"}, {"use": "valu"}]
    with pytest.raises(IntakeError, match=r"wrong: column 3, use: "):
        Mapping.from_dict({"columns": columns})
    mapping = Mapping.from_dict({"columns": columns[:2], "date_order": "dmy"})
    assert mapping.columns[1].unit == "degF"
    assert mapping.date_order == "day-month-year"
