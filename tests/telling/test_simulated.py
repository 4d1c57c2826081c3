"""How a simulation is told: digits, differences, cautions, chart."""

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
import pytest
from tests.telling.german import messages, untranslated

from fairsmoke.answers.simulation import simulate_side_by_side
from fairsmoke.app.people.person import show_for
from fairsmoke.cooking import (
    ArmToCook,
    Conditions,
    EnsembleDifference,
    MeasuredPiece,
    PieceToCook,
    ProtocolError,
    SideBySide,
    cook_kernel,
)
from fairsmoke.messages.message import Words
from fairsmoke.planning.methods.simulated import DrawInterval, SimulationSummary, summary_of
from fairsmoke.quantity import US
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.chart_style import ChartError, form_of, svg_of
from fairsmoke.telling.draw_words import chance_words, change_words, interval_words, size_words
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.simulated import arm_warnings, simulated_json, simulated_sections
from fairsmoke.telling.simulated_chart import simulated_chart
from fairsmoke.telling.simulator_words import STANDING
from fairsmoke.trial.protocol import Cover, EndCondition, Place, Protocol, Stage, Wrap

if TYPE_CHECKING:
    import altair as alt

HOUR_S = 3600.0
READER = show_for(None, None, "en")
VALIDATION = Path(__file__).parents[2] / "docs" / "validation.md"
NAMES = {"bare": "Left bare", "film": "In film"}


def cook(cover: Cover, core_c: float, hold_c: float = 66.0) -> Protocol:
    wrap = Wrap(above=cover, below=cover)
    smoke = Stage(
        id="smoke",
        name="Smoke",
        surround_c=121.0,
        wrap=wrap,
        ends=(EndCondition(core_c=core_c), EndCondition(elapsed_s=8 * HOUR_S)),
    )
    hold = Stage(
        id="hold",
        name="Hold",
        place=Place.CABINET,
        surround_c=hold_c,
        wrap=wrap,
        ends=(EndCondition(elapsed_s=HOUR_S),),
    )
    return Protocol(stages=(smoke, hold))


@pytest.fixture(scope="module")
def told() -> SimulationSummary:
    arms = (
        ArmToCook("bare", "Left bare", cook(Cover.BARE, 60.0)),
        ArmToCook("film", "In film", cook(Cover.FILM, 45.0, 50.0)),
    )
    piece = PieceToCook("slab", "Slab", MeasuredPiece("slab", 2.0, 0.25, 0.16, 0.05), Conditions())
    found = simulate_side_by_side(SideBySide("Film?", arms, (piece,), 32))
    return summary_of(found, "Film?", NAMES)


def text_of(told: SimulationSummary, reader: Reader = READER) -> str:
    return document_text(simulated_sections(told), reader)


def warnings_of(told: SimulationSummary) -> str:
    return " ".join(str(line) for arm in told.arms for line in arm_warnings(arm))


def test_every_number_comes_with_its_interval(told: SimulationSummary) -> None:
    text = text_of(told)
    rows = [line for line in text.splitlines() if line.startswith("    time on the cooker")]
    assert len(rows) == 3
    assert all("(" in row and " to " in row for row in rows)
    assert "°F" in text_of(told, replace(READER, units=US))
    assert "°F" not in text


def test_cautions_name_what_these_very_cooks_lack(told: SimulationSummary) -> None:
    cautions = warnings_of(told)
    assert "In film: the coldest part may get fewer than 6.5 log10" in cautions
    assert "In film: may end below 54.4 °C" in cautions
    assert "In film, stage 'smoke': film in air of 121 °C" in cautions
    assert "In film, stage 'hold': holds at 50 °C, below the 57 °C" in cautions
    assert "Left bare, stage 'hold'" not in cautions
    assert "they never show that food is safe" in " ".join(simulated_json(told)["cautions"])


def test_nothing_is_ever_called_safe(told: SimulationSummary) -> None:
    text = " ".join(text_of(told).split())
    assert text.count("safe") == text.count("never show that food is safe") == 1


def said(words: Words) -> str:
    return READER.say(words)


def test_digits_follow_the_width() -> None:
    wide, narrow = DrawInterval(0.50, 0.5678, 0.60), DrawInterval(0.561, 0.5678, 0.572)
    assert said(interval_words(wide, "share")) == "57 % (50 to 60 %)"
    assert said(interval_words(narrow, "share")) == "56.8 % (56.1 to 57.2 %)"
    times = DrawInterval(12.6 * HOUR_S, 14.4 * HOUR_S, 19.3 * HOUR_S)
    assert said(interval_words(times, "time")) == "14 h 30 min (12 h 30 min to 19 h 30 min)"
    shorter = DrawInterval(36000.0, 39610.0, 50000.0)
    assert said(interval_words(shorter, "time")) == "11 h (10 h to 13 h 50 min)"
    assert said(interval_words(DrawInterval(20.0, 25.0, 30.0), "log")) == "more than 12"
    assert said(interval_words(DrawInterval(6.61, 9.2, 40.0), "log")) == "9.2 (6.6 to > 12)"
    assert said(interval_words(DrawInterval(0.0, 0.001, 0.002), "crust")) == "none"
    nothing = DrawInterval(*[float("nan")] * 3)
    assert said(interval_words(nothing, "time")) == "not known: most draws never got there"


def test_differences_have_their_sign_and_chance() -> None:
    less = EnsembleDifference(-0.04, -0.021, -0.003, 0.05)
    assert (
        said(change_words(less, "share"))
        == "−2.1 points (−4.0 to −0.3 points), less in 95 % of draws"
    )
    no_sign = EnsembleDifference(-0.0301, -0.0108, -0.0001, 0.1)
    assert said(change_words(no_sign, "share")).startswith("−1.1 points (−3.0 to 0.0 points)")
    more = EnsembleDifference(600.0, 3600.0, 5400.0, 1.0)
    assert said(change_words(more, "time")) == "+1 h (+10 min to +1 h 30 min), longer in every draw"
    ends = EnsembleDifference(-7200.0, -3600.0, 100.0, 0.1)
    assert said(change_words(ends, "time")) == "−1 h (−2 h to 0 s), shorter in 90 % of draws"
    assert said(chance_words(0.001)) == "< 1 %"
    assert said(chance_words(0.803)) == "80 %"
    assert said(size_words(0.0234, "share")) == "2.3 points"
    assert said(size_words(3300.0, "time")) == "55 min"


@pytest.mark.parametrize("kind", ["time", "share"])
@pytest.mark.parametrize("ends", [(0.0, 0.0, 0.0), (-1e-5, 0.0, 2e-5)])
def test_a_difference_of_nothing_is_none(
    ends: tuple[float, float, float], kind: Literal["time", "share"]
) -> None:
    # Nothing either way, whatever the share of draws above nothing would have said.
    for chance in (0.0, 0.5, 1.0):
        assert said(change_words(EnsembleDifference(*ends, chance), kind)) == "no difference"


def test_arms_that_differ_in_the_hold_alone_have_one_time_on_the_cooker() -> None:
    longer = cook(Cover.BARE, 60.0)
    hold = longer.stages[1].model_copy(update={"ends": (EndCondition(elapsed_s=3 * HOUR_S),)})
    arms = (
        ArmToCook("base", "One hour", cook(Cover.BARE, 60.0)),
        ArmToCook("held", "Three hours", Protocol(stages=(longer.stages[0], hold))),
    )
    piece = PieceToCook("slab", "Slab", MeasuredPiece("slab", 2.0, 0.25, 0.16, 0.05), Conditions())
    found = simulate_side_by_side(SideBySide("Hold?", arms, (piece,), 32))
    text = text_of(summary_of(found, "Hold?", {"base": "One hour", "held": "Three hours"}))
    change = text.partition("What changes")[2].partition("What to expect")[0]
    assert "time on the cooker  no difference" in change
    assert "time to the end     +2 h (+2 h to +2 h), longer in every draw" in change


def test_german_has_no_english_sentence(told: SimulationSummary) -> None:
    sections = simulated_sections(told)
    assert len(list(messages(sections))) > 60
    assert untranslated(sections) == set()
    german = document_text(sections, show_for(None, None, "de"))
    assert "WARNUNGEN" in german
    for english in ("draws", "points", "in every", " to ", "the core", "yield"):
        assert english not in german


def test_json_has_all_and_no_nan(told: SimulationSummary) -> None:
    content = simulated_json(told)
    assert content["simulated"] is True
    assert [arm["id"] for arm in content["arms"]] == ["bare", "film"]
    core = content["arms"][0]["core"]
    assert len(core["hours"]) == len(core["low_c"]) == len(core["high_c"]) > 5
    assert all(low <= high for low, high in zip(core["low_c"], core["high_c"], strict=True))
    assert content["arms"][0]["values"]["cap_rendered"]["middle"] is None


def drawn(told: SimulationSummary, reader: Reader = READER) -> "alt.VConcatChart":
    names = [arm.name for arm in told.arms]
    return simulated_chart(simulated_json(told), names, told.title, reader)


def test_chart_shows_arms_marks_and_split(told: SimulationSummary) -> None:
    svg = svg_of(drawn(told))
    for word in ("Film?", "Left bare", "In film", "60 °C", "evaporated", "Simulated"):
        assert word in svg
    american = replace(READER, units=US)
    rows = drawn(told, american).to_dict(validate=False)["datasets"]["rows-0"]
    assert max(row["high"] for row in rows) > 130.0
    assert np.all([row["low"] <= row["middle"] <= row["high"] for row in rows])
    german = svg_of(drawn(told, show_for(None, None, "de")))
    for english in ("evaporated", "Simulated", "hours", "core"):
        assert english not in german


def test_arms_of_one_name_are_told_apart(told: SimulationSummary) -> None:
    twins = replace(told, arms=tuple(replace(arm, name="Same") for arm in told.arms))
    rows = drawn(twins).to_dict(validate=False)["datasets"]["rows-0"]
    assert {row["arm"] for row in rows} == {"Same (bare)", "Same (film)"}


def test_unknown_form_of_chart_is_refused() -> None:
    assert form_of(Path("a.PNG")) == "png"
    with pytest.raises(ChartError, match=r"\.png, \.svg or \.pdf"):
        form_of(Path("a.gif"))


def test_cooks_left_out_are_counted_and_named() -> None:
    arms = (ArmToCook("bare", "Left bare", cook(Cover.BARE, 60.0)),)
    piece = PieceToCook("slab", "Slab", MeasuredPiece("slab", 2.0, 0.25, 0.16, 0.05), Conditions())
    found = simulate_side_by_side(SideBySide("Film?", arms, (piece,), 32))
    record = found.cooked["bare", "slab"]
    record.answer[:3], record.ended[:3] = cook_kernel.NEVER_ENDS, 0.0
    record.answer[3], record.ended[3] = cook_kernel.NO_STEP, 0.0
    left_out = summary_of(found, "Film?", NAMES)
    assert (left_out.arms[0].warnings.never_ended, left_out.arms[0].warnings.not_worked_out) == (
        3,
        1,
    )
    cautions = warnings_of(left_out)
    assert "3 of 32 cooks never came to the end" in cautions
    assert "gave up on 1 of 32 cooks" in cautions
    record.answer[:20] = cook_kernel.NEVER_ENDS
    with pytest.raises(ProtocolError, match="20 of 32 cooks never come to the end"):
        found.refuse_endless()


def test_how_far_the_model_is_off_is_told_before_any_number(told: SimulationSummary) -> None:
    said = " ".join(text_of(told).split())
    assert said.index("Take this as a rough guide") < said.index("time on the cooker")
    assert "docs/validation.md" in simulated_json(told)["cautions"][0]


def test_what_is_said_before_every_simulation_agrees_with_the_second_look() -> None:
    """Each figure is the median error or the coverage of docs/validation.md, and none is kinder."""
    rows = {}
    for line in VALIDATION.read_text("utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 6:
            rows[cells[0]] = cells[2]

    def figure(row: str, pattern: str) -> float:
        found = re.search(pattern, rows[row])
        assert found, (row, rows[row])
        return float(found[1])

    words = str(STANDING)
    points = figure("losses of studies", r"median error ([\d.]+) points")
    off = figure("times printed in logs", r"median error ([\d.]+) %")
    inside = figure("printed times and losses inside", r"^([\d.]+) %")
    assert f"off by {points:g} points or more" in words
    assert f"at least {off:.0f} %" in words
    assert f"held only {inside:.0f} %" in words
    assert "signed −" in rows["times printed in logs"], "most of them too short"
