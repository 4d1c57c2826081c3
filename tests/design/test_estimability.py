"""Which comparisons are free of which disturbances: textbook layouts with known efficiencies."""

import numpy as np
import pytest

from fairsmoke.design.estimability import (
    Confounding,
    IntArray,
    freedom_clauses,
    freedoms,
    jointly,
    one_line,
    shares_of,
)
from fairsmoke.design.exchange import FloatArray, search, taken_out
from fairsmoke.design.random_words import Chance


def said(names: list[str], arms: IntArray, disturbances: dict[str, FloatArray]) -> str:
    return one_line([str(clause) for clause in freedom_clauses(names, arms, disturbances)])


def test_pairs_with_the_sides_exchanged_are_free_of_day_and_side() -> None:
    arms = np.array([0, 1, 1, 0])
    found = freedoms(arms, 2, {"cook": shares_of("aabb"), "place": shares_of("lrlr")})
    assert [one.confounding for one in found] == [Confounding.NONE, Confounding.NONE]
    assert [one.efficiency for one in found] == pytest.approx([1.0, 1.0])


def test_an_arm_always_on_the_left_is_tied_to_it() -> None:
    arms = np.array([0, 1, 0, 1])
    disturbances = {"cook": shares_of("aabb"), "place": shares_of("lrlr")}
    cook, place = freedoms(arms, 2, disturbances)
    assert cook.confounding is Confounding.NONE
    assert place.confounding is Confounding.COMPLETE
    assert place.leans == 1.0
    assert jointly(arms, 2, disturbances) == {(0, 1): 0.0}
    line = said(["bare", "paper"], arms, disturbances)
    assert "“bare” against “paper” is free of the cook" in line
    assert "cannot be told apart from the place" in line


@pytest.mark.parametrize(("left", "right"), [(2, 1), (3, 1), (4, 1), (3, 2)])
def test_a_lopsided_side_costs_what_regression_says(left: int, right: int) -> None:
    """Arm 0 stands left in ``left`` of n pairs, right in the others: the side is correlated with
    the arm by r = (left - right) / n, so the efficiency is 1 - r² (any text on regression: the
    variance inflation factor is 1 / (1 - r²))."""
    rows = [(0, "l")] * left + [(0, "r")] * right + [(1, "r")] * left + [(1, "l")] * right
    arms = np.array([arm for arm, _ in rows])
    (found,) = freedoms(arms, 2, {"place": shares_of([side for _, side in rows])})
    r = (left - right) / (left + right)
    assert found.confounding is Confounding.PARTIAL
    assert found.efficiency == pytest.approx(1 - r**2)
    assert found.leans == pytest.approx(abs(r))


def test_changing_places_halfway_frees_one_pair_of_the_place() -> None:
    both = np.array([[0.5, 0.5], [0.5, 0.5]])
    (found,) = freedoms(np.array([0, 1]), 2, {"place": both})
    assert found.confounding is Confounding.NONE


def test_a_place_for_every_piece_is_said_and_not_called_tied() -> None:
    arms = np.array([0, 1, 1, 0])
    line = said(["a", "b"], arms, {"place": shares_of("1234")})
    assert line == (
        "Every piece has a place of its own, so chance alone shares out what the place does."
    )


def test_search_finds_the_known_best_layouts() -> None:
    """Blocks of two for three arms: the balanced layout; and no layout for arms tied by numbers."""
    cook = shares_of("aabbcc")
    found = search(cook, 3, Chance(1))
    assert found.complete
    assert found.estimable
    for layout in found.layouts:
        pairs = {tuple(sorted(layout[at : at + 2])) for at in (0, 2, 4)}
        assert pairs == {(0, 1), (0, 2), (1, 2)}
    # 3! orders of the blocks, 2³ within them.
    assert len(found.layouts) == 48
    assert not search(shares_of("ab"), 2, Chance(1)).estimable


def test_exchange_reaches_what_trying_all_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    from fairsmoke.design import exchange

    columns = np.column_stack([shares_of("aaabbbcc"), shares_of("12312312")])
    for criterion in ("A", "D"):
        every = search(columns, 2, Chance(2), which=criterion)
        monkeypatch.setattr(exchange, "MOST_LISTED", 0)
        climbed = search(columns, 2, Chance(2), which=criterion)
        monkeypatch.undo()
        assert every.complete
        assert not climbed.complete
        assert climbed.value == pytest.approx(every.value, rel=1e-9)


def test_what_is_taken_out_is_gone() -> None:
    cook = shares_of("aabb")
    rest = taken_out(cook)
    assert np.allclose(rest @ cook, 0.0, atol=1e-12)
    assert np.allclose(rest @ rest, rest, atol=1e-12)
