"""What a notebook's earlier trials may do to a verdict, and what they may not."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
from tests.judging.records import MADE, finding_text, record_of

from fairsmoke.judging.judge import judge
from fairsmoke.judging.past import Learnt, Taught, spread_of_past, taught_by
from fairsmoke.judging.priors import SpreadPrior
from fairsmoke.judging.remark import CaveatKind
from fairsmoke.telling.as_json import finding_json
from fairsmoke.trial.record import TrialRecord

NEXT = record_of([(0.57, 0.63), (0.58, 0.62), (0.56, 0.62)])
RNG = np.random.default_rng(12)


def earlier(number: int, sd: float, cut: str = "shoulder") -> tuple[Taught, ...]:
    """What a trial of four pairs taught, held before, whose pieces differ by so much."""
    record = record_of([(0.58 + a, 0.6 + b) for a, b in RNG.normal(0, sd, (4, 2))])
    days = timedelta(days=30 * (number + 1))
    moved = replace(
        record,
        trial=record.trial.model_copy(update={"id": f"before-{number}"}),
        cooks=tuple(c.model_copy(update={"starts": c.starts - days}) for c in record.cooks),
        pieces=tuple(p.model_copy(update={"cut": cut}) for p in record.pieces),
    )
    return taught_by(judge(moved, made=MADE))


QUIET = [earlier(n, 0.004) for n in range(3)]


def width(record: TrialRecord, *past: tuple[Taught, ...]) -> float:
    (found,) = judge(record, made=MADE, past=sum(past, ())).main.differences
    return found.believed.high - found.believed.low


def test_three_quiet_trials_make_the_answer_surer_and_are_named_beside_the_one_without() -> None:
    alone, taught = judge(NEXT, made=MADE), judge(NEXT, made=MADE, past=sum(QUIET, ()))
    (own,), (found,) = alone.main.differences, taught.main.differences
    assert found.believed.high - found.believed.low < own.believed.high - own.believed.low
    assert found.without_past is not None
    believed, verdict = found.without_past
    assert believed == own.believed
    assert verdict == own.verdict
    assert taught.main.remarks[0].kind is CaveatKind.SPREAD_PAST
    assert taught.main.remarks[0].names == ("before-0", "before-1", "before-2")
    said = " ".join(finding_text(taught).split())
    assert "comes from this notebook's own past (before-0, before-1, before-2)" in said
    assert "Without this notebook's past:" in said
    assert "notebook's own past" not in finding_text(alone)
    assert "without_past" in finding_json(taught)["measures"][0]["differences"][0]
    assert alone.main.differences[0].without_past is None


def test_neither_few_trials_nor_another_cut_nor_later_ones_make_it_surer() -> None:
    own = width(NEXT)
    assert width(NEXT, *QUIET[:2]) >= own
    loin = [tuple(replace(t, meat=frozenset({("pork", "loin")})) for t in one) for one in QUIET]
    assert width(NEXT, *loin) == own
    later = [tuple(replace(t, begins=MADE) for t in one) for one in QUIET]
    assert width(NEXT, *later) == own


def test_one_loud_trial_is_enough_to_make_it_less_sure() -> None:
    assert width(NEXT, earlier(0, 0.09)) > width(NEXT)


def test_what_only_the_past_tells_starts_from_its_upper_limit() -> None:
    def learnt(*trials: str) -> list[Learnt]:
        return [Learnt(one, "piece", (0.0, 1.0), (np.log(0.5), 0.3)) for one in trials]

    one, three = spread_of_past(learnt("a")), spread_of_past(learnt("a", "b", "c"))
    assert one is not None
    assert three is not None
    # By hand: the sd of the log is the root of 0.3 squared and of log 1.5 squared.
    sd = np.hypot(0.3, np.log(1.5))
    assert np.isclose(one[0].size, 0.5 * np.exp(1.6448536 * sd))
    assert three == (SpreadPrior.log_normal(three[0].size, 1.5), ("a", "b", "c"))
    assert np.isclose(three[0].size, 0.5)
    assert spread_of_past([]) is None
