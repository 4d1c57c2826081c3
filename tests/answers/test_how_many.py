"""How many, from the demo trial, from a few words, and from the shell."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from fairsmoke.answers.demonstration import Demonstration
from fairsmoke.answers.how_many import (
    HowManyRequest,
    how_many_of_measure,
    how_many_of_trial,
    measure_of,
)
from fairsmoke.answers.past import past_of
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE
from fairsmoke.demo import demo_trial
from fairsmoke.judging.past import Taught
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.planning.size.cost import Prices
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import AtHand, Plan, PlannedPiece


def test_every_measure_of_a_trial_has_a_table_the_main_one_first(made: Demonstration) -> None:
    with Notebook.open(made.notebook) as book:
        record = book.load_trial(made.trial)
        # Nothing but this trial was cooked, and a trial does not teach itself.
        assert past_of(book, made.trial) == ()
        taught = past_of(book, "another")
        assert {one.trial for part in taught for one in part.spreads} == {made.trial}
        assert (
            tuple(Taught.from_json(json.loads(json.dumps(t.to_json()))) for t in taught) == taught
        )
    found = how_many_of_trial(record, (), HowManyRequest(most=2))
    assert found[0].measure is record.trial.main_measure
    assert {one.measure.id for one in found} == {m.id for m in record.trial.measures}
    only = how_many_of_trial(record, (), HowManyRequest(most=2), (record.trial.measures[-1].id,))
    assert [one.measure.id for one in only] == [record.trial.measures[-1].id]
    with pytest.raises(JobError, match="no measure “moisture”"):
        how_many_of_trial(record, (), HowManyRequest(), ("moisture",))


def test_earlier_trials_of_the_notebook_narrow_the_spreads(made: Demonstration) -> None:
    with Notebook.open(made.notebook) as book:
        record = book.load_trial(made.trial)
        past = past_of(book, "the next one")
    # As if it had been held three times: fewer trials only make a spread larger.
    past = tuple(
        replace(part, spreads=tuple(replace(one, trial=f"{one.trial}-{n}") for one in part.spreads))
        for part in past
        for n in range(3)
    )
    main = (record.trial.main_measure.id,)
    (alone,) = how_many_of_trial(record, (), HowManyRequest(most=2), main)
    (taught,) = how_many_of_trial(record, past, HowManyRequest(most=2), main)
    assert taught.believed.piece.factor < alone.believed.piece.factor
    # The finding that is foreseen is handed the same past.
    assert taught.priors == taught.believed
    assert alone.priors == alone.believed
    assert taught.means.learnt


def test_the_plan_says_places_prices_and_tasters() -> None:
    record = demo_trial(1).record
    pieces = tuple(PlannedPiece(id=f"p{n}") for n in range(8))
    at_hand = AtHand(
        cut="brisket",
        species="beef",
        pieces=pieces,
        spots=tuple(Spot(cooker="pit", position=p) for p in "abcd"),
        tasters=7,
        price_piece=70,
        price_cook=30,
        currency="€",
    )
    planned = record.__class__(trial=record.trial, plan=Plan(at_hand=at_hand))
    main = (record.trial.main_measure.id,)
    (found,) = how_many_of_trial(planned, (), HowManyRequest(most=2), main)
    # Four places for two arms: two pairs in a cook.
    assert [(r.cooks, r.cost) for r in found.rows] == [(1, 170.0), (1, 310.0)]
    own = HowManyRequest(most=2, per_cook=1, prices=Prices(piece=50.0))
    (found,) = how_many_of_trial(planned, (), own, main)
    assert [(r.cooks, r.cost) for r in found.rows] == [(1, 130.0), (2, 260.0)]


def test_a_few_words_are_enough_and_wrong_ones_are_named() -> None:
    measure = measure_of("score", "0.5", scale="1 to 9")
    found = how_many_of_measure(measure, HowManyRequest(most=2, tasters=6, true=("1.5",)))
    assert [given.difference for given in found.rows[0].given] == [0.0, 1.5]
    with pytest.raises(JobError, match="2 points"):
        measure_of("yield", "2")
    with pytest.raises(JobError, match="no kind of measure"):
        measure_of("juiciness", "2 points")
    with pytest.raises(JobError, match="1 to 9"):
        measure_of("score", "0.5", scale="nine")
    with pytest.raises(JobError, match="scale"):
        measure_of("score", "0.5")
    with pytest.raises(JobError, match="“much”"):
        how_many_of_measure(measure_of("yield", "2 points"), HowManyRequest(true=("much",)))


def test_the_verb(made: Demonstration, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    copy = tmp_path / "hall.fairsmoke"
    shutil.copy(made.notebook, copy)
    drawn = tmp_path / "many.svg"
    asked = ["how-many", "-n", str(copy), "--most", "2", "--chart", str(drawn)]
    assert run(asked) == DONE
    assert "HOW MANY PAIRS" in capsys.readouterr().out
    assert drawn.read_bytes().startswith(b"<svg")
    words = ["how-many", "--of", "yield", "--worthwhile", "2 points", "--most", "2", "--json"]
    assert run(words) == DONE
    assert len(json.loads(capsys.readouterr().out)["measures"][0]["rows"]) == 2
    panel = ["how-many", "--panel", "triangle", "--share", "0.3", "--beta", "0.05"]
    assert run([*panel, "--json"]) == DONE
    assert json.loads(capsys.readouterr().out)["panel"]["answers"] == 66


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--of", "yield"], "--worthwhile"),
        (["--of", "yield", "--worthwhile", "2 points", "--panel", "tetrad"], "one thing"),
        (["--panel", "triangle", "--share", "2"], "share"),
        (["--panel", "triangle", "--likeness", "--two-sided"], "one side"),
        (["--panel", "triangle", "--chart", "x.svg"], "leave --chart out"),
        (["--of", "yield", "--worthwhile", "2 points", "--chart", "x.gif"], ".png"),
        (["--of", "yield", "--worthwhile", "2 points", "--most", "100"], "largest number"),
        (["--of", "yield", "--worthwhile", "2 points", "--price-piece", "-5"], "price"),
        (["-n", "nowhere.fairsmoke"], "no notebook"),
        (["--of", "score", "--worthwhile", "0.5"], "--scale"),
        (["--of", "yield", "--worthwhile", "2 points", "--unit", "kg"], "--unit is said without"),
        (["--of", "yield", "--worthwhile", "2 points", "--measure", "y"], "--measure is said"),
        (["--share", "0.4"], "--share is said without --panel"),
        (["--panel", "triangle", "--most", "4"], "leave --most out"),
    ],
)
def test_the_verb_names_what_is_wrong(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["how-many", *arguments]) == CANNOT
    assert words in " ".join(capsys.readouterr().err.split())
