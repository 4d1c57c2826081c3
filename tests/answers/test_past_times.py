"""What a notebook's past cooks, and what a person says of theirs, teach of the next day's times."""

import math
from pathlib import Path

import pytest

from fairsmoke.answers.past_times import misses_said, past_cooks, past_misses
from fairsmoke.answers.when_day import with_holds
from fairsmoke.demo import demo_trial
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.planning.day.time_errors import FROM_LOGS, learned
from fairsmoke.trial.cook import EventKind


@pytest.fixture(scope="module")
def hall(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    made = demo_trial(2026)
    book = Notebook.create(tmp_path_factory.mktemp("hall") / "hall.fairsmoke", made.kitchen)
    book.save_trial(made.record)
    return book


def test_every_piece_of_a_past_cook_tells_once_and_the_cook_meant_never(hall: Notebook) -> None:
    past = past_cooks(hall, "july")
    names = [one.cook.id for one in past]
    assert "july" not in names
    assert len(names) >= 2
    (latest,) = past[-1:]
    misses = past_misses([latest], None)
    mine = [one for one in latest.record.units if one.cook == latest.cook.id]
    assert len(misses) == len(mine)
    assert len({one.kitchen for one in misses}) == 1
    # Twice as long from putting on to pulling: ln 2 more.
    assert all(abs(one.log_ratio) < math.log(2.0) and one.own_sd > 0.0 for one in misses)
    assert learned(misses).between_pits < FROM_LOGS.between_pits
    on = latest.record.events_of(mine[0].id, EventKind.ON)[0]
    early = latest.record.events_of(mine[0].id, EventKind.PULL)[-1]
    took = (early.at - on.at).total_seconds()
    assert took > 3600.0


@pytest.mark.parametrize(
    ("said", "ratios"),
    [
        ("+10 %, on time, −5%", [1.1, 1.0, 0.95]),
        ("11 h/10 h; 9 h 30 min / 10 h", [1.1, 0.95]),
        ("2,5 %", [1.025]),
        ("", []),
    ],
)
def test_what_is_said_of_past_cooks_is_read(said: str, ratios: list[float]) -> None:
    assert [math.exp(one.log_ratio) for one in misses_said(said)] == pytest.approx(ratios)


@pytest.mark.parametrize("said", ["late", "400 %", "10 h/0 h", "10", "a/b", "10 h"])
def test_what_cannot_be_read_says_how_to_write_it(said: str) -> None:
    with pytest.raises(JobError, match=r"\+10 %, on time, or 11 h/10 h") as caught:
        misses_said(said)
    assert caught.value.field == "last_cooks"


def test_a_hold_is_put_in_for_every_arm_or_refused(tmp_path: Path) -> None:
    from tests.planning.when_days import shoulders_day

    day = shoulders_day(24)
    with pytest.raises(JobError, match="has its hold already"):
        with_holds(day, 66.0)
    # Below 60 °C (BfR 037/2020) nothing is held.
    with pytest.raises(JobError, match="below the published limits"):
        with_holds(day, 55.0)
    assert with_holds(day, None) is day
