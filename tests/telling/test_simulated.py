"""How a simulation is told: digits, differences, cautions, chart."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fairsmoke.answers.simulation import simulate_side_by_side
from fairsmoke.cooking import (
    ArmToCook,
    Conditions,
    Difference,
    Piece,
    PieceToCook,
    ProtocolError,
    SideBySide,
    cook_kernel,
)
from fairsmoke.quantity import METRIC, US
from fairsmoke.telling.chart_style import ChartError, form_of
from fairsmoke.telling.simulated import show_change, show_range, simulated_json, simulated_text
from fairsmoke.telling.simulated_chart import simulated_chart, write_chart
from fairsmoke.telling.simulated_data import Range, Summary, summary_of
from fairsmoke.trial.protocol import Cover, EndCondition, Place, Protocol, Stage, Wrap

HOUR_S = 3600.0


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
def told() -> Summary:
    arms = (
        ArmToCook("bare", "Left bare", cook(Cover.BARE, 60.0)),
        ArmToCook("film", "In film", cook(Cover.FILM, 45.0, 50.0)),
    )
    piece = PieceToCook("slab", "Slab", Piece("slab", 2.0, 0.25, 0.16, 0.05), Conditions())
    return summary_of(simulate_side_by_side(SideBySide("Film?", arms, (piece,), 32)))


def test_every_number_comes_with_its_interval(told: Summary) -> None:
    text = simulated_text(told)
    rows = [line for line in text.splitlines() if line.startswith("  time on the cooker")]
    assert len(rows) == 3
    assert all("(" in row and " to " in row for row in rows)
    assert "°F" in simulated_text(told, US)
    assert "°F" not in text


def test_cautions_name_what_these_very_cooks_lack(told: Summary) -> None:
    cautions = " ".join(told.cautions)
    assert "In film: the coldest part may get fewer than 6.5 log10" in cautions
    assert "In film: may end below 54.4 °C" in cautions
    assert "In film, stage 'smoke': film in air of 121 °C" in cautions
    assert "In film, stage 'hold': holds at 50 °C, below the 57 °C" in cautions
    assert "Left bare, stage 'hold'" not in cautions
    assert "they never show that food is safe" in cautions


def test_nothing_is_ever_called_safe(told: Summary) -> None:
    text = " ".join(simulated_text(told).split())
    assert text.count("safe") == text.count("never show that food is safe") == 1


def test_digits_follow_the_width() -> None:
    wide, narrow = Range(0.50, 0.5678, 0.60), Range(0.561, 0.5678, 0.572)
    assert show_range(wide, "share", METRIC) == "57 % (50 to 60 %)"
    assert show_range(narrow, "share", METRIC) == "56.8 % (56.1 to 57.2 %)"
    times = Range(12.6 * HOUR_S, 14.4 * HOUR_S, 19.3 * HOUR_S)
    assert show_range(times, "time", METRIC) == "14 h 30 min (12 h 30 min to 19 h 30 min)"
    assert show_range(Range(20.0, 25.0, 30.0), "log", METRIC).startswith("more than 12")
    assert show_range(Range(*[float("nan")] * 3), "time", METRIC).startswith("not known")


def test_differences_have_their_sign_and_chance() -> None:
    less = Difference(-0.04, -0.021, -0.003, 0.05)
    assert show_change(less, "share") == "−2.1 points (−4.0 to −0.3 points), less in 95 % of draws"
    more = Difference(600.0, 3600.0, 5400.0, 1.0)
    assert show_change(more, "time") == "+1 h (+10 min to +1 h 30 min), longer in every draw"


def test_json_has_all_and_no_nan(told: Summary) -> None:
    content = simulated_json(told)
    assert content["simulated"] is True
    assert [arm["id"] for arm in content["arms"]] == ["bare", "film"]
    core = content["arms"][0]["core"]
    assert len(core["hours"]) == len(core["low_c"]) == len(core["high_c"]) > 5
    assert all(low <= high for low, high in zip(core["low_c"], core["high_c"], strict=True))
    assert content["arms"][0]["values"]["cap_rendered"]["middle"] is None


def test_chart_shows_arms_marks_and_split(told: Summary, tmp_path: Path) -> None:
    path = tmp_path / "chart.svg"
    write_chart(told, path)
    svg = path.read_text(encoding="utf-8")
    for word in ("Film?", "Left bare", "In film", "60 °C", "evaporated", "Simulated"):
        assert word in svg
    rows = simulated_chart(told, US).to_dict(validate=False)["datasets"]["rows-0"]
    assert max(row["high"] for row in rows) > 130.0
    assert np.all([row["low"] <= row["middle"] <= row["high"] for row in rows])


def test_arms_of_one_name_are_told_apart(told: Summary) -> None:
    twins = replace(told, arms=tuple(replace(arm, name="Same") for arm in told.arms))
    rows = simulated_chart(twins).to_dict(validate=False)["datasets"]["rows-0"]
    assert {row["arm"] for row in rows} == {"Same (bare)", "Same (film)"}


def test_unknown_form_of_chart_is_refused() -> None:
    assert form_of(Path("a.PNG")) == "png"
    with pytest.raises(ChartError, match=r"\.png, \.svg or \.pdf"):
        form_of(Path("a.gif"))


def test_cooks_left_out_are_counted_and_named() -> None:
    arms = (ArmToCook("bare", "Left bare", cook(Cover.BARE, 60.0)),)
    piece = PieceToCook("slab", "Slab", Piece("slab", 2.0, 0.25, 0.16, 0.05), Conditions())
    found = simulate_side_by_side(SideBySide("Film?", arms, (piece,), 32))
    record = found.cooked["bare", "slab"]
    record.answer[:3], record.ended[:3] = cook_kernel.NEVER_ENDS, 0.0
    record.answer[3], record.ended[3] = cook_kernel.NO_STEP, 0.0
    left_out = summary_of(found)
    assert (left_out.arms[0].never_ended, left_out.arms[0].not_worked_out) == (3, 1)
    cautions = " ".join(left_out.cautions)
    assert "3 of 32 cooks never came to the end" in cautions
    assert "gave up on 1 of 32 cooks" in cautions
    record.answer[:20] = cook_kernel.NEVER_ENDS
    with pytest.raises(ProtocolError, match="20 of 32 cooks never come to the end"):
        found.refuse_endless()


def test_how_far_the_model_is_off_is_told_before_any_number(told: Summary) -> None:
    said = " ".join(simulated_text(told).split())
    assert said.index("Take this as a rough guide") < said.index("time on the cooker")
    assert "docs/validation.md" in simulated_json(told)["cautions"][0]
