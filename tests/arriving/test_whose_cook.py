"""Whose cook a reading is: told by placements, then by time, else nobody's."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from fairsmoke.arriving.whose_cook import NONE, UNSURE, Cooks, CookTime
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement

START = datetime(2026, 5, 2, 20, tzinfo=UTC)
H = timedelta(hours=1)


def cook(name: str, starts: datetime, ends: datetime | None, *probes: str) -> CookTime:
    made = Cook(id=name, name=name, time_zone="UTC", starts=starts, ends=ends, cookers=("pit",))
    stays = [
        Placement.model_validate(
            {"id": f"{name}-{p}", "cook": name, "probe": p, "since": starts, "measures": "pit"}
        )
        for p in probes
    ]
    return CookTime.of("trial", made, stays)


def whose(cooks: list[CookTime], probe: str, *times: datetime) -> list[str]:
    found = Cooks(cooks).whose(probe, np.array([epoch_ms(at) for at in times]))
    names = {NONE: "nobody", UNSURE: "unsure"}
    return [names.get(index) or cooks[index].cook.id for index in found.tolist()]


def test_one_cook_has_what_lies_near_it() -> None:
    one = [cook("night", START, START + 10 * H)]
    times = (START - 13 * H, START - 11 * H, START, START + 33 * H, START + 35 * H)
    assert whose(one, "p", *times) == ["nobody", "night", "night", "night", "nobody"]
    # One that was never ended counts for four days and one more (arriving/doubts.py).
    open_end = [cook("old", START, None)]
    assert whose(open_end, "p", START + 119 * H, START + 121 * H) == ["old", "nobody"]


def test_of_two_in_a_row_the_nearer_has_it() -> None:
    two = [cook("first", START, START + 10 * H), cook("next", START + 20 * H, None)]
    times = (START + 5 * H, START + 14 * H, START + 16 * H, START + 25 * H)
    assert whose(two, "p", *times) == ["first", "first", "next", "next"]


@pytest.mark.parametrize(
    ("probe", "expected"),
    [("left", "one"), ("right", "other"), ("both", "unsure"), ("no", "unsure")],
)
def test_of_two_at_once_placements_tell(probe: str, expected: str) -> None:
    two = [cook("one", START, None, "left", "both"), cook("other", START, None, "right", "both")]
    assert whose(two, probe, START + H) == [expected]
    # Before it is placed the only one that has the probe at all.
    assert whose(two, probe, START - H) == [expected]


def test_where_it_was_placed_counts_more_than_what_is_nearer() -> None:
    two = [cook("held", START, START + 10 * H, "cabinet"), cook("new", START + 11 * H, None)]
    assert whose(two, "cabinet", START + 12 * H) == ["held"]
    assert whose(two, "other", START + 12 * H) == ["new"]
