"""The matching of pieces against scipy's assignment on total cost, and against every matching."""

from collections.abc import Iterator

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from fairsmoke.design.errors import DesignError
from fairsmoke.design.matching import cost_of, dissimilarity, matched_sets, misfits
from fairsmoke.trial.plan import PlannedPiece


def pieces(n: int, seed: int, arms: tuple[str, ...] = ()) -> tuple[PlannedPiece, ...]:
    rng = np.random.default_rng(seed)
    return tuple(
        PlannedPiece(
            id=f"p-{i}",
            mass_kg=float(rng.uniform(3, 6)),
            thick_m=float(rng.uniform(0.08, 0.13)),
            grade=str(rng.choice(["choice", "prime"])),
            arm=arms[i % len(arms)] if arms else None,
        )
        for i in range(n)
    )


def every_partition(members: list[int], size: int) -> Iterator[list[tuple[int, ...]]]:
    """Every way to split members into sets of a size, by brute force."""
    from itertools import combinations

    if not members:
        yield []
        return
    first, rest = members[0], members[1:]
    for others in combinations(rest, size - 1):
        left = [member for member in rest if member not in others]
        for more in every_partition(left, size):
            yield [(first, *others), *more]


@pytest.mark.parametrize("seed", range(6))
def test_two_pools_cost_what_the_assignment_costs(seed: int) -> None:
    own = pieces(14, seed, ("bare", "paper"))
    first, second = own[::2], own[1::2]
    costs = np.array([[dissimilarity(one, other) for other in second] for one in first])
    rows, columns = linear_sum_assignment(costs)
    found = matched_sets(own, 2, 7)
    assert found.cost == pytest.approx(float(costs[rows, columns].sum()), rel=1e-12)
    assert all({own[i].arm for i in one} == {"bare", "paper"} for one in found.sets)


@pytest.mark.parametrize("seed", range(4))
def test_two_pools_with_some_to_spare(seed: int) -> None:
    own = pieces(9, seed, ("bare", "paper"))
    found = matched_sets(own, 2, 3)
    best = min(
        sum(dissimilarity(own[i], own[j]) for i, j in zip(mine, others, strict=True))
        for mine in _subsets([0, 2, 4, 6, 8], 3)
        for others in _arranged([1, 3, 5, 7], 3)
    )
    assert found.cost == pytest.approx(best, rel=1e-12)
    assert len(found.spare) == 3


def _subsets(members: list[int], size: int) -> Iterator[tuple[int, ...]]:
    from itertools import combinations

    yield from combinations(members, size)


def _arranged(members: list[int], size: int) -> Iterator[tuple[int, ...]]:
    from itertools import permutations

    yield from permutations(members, size)


@pytest.mark.parametrize(("n", "size"), [(8, 2), (10, 2), (9, 3), (8, 4)])
@pytest.mark.parametrize("seed", range(3))
def test_one_pool_costs_the_least_of_all_matchings(n: int, size: int, seed: int) -> None:
    own = pieces(n, 50 + seed)
    best = min(
        sum(cost_of(own, one) for one in partition)
        for partition in every_partition(list(range(n)), size)
    )
    assert matched_sets(own, size, n // size).cost == pytest.approx(best, rel=1e-9)


def test_greedy_would_have_been_dearer() -> None:
    masses = (3.0, 3.3, 3.36, 3.7)
    own = tuple(PlannedPiece(id=f"p-{i}", mass_kg=m) for i, m in enumerate(masses))
    found = matched_sets(own, 2, 2)
    assert found.sets == ((0, 1), (2, 3))
    assert cost_of(own, (1, 2)) + cost_of(own, (0, 3)) > 1.5 * found.cost


def test_pieces_that_do_not_match_are_named_with_how_much() -> None:
    own = (
        PlannedPiece(id="a", name="The small one", mass_kg=3.0, thick_m=0.1),
        PlannedPiece(id="b", mass_kg=4.5, thick_m=0.105, grade="prime"),
    )
    (found,) = misfits(own, [(0, 1)])
    names, apart = found
    assert names == ["The small one", "b"]
    assert [str(one) for one in apart] == ["b is 50 % heavier than The small one"]


def test_too_few_pieces_are_refused() -> None:
    with pytest.raises(DesignError, match=r"need 6 pieces.* there are 5"):
        matched_sets(pieces(5, 1), 2, 3)
