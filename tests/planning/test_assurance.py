"""The planner's quick way against judging's own code, trial by trial and over many trials."""

import itertools

import numpy as np
import pytest
from scipy import stats
from tests.planning.brute import drawn, simulate

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.model import compare
from fairsmoke.judging.modelling import believed_of
from fairsmoke.judging.priors import Priors, SpreadPrior, defaults_for
from fairsmoke.judging.scaling import Scaling
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.size.assurance import chances_of_data, prospect
from fairsmoke.planning.size.repeats import Block
from fairsmoke.trial.question import Better, Measure, MeasureKind

YIELD = Measure(id="y", name="Yield", kind=MeasureKind.YIELD, better=Better.HIGHER, worthwhile=0.02)

BLOCKS = {
    "one pair": (Block(), 1),
    "two pairs": (Block(), 2),
    "five pairs, places uneven": (Block(), 5),
    "halves": (Block(from_one="parent"), 4),
    "three arms": (Block(arms=3), 3),
    "two pairs a cook": (Block(per_cook=2), 4),
    "two pieces of an arm a cook": (Block(each=2), 3),
    "no places": (Block(positions=False), 7),
    "three pairs a cook, pairs of one animal": (Block(per_cook=3, from_one="animal"), 6),
}


def believed(block: Block) -> Priors:
    return believed_of(YIELD, np.zeros(1), Scaling(None), block.factors).priors


@pytest.mark.parametrize("name", BLOCKS)
def test_each_trial_is_believed_as_judging_believes_it(name: str) -> None:
    # Outside: the model's own integration (itself checked against brute force in tests/cross).
    block, blocks = BLOCKS[name]
    layout, priors = block.layout(blocks), believed(block)
    rng = np.random.default_rng(7)
    data = np.array([drawn(layout, priors, rng)[0] for _ in range(12)])
    quick = chances_of_data(data, layout, priors, 0.02, measurement_sd=0.003)
    known = np.eye(len(layout.arm)) * 0.003**2
    for values, found in zip(data, quick, strict=True):
        d = compare(values, layout, priors, measurement_cov=known).difference("arm 1", "arm 2")
        above, below = d.prob_greater(0.02), d.cdf(-0.02)
        assert found == pytest.approx([above, 1.0 - above - below, below], abs=4e-3)


ODD_LAYOUTS = {
    "gaps": ComparisonLayout(
        np.array([0, 1, 0, 0, 1, 1, 0]),
        ("a", "b"),
        {"cook": np.array([0, 0, 1, 1, 1, 2, 2]), "position": np.array([0, 1, 1, 0, 2, 0, 1])},
    ),
    # Cooks and places overlap in part where no arm reaches: sums of squares will not do there.
    "pairs in one place, cooks in a ring": ComparisonLayout(
        np.tile([0, 1], 6),
        ("a", "b"),
        {
            "cook": np.repeat([0, 0, 1, 1, 2, 2], 2),
            "position": np.repeat([0, 1, 1, 2, 2, 0], 2),
        },
    ),
}


@pytest.mark.parametrize("name", ODD_LAYOUTS)
def test_an_odd_layout_is_judged_too(name: str) -> None:
    layout = ODD_LAYOUTS[name]
    priors = defaults_for("yield", factors=("cook", "position"))
    rng = np.random.default_rng(8)
    data = np.array([drawn(layout, priors, rng)[0] for _ in range(8)])
    for values, found in zip(data, chances_of_data(data, layout, priors, 0.02), strict=True):
        d = compare(values, layout, priors).difference("a", "b")
        assert found[[0, 2]] == pytest.approx([d.prob_greater(0.02), d.cdf(-0.02)], abs=4e-3)


@pytest.mark.parametrize(
    ("block", "blocks", "difference", "trials"),
    [
        (Block(), 1, None, 200),
        (Block(), 3, None, 150),
        (Block(), 4, 0.05, 150),
        (Block(positions=False), 8, 0.0, 150),
    ],
)
def test_chances_agree_with_trials_judged_one_by_one(
    block: Block, blocks: int, difference: float | None, trials: int
) -> None:
    # benchmarks/how_many.py does the same with 2,000 trials each and more layouts.
    layout, priors = block.layout(blocks), believed(block)
    given = () if difference is None else (difference,)
    found = prospect(layout, priors, 0.02, given=given)
    chances = found.given[0][1] if given else found.chances
    counted = simulate(layout, priors, 0.02, trials, difference=difference)
    for quick, count in (
        (chances.ahead, counted.first),
        (chances.behind, counted.second),
        (chances.no_difference, counted.nothing),
        *(() if given else ((found.misled, counted.misled),)),
    ):
        share, error = counted.share(count)
        assert abs(quick - share) < 3.5 * error + 2e-3


def test_what_is_believed_and_what_judging_assumes_may_differ() -> None:
    block = Block(positions=False)
    layout, judged = block.layout(4), believed(block)
    calm = judged.with_piece_times(0.5)
    found = prospect(layout, judged, 0.02, believed=calm, measurement_sd=0.004, unseen_sd=0.01)
    counted = simulate(
        layout, judged, 0.02, 150, believed=calm, measurement_sd=0.004, unseen_sd=0.01
    )
    share, error = counted.share(counted.first + counted.second + counted.nothing)
    assert abs(found.chances.settled - share) < 3.5 * error + 2e-3


def known_spreads(piece: float, difference: float) -> Priors:
    return Priors(0.0, 100.0, difference, SpreadPrior.log_normal(piece, 1.0))


@pytest.mark.parametrize("pairs", [1, 4, 12])
def test_known_spreads_give_the_closed_form(pairs: int) -> None:
    # With every spread known the verdict is a threshold on the mean difference m: shrunk to
    # k m with k = t2 / (t2 + v), it settles when k m - w > z sqrt(k v), at 95 % under the usual
    # prior and at 90 % under the sceptic's (0.4 of its sd, 4 v). Exact normal theory.
    piece, spread, worth = 0.02, 0.06, 0.02
    v, t2 = 2 * piece**2 / pairs, spread**2
    analyses = [(t2, v), (0.16 * t2, 4 * v), (t2, 4 * v)]
    shrunk = [(prior / (prior + noise), noise) for prior, noise in analyses]
    threshold = max(
        (worth + stats.norm.ppf(sure) * np.sqrt(k * noise)) / k
        for (k, noise), sure in zip(shrunk[:2], (0.95, 0.90), strict=True)
    )
    settles = stats.norm.sf(threshold / np.sqrt(t2 + v))
    block = Block(positions=False)
    layout = ComparisonLayout(block.layout(pairs).arm, ("a", "b"))
    found = prospect(layout, known_spreads(piece, spread), worth, given=(0.05,))
    assert found.chances.ahead == pytest.approx(settles, abs=0.012)
    power = stats.norm.sf((threshold - 0.05) / np.sqrt(v))
    assert found.given[0][1].ahead == pytest.approx(power, abs=0.02)
    # The interval told is the hull of the usual one and that of the doubled spread.
    m = np.sqrt(t2 + v) * stats.norm.ppf((np.arange(2000) + 0.5) / 2000)
    ends = [
        (k * m, stats.norm.ppf(0.975) * np.sqrt(k * noise)) for k, noise in (shrunk[0], shrunk[2])
    ]
    high = np.maximum(*(middle + half for middle, half in ends))
    low = np.minimum(*(middle - half for middle, half in ends))
    assert found.width == pytest.approx(float(np.mean(high - low)), rel=0.03)


def test_the_same_question_has_the_same_answer_and_more_pairs_settle_more() -> None:
    block = Block()
    rows = [prospect(block.layout(n), believed(block), 0.02) for n in range(1, 13)]
    again = prospect(block.layout(6), believed(block), 0.02)
    assert again == rows[5]
    settled = [row.chances.settled for row in rows]
    assert all(later > earlier - 0.02 for earlier, later in itertools.pairwise(settled))
    assert settled[-1] > settled[5] > settled[2]
    assert all(a.width > b.width for a, b in itertools.pairwise(rows))


def test_with_three_arms_every_pair_of_arms_has_the_same_chances() -> None:
    block = Block(arms=3)
    layout, priors = block.layout(3), believed(block)
    found = [prospect(layout, priors, 0.02, arms=arms) for arms in ((0, 1), (0, 2), (1, 2))]
    settled = [one.chances.settled for one in found]
    assert max(settled) - min(settled) < 0.02


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"worthwhile": 0.0}, "worthwhile"),
        ({"worthwhile": float("nan")}, "worthwhile"),
        ({"sure": 1.0}, "below 1"),
        ({"given": (float("inf"),)}, "true difference"),
        ({"arms": (0, 0)}, "two different arms"),
        ({"arms": (0, 5)}, "two different arms"),
        ({"measurement_sd": -1.0}, "measurement_sd"),
        ({"trials": 1000}, "power of two"),
    ],
)
def test_bad_input_is_named(change: dict[str, object], words: str) -> None:
    block = Block()
    asked: dict[str, object] = {"worthwhile": 0.02, **change}
    worth = asked.pop("worthwhile")
    with pytest.raises(PlanError, match=words):
        prospect(block.layout(2), believed(block), worth, **asked)  # type: ignore[arg-type]


def test_an_arm_without_a_piece_or_a_factor_without_a_prior_is_named() -> None:
    block = Block()
    lonely = ComparisonLayout(np.array([0, 0]), ("paper", "bare"))
    with pytest.raises(PlanError, match="bare"):
        prospect(lonely, believed(block), 0.02)
    with pytest.raises(ComparisonError, match="position"):
        prospect(block.layout(2), defaults_for("yield", factors=("cook",)), 0.02)
    for wrong in ({"arms": 1}, {"each": 0}, {"per_cook": 0}, {"from_one": "herd"}):
        with pytest.raises(PlanError):
            Block(**wrong)
    with pytest.raises(PlanError, match="one block"):
        block.layout(0)
