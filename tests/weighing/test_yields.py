"""Yields on their bases, what two pieces can tell, and where the mass of a piece went."""

from dataclasses import replace

import numpy as np
import pytest

from fairsmoke.quantity import US
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.weighing import MeatState, PartEstimate, Scale, Weighing
from fairsmoke.weighing import (
    Basis,
    Known,
    LedgerError,
    Solution,
    compare_yields,
    covariance,
    piece_ledger,
    solve_ledger,
    yield_of,
    yields_of,
)

BENCH = Scale(id="bench", name="bench scale", resolution_kg=0.005)
COOKED = MeatState.COOKED


def solve(masses: dict[str, float], piece: str = "p", *more: PartEstimate) -> Solution:
    weighings = [
        Weighing(id=f"w{at}", piece=piece, scale="bench", reading_kg=mass, sum=text.split(" + "))
        for at, (text, mass) in enumerate(masses.items())
    ]
    return solve_ledger(weighings, [BENCH], more)


def pair(fat_g: tuple[float, float] | None, left: float, right: float) -> Solution:
    weighings, estimates = [], []
    for piece, off in (("left", left), ("right", right)):
        weighings += [
            Weighing(
                id=f"{piece}-on", piece=piece, scale="bench", reading_kg=5.0, sum=["trimmed meat"]
            ),
            Weighing(
                id=f"{piece}-off",
                piece=piece,
                scale="bench",
                reading_kg=off,
                sum=["cooked meat", "clinging fat"] if fat_g else ["cooked meat"],
            ),
        ]
        if fat_g:
            estimates.append(
                PartEstimate.model_validate(
                    {
                        "id": f"{piece}-fat",
                        "piece": piece,
                        "part": "clinging fat",
                        "low_kg": fat_g[0] / 1000,
                        "high_kg": fat_g[1] / 1000,
                        "why": "invented",
                    }
                )
            )
    return solve_ledger(weighings, [BENCH], estimates)


def test_each_basis_beside_the_named_one() -> None:
    solution = solve(
        {
            "bought meat": 6.0,
            "trimmed meat": 5.0,
            "rub": 0.10,
            "slather": 0.05,
            "added fat": 0.20,
            "cooked meat": 3.0,
        }
    )
    found = {one.basis: one.value for one in yields_of(solution, "p", COOKED)}
    assert found == pytest.approx(
        {
            Basis.TRIMMED: 3 / 5,
            Basis.BOUGHT: 3 / 6,
            Basis.WITH_RUB: 3 / 5.15,
            Basis.WITH_ALL_ADDED: 3 / 5.35,
        },
        abs=2e-4,
    )
    assert next(iter(found)) is Basis.TRIMMED
    row = yield_of(solution, "p", COOKED).row()
    assert str(row.label) == "cooked meat of trimmed raw meat as put on"
    assert str(row.value).startswith("60.00")
    assert str(row.value).endswith(" ± 0.063 %")
    assert str(row.note) == "weighed"


def test_bases_that_nobody_weighed_are_left_out() -> None:
    solution = solve({"trimmed meat": 5.0, "cooked meat": 3.0})
    assert [one.basis for one in yields_of(solution, "p", COOKED)] == [Basis.TRIMMED]
    with pytest.raises(LedgerError, match="no weighing of p names rub or slather"):
        yield_of(solution, "p", COOKED, Basis.WITH_RUB)


@pytest.mark.parametrize(
    ("masses", "piece", "state", "said"),
    [
        (
            {"trimmed meat": 5.0, "cooked meat": 3.0},
            "p",
            MeatState.SERVED,
            "names its served meat; its cooked meat can be told",
        ),
        ({"bought meat": 5.0, "cooked meat": 3.0}, "p", COOKED, "'bought meat' and its 'trim'"),
        ({"trimmed meat": 5.0}, "q", COOKED, "nothing was weighed of q"),
        ({"trimmed meat": 5.0}, "p", MeatState.TRIMMED, "is not what is left after a cook"),
    ],
)
def test_a_yield_that_cannot_be_told_says_what_is_missing(
    masses: dict[str, float], piece: str, state: MeatState, said: str
) -> None:
    with pytest.raises(LedgerError) as caught:
        yield_of(solve(masses), piece, state)
    assert said in str(caught.value)
    assert caught.value.pieces == (piece,)


def test_trim_and_bought_meat_give_the_trimmed_meat() -> None:
    solution = solve({"bought meat": 6.0, "fat trim": 0.7, "lean trim": 0.3, "cooked meat": 3.0})
    left = yield_of(solution, "p", COOKED)
    assert left.value == pytest.approx(0.6, abs=2e-4)
    assert left.how is Known.SOLVED


def test_a_yield_with_an_unweighed_tray_is_an_interval_that_names_it() -> None:
    left = yield_of(solve({"trimmed meat": 5.0, "cooked meat + x tray": 4.0}), "p", COOKED)
    assert left.how is Known.BOUNDED
    assert [part.text for part in left.open_parts] == ["x tray"]
    assert str(left.words) == "2 to 78 % (not weighed: x tray)"
    assert str(left.source_rows()[0].label) == "not weighed: x tray"
    assert left.source_rows()[0].value == "100 %"


def test_meat_later_cannot_outweigh_meat_earlier() -> None:
    # At least the 3 kg that were served were cooked: the tray takes 1 kg at most.
    solution = solve({"trimmed meat": 5.0, "cooked meat + x tray": 4.0, "served meat": 3.0})
    low, high = yield_of(solution, "p", COOKED).interval
    assert 0.6 <= low < high <= 0.8 + 0.001


def test_a_difference_within_the_clinging_fat_is_said_to_be() -> None:
    compared = compare_yields(pair((20, 120), 3.03, 3.00), "left", "right", COOKED)
    # Two rectangular 100 g estimates on 5 kg: a triangle of ± 2 points, 95 % within 1 − √.05.
    assert compared.tellable == pytest.approx(0.02 * (1 - np.sqrt(0.05)), rel=0.02)
    assert not compared.can_tell
    assert str(compared.sentence) == (
        "The difference of 0.6 points is smaller than what the clinging fat can tell (±1.6 points)."
    )


def test_a_difference_beyond_the_scales_is_said_to_be() -> None:
    compared = compare_yields(pair(None, 3.03, 3.00), "left", "right", COOKED)
    assert compared.can_tell
    assert str(compared.sentence).startswith("The difference of 0.60")
    assert "is larger than what these scales can tell" in str(compared.sentence)
    swapped = compare_yields(pair(None, 3.03, 3.00), "right", "left", COOKED)
    assert swapped.spread.mean == pytest.approx(-compared.spread.mean)


def test_scales_and_fat_are_both_named_when_both_matter() -> None:
    sentence = str(compare_yields(pair((20, 35), 3.00, 3.00), "left", "right", COOKED).sentence)
    assert "these scales and the clinging fat" in sentence


def test_covariance_is_that_of_the_draws() -> None:
    solution = pair((20, 120), 3.03, 3.00)
    matrix = covariance(solution, ["left", "right"], COOKED)
    assert matrix.shape == (2, 2)
    assert np.sqrt(matrix[0, 0]) == pytest.approx(
        yield_of(solution, "left", COOKED).standard_uncertainty
    )
    assert covariance(solution, ["left"], COOKED).shape == (1, 1)


WHOLE_COOK = {
    "trimmed meat": 5.57,
    "rub": 0.10,
    "cooked meat": 3.31,
    "held meat": 3.25,
    "served meat": 3.0,
    "drippings": 0.40,
    "hold drippings": 0.04,
    "fresh wrap": 0.03,
    "used wrap": 0.09,
}


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        (
            COOKED,
            {"cooked meat": 3.31, "drippings": 0.40, "soaked into the wrap": 0.06, "rest": 1.90},
        ),
        (
            MeatState.HELD,
            {
                "held meat": 3.25,
                "drippings": 0.40,
                "hold drippings": 0.04,
                "soaked into the wrap": 0.06,
                "rest": 1.92,
            },
        ),
        (
            MeatState.SERVED,
            {
                "served meat": 3.0,
                "bone, waste and lost in serving": 0.25,
                "drippings": 0.40,
                "hold drippings": 0.04,
                "soaked into the wrap": 0.06,
                "rest": 1.92,
            },
        ),
    ],
)
def test_where_the_mass_went(state: MeatState, expected: dict[str, float]) -> None:
    ledger = piece_ledger(solve(WHOLE_COOK), "p", state)
    found = {line.name: line.spread.mean for line in ledger.came_out}
    found["rest"] = found.pop("evaporated and unaccounted for")
    assert found == pytest.approx(expected, abs=2e-4)
    assert [line.name for line in ledger.went_in] == ["trimmed meat", "rub"]
    assert ledger.not_split == ("clinging fat",)


def test_a_ledger_from_bought_meat_shows_the_trim() -> None:
    ledger = piece_ledger(
        solve({"bought meat": 6.0, "trimmed meat": 5.0, "cooked meat": 3.0}), "p", COOKED
    )
    assert [line.name for line in ledger.went_in] == ["bought meat"]
    assert [line.name for line in ledger.came_out] == [
        "trim",
        "cooked meat",
        "evaporated and unaccounted for",
    ]
    rows = ledger.rows()
    assert (rows[1].label, rows[1].note) == ("trim", "20.0 %")
    assert replace(ENGLISH, units=US).say(rows[0].value).startswith("13 lb 3.6")
    assert ledger.not_split == ("drippings", "clinging fat", "soaked into the wrap")


def test_a_ledger_to_a_state_that_nobody_weighed_says_what_to_weigh() -> None:
    with pytest.raises(LedgerError, match="the yield of p cannot be told: no weighing names its"):
        piece_ledger(solve({"trimmed meat": 5.0}), "p", COOKED)
