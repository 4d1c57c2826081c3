"""Every limit that guards people, by value, with where it is printed.

The references' file safety.md says where each was read; "seen" is how: READ in the source itself
(the Food Code in state adoptions word for word), SECOND_HAND where another quotes it, MEMORY from
memory. A limit that is changed in the code has to be changed here too, with its source.
"""

import numpy as np
import pytest

from fairsmoke.judging import conduct
from fairsmoke.live import alert_limits
from fairsmoke.physics import cook_table, growth, history, lethality, limits
from fairsmoke.physics.sources import Seen
from fairsmoke.planning.day import safety
from fairsmoke.planning.methods import simulated as simulated_data
from fairsmoke.planning.methods import space

H, N = 3600.0, None
READ, SECOND, MEMORY = Seen.READ, Seen.SECOND_HAND, Seen.MEMORY

# key: topic, from °C, to °C, at least °C, within s, for s, together with, source, how seen.
LIMITS = {
    # Shrestha et al. 2025 tell the FSIS rule (safety.md 1c).
    "come-up 6 h": ("come-up", 10.0, 54.4, N, 6 * H, N, "", "Shrestha", SECOND),
    # WAC 246-215-03525 and other adoptions (3a).
    "hold 57 °C": ("holding", N, N, 57.0, N, N, "", "Food Code 3-501.16(A)(1)", READ),
    "hold 54 °C roast": ("holding", N, N, 54.0, N, N, "", "Food Code 3-501.16(A)(1)", READ),
    # BfR Opinion 037/2020 (4c).
    "hold 60 °C": ("holding", N, N, 60.0, N, N, "", "BfR Opinion 037/2020", READ),
    "hold 60 °C FSIS": ("holding", N, N, 60.0, N, N, "", "FSIS-GD-2021-13", MEMORY),
    # Wisconsin ATCP 75 and Delaware Title 16 (3a): 6 h are the total.
    "code 57 to 21": (
        "cooling", 57.0, 21.0, N, 2 * H, N, "Food Code", "Food Code 3-501.14(A)", READ,
    ),
    "code 57 to 5": (
        "cooling", 57.0, 5.0, N, 6 * H, N, "Food Code", "Food Code 3-501.14(A)", READ,
    ),
    # Two university and trade pages (2).
    "option 1, 54.4 to 26.7": (
        "cooling", 54.4, 26.7, N, 1.5 * H, N, "Appendix B option 1", "option 1", READ,
    ),
    "option 1, 26.7 to 4.4": (
        "cooling", 26.7, 4.4, N, 5 * H, N, "Appendix B option 1", "option 1", READ,
    ),
    "option 2, 48.9 to 12.8": (
        "cooling", 48.9, 12.8, N, 6 * H, N, "Appendix B option 2", "option 2 (1999)", READ,
    ),
    "cured, 54.4 to 26.7": (
        "cooling", 54.4, 26.7, N, 5 * H, N, "Appendix B cured", "option 3", MEMORY,
    ),
    "cured, 26.7 to 7.2": (
        "cooling", 26.7, 7.2, N, 10 * H, N, "Appendix B cured", "option 3", MEMORY,
    ),
    # South Carolina 61-25 and Delaware 3-403.11 (3a).
    "reheat 2 h": (
        "reheating", 5.0, 74.0, N, 2 * H, N, "reheat for holding", "3-403.11(A), (D)", READ,
    ),
    "reheat 74 °C": ("reheating", N, N, 74.0, N, 15.0, "", "Food Code 3-403.11(A)", READ),
    # Delaware, Wisconsin 3-501.19; Minnesota 4626.0408 (3a).
    "4 h without heat": (
        "time instead", 57.0, N, N, 4 * H, N, "", "Food Code 3-501.19(B)", READ,
    ),
    # A reposted jerky guideline quotes Appendix A of 1999 (1b).
    "humid quarter": ("surface", N, N, N, N, 1 * H, "", "Appendix A", SECOND),
}  # fmt: skip


def test_there_are_these_limits_and_no_others() -> None:
    assert list(limits.SAFETY_LIMITS) == list(LIMITS)
    assert all(key == limit.key for key, limit in limits.SAFETY_LIMITS.items())


@pytest.mark.parametrize("key", LIMITS)
def test_each_limit_as_it_is_printed(key: str) -> None:
    *numbers, together, source, seen = LIMITS[key]
    limit = limits.SAFETY_LIMITS[key]
    assert [
        limit.topic, limit.from_c, limit.to_c, limit.at_least_c, limit.within_s, limit.for_s,
    ] == numbers  # fmt: skip
    assert limit.part_of == together
    assert str(source) in limit.source.text
    assert limit.source.seen is seen


def test_limits_are_in_the_same_scale_as_the_fahrenheit_that_the_sources_print() -> None:
    # The US sources print °F; the codes round to whole °C, the guidelines to tenths.
    for key, fahrenheit in {
        "come-up 6 h": (50, 130),
        "code 57 to 21": (135, 70),
        "code 57 to 5": (135, 41),
        "option 1, 54.4 to 26.7": (130, 80),
        "option 1, 26.7 to 4.4": (80, 40),
        "option 2, 48.9 to 12.8": (120, 55),
        "cured, 54.4 to 26.7": (130, 80),
        "cured, 26.7 to 7.2": (80, 45),
        "reheat 2 h": (41, 165),
    }.items():
        ends = limits.timed(limits.SAFETY_LIMITS[key])[:2]
        assert ends == pytest.approx([(f - 32) / 1.8 for f in fahrenheit], abs=0.5)
    for key, least in {"hold 57 °C": 135, "hold 54 °C roast": 130, "hold 60 °C": 140}.items():
        assert limits.least_c(limits.SAFETY_LIMITS[key]) == pytest.approx(
            (least - 32) / 1.8, abs=0.5
        )


def test_oven_rows_of_the_food_code() -> None:
    # 3-401.11(B), read (safety.md 3b): below and from 10 lb (4.5 kg).
    assert limits.OVEN_ROWS == (
        ("still, dry", 177.0, 121.0, True),
        ("convection", 163.0, 121.0, True),
        ("high humidity or moisture-proof bag", 121.0, 121.0, False),
    )
    assert "3-401.11(B)" in limits.OVEN_SOURCE.text
    assert limits.OVEN_SOURCE.seen is READ
    assert safety._ROAST_KG == 4.5


def test_the_growth_window_and_the_log_reduction() -> None:
    # "Danger zone" 40 to 140 °F, FSIS wording seen second hand (4c); 9 CFR 318.17(a)(1), read (1a).
    assert limits.GROWTH_WINDOW_C == (4.0, 60.0)
    assert limits.LEAST_SALMONELLA_LOG == space.LEAST_LOG == 6.5
    assert (alert_limits.GROWTH_LOW_C, alert_limits.GROWTH_HIGH_C) == (4.0, 60.0)


def test_the_ends_of_the_cooking_table() -> None:
    # Appendix A 1999, read (1a): 130 °F (54.4 °C) the lowest row, at once at 158 °F (70.0 °C).
    assert cook_table.LOWEST_C == lethality.LOWEST_CREDIT_C == 54.4
    assert cook_table.AT_ONCE_C == 70.0
    # A reading every ten minutes still shows what happened: own choice.
    assert lethality.LONGEST_GAP_S == 600.0


def test_rules_asked_for_what_they_do_not_name() -> None:
    with pytest.raises(ValueError, match="does not go from one temperature"):
        limits.timed(limits.SAFETY_LIMITS["hold 57 °C"])
    with pytest.raises(ValueError, match="does not go from one temperature"):
        limits.timed(limits.SAFETY_LIMITS["4 h without heat"])
    with pytest.raises(ValueError, match="names no longest time"):
        limits.within_s(limits.SAFETY_LIMITS["hold 57 °C"])
    with pytest.raises(ValueError, match="names no least temperature"):
        limits.least_c(limits.COME_UP)


@pytest.mark.parametrize(
    ("topic", "count"),
    [
        ("come-up", 1),
        ("holding", 4),
        ("cooling", 7),
        ("reheating", 2),
        ("time instead", 1),
        ("surface", 1),
    ],
)
def test_limits_of_a_topic(topic: limits.Topic, count: int) -> None:
    found = limits.limits_on(topic)
    assert [limit.topic for limit in found] == [topic] * count


def test_what_uses_the_limits_uses_these() -> None:
    # Judging what was done, watching at the pit, planning, and the simulator's remarks.
    assert (conduct.COME_UP_FROM_C, conduct.COME_UP_TO_C) == (10.0, 54.4)
    assert conduct.COME_UP_LIMIT_S == 6 * H
    assert (conduct.HOLD_CODE_C, conduct.COOL_MIDDLE_C, conduct.COOL_END_C) == (57.0, 21.0, 5.0)
    assert (conduct.COOL_MIDDLE_LIMIT_S, conduct.COOL_END_LIMIT_S) == (2 * H, 6 * H)
    watch = alert_limits.AlertThresholds()
    assert (watch.hold_least_c, watch.come_up_s, watch.cooled_s) == (60.0, 6 * H, 4 * H)
    assert alert_limits.HELD_C == space.LOWEST_HOLD_C == simulated_data.HOLD_CODE_C == 57.0
    assert history.COME_UP_C == (10.0, 54.4)


def test_own_choices_beside_the_sources() -> None:
    # A household probe's usual accuracy and 95 draws of 100: ours, common practice, no source.
    assert safety.PROBE_MARGIN_K == 1.0
    assert safety.CAREFUL == space.KEPT_IN == 0.95
    watch = alert_limits.AlertThresholds()
    assert (watch.pit_band_k, watch.pit_out_s, watch.probe_lost_s) == (15.0, 900.0, 600.0)
    assert watch.warn_before_s == H
    # Growth is summed over steps of half a minute; the closed form is met to 1e-4.
    assert growth._STEP_S == 30.0
    assert (conduct.CORE_NEVER_C, conduct.AIR_NEVER_C, conduct.AIR_OFF_PLAN_K) == (
        110.0,
        400.0,
        60.0,
    )


# FDA Bad Bug Book, factors table, January 1992, read (safety.md 4c): °C between which each grows.
BAD_BUG_BOOK = {
    "Clostridium perfringens": (10.0, 52.0),
    "Bacillus cereus": (10.0, 49.0),
    "Salmonella": (6.5, 47.0),
    "Staphylococcus aureus": (7.0, 45.0),
    "Listeria monocytogenes": (0.0, 45.0),
    "Escherichia coli": (2.5, 45.0),
    "Clostridium botulinum A, B": (10.0, 50.0),
}


def test_growth_limits_as_the_book_prints_them() -> None:
    assert growth.GROWTH_LIMITS_C == BAD_BUG_BOOK


# GroPIN database copies and abstracts, read (safety.md 4b): first, second, least and highest °C,
# unit, q0. The beef q0 is printed 0.0699 and taken as 0.007, which the paper's example needs.
MODELS = {
    "perfringens beef": (0.050, 0.238, 10.15, 53.0, "log10/h", 0.007),
    "perfringens chicken": (0.048, 0.208, 9.74, 52.1, "log10/h", 0.0105),
    "perfringens pork": (0.047, 0.252, 10.69, 52.8, "log10/h", 0.0137),
    "perfringens braised beef": (5.64, 43.5, 10.3, 53.4, "ln/h", None),
    "perfringens roast chicken": (6.06, 46.4, 8.8, 51.5, "ln/h", None),
    "b. cereus rice": (2.21, 37.6, 8.23, 46.8, "", None),
    "salmonella raw beef": (np.sqrt(7.18e-4), 0.464, 0.93, 46.96, "", None),
}


@pytest.mark.parametrize("key", MODELS)
def test_growth_models_as_they_are_printed(key: str) -> None:
    model = growth.GROWTH_MODELS[key]
    numbers = (model.first, model.second, model.min_c, model.max_c)
    assert numbers == pytest.approx(MODELS[key][:4], rel=1e-12)
    assert (model.unit, model.q0) == MODELS[key][4:]


def test_no_growth_model_goes_on_above_the_hot_hold() -> None:
    # Growth ends below the least hot hold of every authority (BfR: unlikely above 57 °C).
    assert max(model.max_c for model in growth.GROWTH_MODELS.values()) < 57.0
    assert max(high for _, high in growth.GROWTH_LIMITS_C.values()) < 57.0
