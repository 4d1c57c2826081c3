"""The core curves of public logs: read whole, placed by their rule, and never both fit and test."""

from fairsmoke.cooking.experiments import library
from fairsmoke.cooking.experiments.curves import assigned_curve_use, curves, scored


def test_the_use_of_every_curve_is_what_the_rule_gives() -> None:
    use = assigned_curve_use(curves())
    assert {c.key: c.use for c in curves()} == {c.key: use[c.source] for c in curves()}


def test_a_source_that_stands_among_the_experiments_keeps_its_use() -> None:
    known = {source.key: source.use for source in library()}
    assert all(c.use == known[c.same_as] for c in curves() if c.same_as)


def test_no_source_is_on_both_sides() -> None:
    assert not {c.source for c in scored("fit")} & {c.source for c in scored("test")}


def test_curves_are_read_in_order_and_in_range() -> None:
    assert len(curves()) == 60
    for curve in curves():
        assert list(curve.seconds) == sorted(curve.seconds)
        assert all(0.0 < c < 101.0 for c in curve.core_c)
        assert curve.pit[0][0] == 0.0
        assert all(80.0 < c < 150.0 for _, c in curve.pit)
        assert curve.mass_kg[0] <= curve.mass_kg[1]
    # The 8.5 lb butt of July 2013 at 60 min: 55 °F (its file says the degrees Fahrenheit).
    butt = next(c for c in curves() if c.key == "butt_8lb_hot_2013")
    assert abs(butt.core_c[0] - (55 - 32) * 5 / 9) < 1e-3
    assert butt.start_c is not None
