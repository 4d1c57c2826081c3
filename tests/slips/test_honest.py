"""What honest kitchens are asked: next to nothing.

The masses and cores of 200 cooks come from the simulator, which knows nothing of the rules; bones,
waste, scales and what a person types late are drawn. The bar: at most one entry in a hundred.
"""

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from tests.slips import hall

from fairsmoke.cooking.body import MeasuredPiece as Body
from fairsmoke.cooking.ensemble import Ensemble, run_ensemble
from fairsmoke.demo import demo_trial
from fairsmoke.judging.contradictions import contradictions_of
from fairsmoke.judging.waiting import waiting_of
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Event, Piece
from fairsmoke.trial.plan import AtHand, Plan, PlannedPiece
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import Cover, EndCondition, Protocol, Stage, Wrap
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Weighing
from fairsmoke.weighing.plausible import doubts_of

CUTS = (
    # (cut, mass in kg, length, width and thickest in m, pit and core in °C, cover)
    ("pork shoulder", 3.6, 0.24, 0.18, 0.115, 121.0, 94.0, Cover.BARE),
    ("brisket", 5.6, 0.45, 0.28, 0.085, 121.0, 93.0, Cover.PAPER),
    ("chuck roast", 1.5, 0.2, 0.15, 0.075, 121.0, 93.0, Cover.BARE),
    ("turkey breast", 2.0, 0.24, 0.15, 0.08, 135.0, 72.0, Cover.FOIL),
)
EACH = 50
SAMPLE_S = np.arange(0.0, 30.0 * 3600.0, 900.0)


def test_the_demo_is_asked_nothing() -> None:
    assert waiting_of(demo_trial().record) == ()


def test_the_hall_of_the_slips_is_asked_nothing() -> None:
    assert hall.record().problems() == []
    assert waiting_of(hall.record()) == ()


def protocol(pit_c: float, core_c: float, cover: Cover) -> Protocol:
    smoke = Stage(
        id="smoke",
        name="Smoke",
        surround_c=pit_c,
        ends=(EndCondition(core_c=min(71.0, core_c - 8.0)),),
    )
    finish = Stage(
        id="finish",
        name="Finish",
        surround_c=pit_c,
        wrap=Wrap(above=cover, below=cover),
        ends=(EndCondition(core_c=core_c),),
    )
    return Protocol(stages=(smoke, finish))


def cooked(at: int) -> TrialRecord:
    """Return fifty cooks of one cut as a kitchen would have recorded them."""
    cut, mass_kg, long, wide, thick, pit_c, core_c, cover = CUTS[at]
    rng = np.random.default_rng(at)
    plan = protocol(pit_c, core_c, cover)
    found = run_ensemble(
        Body(cut, mass_kg, long, wide, thick),
        plan,
        members=EACH,
        seed=7 + at,
        sample_s=tuple(SAMPLE_S),
        workers=1,
    )
    good = [int(member) for member in np.flatnonzero(found.good())]
    cooks = [
        _cook(member, cut, found, mass_kg * float(rng.uniform(0.85, 1.2)), rng) for member in good
    ]
    base = hall.record()
    planned = tuple(PlannedPiece(id=one.piece.id, mass_kg=mass_kg) for one in cooks)
    return replace(
        base,
        trial=base.trial.model_copy(update={"protocol": plan}),
        cooks=tuple(one.cook for one in cooks),
        pieces=tuple(one.piece for one in cooks),
        placements=tuple(one.stay for one in cooks),
        events=tuple(event for one in cooks for event in one.events),
        weighings=tuple(weighing for one in cooks for weighing in one.weighings),
        probes=(Probe(id="spare", name="Spare"),),
        plan=Plan(at_hand=AtHand(cut=cut, species="pork", pieces=planned)),
        readings={(one.cook.id, "spare"): one.core for one in cooks},
    )


@dataclass(frozen=True)
class HonestCook:
    """One cook as it was recorded."""

    cook: Cook
    piece: Piece
    stay: Placement
    events: tuple[Event, ...]
    weighings: tuple[Weighing, ...]
    core: Readings


def _cook(
    member: int, cut: str, found: Ensemble, raw_kg: float, rng: np.random.Generator
) -> HonestCook:
    name = f"c{member}"
    begin = hall.NIGHTS["may"]
    on = begin + timedelta(hours=1)
    end_s = float(found.end_s[member])
    off = on + timedelta(seconds=end_s)
    # Pressed up to twelve minutes after the piece was in hand.
    late = timedelta(minutes=float(rng.uniform(0.0, 12.0)))
    kept = raw_kg * float(found.shares["kept"][member])
    waste = float(rng.uniform(0.78, 0.98))
    rows = (
        ("trimmed meat", on - timedelta(minutes=40), raw_kg),
        ("rub", on - timedelta(minutes=30), float(rng.uniform(0.02, 0.08))),
        ("cooked meat", off + timedelta(minutes=20), kept),
        ("drippings", off + timedelta(minutes=30), 0.4 * (raw_kg - kept)),
        ("served meat", off + timedelta(hours=2), kept * waste),
    )
    told = end_s > SAMPLE_S
    cool = 3.0 * np.arange(1, 8)
    core_c = np.append(found.samples[member, told, 0], found.core_c[member] - cool)
    time_s = np.append(SAMPLE_S[told], end_s + 600.0 * np.arange(1, 8))
    raw = np.round(10.0 * (core_c + rng.normal(0.0, 0.2, core_c.size))).astype(np.int64)
    time_ms = epoch_ms(on) + (1000.0 * time_s).astype(np.int64)
    return HonestCook(
        Cook(
            id=name,
            name=name,
            time_zone="UTC",
            starts=begin,
            ends=off + timedelta(hours=6),
            cookers=("barrel",),
        ),
        Piece(id=name, name=name, cut=cut, species="pork", cook=name, arm="bare", pair=name),
        Placement(id=name, cook=name, probe="spare", since=begin, measures="core", piece=name),
        tuple(
            Event(id=f"{name}-{kind}", cook=name, at=at, kind=kind, pieces=(name,))
            for kind, at in (("on", on), ("pull", off + late))
        ),
        tuple(
            Weighing(
                id=f"{name}-w{number}",
                cook=name,
                piece=name,
                scale="bench",
                at=at,
                reading_kg=round(200.0 * kg) / 200.0,
                sum=(parts,),
            )
            for number, (parts, at, kg) in enumerate(rows)
        ),
        Readings(time_ms, raw, 1, "degC", np.zeros(raw.size, dtype=np.uint8)),
    )


@pytest.mark.parametrize("at", range(len(CUTS)), ids=[row[0] for row in CUTS])
def test_an_honest_kitchen_is_asked_about_one_entry_in_a_hundred_at_most(at: int) -> None:
    record = cooked(at)
    assert len(record.pieces) >= 0.9 * EACH
    asked = doubts_of(record)
    contradicted = contradictions_of(record)
    entries = len(record.weighings) + len(record.events) + len(record.placements)
    found: list[Any] = [*asked.values(), *contradicted]
    assert len(found) <= entries / 100, [one.kind for one in found]
