"""The invented night as it stands now: what is not yet is not there, and nothing else is lost."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from fairsmoke.answers.demonstration_tonight import make_tonight
from fairsmoke.cli.commands import run
from fairsmoke.demo import demo_trial
from fairsmoke.demo.tonight import as_of, moved
from fairsmoke.live.trial_status import NextStep, Stand, standing
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms

NOW = datetime(2027, 3, 4, 5, 6, 7, tzinfo=UTC)


def test_the_last_night_runs_and_the_others_are_whole(tmp_path: Path) -> None:
    trial = make_tonight(tmp_path / "n.db", NOW)
    whole = demo_trial().record
    with Notebook.open(tmp_path / "n.db") as book:
        assert book.check() == ()
        record = book.load_trial(trial)
        stands = standing(book, trial)
    assert record.problems() == []
    (running,) = stands.running
    assert running.cook.name == "Harvest lunch"
    assert stands.step[0] is NextStep.TEND
    assert {one.stand for one in running.pieces} == {Stand.ON, Stand.WRAPPED}
    # Nothing is from the future, and the loggers went on until just now.
    assert max(event.at for event in record.events) <= NOW
    last = {key: epoch_ms(NOW) - int(held.time_ms[-1]) for key, held in record.readings.items()}
    for (cook, probe), ago_ms in last.items():
        if cook == "october":
            assert 0 <= ago_ms < 90_000, probe
    # The nights before are as they were.
    for cook in ("may", "july"):
        assert [e.kind for e in record.events if e.cook == cook] == [
            e.kind for e in whole.events if e.cook == cook
        ]
        assert len([w for w in record.weighings if w.cook == cook]) == len(
            [w for w in whole.weighings if w.cook == cook]
        )


def test_moving_keeps_durations_and_can_be_taken_back() -> None:
    whole = demo_trial().record
    by = timedelta(days=150, minutes=7)
    there = moved(whole, by)
    assert [cook.starts for cook in there.cooks] == [cook.starts + by for cook in whole.cooks]
    assert moved(there, -by) == whole


def test_a_record_as_of_its_end_is_whole_and_as_of_its_beginning_is_empty() -> None:
    whole = demo_trial().record
    ended = whole.cooks[-1].ends
    assert ended is not None
    assert as_of(whole, ended) == whole
    before = as_of(whole, whole.cooks[0].starts - timedelta(seconds=1))
    assert not any((before.cooks, before.pieces, before.events, before.ballots))
    assert all(len(held) == 0 for held in before.readings.values())


def test_readings_are_cut_at_the_moment(tmp_path: Path) -> None:
    make_tonight(tmp_path / "n.db", NOW, lit_ago=timedelta(hours=3))
    with Notebook.open(tmp_path / "n.db") as book:
        record = book.load_trial("paper-or-bare")
    held = record.readings["october", "core-1"]
    assert np.all(held.time_ms <= epoch_ms(NOW))
    assert held.time_ms[0] > epoch_ms(NOW - timedelta(hours=3))


def test_what_is_there_is_not_replaced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "n.db"
    assert run(["demo", "--tonight", str(path)]) == 0
    assert "is running now" in capsys.readouterr().out
    assert run(["demo", "--tonight", str(path)]) == 1
    assert "exists already" in capsys.readouterr().err
    with pytest.raises(JobError, match="the invented night lasts"):
        make_tonight(tmp_path / "other.db", NOW, lit_ago=timedelta(days=2))
