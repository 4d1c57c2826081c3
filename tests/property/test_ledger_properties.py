"""Properties that the mass ledger has whatever was weighed: Hypothesis. Masses in kg."""

from dataclasses import dataclass
from fractions import Fraction
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fairsmoke.quantity import parse_mass
from fairsmoke.trial.weighing import MeatState, PartEstimate, Scale, Weighing
from fairsmoke.weighing import LedgerError, piece_ledger, solve_ledger, yield_of
from fairsmoke.weighing.uncertainty import summarise

COOKED = MeatState.COOKED
DRAWS = 400
few = settings(max_examples=30, deadline=None)


@dataclass(frozen=True)
class Kitchen:
    """Weighings that some true masses gave on an invented scale."""

    weighings: tuple[Weighing, ...]
    scale: Scale
    estimates: tuple[PartEstimate, ...]
    masses: dict[tuple[str, str], float]


SUMS = (
    ("trimmed meat", "green tray"),
    ("cooked meat", "clinging fat", "green tray"),
    ("bought meat",),
    ("used wrap",),
    ("cooked meat", "clinging fat", "used wrap", "green tray"),
    ("drippings", "blue tray"),
    ("rub",),
    ("clinging fat",),
)


@st.composite
def kitchens(draw: st.DrawFn) -> Kitchen:
    step = draw(st.sampled_from([0.001, 0.002, 0.005]))
    scale = Scale(
        id="bench",
        name="bench",
        resolution_kg=step,
        repeatability_kg=draw(st.sampled_from([0.0, 0.001, 0.003])),
        max_error_kg=draw(st.sampled_from([0.0, 0.004])),
    )
    trays = {"green tray": draw(st.floats(0.3, 1.5)), "blue tray": draw(st.floats(0.3, 1.5))}
    masses: dict[tuple[str, str], float] = {}
    weighings = [_weigh(f"t-{name[0]}", None, (name,), trays, step) for name in trays]
    estimates = []
    for number in range(draw(st.integers(1, 3))):
        piece = f"p{number}"
        trimmed = draw(st.floats(2.0, 9.0))
        own = {
            "trimmed meat": trimmed,
            "bought meat": trimmed + draw(st.floats(0.1, 1.0)),
            "cooked meat": trimmed * draw(st.floats(0.4, 0.8)),
            "clinging fat": draw(st.floats(0.06, 0.2)),
            "used wrap": draw(st.floats(0.08, 0.3)),
            "drippings": trimmed * draw(st.floats(0.03, 0.1)),
            "rub": draw(st.floats(0.08, 0.2)),
        }
        masses |= {(piece, name): mass for name, mass in own.items()}
        kept = [SUMS[0], SUMS[1], *draw(st.lists(st.sampled_from(SUMS[2:]), unique=True))]
        weighings += [
            _weigh(f"{piece}-{at}", piece, names, own | trays, step)
            for at, names in enumerate(kept)
        ]
        if SUMS[7] not in kept:
            fat = own["clinging fat"]
            estimates.append(_estimate(piece, fat - 0.04, fat + 0.05))
    return Kitchen(tuple(weighings), scale, tuple(estimates), masses)


def _weigh(
    id_: str, piece: str | None, names: tuple[str, ...], mass: dict[str, float], step: float
) -> Weighing:
    reading = round(sum(mass[name] for name in names) / step) * step
    return Weighing(id=id_, piece=piece, scale="bench", reading_kg=reading, sum=names)


def _estimate(piece: str, low_kg: float, high_kg: float) -> PartEstimate:
    return PartEstimate.model_validate(
        {
            "id": f"e-{piece}",
            "piece": piece,
            "part": "clinging fat",
            "low_kg": low_kg,
            "high_kg": high_kg,
            "why": "invented",
        }
    )


@few
@given(kitchens(), st.data())
def test_parts_always_add_up(kitchen: Kitchen, data: st.DataObject) -> None:
    # One weighing may be missing, so that parts may be open.
    missing = data.draw(st.sampled_from([None, *kitchen.weighings]))
    kept = [w for w in kitchen.weighings if w is not missing]
    solution = solve_ledger(kept, [kitchen.scale], kitchen.estimates, draws=DRAWS)
    assert solution.drawn_kg.min() > -1e-9
    drawn = {
        (part.piece, part.part.text): solution.draws_of(part) for part in solution.system.parts
    }
    for piece in solution.pieces:
        if (piece, "bought meat") in drawn and (piece, "trim") in drawn:
            both = drawn[piece, "trimmed meat"] + drawn[piece, "trim"]
            assert np.abs(drawn[piece, "bought meat"] - both).max() < 1e-12
        try:
            ledger = piece_ledger(solution, piece, COOKED)
        except LedgerError:
            continue
        went_in = sum(line.drawn_kg for line in ledger.went_in)
        came_out = sum(line.drawn_kg for line in ledger.came_out)
        assert np.abs(went_in - came_out).max() < 1e-12
        assert sum(line.spread.mean for line in ledger.went_in) == pytest.approx(
            sum(line.spread.mean for line in ledger.came_out), abs=1e-12
        )
        shares = [source.share for source in yield_of(solution, piece, COOKED).sources]
        assert sum(shares) == pytest.approx(1.0, abs=1e-12)
        assert shares == sorted(shares, reverse=True)


@few
@given(kitchens(), st.randoms(use_true_random=False))
def test_the_order_of_weighings_changes_nothing(kitchen: Kitchen, random: Random) -> None:
    shuffled = list(kitchen.weighings)
    random.shuffle(shuffled)
    first = solve_ledger(kitchen.weighings, [kitchen.scale], kitchen.estimates, draws=DRAWS)
    second = solve_ledger(shuffled, [kitchen.scale], kitchen.estimates[::-1], draws=DRAWS)
    assert first.system.parts == second.system.parts
    assert np.array_equal(first.drawn_kg, second.drawn_kg)


@few
@given(kitchens(), st.data())
def test_one_more_agreeing_weighing_never_widens(kitchen: Kitchen, data: st.DataObject) -> None:
    before = solve_ledger(kitchen.weighings, [kitchen.scale], kitchen.estimates, draws=DRAWS)
    names = data.draw(st.sampled_from([seen.parts for seen in before.system.observations]))
    design_row = np.zeros(len(before.system.parts))
    design_row[[before.system.place[part] for part in names]] = 1.0
    values = np.array([seen.value_kg for seen in before.system.observations])
    reading = float(design_row @ before.gain @ values)
    piece = next((part.piece for part in names if part.piece), None)
    extra = Weighing(
        id="again", piece=piece, scale="bench", reading_kg=reading, sum=[p.part for p in names]
    )
    after = solve_ledger(
        [*kitchen.weighings, extra], [kitchen.scale], kitchen.estimates, draws=DRAWS
    )
    for piece in before.pieces:
        narrower = yield_of(after, piece, COOKED).first_order
        # The yield itself moves by the noise of few draws, and its uncertainty a little with it.
        assert narrower <= yield_of(before, piece, COOKED).first_order * 1.01


@few
@given(kitchens(), st.data())
def test_a_missing_weighing_never_narrows(kitchen: Kitchen, data: st.DataObject) -> None:
    missing = data.draw(st.sampled_from(kitchen.weighings))
    kept = [w for w in kitchen.weighings if w is not missing]
    before = solve_ledger(kitchen.weighings, [kitchen.scale], kitchen.estimates, draws=2000)
    after = solve_ledger(kept, [kitchen.scale], kitchen.estimates, draws=2000)
    for piece in before.pieces:
        full = yield_of(before, piece, COOKED)
        try:
            less = yield_of(after, piece, COOKED)
        except LedgerError:
            # Nothing names the trimmed or the cooked meat any more: not narrower, but gone.
            assert missing.piece == piece
            continue
        assert less.standard_uncertainty > 0.9 * full.standard_uncertainty
        assert set(less.open_parts) >= set(full.open_parts)


@few
@given(
    on=st.integers(600, 3000),
    left=st.floats(0.4, 0.8),
    step=st.sampled_from(["0.1 oz", "0.5 oz", "2 oz"]),
)
def test_pounds_and_kilograms_give_the_same(on: int, left: float, step: str) -> None:
    tenths = {"trimmed meat": on, "cooked meat": round(on * left)}
    scale = Scale(id="bench", name="bench", resolution_kg=parse_mass(step))
    found = []
    for written in (_in_pounds, _in_kilograms):
        weighings = [
            Weighing.model_validate(
                {
                    "id": part[:4],
                    "piece": "p",
                    "scale": "bench",
                    "reading_kg": written(count),
                    "sum": [part],
                }
            )
            for part, count in tenths.items()
        ]
        found.append(yield_of(solve_ledger(weighings, [scale], draws=DRAWS), "p", COOKED))
    pounds, kilograms = found
    assert pounds.value == pytest.approx(kilograms.value, abs=1e-12)
    assert pounds.first_order == pytest.approx(kilograms.first_order, rel=1e-9)
    assert pounds.drawn == pytest.approx(kilograms.drawn, abs=1e-12)


def _in_pounds(tenths: int) -> str:
    pounds, rest = divmod(tenths, 160)
    return f"{pounds} lb {rest // 10}.{rest % 10} oz"


def _in_kilograms(tenths: int) -> str:
    # One ounce is 28.349523125 g exactly.
    grams = Fraction("28.349523125") * tenths / 10
    return f"{float(grams / 1000):.12f} kg"


@few
@given(st.lists(st.floats(-5, 5), min_size=100, max_size=400), st.sampled_from([0.5, 0.9, 0.95]))
def test_the_shortest_interval_is_never_longer(values: list[float], probability: float) -> None:
    drawn = np.array(values)
    result = summarise(drawn, probability)
    assert result.shortest_high - result.shortest_low <= result.high - result.low + 1e-12
    inside = np.mean((drawn >= result.low) & (drawn <= result.high))
    assert inside >= probability - 1 / drawn.size
