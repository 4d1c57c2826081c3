"""What is possible where weighings leave it open: linear programs and regions solved by hand."""

import numpy as np
import pytest

from fairsmoke.weighing.possible import FeasibleRegion, least_stretch, possible_range, regions

RNG_SEED = 1


@pytest.mark.parametrize(
    ("row", "least_kg", "most_kg"),
    [
        # Meat and tray: 3.9 to 4.3 kg together, neither below 0.
        ([1.0, 0.0], 0.0, 4.3),
        ([0.0, 2.0], 0.0, 8.6),
        ([1.0, 1.0], 3.9, 4.3),
        # A range is of masses: below 0 there is none.
        ([1.0, -1.0], 0.0, 4.3),
        ([-1.0, -1.0], 0.0, 0.0),
    ],
)
def test_the_range_of_a_mass(row: list[float], least_kg: float, most_kg: float) -> None:
    found = possible_range(
        np.array(row),
        np.array([[1.0, 1.0]]),
        np.array([4.0]),
        np.array([[-0.1, 0.3]]),
        np.eye(2),
    )
    assert found == pytest.approx((least_kg, most_kg), abs=1e-9)


@pytest.mark.parametrize(
    ("reach", "share", "mass_kg", "pull"),
    [
        # Meat of 1.0 kg, meat and tray 0.9 kg: 1 - 0.2 s <= 0.9 + 0.2 s.
        ([[-0.2, 0.2], [-0.2, 0.2]], 0.25, 0.95, 2.5),
        # 1 - 0.3 s <= 0.9 + 0.2 s: what the other ends reach does not matter.
        ([[-0.3, 0.1], [-0.1, 0.2]], 0.2, 0.94, 2.0),
    ],
)
def test_how_far_observations_must_bend(
    reach: list[list[float]], share: float, mass_kg: float, pull: float
) -> None:
    design = np.array([[1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    fitted = np.array([1.0, 0.9, 2.0])
    found = least_stretch(design, fitted, np.array([*reach, [-0.1, 0.1]]), np.eye(3))
    assert found.share == pytest.approx(share)
    assert found.masses[:2] == pytest.approx([mass_kg, 0.0], abs=1e-9)
    # Only the tray's own sum pulls, by what the share gains per kg; the third weighing stays.
    assert found.pull == pytest.approx([0.0, pull, 0.0], abs=1e-9)
    assert found.bent.tolist() == [True, True, False]


def test_what_fits_need_not_bend() -> None:
    reach = np.array([[-0.1, 0.1], [-0.1, 0.1]])
    found = least_stretch(
        np.array([[1.0, 0.0], [1.0, 1.0]]), np.array([1.0, 1.5]), reach, np.eye(2)
    )
    assert found.share == pytest.approx(0.0, abs=1e-12)
    assert found.masses == pytest.approx([1.0, 0.5])
    # Weighed too light by more than the scale can err: above 1.
    far = least_stretch(np.array([[1.0]]), np.array([-0.3]), reach[:1], np.eye(1))
    assert far.share == pytest.approx(3.0)
    assert far.masses == pytest.approx([0.0], abs=1e-9)


def region(turned: list[list[float]], at: list[int], start: list[float]) -> FeasibleRegion:
    slopes = np.array(turned)
    return FeasibleRegion(np.eye(slopes.shape[1]), np.array(at), slopes, np.array(start))


@pytest.mark.parametrize(
    ("slopes", "at", "rows"),
    [
        # z >= -a / 2 and z <= c: room as long as a / 2 + c >= 0, in units of the steepest.
        ([2.0, -1.0], [0, 2], [[1.0, 0.0, 2.0, 0.0]]),
        ([2.0, 1.0, -4.0], [0, 1, 3], [[2.0, 0.0, 0.0, 1.0], [0.0, 4.0, 0.0, 1.0]]),
        ([1.0, -4.0, 0.0, -2.0], [0, 1, 2, 3], [[4.0, 1.0, 0.0, 0.0], [4.0, 0.0, 0.0, 2.0]]),
    ],
)
def test_when_one_open_way_has_room(
    slopes: list[float], at: list[int], rows: list[list[float]]
) -> None:
    offset, found = region([[one] for one in slopes], at, [0.0]).demands(4)
    assert found == pytest.approx(np.array(rows))
    assert offset.tolist() == [0.0] * len(rows)


TRIANGLE = region([[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]], [0, 2, 3], [0.2, 0.3])


def test_when_several_open_ways_have_room() -> None:
    # The start has to stay inside: each sum at it is 0 or more.
    offset, rows = TRIANGLE.demands(4)
    assert offset == pytest.approx([0.2, 0.3, -0.5])
    assert rows.tolist() == [[1, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]


def test_draws_along_one_way_are_even() -> None:
    one = region([[2.0], [-1.0]], [0, 2], [0.0])
    slack = np.tile([[3.0], [99.0], [0.5]], 20_000)
    (drawn,) = one.draw(slack, np.random.default_rng(RNG_SEED))
    # -3 / 2 <= z <= 0.5: a rectangle of width 2.
    assert -1.5 <= drawn.min() < -1.499
    assert 0.499 < drawn.max() <= 0.5
    assert np.mean(drawn) == pytest.approx(-0.5, abs=0.02)
    assert np.var(drawn) == pytest.approx(4 / 12, rel=0.03)
    # No room at all: the one end, not beyond it.
    none = one.draw(np.array([[-2.0], [99.0], [0.5]]), np.random.default_rng(RNG_SEED))
    assert none.tolist() == [[1.0]]


def test_draws_along_two_ways_are_even_over_the_triangle() -> None:
    slack = np.tile([[0.0], [99.0], [0.0], [1.0]], 6000)
    drawn = TRIANGLE.draw(slack, np.random.default_rng(RNG_SEED))
    assert drawn.shape == (2, 6000)
    assert drawn.min() >= -1e-12
    assert drawn.sum(axis=0).max() <= 1 + 1e-12
    # Moments of the even triangle: 1/3, variance 1/18, covariance -1/36.
    assert drawn.mean(axis=1) == pytest.approx([1 / 3, 1 / 3], abs=0.01)
    assert np.cov(drawn) == pytest.approx(
        np.array([[1 / 18, -1 / 36], [-1 / 36, 1 / 18]]), abs=0.004
    )
    # Each column has limits of its own.
    wide = TRIANGLE.draw(slack * np.linspace(1, 2, 6000), np.random.default_rng(RNG_SEED))
    assert wide[:, 3000:].sum(axis=0).max() > 1.5


def opened(*ways: list[float]) -> np.ndarray:
    return np.linalg.qr(np.array(ways).T)[0]


def test_what_does_not_touch_is_apart() -> None:
    # Two trays with their meat, and one mass that is known.
    ways = opened([1.0, -1.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 1.0, -1.0])
    ranges = np.array([[0.0, 2.0], [1.0, 3.0], [5.0, 5.0], [0.0, 0.5], [0.25, 0.75]])
    first, second = regions(ways, np.eye(5), np.array([1.0, 2.0, 5.0, 0.3, 0.3]), ranges)
    for found, at, width in ((first, [0, 1], 2.0), (second, [3, 4], 0.5)):
        assert found.at.tolist() == at
        assert found.start.tolist() == [0.0]
        # One way, as long as what the masses can range over; what one gains the other loses.
        assert np.abs(found.ways[at, 0]) == pytest.approx([width, width])
        assert found.ways.sum() == pytest.approx(0.0, abs=1e-12)
        assert np.count_nonzero(np.abs(found.ways) > 1e-9) == 2
        assert found.turned == pytest.approx(found.ways[at])


def test_a_sum_links_what_it_touches() -> None:
    ways = opened([1.0, -1.0, 0.0, 0.0], [0.0, 0.0, 1.0, -1.0])
    sums = np.vstack([np.eye(4), [1.0, 0.0, -1.0, 0.0]])
    (found,) = regions(ways, sums, np.array([1.0, 1.0, 0.5, 0.5]), np.tile([0.0, 1.0], (4, 1)))
    assert found.at.tolist() == [0, 1, 2, 3, 4]
    assert found.ways.shape == (4, 2)
    # A sum of what is known is of no region.
    known = regions(opened([1.0, -1.0, 0.0]), np.eye(3), np.ones(3), np.tile([0.0, 1.0], (3, 1)))
    assert [one.at.tolist() for one in known] == [[0, 1]]


def test_the_start_is_the_middle_of_the_largest_ball() -> None:
    """Three masses of 3 kg together. With two of them as ways in units of 3 kg, a ball of radius r
    leaves 3 r, 3 r and 3 sqrt(2) r to their sums: r = 1 / (2 + sqrt(2)).
    """
    ways = opened([1.0, -1.0, 0.0], [0.0, 1.0, -1.0])
    base = np.array([2.0, 0.5, 0.5])
    (found,) = regions(ways, np.eye(3), base, np.tile([0.0, 3.0], (3, 1)))
    radius = 1 / (2 + np.sqrt(2))
    masses = base + found.ways @ found.start
    assert np.sort(masses) == pytest.approx([3 * radius, 3 * radius, 3 * np.sqrt(2) * radius])
    # Each way is the mass of one part: 3 kg of it, and nothing of the other.
    chosen = [at for at in range(3) if np.count_nonzero(np.abs(found.ways[at]) > 1e-9) == 1]
    assert np.sort(found.ways[chosen], axis=None) == pytest.approx([0.0, 0.0, 3.0, 3.0], abs=1e-9)


def test_what_can_hardly_range_still_has_a_way() -> None:
    ways = opened([1.0, -1.0])
    (found,) = regions(ways, np.eye(2), np.ones(2), np.array([[1.0, 1.0], [1.0, 1.0]]))
    assert np.abs(found.ways[:, 0]) == pytest.approx([1e-9, 1e-9], rel=1e-6)
