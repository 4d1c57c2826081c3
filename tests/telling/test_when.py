"""A day in words: every step, note and adjustment, in each language, unit system and clock.

That text, JSON, sheet and calendar say the same day is the check: all are made from one plan.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from tests.planning.test_safety import piece as safety_piece
from tests.planning.when_days import HOUR_S, ZONE, protocol, shoulders_day

from fairsmoke.answers.when import plan_day
from fairsmoke.messages.catalogue import translations
from fairsmoke.messages.message import Listed, Message
from fairsmoke.planning.day.adjustments import DayAdjustment
from fairsmoke.planning.day.day_plan import AdjustmentEffect, DayPlan
from fairsmoke.planning.day.safety import SafetyPiece, safety_notes
from fairsmoke.planning.day.schedule import PiecePlan, PlannedStep, TimeInterval
from fairsmoke.planning.day.steps import HandsOnStep, StepKind
from fairsmoke.quantity import METRIC, US, Units
from fairsmoke.telling.blocks import Section
from fairsmoke.telling.document import from_json, said, to_json
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.reminders import calendar_content, calendar_of
from fairsmoke.telling.run_sheet import run_sheet_content
from fairsmoke.telling.safety_notes import DEFER, gathered, note_words
from fairsmoke.telling.when import (
    DayStep,
    _effect,
    day_steps,
    step_message,
    when_sections,
    when_text,
)
from fairsmoke.telling.when_json import when_json
from fairsmoke.trial.protocol import Addition, Place, Protocol, Stage, Wrap

MADE = datetime(2026, 4, 30, 9, 0, tzinfo=UTC)


def reader(language: str = "en", units: Units = METRIC, clock: str = "24") -> Reader:
    return Reader(units, language, clock, ZONE)


@pytest.fixture(scope="module")
def plan() -> DayPlan:
    found = plan_day(shoulders_day(40))
    assert found is not None
    return found


def test_every_step_of_the_json_stands_in_the_day(plan: DayPlan) -> None:
    data = json.loads(json.dumps(when_json(plan), allow_nan=False))
    steps = {(plan.at(one.at_s), str(one.what)) for one in day_steps(plan)}
    for one in data["pieces"]:
        for mark in one["marks"]:
            assert (datetime.fromisoformat(mark["planned"]), mark["what"]) in steps
        assert datetime.fromisoformat(one["open"]) in {at for at, _ in steps}
    assert [one.at_s for one in day_steps(plan)] == sorted(one.at_s for one in day_steps(plan))


def test_a_wrap_says_what_with_and_what_tells_that_it_is_due(plan: DayPlan) -> None:
    (wrap,) = (one for one in day_steps(plan) if "wrap (paper)" in str(one.what))
    assert str(wrap.due) == "due at core 71 °C"
    assert wrap.between is not None


def test_what_differs_is_named_by_what_and_stage(plan: DayPlan) -> None:
    (gap,) = plan.arms
    assert gap.differs
    assert all(stage in when_json(plan)["arms"][0]["differs"] for _, stage in gap.differs)


def test_the_document_comes_back_from_its_json(plan: DayPlan) -> None:
    sections = when_sections(plan)
    again = from_json(json.loads(json.dumps(to_json(sections), allow_nan=False)))
    assert list(again) == list(sections)
    for language in ("en", "de"):
        for units in (METRIC, US):
            shown = reader(language, units, "12")
            assert _said(again, shown) == _said(sections, shown)


def _said(sections: Any, shown: Reader) -> str:
    from fairsmoke.telling.as_text import document_text

    return document_text(list(sections.values()), shown)


def test_the_hour_that_comes_twice_is_told_apart(plan: DayPlan) -> None:
    """IANA: London's clocks go from 02:00 BST back to 01:00 GMT on 25 October 2026."""
    # The first fire is lit five hours before the clocks go back.
    before = timedelta(seconds=plan.plan.first_s + 5 * HOUR_S)
    night = replace(plan.day, serve=datetime(2026, 10, 25, 1, 0, tzinfo=UTC) - before)
    shown = json.dumps(said(run_sheet_content(replace(plan, day=night), MADE), reader()))
    at_one = re.findall(r"\b(Mon )?01:\d\d\b( BST| GMT)?", shown)
    # Fuel each hour: once in each of the two, and none without its name.
    assert {name for monday, name in at_one if not monday} == {" BST", " GMT"}
    # A hold that lasts into the night after has an hour that comes once, by its day.
    assert {name for monday, name in at_one if monday} <= {""}
    assert "00:" in shown
    assert not re.search(r"00:\d\d (BST|GMT)", shown)


def texts_of(content: Any) -> Iterator[Message]:
    """Every message in a document, those inside others too."""
    if isinstance(content, Message):
        yield content
        content = content.values
    elif isinstance(content, Listed):
        content = content.items
    elif is_dataclass(content) and not isinstance(content, type):
        content = [getattr(content, one.name) for one in fields(content)]
    if isinstance(content, dict):
        content = list(content.values())
    if isinstance(content, list | tuple):
        for one in content:
            yield from texts_of(one)


def test_no_english_sentence_is_left_in_german(plan: DayPlan) -> None:
    """Every message of terminal, sheet and calendar has a German text that is not its English."""
    content = [when_sections(plan), run_sheet_content(plan, MADE), calendar_content(plan)]
    found = {one.text: one for one in texts_of(content)}
    assert len(found) > 60
    bare = re.compile(r"%\(\w+\)s|[\W\d]|\bh\b")
    known = translations("de")
    for text in found:
        if not bare.sub("", text):
            continue  # Nothing but values.
        said = known.gettext(text)
        assert said != text or text in {"Arm", "Start"}, text
    # What is no message is a person's own, or a table as it is published.
    own = {plan.day.sides.title, *(note.table for note in plan.safety)}
    own |= {arm.name for arm in plan.day.sides.arms} | {one.piece for one in plan.safety}
    names = {stage.name for arm in plan.day.sides.arms for stage in arm.protocol.stages}
    places = {one.cooker for one in plan.day.who} | {one.place for one in plan.day.who}
    feels = {"probe tender everywhere", "Europe/London"}
    for text in strings_of(content):
        assert text in own or set(text.split(", ")) <= names | places | feels | own, text


def strings_of(content: Any) -> Iterator[str]:
    """Every text in a document that is no message and no name of the program's own."""
    if isinstance(content, str):
        if " " in content.strip():
            yield content
    elif isinstance(content, Message):
        yield from strings_of(list(content.values.values()))
    elif isinstance(content, Listed):
        yield from strings_of(list(content.items))
    elif isinstance(content, Section):
        yield from strings_of([content.title, content.blocks])
    elif isinstance(content, dict):
        yield from strings_of(list(content.values()))
    elif isinstance(content, list | tuple):
        for one in content:
            yield from strings_of(one)


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
def test_every_note_of_safety_has_words_in_each_language_and_unit(name: str) -> None:
    notes = safety_notes(SAFETY[name])
    if name in {note.code for note in notes} | {"hold below 60", "standing", "oven"}:
        assert name in {note.code for note in notes}
    for language, units, other in (("en", US, "°C"), ("de", US, "°C"), ("de", METRIC, "°F")):
        shown = reader(language, units)
        said = " ".join(shown.say(words) for note in notes for words in note_words(note))
        assert said
        assert other not in said
        assert "%" not in said.replace("90 %", "")
        assert not re.search(r"\bsafe(ly)?\b|\bsicher\b", said + shown.say(DEFER))
    assert all(note.table for note in notes)
    assert "authority" in DEFER.english


def test_limits_are_said_as_the_tables_have_them() -> None:
    """Food Code 3-501.14: 57 to 21 °C within 2 h, to 5 °C within 6 h; FSIS: 10 to 54.4 °C, 6 h."""
    said = " ".join(
        str(words)
        for note in safety_notes(replace(safety_piece(), cools_s=None))
        for words in note_words(note)
    )
    assert "from 57 °C to 21 °C within 2 h and to 5 °C within 6 h in all" in said
    assert "from 10 °C to 54.4 °C (95 of 100 draws); the limit told is 6 h" in said
    assert "the core passes 70 °C with 1.0 °C taken off" in said


def test_notes_that_say_the_same_of_two_pieces_are_one() -> None:
    one = safety_piece()
    both = (*safety_notes(one), *safety_notes(replace(one, name="Two")))
    assert all(names == ["One", "Two"] for _, names in gathered(both))
    warns = [note.warns for note, _ in gathered(both)]
    assert warns == sorted(warns, reverse=True)


FOIL = Wrap(above="foil", below="bare")
ADDS = (Addition(what="fat", name="tallow"),)


def stage(**more: Any) -> Stage:
    usual: dict[str, Any] = {"id": "s", "name": "S", "wrap": FOIL, "ends": [{"core_c": 90.0}]}
    return Stage(**{**usual, **more})


@pytest.mark.parametrize(
    ("step", "english", "german"),
    [
        (
            HandsOnStep(StepKind.ON, -1, stage(), to_c=135.0),
            "Shoulder 1: put on (The barrel, left",
            "Shoulder 1: auflegen",
        ),
        (HandsOnStep(StepKind.ON, -1, stage()), "put on (The barrel, left", "auflegen (The"),
        (HandsOnStep(StepKind.RAISE, 0, stage(), to_c=135.0), "raise the pit to 275 °F", "erhöhen"),
        (HandsOnStep(StepKind.LOWER, 0, stage(), to_c=135.0), "lower the pit to 275 °F", "senken"),
        (
            HandsOnStep(StepKind.MOVE, 0, stage(place=Place.COUNTER)),
            "move it (counter)",
            "umsetzen",
        ),
        (HandsOnStep(StepKind.UNWRAP, 0, stage()), ": unwrap", "auswickeln"),
        (
            HandsOnStep(StepKind.WRAP, 0, stage(), wraps=True),
            "wrap (foil above, bare below)",
            "einwickeln (oben Alufolie",
        ),
        (
            HandsOnStep(StepKind.WRAP, 0, stage(adds=ADDS), wraps=True),
            "wrap (foil above, bare below), add tallow",
            "tallow",
        ),
        (HandsOnStep(StepKind.WRAP, 0, stage(adds=ADDS)), ": add tallow", "tallow dazugeben"),
        (HandsOnStep(StepKind.PULL, 0, None), "pull, off to rest", "ruhen"),
        (
            HandsOnStep(StepKind.PULL, 0, stage(place=Place.COOLER)),
            "pull, into the hold (dry cooler)",
            "warm halten",
        ),
    ],
)
def test_every_step_has_words(plan: DayPlan, step: HandsOnStep, english: str, german: str) -> None:
    for language, words in (("en", english), ("de", german)):
        assert words in reader(language, US).say(step_message(plan.plan.pieces[0], step))


@pytest.mark.parametrize(
    ("what", "german"),
    [
        ("light the fire", "anzünden"),
        ("take it out of the hold, open it, let it rest", "öffnen"),
        ("slice", "aufschneiden"),
        ("Serve", "Servieren"),
    ],
)
def test_what_is_no_stages_own_has_words(plan: DayPlan, what: str, german: str) -> None:
    found = [one for one in day_steps(plan) if what in str(one.what)]
    assert found
    assert all(german in reader("de").say(one.what) for one in found)


def test_a_piece_without_a_hold_is_opened_where_it_rests(plan: DayPlan) -> None:
    def unheld(one: PiecePlan) -> PiecePlan:
        return replace(one, piece=replace(one.piece, run=replace(one.piece.run, hold=None)))

    pieces = tuple(unheld(one) for one in plan.plan.pieces)
    bare = replace(plan, plan=replace(plan.plan, pieces=pieces))
    words = " ".join(str(one.what) for one in day_steps(bare))
    assert "Shoulder 1: open it, let it rest" in words
    assert "out of the hold" not in words


def effect(kind: Any, middle_h: float, kept: float, *, high_h: float | None = None) -> str:
    to_c = 135.0 if kind in ("hotter", "cooler") else None
    ends = sorted((middle_h - 1.0, middle_h + 1.0))
    high = ends[1] if high_h is None else high_h
    longer = TimeInterval(ends[0] * HOUR_S, middle_h * HOUR_S, high * HOUR_S)
    adjustment = DayAdjustment(kind, "Smoke", protocol(), to_c)
    return reader("de").say(_effect(AdjustmentEffect("Bare", adjustment, longer, kept)))


def test_an_adjustment_says_sooner_or_later_without_signs() -> None:
    assert effect("hotter", -2.0, -0.012) == (
        "Bare: ab „Smoke“ der Ofen auf 135 °C: 2 h früher (1 h bis 3 h), "
        "Ausbeute 1,0 Punkte weniger"
    )
    assert "5 °C Kerntemperatur früher einwickeln" in effect("wrap sooner", -2.0, 0.0)
    assert effect("foil", -2.0, 0.0).endswith("Ausbeute etwa gleich")
    assert effect("cooler", 2.0, 0.02, high_h=float("inf")).endswith(
        "2 h später (1 h bis kein Ende in Sicht), Ausbeute 2,0 Punkte mehr"
    )


def test_text_and_json_agree(plan: DayPlan) -> None:
    text, data = when_text(plan, reader()), json.loads(json.dumps(when_json(plan), allow_nan=False))
    assert data["serve"] == "2026-05-03T13:00:00+01:00"
    assert f"{100 * data['ready']:.0f} of 100 simulated days" in " ".join(text.split())
    assert {one["id"] for one in data["pieces"]} == {"shoulder-1", "shoulder-2"}
    assert "AGAINST THE PUBLISHED TABLES" in text
    assert data["safety"]
    hotter = [one for one in data["levers"] if "the pit at" in one["what"]]
    assert hotter
    assert all(one["longer_s"]["middle_s"] < 0 for one in hotter)


def test_an_endless_draw_is_told_as_such(plan: DayPlan) -> None:
    first = plan.plan.pieces[0]
    last = first.steps[-1]
    endless = PlannedStep(last.step, replace(last.due, high_s=float("inf")), last.planned_s)
    found = replace(first, steps=(*first.steps[:-1], endless))
    changed = replace(plan, plan=replace(plan.plan, pieces=(found, *plan.plan.pieces[1:])))
    assert "no end in sight" in when_text(changed, reader())
    assert when_json(changed)["pieces"][0]["marks"][-1]["due"]["high"] is None


def test_sheet_and_reminders_go_by_the_reader_who_asks(plan: DayPlan) -> None:
    """Noon is 12 PM, as clocks of twelve hours have it (common practice); °F by its definition."""
    content, events = run_sheet_content(plan, MADE), calendar_content(plan)
    shown = reader("en", US, "12")
    sheet = [" ".join(shown.say(part) for part in row[1:]) for row in content["steps"]]
    assert any("pit at 250 °F" in line for line in sheet)
    assert not any("°C" in line for line in sheet)
    calendar = calendar_of(events, MADE, shown)
    assert b"pm" in calendar.lower()
    assert b"pm" not in calendar_of(events, MADE, reader("de")).lower()
    assert "anzünden".encode() in calendar_of(events, MADE, reader("de"))
    # Told in another way it is the same event, which a calendar replaces.
    uids = re.compile(rb"UID:.*")
    german = calendar_of(events, MADE, reader("de"))
    assert uids.findall(calendar) == uids.findall(german) != []


def test_a_step_lasts_as_long_as_hands_are_busy(plan: DayPlan) -> None:
    (light,) = (one for one in day_steps(plan) if "light the fire" in str(one.what))
    assert isinstance(light, DayStep)
    assert timedelta(seconds=light.lasts_s) == timedelta(minutes=15)
