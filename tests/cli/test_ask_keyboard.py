"""The questions at the keyboard: checked at once, kept, changed, left and gone on with."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import typer

from fairsmoke.cli import ask as asking
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import DONE, STOPPED
from fairsmoke.notebook import Notebook

Answers = Callable[..., None]

TO_MEASURES = (
    *("Does paper keep more?", "Paper or bare", "the wrap"),
    *("121 °C", "", "71 °C", "94 °C", ""),
    *("Bare", "In paper: wrap=paper", ""),
)
PIECES = ("chuck roast", "beef", "a: 1.5 kg", "b: 1.5 kg", "c: 2 kg", "d: 2 kg", "")
REST = ("Barrel: left, right", "", "2", "0", "", "", "")


@pytest.fixture
def book(tmp_path: Path) -> str:
    path = str(tmp_path / "hall.fairsmoke")
    assert run(["start", "Hall", "--time-zone", "Europe/London", "-n", path]) == DONE
    return path


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> Answers:
    """Answer in this order; after the last one comes Ctrl-C."""
    monkeypatch.setattr(asking, "at_keyboard", lambda: True)

    def given(*texts: str) -> None:
        left: Iterator[str] = iter(texts)

        def prompt(*_: object, **__: object) -> str:
            try:
                return next(left)
            except StopIteration:
                raise typer.Abort from None

        monkeypatch.setattr("typer.prompt", prompt)

    return given


def draft_of(book: str) -> Path:
    return Path(f"{book}.ask-draft.json")


def measures_of(book: str) -> list[str]:
    with Notebook.open(Path(book)) as opened:
        return [one.name for one in opened.load_trial("paper-or-bare").trial.measures]


def test_a_price_with_its_sign_and_one_that_is_none_lose_nothing(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    prices = ("Barrel: left, right", "", "2", "0", "about 30", "$32", "", "USD", "", "yes")
    answers(*TO_MEASURES, "cook time: 30 min", "", *PIECES, *prices)
    assert run(["ask", "-n", book]) == DONE
    assert "“about 30”: write a plain number such as 32" in capsys.readouterr().out
    with Notebook.open(Path(book)) as opened:
        plan = opened.load_trial("paper-or-bare").plan
    assert plan is not None
    assert (plan.at_hand.price_piece, plan.at_hand.currency) == (32.0, "USD")


def test_a_measure_written_again_replaces_the_first(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    again = ("cook time: 30 min", "yield: 2 points", "cook time: 45 min", "")
    answers(*TO_MEASURES, *again, *PIECES, *REST, "yes")
    assert run(["ask", "-n", book]) == DONE
    assert "This replaces “cook time: 30 min”." in capsys.readouterr().out
    assert measures_of(book) == ["Cook time", "Yield"]
    with Notebook.open(Path(book)) as opened:
        assert opened.load_trial("paper-or-bare").trial.measures[0].worthwhile == 45 * 60


def test_ctrl_c_leaves_at_once_and_the_next_ask_goes_on(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    answers(*TO_MEASURES, "cook time: 30 min", "", "chuck roast")
    assert run(["ask", "-n", book]) == STOPPED
    assert str(draft_of(book)) in capsys.readouterr().err.replace("\n", "")
    assert json.loads(draft_of(book).read_text())["cut"] == "chuck roast"
    answers("yes", *PIECES[1:], *REST, "yes")
    assert run(["ask", "-n", book]) == DONE
    assert "“Paper or bare”" not in capsys.readouterr().err
    assert measures_of(book) == ["Cook time"]
    assert not draft_of(book).exists()


def test_ctrl_c_within_a_list_keeps_the_lines_that_were_said(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    answers(*TO_MEASURES, "cook time: 30 min", "", *PIECES[:4])
    assert run(["ask", "-n", book]) == STOPPED
    assert json.loads(draft_of(book).read_text())["piece, not finished"] == list(PIECES[2:4])
    # The list goes on where it was left.
    answers("yes", *PIECES[4:], *REST, "yes")
    assert run(["ask", "-n", book]) == DONE
    with Notebook.open(Path(book)) as opened:
        plan = opened.load_trial("paper-or-bare").plan
    assert plan is not None
    assert [one.id for one in plan.at_hand.pieces] == ["a", "b", "c", "d"]


def test_a_changed_answer_keeps_those_after_it_and_a_bad_one_is_asked_again(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    measures = ("cook time: 30 min", "")
    answers(*TO_MEASURES, *measures, *PIECES, *REST, "change", "2", "Paper, bare", "yes")
    assert run(["ask", "-n", book]) == DONE
    with Notebook.open(Path(book)) as opened:
        found = opened.load_trial("paper-bare")
    assert found.trial.title == "Paper, bare"
    assert found.plan is not None
    assert len(found.plan.at_hand.pieces) == 4


def test_a_draft_that_is_not_wanted_or_damaged_is_no_draft(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    answers("Does it?", "Other")
    assert run(["ask", "-n", book]) == STOPPED
    answers("no", *TO_MEASURES, "cook time: 30 min", "", *PIECES, *REST, "yes")
    assert run(["ask", "-n", book]) == DONE
    draft_of(book).write_text("{not json")
    answers("Does it?")
    assert run(["ask", "-n", book]) == STOPPED
    assert json.loads(draft_of(book).read_text()) == {"question": "Does it?"}


def test_an_answer_can_be_changed_by_its_number_before_it_is_recorded(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    answers(
        *TO_MEASURES, "yield: 2 points", "", *PIECES, *REST, "change", "10", "cook time: 1 h", ""
    )
    assert run(["ask", "-n", book]) == STOPPED
    assert "10  What is measured" in capsys.readouterr().out
    answers("yes", "yes")
    assert run(["ask", "-n", book]) == DONE
    assert measures_of(book) == ["Cook time"]


def test_equal_arms_are_asked_for_again(
    book: str, answers: Answers, capsys: pytest.CaptureFixture[str]
) -> None:
    start = (*TO_MEASURES[:8], "Bare", "In paper", "")
    again = ("9", "Bare", "In paper: wrap=paper", "")
    answers(*start, "cook time: 30 min", "", *PIECES, *REST, *again, "yes")
    assert run(["ask", "-n", book]) == DONE
    assert "nothing differs between “Bare” and “In paper”" in capsys.readouterr().out


def test_the_questions_in_german(
    book: str,
    answers: Answers,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("FAIRSMOKE_LANGUAGE", "de")
    asked: list[str] = []
    wrong = ("cook time: 30 min", "Kruste: 1", "")
    texts = iter(
        [
            *TO_MEASURES,
            *wrong,
            *PIECES,
            "Tonne: links, rechts",
            "",
            "1",
            "0",
            "zwei",
            "",
            "",
            "",
            "ja",
        ]
    )

    def prompt(question: str, **_: object) -> str:
        asked.append(question)
        return next(texts)

    monkeypatch.setattr("typer.prompt", prompt)
    assert run(["ask", "-n", book]) == DONE
    said = capsys.readouterr().out
    assert asked[0].startswith("Was ")
    assert "die Messgröße „Kruste: 1“: sag die Enden der Skala" in said
    assert "WAS DIE ANTWORT" in said
    assert "Es gibt nur einen Durchgang" in said
    for english in ("What", "Which", "How many", "Mend:", "Recorded", "yes or no", "An empty line"):
        assert english not in said
        assert not any(english in question for question in asked)
