from typing import Any

import numpy as np
import pytest

from fairsmoke.cooking.body import MeasuredPiece
from fairsmoke.cooking.ensemble import Ensemble, difference, run_arms, run_ensemble
from fairsmoke.cooking.run import simulate
from fairsmoke.trial.protocol import Cover, EndCondition, Protocol, Stage, Wrap

BRISKET = MeasuredPiece("brisket", 5.6, 0.45, 0.28, 0.085, 0.04)


def cook(cover: Cover = Cover.BARE) -> Protocol:
    first = Stage(
        id="smoke",
        name="smoke",
        surround_c=121.0,
        ends=(EndCondition(core_c=68.0), EndCondition(elapsed_s=60_000)),
    )
    then = Stage(
        id="finish",
        name="finish",
        surround_c=121.0,
        wrap=Wrap(above=cover, below=cover),
        ends=(EndCondition(core_c=85.0), EndCondition(elapsed_s=60_000)),
    )
    return Protocol(stages=(first, then))


def same(one: Ensemble, two: Ensemble) -> bool:
    return all(np.array_equal(one._work[k], two._work[k], equal_nan=True) for k in one._work)


def test_same_numbers_whatever_the_workers() -> None:
    one = run_ensemble(BRISKET, cook(), members=70, workers=1, sample_s=(3600.0, 7200.0))
    three = run_ensemble(BRISKET, cook(), members=70, workers=3, sample_s=(3600.0, 7200.0))
    assert one.complete
    assert same(one, three)


def test_middle_member_is_the_single_cook() -> None:
    ensemble = run_ensemble(BRISKET, cook(), members=2)
    single = simulate(BRISKET, cook(), whole_body=False)
    assert ensemble.end_s[0] == pytest.approx(single.end_s, rel=1e-9)
    assert ensemble.shares["kept"][0] == pytest.approx(single.yield_share, abs=1e-9)


def test_stopped_and_resumed_gives_the_same_numbers() -> None:
    whole = run_ensemble(BRISKET, cook(), members=64)
    calls: list[tuple[int, int]] = []

    def stop_soon(done: int, total: int) -> bool:
        calls.append((done, total))
        return False

    part = run_ensemble(BRISKET, cook(), members=64, workers=1, progress=stop_soon)
    assert calls[0][1] == 64
    assert not part.complete
    assert same(run_ensemble(BRISKET, cook(), members=64, resume=part), whole)


def test_another_seed_and_another_piece_are_other_draws() -> None:
    base = run_ensemble(BRISKET, cook(), members=8)
    others: tuple[dict[str, Any], ...] = ({"seed": 2}, {"piece_number": 1})
    for other in others:
        assert not np.array_equal(
            run_ensemble(BRISKET, cook(), members=8, **other).end_s, base.end_s
        )


def test_arms_share_draws_so_that_their_difference_is_sharp() -> None:
    arms = run_arms(BRISKET, {"bare": cook(), "foil": cook(Cover.FOIL)}, members=60)
    quicker = difference(arms["foil"].end_s, arms["bare"].end_s)
    assert quicker.high < 0
    alone = np.nanstd(arms["bare"].end_s)
    assert np.nanstd(arms["foil"].end_s - arms["bare"].end_s) < alone


def test_interval_holds_the_middle() -> None:
    ensemble = run_ensemble(BRISKET, cook(), members=40)
    low, middle, high = ensemble.interval(ensemble.shares["kept"])
    assert low < middle < high
    with pytest.raises(ValueError, match="level 80"):
        ensemble.interval(ensemble.end_s, 80)
