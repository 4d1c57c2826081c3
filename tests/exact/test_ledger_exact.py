"""The mass ledger against answers worked out by hand or by quadrature. Masses in kg."""

import numpy as np
import pytest
from scipy import integrate, stats

from fairsmoke.trial.weighing import MeatState, Part, PartEstimate, Scale, Weighing
from fairsmoke.weighing import (
    Known,
    Solution,
    compare_yields,
    covariance,
    solve_ledger,
    yield_of,
)
from fairsmoke.weighing.draws import Demands, draw_errors
from fairsmoke.weighing.solve import CONFLICT_LEVEL

COOKED = MeatState.COOKED
SCALE = Scale(id="bench", name="bench", resolution_kg=0.001)
GAUSSIAN = Scale(id="bench", name="bench", resolution_kg=1e-7, repeatability_kg=0.002)


def weigh(id_: str, reading_kg: float, sum_text: str, piece: str | None = "p") -> Weighing:
    return Weighing(
        id=id_, piece=piece, scale="bench", reading_kg=reading_kg, sum=sum_text.split(" + ")
    )


def mean_of(solution: Solution, part: str, piece: str | None = "p") -> float:
    known = solution.known(piece, Part.parse(part))
    assert known.spread is not None
    return known.spread.mean


def u_of(solution: Solution, part: str, piece: str | None = "p") -> float:
    known = solution.known(piece, Part.parse(part))
    assert known.spread is not None
    return known.spread.standard_uncertainty


def test_a_chain_of_sums_solved_by_hand() -> None:
    # tray .83; trimmed 6.40 − .83 = 5.57; trim 6.00 − 5.57 = .43; wrap used .09;
    # cooked 4.226 − .83 − .09 = 3.306.
    solution = solve_ledger(
        [
            weigh("w1", 0.830, "green tray", None),
            weigh("w2", 6.400, "trimmed meat + green tray"),
            weigh("w3", 6.000, "bought meat"),
            weigh("w4", 0.090, "used wrap"),
            weigh("w5", 4.226, "cooked meat + used wrap + green tray"),
        ],
        [SCALE],
    )
    for part, mass in [("trimmed meat", 5.57), ("trim", 0.43), ("cooked meat", 3.306)]:
        assert mean_of(solution, part) == pytest.approx(mass, abs=2e-5)
    step = 0.001 / np.sqrt(12)
    assert u_of(solution, "trimmed meat") == pytest.approx(step * np.sqrt(2), rel=0.02)
    assert u_of(solution, "cooked meat") == pytest.approx(step * np.sqrt(3), rel=0.02)
    # Common practice, no source: 5570 g on and 3306 g off leave 59.4 %.
    left = yield_of(solution, "p", COOKED)
    assert left.value == pytest.approx(3.306 / 5.570, abs=1e-5)
    assert str(left.words).startswith("59.35")


@pytest.mark.parametrize(("step_g", "u_points"), [(1, 0.0352), (2, 0.0705), (5, 0.1762)])
def test_cook_loss_with_nothing_but_the_step_of_the_scale(step_g: float, u_points: float) -> None:
    # 1000 g to 700 g; u of the loss in points by closed form, from our references section 9.
    scale = Scale(id="bench", name="bench", resolution_kg=step_g / 1000)
    solution = solve_ledger(
        [weigh("on", 1.0, "trimmed meat"), weigh("off", 0.7, "cooked meat")], [scale]
    )
    left = yield_of(solution, "p", COOKED)
    assert 100 * left.first_order == pytest.approx(u_points, abs=6e-5)
    assert left.standard_uncertainty == pytest.approx(left.first_order, rel=0.02)
    assert [(source.name, source.share) for source in left.sources] == [("scale resolution", 1.0)]


def test_each_source_of_a_scale_has_its_share() -> None:
    scale = Scale(
        id="bench", name="b", resolution_kg=0.012, repeatability_kg=0.004, max_error_kg=0.006
    )
    solution = solve_ledger(
        [weigh("on", 1.0, "trimmed meat"), weigh("off", 0.7, "cooked meat")], [scale]
    )
    # Variances in g²: 144 / 12 = 12, 16 and 36 / 3 = 12, whatever the weighing.
    shares = {source.name: source.share for source in yield_of(solution, "p", COOKED).sources}
    assert shares == pytest.approx(
        {"scale repeatability": 0.4, "scale resolution": 0.3, "scale error": 0.3}
    )


def test_two_weighings_of_one_part_meet_at_their_weighted_mean() -> None:
    fine = Scale(id="fine", name="fine", resolution_kg=1e-7, repeatability_kg=0.001)
    twice = Weighing(id="w2", piece="p", scale="fine", reading_kg=3.003, sum=["cooked meat"])
    solution = solve_ledger([weigh("w1", 3.000, "cooked meat"), twice], [GAUSSIAN, fine])
    # Weights 1 / 4 and 1 / 1: (3.000 + 4 · 3.003) / 5, u = 1 / √1.25 g, χ² = 9 / 5 on 1.
    assert mean_of(solution, "cooked meat") == pytest.approx(3.0024, abs=3e-5)
    assert u_of(solution, "cooked meat") == pytest.approx(0.001 / np.sqrt(1.25), rel=0.02)
    assert not solution.disagreements


def test_a_disagreement_is_measured_by_chi_square() -> None:
    solution = solve_ledger(
        [
            weigh("w1", 5.570, "trimmed meat"),
            weigh("w2", 0.430, "trim"),
            weigh("w3", 6.310, "bought meat"),
        ],
        [GAUSSIAN],
    )
    (disagreement,) = solution.disagreements
    # Misclosure 310 g, u = 2 g · √3.
    chi2 = (0.310 / 0.002) ** 2 / 3
    assert disagreement.dof == 1
    assert disagreement.chi2 == pytest.approx(chi2, rel=1e-6)
    off = {suspect.observation.id: suspect.off_kg for suspect in disagreement.suspects}
    assert off == pytest.approx({"w1": -0.310, "w2": -0.310, "w3": 0.310})
    # Trimmed meat takes a third of the misclosure; its u, 2 g · √(2/3), widens by √χ².
    assert mean_of(solution, "trimmed meat") == pytest.approx(5.570 + 0.310 / 3, abs=0.005)
    assert solution.first_order(np.eye(3)[_place(solution, "trimmed meat")])[0] == pytest.approx(
        0.002 * np.sqrt(2 / 3) * np.sqrt(chi2), rel=1e-6
    )


def _place(solution: Solution, part: str) -> int:
    return next(at for at, p in enumerate(solution.system.parts) if p.part.text == part)


@pytest.mark.parametrize("readings_kg", [(3.0, 3.0 + 1.6e-3 * 6), (3.0, 3.0 + 1.4e-3 * 6)])
def test_disagreement_starts_at_its_level(readings_kg: tuple[float, float]) -> None:
    solution = solve_ledger(
        [weigh(f"w{at}", kg, "cooked meat") for at, kg in enumerate(readings_kg)], [GAUSSIAN]
    )
    z = (readings_kg[1] - readings_kg[0]) / (0.002 * np.sqrt(2))
    assert bool(solution.disagreements) == (2 * stats.norm.sf(z) < CONFLICT_LEVEL)


def test_an_unweighed_tray_with_one_way_open() -> None:
    # cooked + tray = 4, trimmed 3: cooked anywhere from 0 to 3, as nothing was added to it.
    solution = solve_ledger(
        [weigh("w1", 3.0, "trimmed meat"), weigh("w2", 4.0, "cooked meat + old tray")], [SCALE]
    )
    cooked = solution.known("p", Part.parse("cooked meat"))
    assert cooked.how is Known.BOUNDED
    assert cooked.possible_kg == pytest.approx((0.0, 3.0), abs=1e-6)
    assert cooked.spread is not None
    assert cooked.spread.mean == pytest.approx(1.5, abs=0.03)
    assert cooked.spread.standard_uncertainty == pytest.approx(3 / np.sqrt(12), rel=0.02)
    assert (cooked.spread.low, cooked.spread.high) == pytest.approx((0.075, 2.925), abs=0.03)
    tray = solution.known(None, Part.parse("old tray"))
    assert tray.possible_kg == pytest.approx((1.0, 4.0), abs=1e-6)
    left = yield_of(solution, "p", COOKED)
    assert left.interval == pytest.approx((0.025, 0.975), abs=0.01)
    assert left.sources[0].name == "not weighed: old tray"
    assert left.sources[0].share == pytest.approx(1.0, abs=1e-6)


def test_parts_never_told_apart_share_a_sum_evenly() -> None:
    # A point drawn evenly from a + b + c + d = 2 is Dirichlet(1, 1, 1, 1): mean 1/2, and each
    # share Beta(1, 3), variance 3 / 80; correlations −1/3.
    names = ("cooked meat", "used wrap", "drippings", "clinging fat")
    solution = solve_ledger([weigh("w", 2.0, " + ".join(names))], [SCALE], draws=40_000)
    drawn = np.stack([solution.drawn_kg[_place(solution, name)] for name in names])
    assert drawn.sum(axis=0) == pytest.approx(2.0, abs=5.1e-4)
    assert drawn.mean(axis=1) == pytest.approx([0.5] * 4, abs=0.01)
    assert drawn.std(axis=1) == pytest.approx([2 * np.sqrt(3 / 80)] * 4, rel=0.02)
    assert np.corrcoef(drawn)[0, 1:] == pytest.approx([-1 / 3] * 3, abs=0.03)
    assert stats.kstest(drawn[0] / 2, stats.beta(1, 3).cdf).pvalue > 1e-3


def test_a_long_thin_region_is_drawn_evenly() -> None:
    # fat + wrap = .05 and meat + fat + tray = 3: for a given fat, meat is even on 0 to 3 − fat, so
    # that the density of fat is (3 − fat) / (.05 · 3 − .05² / 2). Sixty times as long as wide.
    solution = solve_ledger(
        [
            weigh("w1", 0.05, "clinging fat + used wrap"),
            weigh("w2", 3.0, "cooked meat + clinging fat + x tray"),
        ],
        [Scale(id="bench", name="bench", resolution_kg=1e-6)],
    )
    fat = solution.drawn_kg[_place(solution, "clinging fat")]
    meat = solution.drawn_kg[_place(solution, "cooked meat")]
    whole = 3 * 0.05 - 0.05**2 / 2
    assert stats.kstest((3 * fat - fat**2 / 2) / whole, stats.uniform.cdf).pvalue > 1e-3
    assert stats.kstest(meat / (3 - fat), stats.uniform.cdf).pvalue > 1e-3
    assert abs(np.corrcoef(fat, meat / (3 - fat))[0, 1]) < 0.03


def test_draws_have_the_exact_covariance_of_the_adjustment() -> None:
    texts = ["x tray", "y tray", "x tray + y tray", "cooked meat + x tray", "cooked meat + y tray"]
    mass = {"x tray": 0.8, "y tray": 1.1, "cooked meat": 3.3}
    weighings = [
        weigh(f"w{at}", sum(mass[part] for part in text.split(" + ")), text)
        for at, text in enumerate(texts)
    ]
    solution = solve_ledger(weighings, [GAUSSIAN], draws=50_000)
    names = [part.part.text for part in solution.system.parts]
    design = np.array([[float(name in text) for name in names] for text in texts])
    exact = 0.002**2 * np.linalg.inv(design.T @ design)
    assert np.cov(solution.drawn_kg) == pytest.approx(exact, abs=0.03 * exact.max())
    gain = solution.gain
    assert 0.002**2 * gain @ gain.T == pytest.approx(exact, rel=1e-6)


def test_pieces_that_share_a_tray_vary_together() -> None:
    weighings = [weigh("t", 0.8, "x tray", None)]
    for piece, on, off in [("a", 5.0, 3.0), ("b", 4.0, 2.6)]:
        weighings += [
            weigh(f"{piece}1", on + 0.8, "trimmed meat + x tray", piece),
            weigh(f"{piece}2", off + 0.8, "cooked meat + x tray", piece),
        ]
    solution = solve_ledger(weighings, [GAUSSIAN], draws=50_000)
    # Each y = (c − t) / (r − t), so that ∂y/∂t = −(1 − y) / trimmed.
    u, y, trimmed = 0.002, np.array([0.6, 0.65]), np.array([5.0, 4.0])
    by_tray = -(1 - y) / trimmed
    exact = u**2 * (np.diag((1 + y**2) / trimmed**2) + np.outer(by_tray, by_tray))
    found = covariance(solution, ["a", "b"], COOKED)
    assert found == pytest.approx(exact, abs=0.03 * exact.max())
    difference = np.array([1.0, -1.0])
    expected = float(np.sqrt(difference @ exact @ difference))
    compared = compare_yields(solution, "a", "b", COOKED)
    assert compared.spread.standard_uncertainty == pytest.approx(expected, rel=0.02)
    assert compared.first_order == pytest.approx(expected, rel=1e-3)
    assert compared.tellable == pytest.approx(1.96 * expected, rel=0.02)
    assert compared.can_tell


@pytest.mark.parametrize(
    ("shape", "best", "mean", "u"),
    [
        ("rectangular", None, 0.10, 0.12 / np.sqrt(12)),
        ("triangular", 0.07, 0.09, np.sqrt((0.12**2 - 0.03 * 0.09) / 18)),
        ("normal", 0.10, 0.10, 0.12 / 3.92),
    ],
)
def test_an_estimate_enters_with_its_own_law(
    shape: str, best: float | None, mean: float, u: float
) -> None:
    estimate = PartEstimate.model_validate(
        {
            "id": "e",
            "piece": "p",
            "part": "clinging fat",
            "low_kg": 0.04,
            "high_kg": 0.16,
            "best_kg": best,
            "shape": shape,
            "why": "scraped off another piece",
        }
    )
    solution = solve_ledger(
        [weigh("w1", 5.0, "trimmed meat"), weigh("w2", 3.1, "cooked meat + clinging fat")],
        [SCALE],
        [estimate],
    )
    assert mean_of(solution, "cooked meat") == pytest.approx(3.1 - mean, abs=0.001)
    assert u_of(solution, "cooked meat") == pytest.approx(u, rel=0.02)
    assert yield_of(solution, "p", COOKED).first_order == pytest.approx(u / 5, rel=1e-3)
    assert yield_of(solution, "p", COOKED).sources[0].name == "estimate of clinging fat of p"


def test_a_part_that_reads_zero_cannot_be_less() -> None:
    solution = solve_ledger([weigh("w", 0.0, "drippings")], [GAUSSIAN], draws=50_000)
    # The right half of N(0, u²).
    assert mean_of(solution, "drippings") == pytest.approx(0.002 * np.sqrt(2 / np.pi), rel=0.02)
    assert solution.drawn_kg.min() > -1e-9


def test_many_parts_that_read_zero_in_one_pan() -> None:
    # Rarely are all drippings possible at once (2 % or less), so that most columns walk. Exact by
    # quadrature: the pan has density φ(p) Φ(−p)ⁿ, in units of u.
    count = 8
    weighings = [weigh("pan", 1.0, "pan tray", None)]
    weighings += [weigh(f"d{i}", 1.0, "drippings + pan tray", f"p{i}") for i in range(count)]
    solution = solve_ledger(weighings, [GAUSSIAN], draws=50_000)

    def density(p: float) -> float:
        return float(stats.norm.pdf(p) * stats.norm.sf(p) ** count)

    weight = integrate.quad(density, -8, 8)[0]
    mean = integrate.quad(lambda p: p * density(p), -8, 8)[0] / weight
    square = integrate.quad(lambda p: p * p * density(p), -8, 8)[0] / weight
    assert (mean_of(solution, "pan tray", None) - 1.0) / 0.002 == pytest.approx(mean, abs=0.03)
    assert u_of(solution, "pan tray", None) / 0.002 == pytest.approx(
        np.sqrt(square - mean**2), rel=0.03
    )
    assert solution.drawn_kg.min() > -1e-9


def test_walking_gives_the_law_that_drawing_afresh_would() -> None:
    # Twelve independent errors that must all be positive: 1 draw in 4096, so that nearly all walk.
    count = 12
    demands = Demands(np.zeros(count), np.eye(count))

    def law(size: int, rng: np.random.Generator) -> np.ndarray:
        return rng.standard_normal(size)

    errors, met = draw_errors([law] * count, demands, 5_000, np.random.default_rng(1))
    assert met.all()
    assert stats.kstest(errors[0], stats.halfnorm.cdf).pvalue > 1e-3
    assert np.asarray(np.corrcoef(errors))[0, 1] == pytest.approx(0.0, abs=0.05)


def test_every_weighed_sum_holds_in_every_draw() -> None:
    weighings = [
        weigh("w1", 0.83, "green tray", None),
        weigh("w2", 6.40, "trimmed meat + green tray"),
        weigh("w3", 4.20, "cooked meat + clinging fat + green tray"),
    ]
    solution = solve_ledger(weighings, [SCALE])
    sums = solution.system.design @ solution.drawn_kg
    read = np.array([[seen.value_kg] for seen in solution.system.observations])
    assert np.abs(sums - read).max() <= 0.0005 + 1e-12
