"""Scores and estimates by thumb: recorded once, refused with what was typed, used by findings."""

from datetime import UTC, datetime
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from tests.app.clients import COOK, TRIAL, Client

from fairsmoke.app.entries.from_form import entry_of_form
from fairsmoke.judging.blinding import Knowing, blinding_of
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import METRIC, US
from fairsmoke.quantity.values import Temperature
from fairsmoke.telling.blinding_words import blinding_words, name_with_blinding
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.question import Measure, MeasureKind, Trial
from fairsmoke.trial.tasting import Ballot, Sample, Taster
from fairsmoke.trial.weighing import PartEstimate, Scale

SCORE = f"/trials/{TRIAL}/cooks/{COOK}/score"
ESTIMATE = f"/trials/{TRIAL}/cooks/{COOK}/estimate"


def scored(book: Notebook) -> Measure:
    trial = book.get(Trial, TRIAL)
    assert isinstance(trial, Trial)
    return next(one for one in trial.measures if one.kind is MeasureKind.SCORE)


def pieces(book: Notebook) -> list[str]:
    found = book.list("piece", trial=TRIAL)
    return [one.id for one in found if one.cook == COOK]  # type: ignore[attr-defined]


def entry(book: Notebook, **more: object) -> dict[str, object]:
    first, second = pieces(book)[:2]
    return {
        "id": str(uuid4()),
        "kind": "score",
        "trial": TRIAL,
        "cook": COOK,
        "at": "2026-05-03T12:30:00Z",
        "measure": scored(book).id,
        "taster_name": "Nell (invented)",
        "scores": {first: 6, second: 7.5},
        **more,
    }


def test_what_a_new_taster_says_is_a_ballot_that_counts_as_not_blind(
    cook: Client, book: Notebook
) -> None:
    answer = cook.send_json("/api/entries", entry(book, cooked=True))
    assert answer.status_code == 200, answer.text
    ballot = book.get(Ballot, answer.json()["handle"], trial=TRIAL)
    assert isinstance(ballot, Ballot)
    assert (ballot.blind, ballot.cooked) == (False, True)
    assert [one.value for one in ballot.scores] == [6, 7.5]
    assert book.get(Taster, ballot.taster).name == "Nell (invented)"
    samples = {one.id: one for one in book.list(Sample, trial=TRIAL)}
    assert [samples[one.sample].piece for one in ballot.scores] == pieces(book)[:2]
    assert all(samples[one.sample].code is None for one in ballot.scores)
    record = book.load_trial(TRIAL, lazy=True)
    assert not record.problems()
    found = blinding_of(record, scored(book))
    assert found.scores[Knowing.COOK] == 2
    assert "The cook scored too." in str(blinding_words(found))
    assert "the cook scored too)" in str(name_with_blinding(record, scored(book)))
    page = cook.get(SCORE)
    assert "not blind: the cook scored" in page.text
    assert "Nell (invented)" in page.text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"scores": {"shoulder-1": 99}}, "off the scale"),
        ({"measure": "yield"}, "is not scored in this trial"),
        ({"taster_name": None}, "say who tasted"),
        ({"scores": {"no-piece": 5}}, "no-piece"),
        ({"scores": {}}, "scores"),
    ],
)
def test_what_cannot_be_scored_is_refused_and_says_why(
    cook: Client, book: Notebook, change: dict[str, object], words: str
) -> None:
    digest = book.digest()
    answer = cook.send_json("/api/entries", entry(book, **change))
    assert answer.status_code == 422
    assert words in answer.text
    assert book.digest() == digest


def test_a_piece_scored_twice_by_one_taster_is_refused(cook: Client, book: Notebook) -> None:
    assert cook.send_json("/api/entries", entry(book)).status_code == 200
    again = cook.send_json("/api/entries", entry(book))
    assert again.status_code == 422
    assert "has scored" in again.text


def test_without_scripts_a_refused_score_keeps_what_was_typed(cook: Client, book: Notebook) -> None:
    first = pieces(book)[0]
    fields = {"kind": "score", "measure": scored(book).id, "taster": "new"}
    typed = {"taster_name": "Una", "note": "dry at the end", f"score-{first}": "11,5"}
    answer = cook.form(SCORE, **fields, **typed)
    assert answer.status_code == 422
    for text in ("off the scale", "Una", "dry at the end", "11,5"):
        assert text in answer.text
    assert cook.form(SCORE, **fields, **(typed | {f"score-{first}": "7,5"})).status_code == 303
    assert book.list(Ballot, trial=TRIAL)[-1].scores[0].value == 7.5


def test_an_estimate_takes_any_unit_and_the_yield_uses_it(cook: Client, book: Notebook) -> None:
    first = pieces(book)[0]
    fields = {"kind": "estimate", "piece": first, "part": "clinging fat", "unit": "g"}
    refused = cook.form(ESTIMATE, **fields, low="60", high="20", why="a spoonful")
    assert refused.status_code == 422
    for text in ("low must be below high", "a spoonful", 'value="60"'):
        assert text in refused.text
    answer = cook.form(ESTIMATE, **fields, low="1 oz", high="60", best="40", why="a spoonful")
    assert answer.status_code == 303
    (made,) = [one for one in book.list(PartEstimate, trial=TRIAL) if one.why == "a spoonful"]
    # One ounce is 28.349523125 g by definition (international yard and pound agreement, 1959).
    assert made.low_kg == pytest.approx(0.028349523125)
    assert (made.high_kg, made.best_kg, made.shape) == (0.06, 0.04, "triangular")
    again = cook.form(ESTIMATE, **fields, low="10", high="20", why="once more")
    assert "is estimated already" in again.text
    assert "a spoonful" in cook.get(ESTIMATE).text


def test_taking_back_strikes_them_out(cook: Client, book: Notebook) -> None:
    sent = entry(book)
    handle = cook.send_json("/api/entries", sent).json()["handle"]
    undo = {"id": str(uuid4()), "kind": "undo", "trial": TRIAL, "of": sent["id"]}
    assert cook.send_json("/api/entries", undo).status_code == 200
    assert handle not in [one.id for one in book.list(Ballot, trial=TRIAL)]


def test_a_scale_and_a_probe_give_bare_numbers_their_own_unit(cook: Client, book: Notebook) -> None:
    # A kitchen in kg and °C with a scale in ounces and a thermometer in °F.
    assert cook.form("/kitchen/scales", name="Deli", unit="oz", resolution="1").status_code == 303
    assert cook.form("/kitchen/scales", name="Grams", unit="g", resolution="1").status_code == 303
    fields = {"name": "Pen", "unit": "°F", "accuracy": "1.8"}
    assert cook.form("/kitchen/probes", **fields).status_code == 303
    scales = {one.name: one for one in book.list(Scale)}
    assert scales["Deli"].resolution_kg == pytest.approx(0.028349523125)
    assert scales["Grams"].resolution_kg == pytest.approx(0.001)
    (pen,) = [one for one in book.list(Probe) if one.name == "Pen"]
    assert pen.accuracy_k == pytest.approx(1.0)
    page = cook.get(f"/trials/{TRIAL}/cooks/{COOK}/weigh").text
    assert 'data-shows="oz">Deli' in page
    assert 'data-shows="g">Grams' in page


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ({"reading": "1490", "unit": "g"}, "1490 g"),
        ({"reading": "3.2", "unit": "lb oz"}, "3.2 lb"),
        ({"reading": "3", "oz": "4.5", "unit": "lb oz"}, "3 lb 4.5 oz"),
        ({"reading": "1.49 kg", "oz": "", "unit": "lb oz"}, "1.49 kg"),
        ({"reading": "3 lb 4 oz", "unit": "kg"}, "3 lb 4 oz"),
    ],
)
def test_a_weighing_takes_any_unit_written(said: dict[str, str], written: str) -> None:
    fields = [*said.items(), ("kind", "weighing"), ("scale", "bench"), ("sum", "trimmed meat")]
    made = entry_of_form(fields, TRIAL, COOK, ZoneInfo("Europe/London"), datetime.now(UTC))
    assert made.reading == written


def test_a_reading_takes_the_unit_that_was_written() -> None:
    fields = [("kind", "reading"), ("probe", "pen"), ("value", "203 F"), ("unit", "degC")]
    made = entry_of_form(fields, TRIAL, COOK, ZoneInfo("Europe/London"), datetime.now(UTC))
    assert (made.value, made.unit) == ("203", "degF")


def test_published_limits_appear_as_published() -> None:
    # FDA Food Code 3-401.11(B): dry still oven 350 °F (177 °C), cooling 135 to 70 to 41 °F
    # (57, 21, 5 °C); 3-403.11: 165 °F (74 °C).
    for celsius, fahrenheit in ((177.0, 350), (57.0, 135), (21.0, 70), (5.0, 41), (74.0, 165)):
        assert Temperature(celsius, limit=True).text(US) == f"{fahrenheit} °F"
        assert Temperature(celsius, limit=True).text(METRIC) == f"{celsius:.0f} °C"
