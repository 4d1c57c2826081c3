"""Power and sizes against statsmodels, and of repeated tasters against plain drawing."""

import warnings

import numpy as np
import pytest
from statsmodels.stats.power import TTestPower

from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.panels.sizes import (
    correct_counts,
    design_effect,
    difference_power,
    fewest_correct,
    most_correct,
    repeated_power,
    size_for_difference,
    size_for_likeness,
)
from fairsmoke.planning.size.power import paired_power, pairs_needed, smallest_found
from fairsmoke.tasting.protocols import TasteTest


@pytest.mark.parametrize("alternative", ["two-sided", "larger"])
@pytest.mark.parametrize("alpha", [0.01, 0.05, 0.2])
def test_power_is_that_of_statsmodels(alternative: str, alpha: float) -> None:
    two = alternative == "two-sided"
    for d in (0.0, 0.2, 0.8, 1.7, 3.0):
        for n in (2, 3, 7, 12, 60):
            theirs = TTestPower().power(d, n, alpha, alternative=alternative)
            ours = paired_power(3.0 * d, 3.0, n, alpha=alpha, two_sided=two)
            if np.isnan(theirs):
                # Its lower tail gives up far out, where the upper one is all there is.
                theirs = TTestPower().power(d, n, alpha / 2, alternative="larger")
            assert ours == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize(("d", "power"), [(0.3, 0.8), (0.7, 0.9), (1.5, 0.95)])
def test_sizes_and_smallest_differences_are_those_of_statsmodels(d: float, power: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = TTestPower().solve_power(effect_size=d, alpha=0.05, power=power)
        smallest = TTestPower().solve_power(nobs=9, alpha=0.05, power=power)
    assert pairs_needed(2.0 * d, 2.0, power) == int(np.ceil(theirs))
    assert smallest_found(2.0, 9, power) == pytest.approx(2.0 * float(smallest), rel=1e-5)


def test_one_pair_has_no_test() -> None:
    assert paired_power(5.0, 1.0, 1) is None
    assert smallest_found(1.0, 1) is None


def test_a_certain_difference_has_power_one() -> None:
    assert paired_power(1e6, 1.0, 12) == 1.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: paired_power(float("nan"), 1, 4), "true difference"),
        (lambda: paired_power(1, 0, 4), "above 0"),
        (lambda: paired_power(1, 1, 0), "one pair or more"),
        (lambda: paired_power(1, 1, 4, alpha=1.0), "alpha"),
        (lambda: pairs_needed(0.0, 1.0), "no number of pairs"),
        (lambda: pairs_needed(1e-9, 1.0), "too small"),
        (lambda: pairs_needed(1.0, 1.0, 0.04), "power"),
        (lambda: smallest_found(1.0, 0), "one pair or more"),
        (lambda: fewest_correct(0, 0.5, 0.05), "from 1 to"),
        (lambda: fewest_correct(10, 1 / 3, 0.05, two_sided=True), "two-sided"),
        (lambda: most_correct(10, 0.5, 0.3, 0.0), "beta"),
        (lambda: size_for_difference(TasteTest.TRIANGLE, 0.0), "share"),
        (lambda: size_for_difference(TasteTest.TRIANGLE, 0.3, alpha=0.6, beta=0.5), "add to 1"),
        (lambda: size_for_difference(TasteTest.TRIANGLE, 1e-4), "larger share"),
        (lambda: size_for_difference(TasteTest.TETRAD, 0.3, two_sided=True), "one side"),
        (lambda: size_for_likeness(TasteTest.TRIANGLE, 0.3, true=0.3), "true share"),
        (lambda: correct_counts(3, 0.5, 0.3, 1.5), "alike"),
        (lambda: design_effect(0, 0.1), "from 1 to"),
    ],
)
def test_bad_input_is_named(call: object, words: str) -> None:
    assert callable(call)
    with pytest.raises(PlanError, match=words):
        call()


def test_repeated_tasters_against_drawing_them() -> None:
    rng = np.random.default_rng(5)
    share, alike, tasters, repeats = 0.35, 0.3, 9, 4
    size = (1 - alike) / alike
    skill = rng.beta(share * size, (1 - share) * size, (40_000, tasters))
    correct = rng.binomial(repeats, 1 / 3 + 2 / 3 * skill).sum(axis=1)
    bound = fewest_correct(tasters * repeats, 1 / 3, 0.05)
    drawn = float(np.mean(correct >= bound))
    found = repeated_power(TasteTest.TRIANGLE, tasters, repeats, share, alike)
    assert abs(found - drawn) < 4 * np.sqrt(drawn * (1 - drawn) / 40_000)


def test_tasters_all_alike_are_independent_answers() -> None:
    found = repeated_power(TasteTest.DUO_TRIO, 8, 3, 0.4, 0.0)
    assert found == pytest.approx(difference_power(TasteTest.DUO_TRIO, 24, 0.4), abs=1e-12)
    assert repeated_power(TasteTest.DUO_TRIO, 1, 2, 0.4, 0.5) == 0.0


@pytest.mark.parametrize("alike", [0.0, 0.2, 1.0])
def test_repeats_inflate_the_variance_by_the_design_effect(alike: float) -> None:
    # Var of a taster's count = r p (1 - p) (1 + (r - 1) rho), rho the correlation of two answers.
    repeats, guess, share = 5, 1 / 3, 0.4
    chances = correct_counts(repeats, guess, share, alike)
    counts = np.arange(repeats + 1)
    mean = counts @ chances
    p = guess + (1 - guess) * share
    rho = (1 - guess) ** 2 * alike * share * (1 - share) / (p * (1 - p))
    assert chances.sum() == pytest.approx(1.0)
    assert mean == pytest.approx(repeats * p)
    variance = (counts - mean) ** 2 @ chances
    assert variance == pytest.approx(repeats * p * (1 - p) * design_effect(repeats, rho))
