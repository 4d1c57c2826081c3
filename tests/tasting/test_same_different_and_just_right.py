"""Same–different pairs and just-about-right penalties, by hand calculations."""

import math

import pytest

from fairsmoke.tasting.just_about_right import penalties
from fairsmoke.tasting.same_different import called_same, same_different


def test_fishers_test_of_eight_pairs() -> None:
    """All four same and all four different pairs told right: 1 of C(8, 4) = 70 (Fisher's tea)."""
    found = same_different(
        same_called_same=4, same_pairs=4, different_called_same=0, different_pairs=4
    )
    assert found.p_difference == pytest.approx(1 / 70)
    assert math.isinf(found.d_prime)


def test_what_is_called_same_gives_the_distance_back() -> None:
    threshold, d_prime = 1.2, 1.5
    alike, apart = called_same(0.0, threshold), called_same(d_prime, threshold)
    many = 10**6
    found = same_different(
        same_called_same=round(many * alike),
        same_pairs=many,
        different_called_same=round(many * apart),
        different_pairs=many,
    )
    assert found.d_prime == pytest.approx(d_prime, abs=1e-4)
    assert found.threshold == pytest.approx(threshold, abs=1e-4)


def test_calling_everything_different_proves_nothing() -> None:
    found = same_different(
        same_called_same=0, same_pairs=10, different_called_same=0, different_pairs=10
    )
    assert (found.p_difference, found.d_prime) == (1.0, 0.0)


def test_penalty_by_hand() -> None:
    """Just right: 8, 7, 9 (mean 8). Too salty: 5, 6 (mean 5.5). Too mild: 7."""
    mild, salty = penalties([0, 0, 0, 1, 2, -1], [8, 7, 9, 5, 6, 7])
    assert salty.share == pytest.approx(1 / 3)
    assert salty.drop == pytest.approx(2.5)
    # Variances 1 of 3 and 0.5 of 2: root of 1/3 + 1/4.
    assert salty.standard_error == pytest.approx(math.sqrt(1 / 3 + 1 / 4))
    assert mild.drop == pytest.approx(1.0)
    assert mild.standard_error is None


def test_counts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="both kinds"):
        same_different(same_called_same=3, same_pairs=2, different_called_same=0, different_pairs=1)
    with pytest.raises(ValueError, match="one liking"):
        penalties([0, 1], [5.0])
