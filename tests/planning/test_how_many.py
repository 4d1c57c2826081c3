"""The whole table: what it holds, what changes it, and the notebook's own spreads."""

import math
from typing import Any

import numpy as np
import pytest
from tests.judging.records import YIELD, found, record_of

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.modelling import believed_of
from fairsmoke.judging.one_pair import one_pair_numbers
from fairsmoke.judging.past import Learnt, learnt_of, meat_of, taught_by, with_past
from fairsmoke.judging.priors import SpreadPrior, defaults_for
from fairsmoke.judging.scaling import Scaling
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import AIM, HowMany, Means, Panel, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.trial.question import Measure

LIKING = Measure.model_validate(
    {
        "id": "l",
        "name": "Liking",
        "kind": "score",
        "better": "higher",
        "worthwhile": 0.5,
        "scale_low": 1,
        "scale_high": 9,
    }
)
TIME = Measure.model_validate(
    {"id": "t", "name": "Time", "kind": "cook time", "better": "lower", "worthwhile": "1 h"}
)


def table(measure: Measure, **changes: Any) -> HowMany:
    return how_many(measure, Means(**{"most": 4, **changes}))


def test_rows_count_pieces_cooks_and_money() -> None:
    found = table(YIELD, block=Block(per_cook=2), prices=Prices(60.0, 25.0, None, "€"))
    assert [(r.blocks, r.pieces, r.cooks, r.cost) for r in found.rows] == [
        (1, 2, 1, 145.0),
        (2, 4, 1, 265.0),
        (3, 6, 2, 410.0),
        (4, 8, 2, 530.0),
    ]
    # 2 / 2^n for n pairs: of all ways to assign them one and its mirror image are as extreme.
    assert [r.smallest_p for r in found.rows] == [1.0, 0.5, 0.25, 0.125]


def test_one_pair_is_what_judging_says_of_it() -> None:
    found = table(YIELD, most=1)
    priors = believed_of(YIELD, np.zeros(1), Scaling(None), ("cook", "position")).priors
    note = one_pair_numbers(priors, YIELD.worthwhile, apart=("position",))
    assert found.one_pair is not None
    assert found.one_pair.settles == note.settles
    assert found.one_pair.rarely == note.one_in_twenty
    assert found.one_pair.can_settle_no_difference is note.can_settle_no_difference


def test_halves_of_one_piece_settle_more_than_unrelated_pieces() -> None:
    apart, halves = table(YIELD), table(YIELD, block=Block(from_one="parent"))
    for one, other in zip(apart.rows, halves.rows, strict=True):
        assert other.chances.settled >= one.chances.settled
        assert other.width < one.width
    assert halves.rows[-1].chances.settled > apart.rows[-1].chances.settled


def test_enough_is_the_first_row_that_reaches_the_aim() -> None:
    stated = YIELD.model_copy(update={"spread": 0.002, "worthwhile": 0.005})
    found = table(stated, most=12, block=Block(positions=False))
    assert found.enough is not None
    settled = [row.chances.settled for row in found.rows]
    assert settled[found.enough - 1] >= AIM
    assert all(chance < AIM for chance in settled[: found.enough - 1])


def test_a_small_panel_settles_less() -> None:
    few = table(LIKING, panel=Panel(2)).rows[-1]
    many = table(LIKING, panel=Panel(40)).rows[-1]
    assert many.chances.settled > few.chances.settled + 0.01


def test_times_come_back_as_times() -> None:
    short, long = (table(TIME, usual_time_s=h * 3600.0, most=3) for h in (6, 12))
    # An hour is twice the share of a cook half as long; widths grow with the time.
    assert short.rows[-1].width < long.rows[-1].width
    assert short.rows[0].given[2].difference == 7200.0


def test_three_arms_have_no_pairs_to_test() -> None:
    found = table(YIELD, block=Block(arms=3), most=2)
    assert found.one_pair is None
    assert found.rows[1].given[0].power is None
    assert [r.pieces for r in found.rows] == [3, 6]


def test_own_spreads_add_what_each_trial_learnt() -> None:
    priors = defaults_for("yield", factors=("cook",))
    before = (math.log(0.03), math.log(1.8))
    after = (math.log(0.012), 0.2)
    same = with_past(priors, [Learnt("a", "piece", before, before)])[0]
    assert same.piece.size == pytest.approx(priors.piece.size)
    assert same.piece.factor == pytest.approx(priors.piece.factor)
    # One or two lucky trials do not make a spread smaller, and an unlucky one makes it larger.
    once, twice = (
        with_past(priors, [Learnt(t, "piece", before, after) for t in names])[0]
        for names in ("a", "ab")
    )
    assert once == twice == priors
    wider = with_past(priors, [Learnt("a", "piece", before, (math.log(0.06), 0.2))])[0]
    assert wider.piece.size > priors.piece.size
    thrice, trials = with_past(priors, [Learnt(t, "piece", before, after) for t in "abc"])
    assert trials == ("a", "b", "c")
    # By hand: each trial's data said so much, no surer than kitchens are alike.
    gained = 1 / 0.2**2 - 1 / math.log(1.8) ** 2
    said = (math.log(0.012) / 0.2**2 - math.log(0.03) / math.log(1.8) ** 2) / gained
    weight = 3 / (1 / gained + math.log(1.5) ** 2)
    own = 1 / math.log(1.8) ** 2
    middle = (math.log(0.03) * own + said * weight) / (own + weight)
    assert thrice.piece.size == pytest.approx(math.exp(middle))
    assert math.log(thrice.piece.factor) == pytest.approx((own + weight) ** -0.5)
    twice = thrice
    assert twice.groups == priors.groups
    # Pieces of one animal differ less; that is another spread.
    halves = [
        Learnt(trial, name, before, seen)
        for trial in "abc"
        for name, seen in (("piece", after), ("parent", before))
    ]
    assert with_past(priors, halves)[0].piece == priors.piece


def test_what_a_finding_learnt_is_read_off_it() -> None:
    record = record_of([(0.61, 0.66), (0.60, 0.64), (0.62, 0.67)])
    taught = taught_by(found(record))
    meat = meat_of(record)
    learnt = {one.name: one for one in learnt_of(YIELD, taught, meat)}
    prior = SpreadPrior.log_normal(0.03, 1.8)
    middle, spread = learnt["piece"].before
    assert math.exp(middle) == pytest.approx(prior.size, rel=1e-6)
    assert math.exp(spread) == pytest.approx(prior.factor, rel=1e-6)
    assert learnt["piece"].after != learnt["piece"].before
    assert learnt_of(LIKING, taught, meat) == ()
    assert learnt_of(YIELD, taught, frozenset({("pork", "loin")})) == ()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"most": 0}, "largest number"),
        ({"usual_time_s": 0.0}, "usual time"),
        ({"measuring_sd": -1.0}, "uncertainty"),
        ({"sure": 0.4}, "sure"),
        ({"truths": (float("nan"),)}, "true difference"),
    ],
)
def test_bad_input_is_named(changes: dict[str, Any], words: str) -> None:
    with pytest.raises((PlanError, ComparisonError), match=words):
        table(YIELD, **changes)
    with pytest.raises(PlanError, match="tasters"):
        Panel(0)
