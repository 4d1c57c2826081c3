"""The verbs that write down scores and estimates; they do what the app's forms do."""

from pathlib import Path

import pytest
from tests.app.clients import COOK, DATA, TRIAL

from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, DONE
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.question import Trial
from fairsmoke.trial.tasting import Ballot
from fairsmoke.trial.weighing import PartEstimate


@pytest.fixture
def path(tmp_path: Path) -> Path:
    notebook_of_folder(tmp_path / "hall.db", DATA).close()
    return tmp_path / "hall.db"


def test_scores_and_estimates_are_written_down(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Notebook.open(path) as book:
        first, second = [one.id for one in book.list("piece", trial=TRIAL) if one.cook == COOK][:2]  # type: ignore[attr-defined]
    book_option = ["-n", str(path)]
    given = [f"{first}=7", f"{second}=5,5", "--taster", "Nell (invented)", "--cooked"]
    assert run(["score", COOK, *given, "--at", "2026-05-03 13:00", *book_option]) == DONE
    assert "not blind" in capsys.readouterr().out
    limits = ["--from", "20 g", "--to", "2 oz", "--why", "a spoonful"]
    assert run(["estimate", first, "clinging fat", *limits, *book_option]) == DONE
    with Notebook.open(path) as book:
        ballot = book.list(Ballot, trial=TRIAL)[-1]
        assert [one.value for one in ballot.scores] == [7.0, 5.5]
        assert (ballot.cooked, ballot.blind) == (True, False)
        assert ballot.at is not None
        # London is an hour ahead of UTC in May (IANA time zone database).
        assert ballot.at.isoformat() == "2026-05-03T12:00:00+00:00"
        made = [one for one in book.list(PartEstimate, trial=TRIAL) if one.why == "a spoonful"]
        assert made[0].low_kg == 0.02
    for wrong in (["score", COOK, f"{first}=great", "--taster", "Una"], ["score", COOK, "x"]):
        options = [] if "--taster" in wrong else ["--taster", "Una"]
        assert run([*wrong, *options, *book_option]) == CANNOT


def test_the_next_trial_carries_over_and_a_probe_is_added(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book_option = ["-n", str(path)]
    assert run(["add-probe", "Pen", "--accuracy", "1 K", *book_option]) == DONE
    new = ["--title", "Once more", "--piece", "4"]
    assert run(["ask", "--after", TRIAL, *new, *book_option]) == DONE
    assert run(["ask", "--after", "nothing", *new, *book_option]) == CANNOT
    with Notebook.open(path) as book:
        assert "pen" in [one.id for one in book.list(Probe)]
        first, second = book.get(Trial, TRIAL), book.get(Trial, "once-more")
        assert second.question == first.question
        assert [one.kind for one in second.measures] == [one.kind for one in first.measures]
        plan = book.get(Plan, "plan", trial="once-more")
        assert plan.at_hand.species == "pork"
        assert plan.at_hand.spots
