"""What a cook must mind beside the answer: what ran with the arms, what was never weighed."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from scipy import stats
from tests.judging.records import LIKING, YIELD, finding_text, found, record_of, trial, weighed

from fairsmoke.judging.caveats import association, mix_ups
from fairsmoke.judging.judge import judge
from fairsmoke.judging.modelling import believed_of
from fairsmoke.judging.scaling import Scaling
from fairsmoke.judging.who_got_what import factors_of
from fairsmoke.trial.cook import Piece, Spot
from fairsmoke.trial.question import Draw
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, Weighing

MADE = datetime(2026, 6, 1, tzinfo=UTC)


def placed(record: TrialRecord, places: dict[str, str]) -> TrialRecord:
    """Put pieces at the places named by their handles."""
    return replace(
        record,
        pieces=tuple(
            p.model_copy(update={"spot": Spot(cooker="barrel", position=places[p.id])})
            for p in record.pieces
        ),
    )


def by_arm(record: TrialRecord, **places: str) -> TrialRecord:
    return placed(record, {p.id: places[p.arm or ""] for p in record.pieces})


def test_a_place_that_ran_with_the_arm_stands_in_the_answer() -> None:
    record = by_arm(record_of([(0.58, 0.61)] * 4), bare="left", paper="right")
    finding = found(record)
    (caveat,) = finding.main.caveats
    assert str(caveat) == (
        "In this trial “Bare” always stood at “left” and “Paper” always stood at “right”, so the "
        "place and what was tried cannot be told apart: the place may have made the difference."
    )
    told = finding_text(finding)
    answer = told[: told.index("(MAIN MEASURE)")]
    assert "! In this trial “Bare” always stood" in answer
    assert "prior" not in " ".join(map(str, finding.main.notes))


def test_nearly_always_is_named_too_and_taking_turns_is_not() -> None:
    record = record_of([(0.58, 0.61)] * 6)
    places = {p.id: "left" if p.arm == "bare" else "right" for p in record.pieces}
    nearly = {**places, "c0-bare": "right", "c0-paper": "left"}
    (mixed,) = mix_ups(placed(record, nearly), [True] * 12)
    assert not mixed.whole
    assert "5 times in 6" in str(mixed.sentence)
    half = {**nearly, "c1-bare": "right", "c1-paper": "left"}
    assert mix_ups(placed(record, half), [True] * 12) == ()
    # A piece without a value does not count.
    used = [p.id not in ("c0-bare", "c0-paper") for p in record.pieces]
    assert mix_ups(placed(record, nearly), used)[0].whole


def test_days_that_ran_with_the_arm_are_named() -> None:
    record = record_of([(0.58, 0.61)] * 2)
    kept = tuple(p for p in record.pieces if (p.arm == "bare") == (p.cook == "c0"))
    again = tuple(p.model_copy(update={"id": f"{p.id}-2"}) for p in kept)
    both = replace(record, pieces=(*kept, *again))
    told = [one for one in mix_ups(both, [True] * 4) if one.factor == "cook"]
    assert "the day and what was tried cannot be told apart" in str(told[0].sentence)


@pytest.mark.parametrize("seed", range(5))
def test_association_is_that_of_scipy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    first, second = (list(rng.choice(["left", "right", "top"], 9)) for _ in range(2))
    levels = sorted({*first, *second})
    table = np.array([[group.count(level) for level in levels] for group in (first, second)])
    expected = stats.contingency.association(table, method="cramer")
    assert association(first, second) == pytest.approx(expected)


def tray_typed_wrong() -> TrialRecord:
    record = record_of([(0.58, 0.61)])

    def on_tray(handle: str, piece: str | None, kg: float, *parts: str) -> Weighing:
        sums = tuple(Part.parse(part) for part in parts)
        return Weighing(id=handle, piece=piece, scale="s", reading_kg=kg, sum=sums)

    return replace(
        record,
        weighings=(
            on_tray("tray", None, 0.5, "green tray"),
            on_tray("a-raw", "c0-bare", 4.5, "trimmed meat", "green tray"),
            on_tray("a-done", "c0-bare", 2.9, "cooked meat", "gren tray"),
            on_tray("b-raw", "c0-paper", 4.5, "trimmed meat", "green tray"),
            on_tray("b-done", "c0-paper", 2.9, "cooked meat", "green tray"),
        ),
    )


def test_a_tray_that_was_never_weighed_is_named_where_it_opens_a_yield() -> None:
    record = tray_typed_wrong()
    (remark,) = record.remarks()
    assert "gren tray was never weighed" in str(remark)
    assert "Was the green tray meant?" in str(remark)
    assert record.problems() == []
    finding = found(record)
    first, second = finding.main.responses.rows
    assert str(first.caution) == (
        "not weighed: gren tray; weigh it, or say what it weighs at least and at most, "
        "to pin this down"
    )
    assert not second.caution
    assert any("gren tray" in str(caveat) for caveat in finding.main.caveats)
    told = finding_text(finding)
    assert "Not weighed" in told
    assert "The gren tray was never weighed" in told


def test_a_tray_that_follows_from_sums_needs_no_remark() -> None:
    record = tray_typed_wrong()
    alone = weighed("c0-bare", "cooked", 2.4)
    assert replace(record, weighings=(*record.weighings, alone)).remarks() == []
    assert record_of([(0.58, 0.61)]).remarks() == []


def test_every_piece_out_leaves_no_ledger_but_says_why() -> None:
    record = record_of([(0.58, 0.61)])
    heavy = tuple(weighed(p.id, "held", 9.0) for p in record.pieces)
    asked = found(replace(record, weighings=(*record.weighings, *heavy)))
    confirmed = tuple(one.model_copy(update={"checked": one.claim}) for one in heavy)
    finding = found(replace(record, weighings=(*record.weighings, *confirmed)))
    # Doubted, both wait; confirmed, no mass of either piece fits what was read.
    assert {one.handle for one in asked.waiting} == {"c0-bare-held", "c0-paper-held"}
    assert asked.ledger_aside == ()
    assert finding.waiting == ()
    assert set(finding.ledger_aside) == {"c0-bare", "c0-paper"}
    for one in (asked, finding):
        assert one.ledger is None
        assert "“Bare” or “Paper”" in str(one.main.notes[0])
        assert "c0-paper-held" in finding_text(one)


def split(record: TrialRecord) -> TrialRecord:
    """Let the pieces be cut from one whole."""
    whole = Piece(id="w", name="Whole", cut="shoulder", species="pork")
    parts = tuple(p.model_copy(update={"half_of": "w"}) for p in record.pieces)
    drawn = trial((YIELD,), 3, Draw(how="drawn", within="whole piece"))
    return replace(record, pieces=(whole, *parts), trial=drawn)


def test_parts_of_one_piece_are_thought_to_differ_less() -> None:
    record = record_of([(0.56, 0.58, 0.62)])
    parts, wholes = judge(split(record), made=MADE), judge(record, made=MADE)
    spreads = {s.name: s.before.value for s in parts.main.spreads}
    (whole,) = (s.before.value for s in wholes.main.spreads if s.name == "piece")
    # The variance that whole pieces have is what parts share and what they do not, together.
    assert spreads["piece"] ** 2 + spreads["parent"] ** 2 == pytest.approx(whole**2)
    width = [
        f.main.differences[0].believed.high - f.main.differences[0].believed.low
        for f in (parts, wholes)
    ]
    assert width[0] < 0.95 * width[1]


@pytest.mark.parametrize("shared", [("parent",), ("animal",), ("animal", "parent")])
@pytest.mark.parametrize("measure", [YIELD, LIKING])
def test_the_split_keeps_the_whole_variance(measure: object, shared: tuple[str, ...]) -> None:
    values = np.array([0.58, 0.61])
    names = ("cook", *shared)
    split_up = believed_of(measure, values, Scaling(None), names).priors  # type: ignore[arg-type]
    whole = believed_of(measure, values, Scaling(None), ("cook",)).priors  # type: ignore[arg-type]
    total = sum(split_up.group(name).size ** 2 for name in shared) + split_up.piece.size**2
    assert total == pytest.approx(whole.piece.size**2)
    correlation = 1 - split_up.piece.size**2 / total
    # references/stats.md section 8: .5 suggested, .3 to .7, between partner pieces.
    assert correlation == pytest.approx(0.5)
    assert "guess" in " ".join(map(str, split_up.described()))


def test_one_whole_for_all_is_a_factor() -> None:
    assert factors_of(split(record_of([(0.56, 0.58, 0.62)])))["parent"].tolist() == [0, 0, 0]
