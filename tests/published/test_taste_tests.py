"""Difference tests against the sensory standards' critical numbers and published d′ values.

Critical numbers: the standards' tables (ISO 4120, ISO 10399, ISO 5495, ASTM E3009) are the exact
binomial. The triangle's column is that printed by the FAO (Manual on methods of sensory
evaluation, appendix A: n = 3 to 36 and 42, 48 … 96 at 5, 1 and 0.1 %), held cell by cell; the
others are the same definition (smallest x with P(X ≥ x) ≤ α) summed here in whole numbers, without
any library's distribution, for every n from 6 to 60.

d′: values printed in the documentation and tests of the R package sensR (read), an independent
implementation of the same functions.
"""

from fractions import Fraction
from math import comb

import pytest

from fairsmoke.planning.panels.sizes import fewest_correct
from fairsmoke.tasting.discrimination import discriminate, likeness_p
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.tasting.psychometric import correct_probability, d_prime_of, slope
from fairsmoke.tasting.repeated import fit_repeated

TRIANGLE_FAO = {
    # n: at 5 %, 1 %, 0.1 %; None where even all correct are not enough.
    3: (3, None, None),
    4: (4, None, None),
    5: (4, 5, None),
    6: (5, 6, None),
    7: (5, 6, 7),
    8: (6, 7, 8),
    9: (6, 7, 8),
    10: (7, 8, 9),
    11: (7, 8, 10),
    12: (8, 9, 10),
    13: (8, 9, 11),
    14: (9, 10, 11),
    15: (9, 10, 12),
    16: (9, 11, 12),
    17: (10, 11, 13),
    18: (10, 12, 13),
    19: (11, 12, 14),
    20: (11, 13, 14),
    21: (12, 13, 15),
    22: (12, 14, 15),
    23: (12, 14, 16),
    24: (13, 15, 16),
    25: (13, 15, 17),
    26: (14, 15, 17),
    27: (14, 16, 18),
    28: (15, 16, 18),
    29: (15, 17, 19),
    30: (15, 17, 19),
    31: (16, 18, 20),
    32: (16, 18, 20),
    33: (17, 18, 21),
    34: (17, 19, 21),
    35: (17, 19, 22),
    36: (18, 20, 22),
}
LEVELS = (0.05, 0.01, 0.001)


def smallest(n: int, guess: Fraction, alpha: Fraction) -> int | None:
    """The definition, in whole numbers."""
    tail = Fraction(0)
    for x in range(n, -1, -1):
        tail += comb(n, x) * guess**x * (1 - guess) ** (n - x)
        if tail > alpha:
            return x + 1 if x < n else None
    return 0


@pytest.mark.parametrize("n", TRIANGLE_FAO)
def test_triangle_critical_numbers_are_those_of_the_fao_table(n: int) -> None:
    assert tuple(fewest_correct(n, 1 / 3, level) for level in LEVELS) == TRIANGLE_FAO[n]


@pytest.mark.parametrize("test", list(TasteTest))
def test_every_critical_number_from_6_to_60_is_the_exact_binomials(test: TasteTest) -> None:
    guess = Fraction(1, 3) if test.guess < 0.5 else Fraction(1, 2)
    for n in range(6, 61):
        for level in (Fraction(1, 20), Fraction(1, 100), Fraction(1, 1000)):
            assert fewest_correct(n, test.guess, float(level)) == smallest(n, guess, level)
            if test is TasteTest.PAIRED:
                two = fewest_correct(n, 0.5, float(level), two_sided=True)
                assert two == smallest(n, guess, level / 2)


PC = {
    # d′: paired, duo–trio, triangle, tetrad (sensR, documentation of its link functions).
    1.0: (0.760249938906523, 0.582475444228876, 0.418046674796045, 0.493808427692137),
    2.0: (0.921350396474857, 0.746820245546069, 0.604806932920651, 0.777667116845886),
    3.0: (0.983052573237655, 0.876456704022415, 0.781427598857822, 0.942971619101258),
    4.0: (0.997661132509476, 0.946665579848435, 0.897660380694802, 0.991341559084544),
}
SLOPE = {
    1.0: (0.219695644733861, 0.147617919351631, 0.155988959563108, 0.278493758283903),
    2.0: (0.103776874355149, 0.159133715202119, 0.196685802264629, 0.243163256289553),
}
D_PRIME = {
    0.6: (0.358286909242583, 1.11520955683069, 1.97560154484988, 1.36259707370522),
    0.7: (0.741614317187116, 1.71530153283467, 2.50372333631553, 1.70450506671692),
    0.8: (1.19023216289999, 2.35486196368808, 3.12859127911218, 2.09460011556416),
    0.9: (1.81238760487365, 3.26308047458777, 4.02762596771379, 2.63258173217749),
}
TESTS = (TasteTest.PAIRED, TasteTest.DUO_TRIO, TasteTest.TRIANGLE, TasteTest.TETRAD)


@pytest.mark.parametrize(("number", "test"), list(enumerate(TESTS)))
def test_psychometric_functions_their_slopes_and_inverses(number: int, test: TasteTest) -> None:
    for d_prime, printed in PC.items():
        # sensR integrates numerically to about nine digits.
        assert correct_probability(test, d_prime) == pytest.approx(printed[number], abs=2e-9)
    for d_prime, printed in SLOPE.items():
        assert slope(test, d_prime) == pytest.approx(printed[number], abs=2e-7)
    for share, printed in D_PRIME.items():
        # sensR finds the inverse to R's default tolerance of a root, about 1.2e-4.
        assert d_prime_of(test, share) == pytest.approx(printed[number], abs=1.2e-4)
        assert correct_probability(test, d_prime_of(test, share)) == pytest.approx(share, abs=1e-12)


def test_ten_correct_of_fifteen() -> None:
    """sensR's worked example (its documentation of discrim, read)."""
    tetrad = discriminate(TasteTest.TETRAD, 10, 15)
    assert tetrad.d_prime == pytest.approx(1.58778376949614, abs=1e-5)
    assert tetrad.d_prime_se == pytest.approx(0.419305544967608, abs=1e-5)
    assert tetrad.d_prime_low == pytest.approx(0.690727050515248, abs=1e-4)
    assert tetrad.d_prime_high == pytest.approx(2.41533835643047, abs=1e-4)
    assert tetrad.p_difference == pytest.approx(0.008504, abs=5e-7)
    paired = discriminate(TasteTest.PAIRED, 10, 15)
    assert paired.p_difference == pytest.approx(0.15087890625, abs=1e-12)
    assert paired.d_prime == pytest.approx(0.609140388347971, abs=1e-6)
    assert paired.d_prime_se == pytest.approx(0.473412265776244, abs=1e-6)
    duo_trio = discriminate(TasteTest.DUO_TRIO, 10, 15)
    assert duo_trio.d_prime == pytest.approx(1.51885152352487, abs=1e-5)
    assert duo_trio.d_prime_se == pytest.approx(0.71586308378571, abs=1e-5)
    triangle = discriminate(TasteTest.TRIANGLE, 10, 15)
    assert triangle.d_prime == pytest.approx(2.32136197974359, abs=1.2e-4)
    assert triangle.d_prime_se == pytest.approx(0.651036422864387, abs=1e-5)


def test_likeness_of_22_of_75_triangles() -> None:
    """Computed with sensR: similarity at d′ 1, exact."""
    assert likeness_p(TasteTest.TRIANGLE, 22, 75, 1.0) == pytest.approx(0.01773, abs=5e-6)


def test_eleven_of_twenty_triangles() -> None:
    """Printed beside SensoMineR's triangle test (read): p = 0.03764."""
    assert discriminate(TasteTest.TRIANGLE, 11, 20).p_difference == pytest.approx(0.03764, abs=5e-6)


def test_the_upper_tail_holds_the_count_itself() -> None:
    """A published abstract counts 20 of 30 duo–trios with P(X > 20) = .021; the tail is .0494."""
    assert discriminate(TasteTest.DUO_TRIO, 20, 30).p_difference == pytest.approx(0.0494, abs=5e-5)


def test_no_better_than_guesses_has_no_standard_error() -> None:
    found = discriminate(TasteTest.TRIANGLE, 20, 75)
    assert (found.d_prime, found.d_prime_se, found.share) == (0.0, None, 0.0)


BROCKHOFF_1 = (0, 2, 3, 3, 3, 3, 3, 4, 4, 4, 4, 4, 5, 5, 5, 6, 6, 6, 7, 7, 7, 8, 9, 9)
BROCKHOFF_2 = (2, 2, 3, 4, 5, 5, 5, 5, 6, 6, 6, 7, 7, 7, 7, 7, 7, 8, 8, 8, 9, 11, 12)


def test_replicated_triangles_corrected_for_guessing() -> None:
    """Brockhoff's (2003) data sets 1 and 2 as fitted in sensR's test of betabin (read)."""
    first = fit_repeated(TasteTest.TRIANGLE, BROCKHOFF_1, (12,) * 24)
    assert first.mean == pytest.approx(0.11750, abs=5e-5)
    assert first.mean_se == pytest.approx(0.05039, abs=5e-5)
    assert first.unlikeness == pytest.approx(0.21466, abs=5e-5)
    assert first.unlikeness_se == pytest.approx(0.15780, abs=2e-4)
    assert first.correct == pytest.approx(0.41167, abs=5e-6)
    assert first.d_prime == pytest.approx(0.95852, abs=5e-5)
    assert first.log_likelihood == pytest.approx(-53.3124, abs=5e-5)
    assert first.unlike_statistic == pytest.approx(3.031, abs=5e-4)
    assert first.difference_statistic == pytest.approx(9.7077, abs=5e-4)
    assert first.p_difference == pytest.approx(0.007798, abs=5e-6)
    second = fit_repeated(TasteTest.TRIANGLE, BROCKHOFF_2, (12,) * 23)
    assert second.mean == pytest.approx(0.30008, abs=5e-5)
    assert second.unlikeness == pytest.approx(0.24407, abs=5e-5)
    assert second.log_likelihood == pytest.approx(-52.8263, abs=5e-5)
    assert second.unlike_statistic == pytest.approx(8.387, abs=5e-4)


def test_replicated_triangles_plain() -> None:
    """The same set 2 as a plain beta-binomial (sensR, read; it corresponds to Brockhoff 2003)."""
    found = fit_repeated(TasteTest.TRIANGLE, BROCKHOFF_2, (12,) * 23, corrected=False)
    assert found.mean == pytest.approx(0.53409, abs=5e-5)
    assert found.mean_se == pytest.approx(0.04248, abs=5e-5)
    assert found.unlikeness == pytest.approx(0.09094, abs=5e-5)
    assert found.unlikeness_se == pytest.approx(0.04758, abs=5e-5)
    assert found.d_prime == pytest.approx(1.64219, abs=5e-5)
    assert found.log_likelihood == pytest.approx(-53.2017, abs=5e-5)
    assert found.unlike_statistic == pytest.approx(7.6361, abs=5e-4)
    assert found.difference_statistic == pytest.approx(53.7956, abs=5e-4)


def test_tetrads_with_unequal_numbers_of_sets() -> None:
    """sensR's documentation (read): eighteen tasters, six to ten tetrads each."""
    x = (3, 2, 6, 8, 3, 4, 6, 0, 9, 9, 0, 2, 1, 2, 8, 9, 5, 7)
    n = (10, 9, 8, 9, 8, 6, 9, 10, 10, 10, 9, 9, 10, 10, 10, 10, 9, 10)
    found = fit_repeated(TasteTest.TETRAD, x, n, corrected=False)
    assert found.mean == pytest.approx(0.4938123, abs=5e-6)
    assert found.unlikeness == pytest.approx(0.3144258, abs=5e-6)
    assert found.d_prime == pytest.approx(1.00001, abs=5e-5)
    assert found.log_likelihood == pytest.approx(-41.70868, abs=5e-6)
