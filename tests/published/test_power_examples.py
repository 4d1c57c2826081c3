"""Power of paired differences against worked examples and tables, source beside each."""

import math

import pytest

from fairsmoke.planning.size.power import paired_power, pairs_needed, smallest_found


def test_dalgaard_paired_example() -> None:
    # Dalgaard, Introductory Statistics with R, section 8.3 (read): within-person sd 10, a paired
    # test at 5 % to find 10 with power 85 % takes 19.96892 pairs, so 20.
    assert pairs_needed(10, 10 * math.sqrt(2), 0.85) == 20
    powers = [paired_power(10, 10 * math.sqrt(2), n) or 0.0 for n in (19, 20)]
    assert powers[0] < 0.85 <= powers[1]


def test_cohen_paired_example() -> None:
    # Cohen (1988) p. 50: 40 pairs, means 8 apart, sd 16, correlation .60 (setting read in R's pwr);
    # power .93 as printed from memory.
    found = paired_power(8, 16 * math.sqrt(2 * (1 - 0.6)), 40)
    assert found == pytest.approx(0.93, abs=0.005)


def test_the_usual_half_a_standard_deviation() -> None:
    # R's power.t.test(delta = .5, power = .8, type = "paired"): 33.37, so 34 (stats.md, computed).
    assert pairs_needed(0.5, 1.0) == 34


@pytest.mark.parametrize(
    ("d", "powers"),
    [
        (0.5, [0.0841, 0.1113, 0.1405, 0.1707, 0.2013, 0.2321, 0.2627, 0.2932]),
        (1.0, [0.1793, 0.2888, 0.4014, 0.5068, 0.6005, 0.6808, 0.7480, 0.8031]),
        (2.0, [0.4707, 0.7550, 0.9089, 0.9705, 0.9913, 0.9976, 0.9994, 0.9998]),
    ],
)
def test_table_of_small_numbers_of_pairs(d: float, powers: list[float]) -> None:
    # Computed by R's power.t.test with both tails, 3 to 10 pairs (shared/references/stats.md 6.1).
    found = [paired_power(d, 1.0, n) for n in range(3, 11)]
    assert found == pytest.approx(powers, abs=5e-5)
    assert smallest_found(1.0, 10, powers[-1]) == pytest.approx(d, rel=0.05)
