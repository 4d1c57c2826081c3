"""Panel sizes and critical counts against the printed tables of the sensory standards.

Where seen: ASTM E1885-04 (2011), tables of assessors and of correct responses, as transcribed in
the public repository pycafee/pycafee, pycafee/sensoryanalysis/discriminative_tests.py (read; the
standard itself was not). ISO 10399 Table A.1 in GOST ISO 10399-2015 (ajdocs.ru/gsp/40434/11, read).
ISO 5495 Tables A.1 and A.3 in GOST R 53161-2008 (base.garant.ru/57969792, ajdocs.ru/gsp/28587/15,
read). sensR values in its documentation: discrimSS, discrimPwr and the tests of betabin (read).
"""

import numpy as np
import pytest

from fairsmoke.planning.panels.sizes import (
    correct_counts,
    difference_power,
    fewest_correct,
    most_correct,
    size_for_difference,
    size_for_likeness,
)
from fairsmoke.tasting.protocols import TasteTest

RISKS = (0.20, 0.10, 0.05, 0.01, 0.001)

E1885_ASSESSORS = {
    0.5: [
        [7, 12, 16, 25, 36],
        [12, 15, 20, 30, 43],
        [16, 20, 23, 35, 48],
        [25, 30, 35, 47, 62],
        [36, 43, 48, 62, 81],
    ],
    0.4: [
        [12, 17, 25, 36, 55],
        [17, 25, 30, 46, 67],
        [23, 30, 40, 57, 79],
        [35, 47, 56, 76, 102],
        [55, 68, 76, 102, 130],
    ],
    0.3: [
        [20, 28, 39, 64, 97],
        [30, 43, 54, 81, 119],
        [40, 53, 66, 98, 136],
        [62, 82, 97, 131, 181],
        [93, 120, 138, 181, 233],
    ],
    0.2: [
        [39, 64, 86, 140, 212],
        [62, 89, 119, 178, 260],
        [87, 117, 147, 213, 305],
        [136, 176, 211, 292, 397],
        [207, 257, 302, 396, 513],
    ],
    0.1: [
        [149, 238, 325, 529, 819],
        [240, 348, 457, 683, 1011],
        [325, 447, 572, 828, 1181],
        [525, 680, 824, 1132, 1539],
        [803, 996, 1165, 1530, 1992],
    ],
}
"""By share who tell apart; rows by alpha, columns by beta, in the order of RISKS."""

ODD_ONE_OUT = (0.1, 0.05, 0.001)
"""Printed 1181; the exact power first reaches 0.999 at 1178 (0.99901), falls below, and 1181 is
the next that has it. The one of 125 cells that differs."""


def test_triangle_sizes_are_those_of_the_standard() -> None:
    different = []
    for share, rows in E1885_ASSESSORS.items():
        for alpha, row in zip(RISKS, rows, strict=True):
            for beta, printed in zip(RISKS, row, strict=True):
                found = size_for_difference(TasteTest.TRIANGLE, share, alpha=alpha, beta=beta)
                if found.answers != printed:
                    different.append((share, alpha, beta))
                assert found.false_claim <= alpha
                assert found.power >= 1 - beta
    assert different == [ODD_ONE_OUT]
    share, alpha, beta = ODD_ONE_OUT
    tried = {
        n: difference_power(TasteTest.TRIANGLE, n, share, alpha=alpha) for n in range(1177, 1182)
    }
    assert [n for n, power in tried.items() if power >= 1 - beta] == [1178, 1181]


TRIANGLE_CORRECT = {
    7: [4, 5, 5, 6, 7],
    8: [5, 5, 6, 7, 8],
    10: [6, 6, 7, 8, 9],
    12: [6, 7, 8, 9, 10],
    16: [8, 9, 9, 11, 12],
    20: [9, 10, 11, 13, 14],
    24: [11, 12, 13, 15, 16],
    30: [13, 14, 15, 17, 19],
    36: [15, 17, 18, 20, 22],
    42: [18, 19, 20, 22, 25],
    48: [20, 21, 22, 25, 27],
    60: [24, 26, 27, 30, 33],
    72: [28, 30, 32, 34, 38],
    84: [33, 35, 36, 39, 43],
    102: [39, 41, 43, 46, 50],
}
"""ASTM E1885-04 (2011), every second or so row."""

EVEN_GUESS_CORRECT: dict[int, list[int | None]] = {
    6: [5, 6, 6, None, None],
    10: [7, 8, 9, 10, 10],
    15: [10, 11, 12, 13, 14],
    20: [13, 14, 15, 16, 18],
    25: [16, 17, 18, 19, 21],
    26: [16, 17, 18, 20, 22],
    30: [18, 20, 20, 22, 24],
    32: [19, 21, 22, 24, 26],
    36: [22, 23, 24, 26, 28],
    44: [26, 27, 28, 31, 33],
    60: [34, 36, 37, 40, 43],
    64: [36, 38, 40, 42, 45],
    72: [41, 42, 44, 47, 50],
    84: [47, 49, 51, 54, 57],
    88: [49, 51, 53, 56, 59],
}
"""ISO 10399 Table A.1 (duo–trio); ISO 5495 Table A.1 prints the same from 10 on."""


def test_critical_counts_of_the_triangle_are_those_of_the_standard() -> None:
    for answers, row in TRIANGLE_CORRECT.items():
        for alpha, printed in zip(RISKS, row, strict=True):
            assert fewest_correct(answers, 1 / 3, alpha) == printed, (answers, alpha)


def test_critical_counts_of_duo_trio_and_pairs_are_those_of_the_standards() -> None:
    for answers, row in EVEN_GUESS_CORRECT.items():
        for alpha, printed in zip(RISKS, row, strict=True):
            assert fewest_correct(answers, 0.5, alpha) == printed, (answers, alpha)
    # ISO 5495 Table A.1, rows 36 to 56 as printed there.
    for answers, counts in {
        36: [22, 23, 24, 26, 28],
        40: [24, 25, 26, 28, 31],
        48: [28, 29, 31, 33, 36],
        52: [30, 32, 33, 35, 38],
        56: [32, 34, 35, 38, 40],
    }.items():
        assert [fewest_correct(answers, 0.5, alpha) for alpha in RISKS] == counts, answers


def test_counts_for_likeness_are_those_of_the_standard() -> None:
    # ISO 5495 Table A.3, n = 132; counts below chance (66) are not printed there.
    printed_rows: dict[float, list[int | None]] = {
        0.01: [None, None, 72, 79, 86],
        0.05: [None, 69, 76, 83, 90],
        0.10: [None, 71, 78, 85, 92],
        0.20: [67, 73, 80, 87, 94],
    }
    for beta, row in printed_rows.items():
        for share, printed in zip((0.1, 0.2, 0.3, 0.4, 0.5), row, strict=True):
            found = most_correct(132, 0.5, share, beta)
            if printed is not None:
                assert found == printed, (beta, share)


def test_other_sizes_are_those_of_sensr() -> None:
    duo_trio = size_for_difference(TasteTest.DUO_TRIO, 0.5)
    assert (duo_trio.answers, duo_trio.always) == (23, 28)
    # Type I risk .05 is there the risk of claiming likeness: our beta.
    alike = size_for_likeness(TasteTest.DUO_TRIO, 0.2, alpha=0.2, beta=0.05, true=0.1)
    assert alike.answers == 604
    # pd of d' = 1 in a paired comparison: 2 Phi(1 / sqrt 2) - 1.
    told = 2 * 0.7602499389065233 - 1
    power = difference_power(TasteTest.PAIRED, 30, told)
    assert power == pytest.approx(0.917255217993622, abs=1e-12)
    assert size_for_difference(TasteTest.PAIRED, told, beta=0.1).answers == 30


@pytest.mark.parametrize(
    ("counts", "share", "alike", "printed"),
    [
        (
            [0, 2, 3, 3, 3, 3, 3, 4, 4, 4, 4, 4, 5, 5, 5, 6, 6, 6, 7, 7, 7, 8, 9, 9],
            0.11750,
            0.21466,
            -53.3124,
        ),
        (
            [2, 2, 3, 4, 5, 5, 5, 5, 6, 6, 6, 7, 7, 7, 7, 7, 7, 8, 8, 8, 9, 11, 12],
            0.30008,
            0.24407,
            -52.8263,
        ),
    ],
)
def test_likelihood_of_repeated_tasters(
    counts: list[int], share: float, alike: float, printed: float
) -> None:
    # Brockhoff (2003), 12 triangles a taster; log likelihoods as in sensR's tests of betabin.
    chances = correct_counts(12, 1 / 3, share, alike)
    assert float(np.log(chances[counts]).sum()) == pytest.approx(printed, abs=5e-5)
