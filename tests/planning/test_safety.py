"""The plan against the published tables: each row that warns, and one that must not.

Numbers: shared references/safety.md (FSIS come-up rule, Appendix A table, Food Code 3-401.11(B),
3-501.14, 3-501.16, 3-501.19; BfR Opinion 037/2020).
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.planning.when_days import HOUR_S, protocol

from fairsmoke.planning.day.safety import SafetyPiece, safety_notes, warnings_of
from fairsmoke.trial.protocol import Place, Protocol


def piece(rise_h: float = 5.0, top_c: float = 93.0, end_c: float = 70.0) -> SafetyPiece:
    """A core that rises in a straight line from 4 to 54.4 °C, goes on to the top, then holds."""
    time = np.array([0.0, rise_h, rise_h + 5.0, rise_h + 7.0]) * HOUR_S
    core = np.tile([4.0, 54.4, top_c, end_c], (20, 1))
    return SafetyPiece(
        "One",
        "Bare",
        "pork",
        5.0,
        protocol(),
        time,
        core,
        np.ones(20),
        np.full(20, 9.0),
        3 * HOUR_S,
        (1.5 * HOUR_S, 5.0 * HOUR_S),
    )


def test_a_plan_within_every_table_warns_of_nothing() -> None:
    assert warnings_of(safety_notes(piece())) == ()


@pytest.mark.parametrize(
    ("one", "tables"),
    [
        (piece(rise_h=8.0), ["come-up 6 h"]),
        (replace(piece(), stretch=np.full(20, 2.0)), ["come-up 6 h"]),
        (piece(top_c=54.8, end_c=54.8), ["Appendix A", "hold 54 °C roast"]),
        (replace(piece(), mass_kg=4.0), ["3-401.11(B)", "3-401.11(B)"]),  # Both stages.
        (piece(end_c=58.0), ["BfR"]),
        (piece(end_c=55.0), ["hold 54 °C roast"]),
        (piece(end_c=50.0), ["hold 57 °C"]),
        (replace(piece(), cools_s=(4 * HOUR_S, 14 * HOUR_S)), ["3-501.14"]),
        (replace(piece(), cools_s=None), ["3-501.14"]),
        (replace(piece(), species="poultry"), ["Appendix A"]),
    ],
)
def test_each_table_warns_of_its_own(one: SafetyPiece, tables: list[str]) -> None:
    warned = [note.table for note in warnings_of(safety_notes(one))]
    # That table and no other.
    assert len(warned) == len(tables), warned
    for table, name in zip(tables, warned, strict=True):
        assert table in name


def test_the_probe_margin_counts() -> None:
    """At 60.0 °C 12 min are asked, at 57.2 °C 36 min (Appendix A, 6.5 log): 15 min at 60 °C do
    without a margin and do not with one of 3 K.
    """
    time = np.array([0.0, 60.0, 60.0 + 900.0])
    short = replace(piece(), time_s=time, core_c=np.tile([4.0, 60.0, 60.0], (20, 1)))

    def warns(margin_k: float) -> bool:
        notes = safety_notes(short, margin_k)
        return any(note.warns and "Appendix A" in note.table for note in notes)

    assert not warns(0.0)
    assert warns(3.0)


def test_a_dry_cooler_is_time_without_heat() -> None:
    stages = protocol().stages
    cooler = stages[2].model_copy(update={"place": Place.COOLER})
    one = replace(piece(), protocol=Protocol(stages=(*stages[:2], cooler)))
    assert warnings_of(safety_notes(one)) == ()
    long = replace(one, waits_s=5 * HOUR_S)
    tables = [note.table for note in warnings_of(safety_notes(long))]
    assert any("3-501.19" in table for table in tables)
