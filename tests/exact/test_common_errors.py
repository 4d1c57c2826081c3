"""One estimate for many pieces and one load on one scale are one unknown each, by hand.

The worked example of correlated inputs is JCGM 100:2008 (GUM) 5.2.2, EXAMPLE, explained in
F.1.2.3: ten resistors calibrated against one standard, each known to 100 mΩ; their sum is known to
1 Ω, not to the 0.32 Ω that independent errors would give (from memory, the figures printed there).
"""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from fairsmoke.trial.weighing import MeatState, Part, PartEstimate, Scale, Weighing
from fairsmoke.weighing import Solution, compare_yields, solve_ledger, yield_of
from fairsmoke.weighing.system import build_system
from fairsmoke.weighing.yields import covariance, shared_estimates

FINE = Scale(id="fine", name="fine scale", resolution_kg=1e-6)
OFF = Scale(id="off", name="off scale", resolution_kg=1e-6, max_error_kg=0.010)
COOKED = MeatState.COOKED
SIX = [f"p{n}" for n in range(6)]


def weigh(id_: str, kg: float, text: str, piece: str = "p0", scale: str = "fine") -> Weighing:
    return Weighing(
        id=id_,
        piece=piece,
        scale=scale,
        reading_kg=kg,
        sum=[part.strip() for part in text.split("+")],
    )


def fat(piece: str, low: float, high: float, shape: str = "rectangular") -> PartEstimate:
    best = None if shape == "rectangular" else (low + high) / 2
    return PartEstimate(
        id=f"fat-{piece}",
        piece=piece,
        part="clinging fat",
        low_kg=low,
        high_kg=high,
        best_kg=best,
        shape=shape,
        why="scraped off one of them",
    )


def of_all(solution: Solution, text: str) -> np.ndarray:
    """The gradient of the sum over pieces of a part."""
    gradient = np.zeros(len(solution.system.parts))
    for at, one in enumerate(solution.system.parts):
        gradient[at] = float(one.part == Part.parse(text))
    return gradient


def test_gum_ten_of_one_standard_are_known_to_1_and_not_to_032() -> None:
    ten = [f"p{n}" for n in range(10)]
    half = 0.1 * 1.959963984540054  # normal, sd 0.1 kg
    fats = [fat(piece, 1.0 - half, 1.0 + half, "normal") for piece in ten]
    weighed = [weigh(f"w{piece}", 2.0, "cooked meat", piece) for piece in ten]
    u = {}
    for name, arms in (("one", dict.fromkeys(ten, "a")), ("apart", {})):
        solution = solve_ledger(weighed, [FINE], fats, arms=arms)
        gradient = of_all(solution, "clinging fat")
        drawn = gradient @ solution.drawn_kg
        u[name] = solution.first_order(gradient)[0]
        assert float(np.std(drawn)) == pytest.approx(u[name], rel=0.02)
    assert u["one"] == pytest.approx(1.0, abs=0.005)
    assert u["apart"] == pytest.approx(0.32, abs=0.005)


@pytest.fixture(scope="module")
def guessed() -> Solution:
    """Six bare pieces whose clinging fat is guessed at 50 to 450 g, and one of the other arm."""
    names = [*SIX, "other"]
    weighings = [weigh(f"on-{p}", 6.0, "trimmed meat", p) for p in names]
    weighings += [weigh(f"off-{p}", 4.0, "cooked meat + clinging fat", p) for p in names]
    arms = {**dict.fromkeys(SIX, "bare"), "other": "wrapped"}
    return solve_ledger(weighings, [FINE], [fat(p, 0.050, 0.450) for p in names], arms=arms)


def test_one_guess_for_six_pieces_does_not_average_out(guessed: Solution) -> None:
    # u of one yield by hand: (0.450 - 0.050) / sqrt(12) over 6 kg; the mean of six has the same.
    u = 0.400 / math.sqrt(12) / 6.0
    cov = covariance(guessed, SIX, COOKED)
    assert np.sqrt(np.full(6, 1 / 6) @ cov @ np.full(6, 1 / 6)) == pytest.approx(u, rel=0.01)
    assert cov == pytest.approx(u**2, rel=0.02)
    for first, second in pairwise(SIX):
        assert compare_yields(guessed, first, second, COOKED).first_order < 1e-6
    assert yield_of(guessed, "p0", COOKED).first_order == pytest.approx(u, rel=1e-3)


def test_the_other_arm_has_a_guess_of_its_own(guessed: Solution) -> None:
    u = 0.400 / math.sqrt(12) / 6.0
    assert compare_yields(guessed, "p0", "other", COOKED).first_order == pytest.approx(
        math.sqrt(2) * u, rel=1e-3
    )
    found = shared_estimates(guessed, [*SIX, "other"], COOKED)
    assert found == {"clinging fat": tuple(SIX)}


def test_guesses_with_other_limits_are_wrong_the_same_way() -> None:
    """0 to 0.4 kg and 0 to 0.8 kg: the sum has u = 1.2 / sqrt(12), not the root of the squares."""
    weighings = [weigh(f"off-{p}", 4.0, "cooked meat + clinging fat", p) for p in SIX[:2]]
    fats = [fat("p0", 0.0, 0.4), fat("p1", 0.0, 0.8)]
    solution = solve_ledger(weighings, [FINE], fats, arms=dict.fromkeys(SIX, "bare"))
    gradient = of_all(solution, "clinging fat")
    assert solution.first_order(gradient)[0] == pytest.approx(1.2 / math.sqrt(12), rel=1e-4)
    assert np.std(gradient @ solution.drawn_kg) == pytest.approx(1.2 / math.sqrt(12), rel=0.02)


@pytest.mark.parametrize("shape", ["rectangular", "triangular", "normal"])
def test_quantiles_of_a_guess_are_those_of_scipy(shape: str) -> None:
    guess = fat("p0", 0.1, 0.5, shape).model_copy(
        update={"best_kg": None if shape == "rectangular" else 0.2}
    )
    (seen,) = (
        one
        for one in build_system([weigh("w", 1.0, "clinging fat")], [FINE], [guess]).observations
        if one.is_estimate
    )
    expected = {
        "rectangular": stats.uniform(0.1, 0.4),
        "triangular": stats.triang(0.25, 0.1, 0.4),
        "normal": stats.norm(0.2, 0.4 / (2 * 1.959963984540054)),
    }[shape]
    at = np.array([0.01, 0.2, 0.25, 0.5, 0.9, 0.999])
    assert seen.law is not None
    assert seen.law.ppf(at) == pytest.approx(expected.ppf(at))


def test_four_weighings_of_one_load_keep_the_error_of_the_scale() -> None:
    """Greatest error 10 g: 10 / sqrt(3) = 5.77 g, however often; apart it would be 2.89 g."""
    four = [weigh(f"w{n}", 4.0, "cooked meat", scale="off") for n in range(4)]
    solution = solve_ledger(four, [OFF])
    u, _ = solution.first_order(of_all(solution, "cooked meat"))
    assert 1000 * u == pytest.approx(5.77, abs=0.005)
    assert 1000 * float(np.std(solution.drawn_kg[0])) == pytest.approx(5.77, abs=0.06)


def test_a_display_that_repeats_itself_was_rounded_alike() -> None:
    """GUM F.2.2.1: identical indications leave 0.29 of the step, however many there are."""
    coarse = Scale(id="fine", name="coarse", resolution_kg=0.010, repeatability_kg=0.004)
    readings = [4.00, 4.00, 4.00, 4.01]
    four = [weigh(f"w{n}", kg, "cooked meat") for n, kg in enumerate(readings)]
    solution = solve_ledger(four, [coarse])
    u, sources = solution.first_order(of_all(solution, "cooked meat"))
    step2 = 10.0**2 / 12
    # Mean of four: three share one rounding (9/16), one has its own (1/16); repeatability 16/4.
    assert (1000 * u) ** 2 == pytest.approx(step2 * 10 / 16 + 4.0**2 / 4, rel=1e-6)
    assert sum(one.share for one in sources) == pytest.approx(1.0)


def test_another_load_has_an_error_of_its_own() -> None:
    pair = [
        weigh("on", 6.0, "trimmed meat", scale="off"),
        weigh("off", 4.0, "cooked meat", scale="off"),
    ]
    assert not any(one.common for one in solve_ledger(pair, [OFF]).system.observations)


def test_pieces_that_nothing_ties_have_no_covariance(guessed: Solution) -> None:
    cov = covariance(guessed, [*SIX, "other"], COOKED)
    assert np.all(cov[:6, 6] == 0.0)
    assert np.all(cov[6, :6] == 0.0)
    assert np.all(cov[:6, :6] > 0.0)
    assert cov[6, 6] > 0.0


def test_pieces_that_share_a_tray_are_tied() -> None:
    weighings = [
        weigh("tray", 0.8, "green tray"),
        *(weigh(f"on-{p}", 6.8, "trimmed meat + green tray", p) for p in SIX[:2]),
        *(weigh(f"off-{p}", 4.0, "cooked meat", p) for p in SIX[:2]),
    ]
    coarse = Scale(id="fine", name="coarse", resolution_kg=0.005)
    cov = covariance(solve_ledger(weighings, [coarse]), SIX[:2], COOKED)
    assert cov[0, 1] > 0.2 * cov[0, 0]
