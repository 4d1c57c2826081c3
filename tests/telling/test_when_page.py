"""A day as plain data for a page: the same as the text and JSON of the command, and every code.

That what a page says comes to the same as what the command says is the check: both are made from
one plan, the one in words, the other in codes and SI figures.
"""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from tests.planning.test_safety import piece as safety_piece
from tests.planning.when_days import HOUR_S, ZONE, protocol, shoulders_day

from fairsmoke.answers.when import plan_day
from fairsmoke.planning.day.constraints import Asked
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.safety import SafetyPiece, safety_notes
from fairsmoke.telling.numbers import show_clock
from fairsmoke.telling.reminders import calendar_of
from fairsmoke.telling.run_sheet import run_sheet_content
from fairsmoke.telling.when import day_rows, when_json
from fairsmoke.telling.when_page import gathered, when_page
from fairsmoke.trial.protocol import Place, Protocol

MADE = datetime(2026, 4, 30, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def told() -> DayPlan:
    found = plan_day(shoulders_day(40), Asked())
    assert found is not None
    return found


@pytest.fixture(scope="module")
def page(told: DayPlan) -> dict[str, Any]:
    """The data as a page reads it again."""
    found: dict[str, Any] = json.loads(json.dumps(when_page(told), allow_nan=False))
    return found


def test_every_step_stands_in_it_at_the_time_that_the_command_tells(
    told: DayPlan, page: dict[str, Any]
) -> None:
    serve = datetime.fromisoformat(page["serve"])
    steps = [serve + timedelta(seconds=60.0 * round(row["at"] / 60.0)) for row in page["day"]]
    assert steps == [told.at(at) for at, *_ in day_rows(told)]
    pieces = {one["name"]: one for one in when_json(told)["pieces"]}
    for one in page["pieces"]:
        as_told = pieces[one["name"]]
        opened = serve + timedelta(seconds=60.0 * round(one["open"] / 60.0))
        assert opened == datetime.fromisoformat(as_told["open"])
        assert one["ready"] == as_told["ready"]
        marks = [row for row in page["day"] if row.get("piece") == one["name"]][:-2]
        assert [row["kind"] for row in marks] == [mark["kind"] for mark in as_told["marks"]]


def test_a_wrap_says_what_with_and_what_tells_that_it_is_due(page: dict[str, Any]) -> None:
    (wrap,) = (row for row in page["day"] if row["kind"] == "wrap")
    assert (wrap["above"], wrap["below"], wrap["wraps"]) == ("paper", "paper", True)
    assert wrap["core_c"] == pytest.approx(71.0, abs=1.0)
    assert wrap["between"]["low"] <= wrap["at"]


def test_what_differs_is_named_by_what_and_stage(told: DayPlan, page: dict[str, Any]) -> None:
    (gap,) = page["arms"]
    assert gap["differs"]
    assert all(stage in told.arms[0].differs for _, stage in gap["differs"])


def stages(place: Place) -> Protocol:
    first, second, hold = protocol().stages
    return Protocol(stages=(first, second, hold.model_copy(update={"place": place})))


SAFETY: dict[str, SafetyPiece] = {
    "as planned": safety_piece(),
    "hold below 60": safety_piece(end_c=58.0),
    "hold below 57": safety_piece(end_c=55.0),
    "hold below all": safety_piece(end_c=50.0),
    "other table": replace(safety_piece(), species="turkey"),
    "oven": replace(safety_piece(), mass_kg=4.0),
    "standing": replace(safety_piece(), protocol=stages(Place.COOLER), waits_s=5 * HOUR_S),
    "left over unknown": replace(safety_piece(), cools_s=None),
    "pierced": replace(safety_piece(), punctured=True),
    "cold": safety_piece(top_c=50.0, end_c=50.0),
    "few logs": replace(safety_piece(), log_salmonella=np.full(20, 20.0)),
    "never cools": replace(safety_piece(), cools_s=(4 * HOUR_S, float("inf"))),
}


@pytest.mark.parametrize("name", SAFETY)
def test_each_note_has_a_code_and_figures_that_json_can_hold(name: str) -> None:
    notes = safety_notes(SAFETY[name])
    assert all(note.code for note in notes)
    found = json.loads(json.dumps(gathered(notes), allow_nan=False))
    assert len(found) == len(notes)
    assert [one["warns"] for one in found] == sorted((n.warns for n in notes), reverse=True)
    if name in {note.code for note in notes} | {"hold below 60", "standing", "oven"}:
        assert name in {one["code"] for one in found}


def test_notes_that_say_the_same_of_two_pieces_are_one() -> None:
    one = safety_piece()
    both = (*safety_notes(one), *safety_notes(replace(one, name="Two")))
    assert all(said["pieces"] == ["One", "Two"] for said in gathered(both))


@pytest.mark.parametrize(
    ("at", "shown"),
    [
        ("2026-05-03T00:05", "12:05 AM"),
        ("2026-05-03T09:30", "9:30 AM"),
        ("2026-05-03T12:00", "12:00 PM"),
        ("2026-05-03T23:40", "11:40 PM"),
    ],
)
def test_a_clock_of_twelve_hours(at: str, shown: str) -> None:
    """Noon is 12 PM and midnight 12 AM, as clocks of twelve hours have it (common practice)."""
    moment = datetime.fromisoformat(at).replace(tzinfo=ZONE)
    assert show_clock(moment, ZONE, "12") == shown
    assert datetime.strptime(shown, "%I:%M %p").time() == moment.time()


def test_sheet_and_reminders_go_by_the_clock_that_is_asked(told: DayPlan) -> None:
    sheet = run_sheet_content(told, MADE, "12")
    times = [row[0] for row in sheet["steps"]]
    assert all(time.endswith(("AM", "PM")) for time in times)
    assert times[-1] == "Sun 1:00 PM"
    assert sheet["serve"].endswith("1:00 PM")
    assert b"PM" in calendar_of(told, MADE, clock="12")
    assert b"PM" not in calendar_of(told, MADE)
