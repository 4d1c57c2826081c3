"""A two-period crossover: peak flow (l/min) of 13 children under formoterol and salbutamol.

Data: S. Senn, Cross-over Trials in Clinical Research, 2nd ed., 2002, ch. 3, read through a public
reprint (section 5.2 of our references), retyped here. Values: recorded in our references as
computed in R 4.2.2.
"""

from itertools import combinations

import numpy as np
import pytest

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, draw_resolution, randomisation_test

FORMOTEROL_FIRST = [
    (310, 270), (310, 260), (370, 300), (410, 390), (250, 210), (380, 350), (330, 365),
]  # fmt: skip
SALBUTAMOL_FIRST = [(370, 385), (310, 400), (380, 410), (290, 320), (260, 340), (90, 220)]
SALBUTAMOL, FORMOTEROL = 0, 1


def all_allocations() -> np.ndarray:
    layouts = []
    for chosen in combinations(range(13), 7):
        first = np.full(13, SALBUTAMOL)
        first[list(chosen)] = FORMOTEROL
        layouts.append(np.column_stack([first, 1 - first]).ravel())
    return np.array(layouts)


def test_allocations_of_the_two_orders() -> None:
    response = np.array(FORMOTEROL_FIRST + SALBUTAMOL_FIRST, dtype=float).ravel()
    children, period = np.repeat(np.arange(13), 2), np.tile([1, 2], 13)
    layouts = all_allocations()
    result = randomisation_test(
        response, layouts[0], RandomAllocation(children, layouts), adjust=[period]
    )
    assert (result.count_two_sided, result.n_tried) == (5, 1716)
    assert result.p_two_sided == pytest.approx(0.00291375, abs=5e-9)
    # The estimate is the mean of the two orders' mean differences.
    halves = [np.mean(np.array(part) @ [1, -1]) for part in (FORMOTEROL_FIRST, SALBUTAMOL_FIRST)]
    assert result.estimate == pytest.approx((halves[0] - halves[1]) / 2)
    assert draw_resolution(layouts[0], RandomAllocation(children, layouts)).two_sided == 1 / 1716


def test_paired_t_ignoring_the_period() -> None:
    differences = np.concatenate(
        [np.array(FORMOTEROL_FIRST) @ [1, -1], np.array(SALBUTAMOL_FIRST) @ [-1, 1]]
    )
    result = paired_comparison(differences)
    assert result.mean == pytest.approx(45.384615, abs=5e-7)
    assert result.t == pytest.approx(4.0312, abs=5e-5)
    assert result.p == pytest.approx(0.0016656, abs=5e-8)
    assert result.interval == pytest.approx((20.8548, 69.9145), abs=5e-5)
