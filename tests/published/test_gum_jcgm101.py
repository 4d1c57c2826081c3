"""Worked examples of JCGM 101:2008 clause 9, the Monte Carlo supplement to the GUM.

9.2: inputs and results as carried by open metrology packages (keys SUN and PROP of our references).
The other examples of the clause need models that no weighing has.
"""

import numpy as np
import pytest

from fairsmoke.weighing.uncertainty import (
    FloatArray,
    InputDistribution,
    normal,
    rectangular,
    summarise,
    triangular,
)

DRAWS = 1_000_000
ROOT3 = np.sqrt(3.0)


def total(inputs: list[InputDistribution], seed: int) -> FloatArray:
    """Draw the sum of independent inputs (clause 7)."""
    rng = np.random.default_rng(seed)
    return np.asarray(sum(law.rvs(DRAWS, random_state=rng) for law in inputs))


def test_9_2_2_sum_of_four_normal_inputs() -> None:
    drawn = total([normal(0, 1)] * 4, 1)
    result = summarise(drawn)
    assert result.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert [result.low, result.high] == pytest.approx([-3.92, 3.92], abs=0.02)
    assert [result.shortest_low, result.shortest_high] == pytest.approx([-3.92, 3.92], abs=0.06)


def test_9_2_3_sum_of_four_rectangular_inputs() -> None:
    drawn = total([rectangular(-ROOT3, ROOT3)] * 4, 2)
    result = summarise(drawn)
    assert result.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert [result.low, result.high] == pytest.approx([-3.88, 3.88], abs=0.02)


def test_9_2_4_one_rectangular_input_ten_times_as_wide() -> None:
    # Published ±17.0 and 10.1: from memory, agreeing with an independent computation.
    inputs = [rectangular(-ROOT3, ROOT3)] * 3 + [rectangular(-10 * ROOT3, 10 * ROOT3)]
    result = summarise(total(inputs, 3))
    assert result.standard_uncertainty == pytest.approx(10.1, abs=0.06)
    assert [result.low, result.high] == pytest.approx([-17.0, 17.0], abs=0.05)


def test_triangular_input_is_the_sum_of_two_rectangular_ones() -> None:
    # JCGM 101 6.4.5 (from memory): two equal rectangular inputs add to a triangle, u = a/√6.
    law = triangular(-1.0, 0.0, 1.0)
    result = summarise(law.rvs(DRAWS, random_state=np.random.default_rng(6)))
    assert result.standard_uncertainty == pytest.approx(1 / np.sqrt(6), rel=0.002)
    assert result.high == pytest.approx(1 - np.sqrt(0.05), abs=0.002)
