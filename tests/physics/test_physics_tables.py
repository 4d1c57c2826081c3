"""Every number kept as data carries a source, and the tables hang together."""

from fairsmoke.physics import (
    Citation,
    Seen,
    cook_table,
    fat,
    food,
    growth,
    kinetics,
    limits,
    surface,
    water,
)
from fairsmoke.physics.heat_resistance import RESISTANCES
from fairsmoke.physics.limits import SAFETY_LIMITS, limits_on


def _sources() -> list[Citation]:
    found = [food.EQUATIONS, food.PROTEIN_ACROSS_SOURCE, surface.ISOTHERM_SOURCE]
    found += [cook_table.TABLE_SOURCE, growth.GROWTH_LIMITS_SOURCE, limits.OVEN_SOURCE]
    found += [water.ROAST_SOURCE, water.SLOW_SOURCE, fat.HOLDING_SOURCE, fat.CAP_SOURCE]
    found += [r.source for r in RESISTANCES.values()]
    found += [m.source for m in growth.GROWTH_MODELS.values()]
    found += [limit.source for limit in SAFETY_LIMITS.values()]
    found += [reaction.source for reaction in kinetics.REACTIONS]
    found += [part.source for part in kinetics.COLLAGEN_CLASSES]
    found += [curve.source for curve in fat.MELTING.values()]
    return found + [band.source for band in surface.CONVECTION_BANDS.values()]


def test_every_source_says_where_and_how_it_was_seen() -> None:
    for source in _sources():
        assert len(source.text) > 10
        assert isinstance(source.seen, Seen)
        assert source.seen in str(source)


def test_limits_make_sense() -> None:
    for limit in SAFETY_LIMITS.values():
        assert len(limit.rule) > 20
        if limit.topic == "cooling":
            assert limit.from_c is not None
            assert limit.to_c is not None
            assert limit.within_s is not None
            assert limit.from_c > limit.to_c
        if limit.topic == "holding":
            assert limit.at_least_c is not None
            assert 54.0 <= limit.at_least_c <= 60.0
    assert limits.COME_UP.within_s == 6 * 3600.0
    assert {limit.part_of for limit in limits_on("cooling")} == {
        "Food Code",
        "Appendix B option 1",
        "Appendix B option 2",
        "Appendix B cured",
    }


def test_a_dry_cooker_at_107_c_meets_no_dry_oven_row() -> None:
    for row in limits.OVEN_ROWS:
        if row.is_least:
            assert row.below_4_5_kg_c > 107.0
            assert row.from_4_5_kg_c > 107.0


def test_the_cooking_table_falls_with_temperature() -> None:
    rows = cook_table.COOK_ROWS
    for hot, cool in zip(rows[1:], rows[:-1], strict=True):
        assert hot.temp_f == cool.temp_f + 1
        assert hot.temp_c > cool.temp_c
        assert abs(hot.temp_c - (hot.temp_f - 32) / 1.8) < 0.08
        assert hot.seconds_65 < cool.seconds_65
        assert hot.seconds_7 <= cool.seconds_7
        assert hot.seconds_65 <= hot.seconds_7


def test_melting_curves_fall_to_nothing() -> None:
    for curve in fat.MELTING.values():
        assert list(curve.temp_c) == sorted(curve.temp_c)
        assert list(curve.solid) == sorted(curve.solid, reverse=True)
        assert curve.solid[-1] == 0.0
        assert curve.heat_low_j_kg <= curve.heat_j_kg <= curve.heat_high_j_kg


def test_bands_are_in_order() -> None:
    for band in surface.CONVECTION_BANDS.values():
        assert 0 < band.low_w_m2k < band.middle_w_m2k < band.high_w_m2k
