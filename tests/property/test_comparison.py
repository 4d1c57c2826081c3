"""What must not change the answer of the comparison model, or change it in a known way."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import ComparisonLayout, compare
from fairsmoke.judging.priors import Priors, SpreadPrior

Array = NDArray[np.float64]
Problem = tuple[Array, ComparisonLayout, Array]

ARMS = ("paper", "bare")
PRIORS = Priors(
    60.0,
    15.0,
    6.0,
    SpreadPrior.log_normal(2.5, 1.6),
    {"cook": SpreadPrior.log_normal(1.5, 2.0), "position": SpreadPrior.half_normal(1.5)},
)
quick = settings(max_examples=30, deadline=None, derandomize=True)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Two to eight pieces in two arms, up to two factors, some values missing."""
    n = draw(st.integers(2, 8))
    rest = draw(st.lists(st.integers(0, 1), min_size=n - 2, max_size=n - 2))
    factors = {}
    for name in ("cook", "position"):
        if draw(st.booleans()):
            labels = draw(st.lists(st.integers(0, 3), min_size=n, max_size=n))
            factors[name] = np.array(labels)
    values = draw(st.lists(st.floats(45.0, 75.0), min_size=n, max_size=n))
    y = np.array(values)
    y[2:][np.array(draw(st.lists(st.booleans(), min_size=n - 2, max_size=n - 2)), dtype=bool)] = (
        np.nan
    )
    measured = np.array(draw(st.lists(st.floats(0.0, 1.0), min_size=n, max_size=n)))
    return y, ComparisonLayout(np.array([0, 1, *rest]), ARMS, factors), np.diag(measured)


def answer(problem: Problem, priors: Priors = PRIORS) -> Posterior:
    y, layout, cov = problem
    return compare(y, layout, priors, measurement_cov=cov).difference(*ARMS)


def same(one: Posterior, other: Posterior, sign: float = 1.0, times: float = 1.0) -> None:
    """Equal to well within the asked accuracy: the lattice may fall a little differently."""
    slack = 2e-3 * times * one.sd
    assert other.mean == pytest.approx(sign * times * one.mean, abs=slack)
    assert other.sd == pytest.approx(times * one.sd, abs=slack)
    expected = sorted(sign * times * x for x in one.interval())
    assert other.interval() == pytest.approx(tuple(expected), abs=2 * slack)


@quick
@given(problems())
def test_swapping_the_arms_mirrors_the_answer(problem: Problem) -> None:
    y, layout, cov = problem
    swapped = ComparisonLayout(1 - layout.arm, ARMS, layout.factors)
    same(answer(problem), answer((y, swapped, cov)), sign=-1.0)


@quick
@given(problems(), st.floats(-1e4, 1e4))
def test_shifting_data_and_prior_changes_nothing(problem: Problem, shift: float) -> None:
    y, layout, cov = problem
    moved = replace(PRIORS, mu_mean=PRIORS.mu_mean + shift)
    same(answer(problem), answer((y + shift, layout, cov), moved))


@quick
@given(problems(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(problem: Problem, random: Random) -> None:
    y, layout, cov = problem
    places = list(range(len(y)))
    random.shuffle(places)
    order = np.array(places)
    factors = {k: v[order] for k, v in layout.factors.items()}
    turned = y[order], ComparisonLayout(layout.arm[order], ARMS, factors), cov[np.ix_(order, order)]
    same(answer(problem), answer(turned))


@quick
@given(problems(), st.sampled_from([0.01, 0.45359237, 2.0, 1000.0]))
def test_another_unit_scales_everything(problem: Problem, times: float) -> None:
    y, layout, cov = problem
    scaled = answer((y * times, layout, cov * times**2), PRIORS.scaled(times))
    same(answer(problem), scaled, times=times)


@quick
@given(problems())
def test_names_of_the_levels_do_not_matter(problem: Problem) -> None:
    y, layout, cov = problem
    renamed = {k: 1000 - 7 * v for k, v in layout.factors.items()}
    same(answer(problem), answer((y, ComparisonLayout(layout.arm, ARMS, renamed), cov)))


@quick
@given(problems())
def test_data_never_widen_the_conditional_answer(problem: Problem) -> None:
    """Given the spreads, data can only narrow the prior; and the shares of the rest add up."""
    y, layout, cov = problem
    found = compare(y, layout, PRIORS, measurement_cov=cov)
    conditional = found.difference(*ARMS).sds
    assert (conditional <= PRIORS.difference_sd * (1.0 + 1e-9)).all()
    assert sum(found.variance_shares(*ARMS).values()) == pytest.approx(1.0)
