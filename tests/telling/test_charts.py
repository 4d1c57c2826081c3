"""Charts: valid, readable without hue, and drawn from the numbers of the finding."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import altair as alt
import numpy as np
import pytest

from fairsmoke.judging.finding import Finding
from fairsmoke.telling.chart_data import (
    MassBar,
    Masses,
    MassPart,
    dots_of,
    masses_of,
    posterior_of,
    stripes_of,
)
from fairsmoke.telling.chart_style import COLOURS, DASHES, SHAPES, shortened, spread_out, svg_of
from fairsmoke.telling.charts import dots_chart, masses_chart, posterior_chart, stripes_chart
from fairsmoke.telling.curve_chart import curves_chart
from fairsmoke.telling.curve_data import cook_curves, for_reader
from fairsmoke.telling.numbers import show_chance
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.question import MeasureKind
from fairsmoke.trial.record import TrialRecord


@pytest.fixture(scope="module")
def charts(demo_finding: Finding) -> dict[str, alt.LayerChart]:
    found = demo_finding
    record = found.record
    shown = cook_curves(record, record.cook("may"))
    assert shown is not None
    return {
        "posterior": posterior_chart(posterior_of(found.main.measure, found.main.differences[0])),
        "dots": dots_chart(dots_of(record, found.main)),
        "stripes": stripes_chart(stripes_of(found)),
        "masses": masses_chart(masses_of(record, found.ledger)),
        "curves": curves_chart(for_reader(shown, ENGLISH)),
    }


ALL = ("posterior", "dots", "stripes", "masses", "curves")


def layers_of(spec: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for layer in spec.get("layer", []):
        yield layer
        yield from layers_of(layer)


@pytest.mark.parametrize("name", ALL)
def test_every_chart_obeys_the_schema_and_draws(
    charts: dict[str, alt.LayerChart], name: str
) -> None:
    # The outside check is the Vega-Lite JSON schema that Altair carries.
    charts[name].to_dict(validate=True)
    svg = svg_of(charts[name])
    assert svg.startswith("<svg")
    assert "NaN" not in svg
    assert "undefined" not in svg
    assert len(svg) < 150_000


@pytest.mark.parametrize("name", ALL)
def test_no_hue_without_a_shape_or_a_dash(charts: dict[str, alt.LayerChart], name: str) -> None:
    seen = 0
    for layer in layers_of(charts[name].to_dict(validate=False)):
        encoding = layer.get("encoding", {})
        colour = encoding.get("color", {})
        if "field" not in colour or layer["mark"]["type"] == "text":
            continue
        if all(is_grey(hue) for hue in colour["scale"]["range"]):
            continue
        seen += 1
        channels = ("shape", "strokeDash", "strokeWidth")
        others = [encoding[c] for c in channels if c in encoding]
        assert all(other["field"] == colour["field"] for other in others)
        assert {"shape", "strokeDash"} & set(encoding), f"{name}: hue alone tells the difference"
        told = [
            tuple(map(str, one)) for one in zip(*(o["scale"]["range"] for o in others), strict=True)
        ]
        assert len(set(told)) == len(told) == len(colour["scale"]["range"])
    assert seen == (1 if name in ("dots", "curves") else 0)


def is_grey(hue: str) -> bool:
    red, green, blue = (int(hue[at : at + 2], 16) for at in (1, 3, 5))
    return max(red, green, blue) - min(red, green, blue) <= 8


def test_the_first_hues_fall_on_different_greys() -> None:
    # Relative luminance, IEC 61966-2-1 (sRGB) with the weights of Rec. 709 (from memory).
    def luminance(hue: str) -> float:
        linear = [
            v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
            for v in (int(hue[at : at + 2], 16) / 255 for at in (1, 3, 5))
        ]
        return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))

    dark, middle, _ = (luminance(hue) for hue in COLOURS[:3])
    # WCAG contrast of the two arms that nearly every trial has, and of each on white paper.
    assert (middle + 0.05) / (dark + 0.05) > 2.5
    assert (1.05) / (middle + 0.05) > 3.0
    assert len(set(SHAPES)) == len(SHAPES) == len(COLOURS)
    assert len(set(DASHES)) == len(DASHES)


def test_the_zones_hold_the_chances_of_the_verdict(demo_finding: Finding) -> None:
    for found in demo_finding.measures:
        posterior = posterior_of(found.measure, found.differences[0])
        x, y = np.array(posterior.curve).T
        verdict = found.differences[0].verdict
        for zone in posterior.zones:
            inside = np.linspace(zone.low, zone.high, 4001)
            held = float(np.trapezoid(np.interp(inside, x, y, left=0.0, right=0.0), inside))
            wanted = {
                "better": verdict.better_by_enough,
                "worse": verdict.worse_by_enough,
                "no difference": verdict.no_difference,
            }[zone.side]
            # The curve leaves out one in a thousand; the verdict was worked out without it.
            assert held == pytest.approx(wanted, abs=0.004)
            assert zone.chance == show_chance(wanted)


def test_each_zone_is_filled_right_up_to_its_edges(demo_finding: Finding) -> None:
    found = demo_finding.main
    posterior = posterior_of(found.measure, found.differences[0])
    spec = posterior_chart(posterior).to_dict(validate=False)
    areas = [layer for layer in layers_of(spec) if layer["mark"]["type"] == "area"]
    filled = [[row["x"] for row in spec["datasets"][layer["data"]["name"]]] for layer in areas]
    first, last = posterior.curve[0][0], posterior.curve[-1][0]
    assert len(filled) == 3
    for xs, zone in zip(filled, posterior.zones, strict=True):
        assert min(xs) == pytest.approx(max(zone.low, first))
        assert max(xs) == pytest.approx(min(zone.high, last))


def test_lower_is_better_puts_better_on_the_left(demo_finding: Finding) -> None:
    time = next(found for found in demo_finding.measures if found.measure.id == "cook-time")
    left, middle, right = posterior_of(time.measure, time.differences[0]).zones
    assert (left.side, right.side) == ("better", "worse")
    assert str(left.words) == "better: over 45 min shorter"
    assert str(middle.words) == "no difference that matters: under 45 min"
    stripe = stripes_of(demo_finding).rows[1]
    believed = time.differences[0].believed
    assert stripe.mean == pytest.approx(-believed.value / 2700.0)
    assert stripe.low < stripe.high


def test_words_fit_beside_their_zones(demo_finding: Finding) -> None:
    for found in demo_finding.measures:
        posterior = posterior_of(found.measure, found.differences[0])
        span = posterior.high - posterior.low
        for zone in (posterior.zones[0], posterior.zones[2]):
            # A letter of the chart's type is about 5.3 pixels wide, as drawn 640 wide.
            assert (zone.high - zone.low) / span > len(str(zone.words)) * 5.3 / 640


def test_the_words_of_a_chart_are_in_its_picture(charts: dict[str, alt.LayerChart]) -> None:
    posterior = words_in(svg_of(charts["posterior"]))
    assert "no difference that matters: under 2 points" in posterior
    dots = words_in(svg_of(charts["dots"]))
    assert "Wrapped in paper at the stall" in dots
    assert "Bank holiday lunch" in dots
    curves = words_in(svg_of(charts["curves"]))
    assert "Shoulder 1, core" in curves
    assert "00:00" in curves
    assert "3 May 2026" in curves
    assert "trimmed off" in words_in(svg_of(charts["masses"]))


def words_in(svg: str) -> list[str]:
    return [re.sub("<[^>]+>", "", text) for text in re.findall(r"<t(?:ext|span)[^>]*>[^<]+", svg)]


def test_a_piece_without_a_value_is_named(
    record_maker: Callable[..., TrialRecord], finding_of: Callable[[TrialRecord], Finding]
) -> None:
    found = finding_of(record_maker(missing=(3,)))
    dots = dots_of(found.record, found.main)
    assert [str(row.missing) for row in dots.rows] == ["", "no value: Shoulder 4", ""]
    assert "no value: Shoulder 4" in words_in(svg_of(dots_chart(dots)))


def test_every_arm_of_a_row_has_its_number_and_scores_have_no_bars(
    record_maker: Callable[..., TrialRecord],
    finding_of: Callable[[TrialRecord], Finding],
    demo_finding: Finding,
) -> None:
    found = finding_of(record_maker(arms=3, pairs=1))
    dots = dots_of(found.record, found.main)
    drawn = words_in(svg_of(dots_chart(dots)))
    assert len(dots.rows[0].dots) == 3
    assert all(str(dot.text) in drawn for dot in dots.rows[0].dots)
    for one in demo_finding.measures:
        rows = dots_of(demo_finding.record, one).rows
        widths = [dot.high - dot.low for row in rows for dot in row.dots]
        assert (max(widths) > 0) == (one.measure.kind is MeasureKind.YIELD)


def test_long_names_of_parts_are_not_cut() -> None:
    long = "bone and waste and lost in the hold and lost on the cooker"
    parts = (MassPart("meat left", 2.0, "2 kg"), MassPart(long, 1.0, "1 kg"))
    assert long in words_in(svg_of(masses_chart(Masses((MassBar("Shoulder", parts),)))))


def test_pieces_of_one_name_keep_their_own_rows(
    record_maker: Callable[..., TrialRecord], finding_of: Callable[[TrialRecord], Finding]
) -> None:
    record = record_maker(pairs=3)
    alike = replace(
        record,
        pieces=tuple(p.model_copy(update={"name": "Shoulder"}) for p in record.pieces),
        cooks=tuple(c.model_copy(update={"name": "Night"}) for c in record.cooks),
    )
    found = finding_of(alike)
    dots = words_in(svg_of(dots_chart(dots_of(alike, found.main))))
    assert dots.count("Shoulder · Shoulder") == 3
    masses = words_in(svg_of(masses_chart(masses_of(alike, found.ledger))))
    assert masses.count("Shoulder") == 6


def test_mass_bars_add_up_to_what_was_bought(demo_finding: Finding) -> None:
    ledger, record = demo_finding.ledger, demo_finding.record
    bars = masses_of(record, ledger).bars
    assert len(bars) == 6
    for bar, piece in zip(bars, record.units, strict=True):
        weighed = [
            w.reading_kg
            for w in record.weighings
            if w.piece == piece.id and [part.text for part in w.sum] == ["bought meat"]
        ]
        if weighed:
            assert sum(part.mass_kg for part in bar.parts) == pytest.approx(weighed[0], abs=0.04)


def test_labels_keep_their_order_and_distance() -> None:
    placed = spread_out([10.0, 10.0, 11.0, 50.0], 5.0, 0.0, 100.0)
    assert placed[3] == 50.0
    ordered = sorted(placed[:3])
    assert np.diff(ordered) == pytest.approx([5.0, 5.0])
    assert np.mean(ordered) == pytest.approx(31 / 3)
    assert min(spread_out([0.0, 0.0], 5.0, 0.0, 100.0)) >= 0.0
    assert max(spread_out([100.0, 100.0], 5.0, 0.0, 100.0)) <= 100.0


def test_long_names_are_cut_with_a_mark() -> None:
    assert shortened("Left, away from the firebox", 12) == "Left, away…"
    assert shortened("Left", 12) == "Left"
