"""Published spreads of measured figures: found by name and unit, in the measure's unit.

Values: the tables named with each row, PMC6357800 table 1 and PMC3268573 table 1.
"""

import pytest
from tests.judging.records import SHEAR

from fairsmoke.judging.measured_table import tabled_spread


@pytest.mark.parametrize(
    ("name", "unit", "low", "high"),
    [
        ("Shear force", "kgf", 0.69, 2.2),
        ("Warner-Bratzler shear", "N", 0.69 * 9.80665, 2.2 * 9.80665),
        ("Slice shear force", "kg", 5.5, 5.5),
        ("pH after a day", "pH", 0.14, 0.21),
        ("Cooking loss", "%", 2.01, 5.2),
        ("Cook loss", "points", 2.01, 5.2),
        ("Drip loss", "%", 1.18, 1.2),
        ("Lightness L*", "units", 2.24, 2.64),
        ("Redness a*", "units", 1.15, 1.83),
    ],
)
def test_a_named_measure_has_a_spread_within_what_was_published(
    name: str, unit: str, low: float, high: float
) -> None:
    found = tabled_spread(SHEAR.model_copy(update={"name": name, "unit": unit}))
    assert found is not None
    assert low <= found.size <= high
    assert "sd" in str(found.reason.source)


@pytest.mark.parametrize(
    ("name", "unit"),
    [("Shear force", "mm"), ("Bark", "mm"), ("Graph", "pH"), ("Hardness", "N"), ("pH", "kg")],
)
def test_what_no_study_is_kept_of_has_none(name: str, unit: str) -> None:
    assert tabled_spread(SHEAR.model_copy(update={"name": name, "unit": unit})) is None
