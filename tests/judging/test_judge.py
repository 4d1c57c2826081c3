"""Judging whole records: what is said when there is one pair, no draw, a missing value."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from tests.judging.records import (
    LIKING,
    MADE,
    SHEAR,
    TIME,
    YIELD,
    finding_text,
    found,
    record_of,
    weighed,
)

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.judge import judge
from fairsmoke.judging.remark import CaveatKind
from fairsmoke.judging.rule import VerdictKind
from fairsmoke.judging.who_got_what import blocks_of, factors_of
from fairsmoke.telling.as_json import finding_json
from fairsmoke.trial.cook import Event, EventKind, Piece
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.question import Draw
from fairsmoke.trial.tasting import Ballot, Sample, Score, Taster
from fairsmoke.trial.weighing import Part, PartEstimate, Weighing


def test_one_pair_says_plainly_what_it_can_tell() -> None:
    finding = found(record_of([(0.58, 0.61)]))
    (difference,) = finding.main.differences
    assert difference.verdict.word is VerdictKind.NOT_SETTLED
    one = difference.one_pair
    assert one is not None
    assert 0 < one.half < one.rarely
    assert one.settles is None or one.settles > 0.03
    paired = {c.name: c for c in difference.classical}["paired t"]
    assert paired.difference is None
    assert "one pair" in str(paired.sentence).lower()
    assert "one time in twenty" in finding_text(finding)


def test_many_clear_pairs_are_settled_and_the_methods_agree() -> None:
    rng = np.random.default_rng(3)
    rows = [
        (b, b + 0.06 + e)
        for b, e in zip(rng.normal(0.56, 0.01, 12), rng.normal(0, 0.01, 12), strict=True)
    ]
    finding = found(record_of(rows))
    (difference,) = finding.main.differences
    assert difference.verdict.word is VerdictKind.BETTER
    assert difference.verdict.winner == "Paper"
    assert difference.one_pair is None
    # With twelve pairs the data outweigh the priors, so the model and the t interval must agree.
    paired = {c.name: c for c in difference.classical}["paired t"]
    assert paired.difference is not None
    assert difference.believed.value == pytest.approx(paired.difference.value, abs=0.003)
    assert difference.believed.low == pytest.approx(paired.difference.low, abs=0.006)
    assert difference.ratio is not None
    assert difference.ratio.low > 1


def test_lower_is_better_turns_the_winner_round() -> None:
    shear = [
        Figure(id=f"f{i}-{arm}", piece=f"c{i}-{arm}", measure="shear", value=value)
        for i in range(8)
        for arm, value in (("bare", 5.0 + 0.1 * (i % 3)), ("paper", 2.0 + 0.1 * (i % 2)))
    ]
    finding = found(record_of([(0.58, 0.60)] * 8, (SHEAR,), figures=shear))
    (difference,) = finding.main.differences
    assert difference.believed.value < 0
    assert difference.verdict.winner == "Paper"
    assert difference.verdict.better_by_enough > 0.95
    as_thought = {row.times: row for row in difference.sensitivity}[1.0]
    assert as_thought.better_by_enough == pytest.approx(difference.verdict.better_by_enough)


def test_nobody_drew_so_no_test_is_justified() -> None:
    finding = found(record_of([(0.58, 0.61)] * 4, draw=Draw(how="by hand", within="pair")))
    named = {c.name: c for c in finding.main.differences[0].classical}
    assert named["re-randomisation"].p is None
    assert "Nobody drew" in str(named["re-randomisation"].sentence)


def test_a_missing_value_is_left_out_and_named() -> None:
    finding = found(record_of([(0.58, 0.61), (0.57, np.nan), (0.55, 0.60)]))
    missing = [row for row in finding.main.responses.rows if row.value is None]
    assert [row.piece for row in missing] == ["c1-paper"]
    assert "cooked meat" in str(missing[0].note)
    assert any("c1-paper" in str(row.what) for row in finding.left_out)
    # An arm missing from a block is where plain pairs do not say it all.
    assert any("REML" in c.name for c in finding.main.differences[0].classical)


def test_an_excluded_piece_does_not_count_and_the_reason_is_told() -> None:
    record = record_of([(0.58, 0.61), (0.57, 0.40), (0.55, 0.60)])
    without = replace(
        record, exclusions=(Exclusion(id="x", why="fell on the grass", piece="c1-paper"),)
    )
    with_it, left_out = found(record), found(without)
    assert left_out.main.differences[0].believed.value > with_it.main.differences[0].believed.value
    assert any(row.why == "fell on the grass" for row in left_out.left_out)


def test_an_arm_without_values_is_no_answer_but_no_error() -> None:
    finding = found(record_of([(0.58, np.nan), (0.57, np.nan)]))
    assert finding.main.differences == ()
    assert "nothing to compare" in str(finding.main.notes[0])


def test_three_arms_are_compared_with_the_first_and_then_each_other() -> None:
    finding = found(record_of([(0.56, 0.58, 0.62), (0.55, 0.57, 0.61), (0.57, 0.60, 0.63)]))
    pairs = [(d.arm, d.base) for d in finding.main.differences]
    assert pairs == [("paper", "bare"), ("foil", "bare"), ("foil", "paper")]
    first, second, third = finding.main.differences
    assert second.believed.value > first.believed.value
    # Of the same three levels: what foil has over bare is what paper has and foil over paper.
    expected = second.believed.value - first.believed.value
    assert third.believed.value == pytest.approx(expected, abs=1e-9)
    assert "Foil against Paper" in finding_text(finding)


def test_contradicting_weighings_do_not_stop_the_other_measures() -> None:
    record = record_of([(0.58, 0.61)] * 2, (YIELD, TIME))
    events = tuple(
        Event(
            id=f"{piece.id}-{kind.value}",
            cook=piece.cook or "",
            at=datetime(2026, 5, 1 + int((piece.cook or "c0")[1]), hour, tzinfo=UTC),
            kind=kind,
            pieces=(piece.id,),
        )
        for piece in record.pieces
        for kind, hour in (
            (EventKind.ON, 19),
            (EventKind.PULL, 22 if piece.arm == "paper" else 23),
        )
    )
    heavier = weighed("c0-bare", "held", 9.0)
    # Somebody insists on it twice: then it is no longer waited for, and cannot be true.
    heavier = heavier.model_copy(update={"checked": heavier.claim})
    broken = replace(record, events=events, weighings=(*record.weighings, heavier))
    finding = found(broken)
    assert finding.ledger_aside == ("c0-bare",)
    assert "c0-bare-held" in str(finding.ledger_problems[0])
    told = finding_text(finding)
    assert "Weighings that cannot all be true" in told
    assert "c0-bare-held" in told
    rows = {row.piece: row for row in finding.main.responses.rows}
    assert rows["c0-bare"].value is None
    assert "c0-bare-held" in str(rows["c0-bare"].note)
    # The innocent keep their yields, 2.44 of 4 kg; so the measure still has an answer.
    assert rows["c0-paper"].value == pytest.approx(0.61, abs=0.001)
    assert finding.main.differences
    assert finding_json(finding)["ledger_aside"] == ["c0-bare"]
    (faster,) = finding.measures[1].differences
    assert faster.believed.value < 0
    assert faster.observed == pytest.approx(-3600, rel=0.01)


def test_scores_of_a_panel_are_compared() -> None:
    record = record_of([(0.58, 0.61)] * 3, (LIKING,))
    tasters = tuple(Taster(id=f"t{i}", name=f"T{i}") for i in range(3))
    samples = tuple(
        Sample(id=f"s-{piece.id}", piece=piece.id, code=101 + i)
        for i, piece in enumerate(record.pieces)
    )
    ballots = tuple(
        Ballot(
            id=f"b-{taster.id}-{cook.id}",
            taster=taster.id,
            cook=cook.id,
            measure="liking",
            scores=(
                Score(sample=f"s-{cook.id}-bare", value=5.0 + i),
                Score(sample=f"s-{cook.id}-paper", value=7.0 + i),
            ),
        )
        for i, taster in enumerate(tasters)
        for cook in record.cooks
    )
    finding = found(replace(record, tasters=tasters, samples=samples, ballots=ballots))
    (difference,) = finding.main.differences
    assert difference.observed == pytest.approx(2.0)
    assert 0.5 < difference.believed.value < 2.0
    assert difference.ratio is None


def test_halves_of_one_piece_share_their_whole() -> None:
    record = record_of([(0.58, 0.61), (0.57, 0.60)])
    wholes = tuple(
        Piece(id=f"w{i}", name=f"W{i}", cut="shoulder", species="pork") for i in range(2)
    )
    halves = tuple(
        piece.model_copy(update={"half_of": f"w{(piece.cook or 'c0')[1]}"})
        for piece in record.pieces
    )
    split = replace(
        record,
        pieces=(*wholes, *halves),
        trial=record.trial.model_copy(update={"draw": Draw(how="drawn", within="whole piece")}),
    )
    assert len(split.units) == 4
    assert factors_of(split)["parent"].tolist() == [0, 0, 1, 1]
    assert blocks_of(split).tolist() == [0, 0, 1, 1]
    assert found(split).main.differences


def test_a_record_that_does_not_fit_together_names_every_place() -> None:
    record = record_of([(0.58, 0.61)])
    lost = tuple(piece.model_copy(update={"pair": None}) for piece in record.pieces)
    with pytest.raises(ComparisonError, match=r"(?s)c0-bare.*c0-paper"):
        judge(replace(record, pieces=lost), made=MADE)
    with pytest.raises(ComparisonError, match="no piece with an arm"):
        judge(replace(record, pieces=(), weighings=()), made=MADE)


def test_the_same_record_gives_the_same_finding() -> None:
    record = record_of([(0.58, 0.61), (0.57, 0.60)])
    assert finding_json(found(record)) == finding_json(found(record))


def test_pieces_drawn_over_the_whole_trial_are_not_one_pair() -> None:
    record = record_of([(0.58, 0.61), (0.57, 0.60), (0.55, 0.62)])
    whole = record.trial.model_copy(update={"draw": Draw(how="drawn", within="trial")})
    (difference,) = found(replace(record, trial=whole)).main.differences
    assert difference.one_pair is None
    named = {c.name: c for c in difference.classical}
    assert named["paired t"].difference is None
    assert "no pairs" in str(named["paired t"].sentence)
    # 6 pieces, 3 of each arm: 6!/(3! 3!) = 20 layouts.
    assert "20 layouts" in str(named["re-randomisation"].sentence)


def test_an_arm_that_was_not_cooked_yet_does_not_stop_the_others() -> None:
    record = record_of([(0.56, np.nan, 0.62), (0.55, np.nan, 0.61), (0.57, np.nan, 0.63)])
    finding = found(record)
    assert [(d.arm, d.base) for d in finding.main.differences] == [("foil", "bare")]
    assert any("“Paper” has a value yet" in str(note) for note in finding.main.notes)
    two = found(record_of([(0.56, 0.62), (0.55, 0.61), (0.57, 0.63)]))
    assert finding.main.differences[0].believed.value == pytest.approx(
        two.main.differences[0].believed.value, abs=0.004
    )


def test_a_yield_that_nothing_pins_down_is_not_a_number() -> None:
    record = record_of([(0.58, 0.61), (0.57, 0.60), (0.55, 0.62)])
    open_sum = Weighing(
        id="c0-bare-trimmed",
        piece="c0-bare",
        scale="s",
        reading_kg=4.0,
        sum=(Part.parse("trimmed meat"), Part.parse("rub")),
    )
    weighings = tuple(open_sum if w.id == open_sum.id else w for w in record.weighings)
    finding = found(replace(record, weighings=weighings))
    (row,) = [r for r in finding.main.responses.rows if r.piece == "c0-bare"]
    assert row.value is None
    assert "rub" in str(row.caution)
    assert finding.main.differences


def test_a_doubted_weighing_gives_no_verdict_until_it_is_settled() -> None:
    """A slip of the tongue between kilograms and grams must never win."""
    pairs = [(0.58, 0.64), (0.57, 0.63), (0.55, 0.62), (0.59, 0.66), (0.56, 0.62), (0.57, 0.64)]
    record = record_of(pairs)
    assert found(record).main.differences[0].verdict.word is VerdictKind.BETTER
    slip = record.weighings[0]
    wrong = slip.model_copy(update={"reading_kg": 100.0 * slip.reading_kg, "written": ""})
    doubted = replace(record, weighings=(wrong, *record.weighings[1:]))
    finding = found(doubted)
    assert [(one.kind, one.handle) for one in finding.waiting] == [("weighing", slip.id)]
    verdict = finding.main.differences[0].verdict
    assert (verdict.word, verdict.waits, verdict.winner) == (VerdictKind.NOT_SETTLED, True, "")
    row = next(row for row in finding.main.responses.rows if row.piece == slip.piece)
    assert row.value is None
    assert "waits for weighing" in str(row.note)
    without = replace(
        doubted, exclusions=(Exclusion(id="x", why="typed wrongly", piece=slip.piece),)
    )
    assert not found(without).main.differences[0].verdict.waits


def test_one_guess_for_all_pieces_of_an_arm_is_one_unknown_and_said() -> None:
    """Clinging fat guessed alike at 50 to 450 g: its 2.9 points of 4 kg stay (by hand)."""
    record = record_of([(0.60, 0.68), (0.61, 0.69), (0.59, 0.67), (0.60, 0.68)])
    with_fat = tuple(
        one.model_copy(update={"sum": (*one.sum, Part.parse("clinging fat"))})
        if one.id.endswith("bare-cooked")
        else one
        for one in record.weighings
    )
    guesses = tuple(
        PartEstimate(
            id=f"fat-{piece.id}",
            piece=piece.id,
            part="clinging fat",
            low_kg=0.05,
            high_kg=0.45,
            why="scraped off one of them",
        )
        for piece in record.pieces
        if piece.arm == "bare"
    )
    guessed = found(replace(record, weighings=with_fat, estimates=guesses))
    (one,) = guessed.main.differences
    common = 0.400 / np.sqrt(12) / 4.0
    assert one.believed.high - one.believed.low > 2 * 1.96 * common * 0.9
    remark = next(r for r in guessed.main.remarks if r.kind is CaveatKind.SHARED_ESTIMATE)
    assert (remark.names, remark.numbers) == (("clinging fat",), (4.0,))
    assert "clinging fat was estimated alike for 4 pieces" in finding_text(guessed)
