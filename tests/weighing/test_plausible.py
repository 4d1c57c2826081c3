"""What is odd about a weighing. The page's script is held to the same cases in tests/browser."""

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from fairsmoke.quantity import parse_mass
from fairsmoke.trial.base import FileContext
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.plan import AtHand, Plan, PlannedPiece
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.question import Arm, Draw, Measure, Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, Scale, Weighing
from fairsmoke.weighing.plausible import DoubtKind, doubt_of, doubts_of

BEFORE: list[dict[str, Any]] = [
    {"piece": "", "sum": ["green tray"], "kg": 0.8},
    {"piece": "p", "sum": ["trimmed meat"], "kg": 4.0},
    {"piece": "q", "sum": ["trimmed meat"], "kg": 2.0},
    {"piece": "p", "sum": ["fresh wrap"], "kg": 0.03},
]
CASES: list[tuple[list[str], float, str | None]] = [
    (["cooked meat"], 2.4, None),
    # A piece cannot gain 300 g, nor 50; 20 g are the scale and a damp hand.
    (["cooked meat"], 4.3, "gained"),
    (["cooked meat"], 4.05, "gained"),
    # It cannot have lost next to nothing either, unless its juices lay there too.
    (["cooked meat"], 4.02, "hardly"),
    # Its wrap, never weighed alone, and the juices may be 600 g together, not a kilogram.
    (["cooked meat", "used wrap", "drippings"], 4.5, None),
    (["cooked meat", "used wrap", "drippings"], 5.0, "gained"),
    # The tray is known and taken off.
    (["cooked meat", "green tray"], 4.4, None),
    (["cooked meat", "green tray"], 4.7, "hardly"),
    (["cooked meat", "green tray"], 5.1, "gained"),
    (["cooked meat", "green tray"], 0.5, "less"),
    (["green tray"], 0.8, None),
    (["green tray"], 0.83, None),
    # The same load as something else: two digits swapped, another tray.
    (["green tray"], 8.0, "weighed"),
    (["trimmed meat"], 4.4, "weighed"),
    # A tray that was never weighed may weigh anything: nothing can be told.
    (["cooked meat", "blue tray"], 9.0, None),
    # Grams taken for kilograms, or a digit too few.
    (["cooked meat"], 0.24, "lost"),
    (["served meat"], 1.0, None),
    (["served meat"], 0.7, "lost"),
    # Weighed as bought after it was weighed as trimmed: trimming is not known, nothing is told.
    (["bought meat"], 4.6, None),
    (["used wrap"], 0.2, None),
]


def weighings() -> list[Weighing]:
    return [
        Weighing.model_validate(
            {
                "id": f"w{number}",
                "piece": one["piece"] or None,
                "scale": "s",
                "reading_kg": one["kg"],
                "sum": tuple(one["sum"]),
            }
        )
        for number, one in enumerate(BEFORE)
    ]


@pytest.mark.parametrize(("parts", "kg", "odd"), CASES)
def test_what_is_odd(parts: list[str], kg: float, odd: str | None) -> None:
    found = doubt_of(weighings(), "p", [Part.parse(part) for part in parts], kg)
    assert (found.kind.split()[0] if found else None) == odd


def test_what_was_injected_may_gain_before_it_goes_on() -> None:
    bought = Weighing.model_validate(
        {"id": "b", "piece": "p", "scale": "s", "reading_kg": 4.0, "sum": ("bought meat",)}
    )
    trimmed = [Part.parse("trimmed meat")]
    assert doubt_of([bought], "p", trimmed, 4.3) is not None
    assert doubt_of([bought], "p", trimmed, 4.3, injected=True) is None


def test_the_first_weighing_is_never_odd() -> None:
    assert doubt_of([], "p", [Part.parse("trimmed meat")], 40.0) is None


def record_of(*weighed: tuple[str, str, str], planned_kg: float | None = None) -> TrialRecord:
    """Two pork shoulders of one cook, bare and in paper, with weighings (piece, parts, written)."""
    smoke = Stage(id="smoke", name="Smoke", ends=(EndCondition(core_c=94.0),))
    trial = Trial(
        id="t",
        title="Paper or bare",
        question="Does paper keep more?",
        invented=True,
        differs="the wrap",
        protocol=Protocol(stages=(smoke,)),
        arms=(Arm(id="bare", name="Bare"), Arm(id="paper", name="Paper")),
        measures=(Measure(id="y", name="Yield", kind="yield", better="higher", worthwhile=0.02),),
        draw=Draw(how="by hand"),
    )
    cook = Cook(
        id="c",
        name="May",
        starts=datetime(2026, 5, 2, tzinfo=UTC),
        time_zone="UTC",
        cookers=("barrel",),
    )
    pieces = tuple(
        Piece(id=arm, name=arm, cut="pork shoulder", species="pork", cook="c", arm=arm, pair="p")
        for arm in ("bare", "paper")
    )
    weighings = [
        {"id": f"w{n}", "piece": piece or None, "scale": "s", "reading": said, "sum": parts}
        for n, (piece, parts, said) in enumerate(weighed)
    ]
    plan = Plan(
        at_hand=AtHand(
            cut="pork shoulder",
            species="pork",
            pieces=tuple(PlannedPiece(id=one.id, mass_kg=planned_kg) for one in pieces),
        )
    )
    context = FileContext()
    return TrialRecord(
        trial,
        scales=(Scale(id="s", name="S", resolution_kg=0.005),),
        cooks=(cook,),
        pieces=pieces,
        weighings=tuple(Weighing.model_validate(one, context=context) for one in weighings),
        plan=plan if planned_kg is not None else None,
    )


SLIPS = [
    # (what was planned, what was typed, what was meant); kilograms, pounds and grams mixed.
    (5.6, "560 kg", "5.6 kg"),
    (1.49, "1486 oz", "1486 g"),
    (5.6, "86 g", None),
    (5.6, "5600 kg", "5600 g"),
    (5.6, "5.6 lb", "5.6 kg"),
    (5.6, "12.3 kg", "12.3 lb"),
    (5.6, "56 kg", "5.6 kg"),
    (5.6, "0.56 kg", "5.6 kg"),
    (2.4, "4.2 kg", "2.4 kg"),
    (None, "560 kg", "5.6 kg"),
    (None, "5.6 g", "5.6 kg"),
    (None, "86 oz", None),
]


@pytest.mark.parametrize(("planned", "typed", "meant"), SLIPS)
def test_a_raw_mass_is_held_against_plan_and_cut(
    planned: float | None, typed: str, meant: str | None
) -> None:
    record = record_of(("bare", "trimmed meat", typed), planned_kg=planned)
    found = doubts_of(record)
    if planned is None and typed == "86 oz":
        # 2.4 kg is half a shoulder: without a plan nothing is odd about it.
        assert found == {}
        return
    assert list(found) == ["w0"]
    if meant is not None:
        texts = [one.written for one in found["w0"].meant]
        assert any(parse_mass(text) == pytest.approx(parse_mass(meant)) for text in texts), texts


def test_the_trimmed_roast_of_560_kg_alone_is_in_doubt() -> None:
    """One slip does not put the honest weighings after it in doubt."""
    record = record_of(
        ("bare", "trimmed meat", "560 kg"),
        ("bare", "cooked meat", "3.4 kg"),
        ("paper", "trimmed meat", "5.5 kg"),
        ("paper", "cooked meat", "3.5 kg"),
        planned_kg=5.6,
    )
    assert list(doubts_of(record)) == ["w0"]


def test_a_weighing_of_the_other_piece_says_so() -> None:
    record = record_of(
        ("bare", "trimmed meat", "2.5 kg"),
        ("paper", "trimmed meat", "5.5 kg"),
        ("bare", "cooked meat", "3.5 kg"),
    )
    doubt = doubts_of(record)["w2"]
    assert doubt.kind is DoubtKind.GAINED
    assert "paper" in [one.piece for one in doubt.meant]


def test_parts_that_are_no_meat_are_held_against_what_they_weigh() -> None:
    record = record_of(("bare", "rub", "60 kg"), ("", "green tray", "850 kg"))
    found = doubts_of(record)
    assert {one.kind for one in found.values()} == {DoubtKind.NOT_LIKE_SUCH_A_PART}
    assert [parse_mass(found["w1"].meant[0].written)] == [pytest.approx(0.85)]


def test_no_weighing_of_the_demo_is_asked_about() -> None:
    from fairsmoke.demo import demo_trial

    assert doubts_of(demo_trial().record) == {}


def test_honest_kitchens_are_hardly_ever_asked() -> None:
    """Yields of 45 to 75 %, masses ± 20 % of the plan: at most one weighing in a hundred."""
    rng = np.random.default_rng(7)
    asked = weighed = 0
    for _ in range(200):
        planned = float(rng.uniform(1.0, 8.0))
        rows = []
        for piece in ("bare", "paper"):
            raw = planned * float(rng.uniform(0.8, 1.2))
            cooked = raw * float(rng.uniform(0.45, 0.75))
            rows += [(piece, "trimmed meat", f"{raw:.3f} kg"), (piece, "rub", "45 g")]
            rows += [(piece, "cooked meat + used wrap", f"{cooked + 0.05:.3f} kg")]
            rows += [(piece, "served meat", f"{cooked * float(rng.uniform(0.75, 0.98)):.3f} kg")]
        weighed += len(rows)
        asked += len(doubts_of(record_of(*rows, planned_kg=planned)))
    assert asked <= weighed / 100
