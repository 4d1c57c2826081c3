"""An invented kitchen for slips: two nights, two pairs of pork shoulders, all weighed but the last.

The cores are drawn, not measured: they rise evenly from 5 °C to 94 °C while a piece is on, and fall
afterwards.
"""

from datetime import UTC, datetime, timedelta

import numpy as np

from fairsmoke.trial.base import FileContext
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, Piece, Position
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.plan import AtHand, Plan, PlannedPiece
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.question import Arm, Draw, Measure, Trial
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Scale, Weighing

KITCHEN = Kitchen(name="Village hall", time_zone="UTC")
TRIAL = "paper-or-bare"
NIGHTS = {"may": datetime(2026, 5, 2, 18, tzinfo=UTC), "june": datetime(2026, 6, 6, 18, tzinfo=UTC)}
RAW_KG = {"may-bare": 5.6, "may-paper": 2.4, "june-bare": 5.5, "june-paper": 5.4}
KEPT = {"may-bare": 0.61, "may-paper": 0.64, "june-bare": 0.6, "june-paper": 0.65}
PLANNED_KG = {"may-bare": 5.6, "may-paper": 2.4, "june-bare": 5.5, "june-paper": 5.5}
HOURS = {"may-bare": 13.0, "may-paper": 9.0, "june-bare": 13.0, "june-paper": 11.0}
FIRST, LAST = "may-bare", "june-paper"


def trial() -> Trial:
    smoke = Stage(
        id="smoke", name="Smoke", place="cooker", surround_c=121.0, ends=(EndCondition(core_c=94),)
    )
    measures = (
        Measure(id="kept", name="Yield", kind="yield", better="higher", worthwhile=0.02),
        Measure(id="long", name="Time", kind="cook time", better="lower", worthwhile=1800.0),
        Measure(
            id="core",
            name="Time to 90",
            kind="time to core",
            core_c=90.0,
            better="lower",
            worthwhile=1800.0,
        ),
    )
    return Trial(
        id=TRIAL,
        title="Paper or bare",
        question="Does paper keep more?",
        invented=True,
        differs="the wrap",
        protocol=Protocol(stages=(smoke,)),
        arms=(Arm(id="bare", name="Bare"), Arm(id="paper", name="Paper")),
        measures=measures,
        draw=Draw(how="by hand"),
    )


def pieces() -> tuple[Piece, ...]:
    return tuple(
        Piece(
            id=name,
            name=name.replace("-", " "),
            cut="pork shoulder",
            species="pork",
            cook=name.partition("-")[0],
            arm=name.partition("-")[2],
            pair=name.partition("-")[0],
        )
        for name in RAW_KG
    )


def events(piece: str) -> tuple[Event, ...]:
    on = NIGHTS[piece.partition("-")[0]] + timedelta(hours=1)
    off = on + timedelta(hours=HOURS[piece])
    return tuple(
        Event(id=f"{piece}-{kind}", cook=piece.partition("-")[0], at=at, kind=kind, pieces=(piece,))
        for kind, at in (("on", on), ("wrap", on + timedelta(hours=5)), ("pull", off))
    )


def weighings(piece: str) -> tuple[Weighing, ...]:
    on, _, off = (event.at for event in events(piece))
    raw, kept = RAW_KG[piece], RAW_KG[piece] * KEPT[piece]
    rows: tuple[tuple[str, datetime, float, str], ...] = (
        ("raw", on - timedelta(hours=1), raw + 0.83, "trimmed meat + green tray"),
        ("rub", on - timedelta(minutes=50), 0.045, "rub"),
        ("off", off + timedelta(minutes=10), kept, "cooked meat"),
        ("drip", off + timedelta(minutes=20), 0.4, "drippings"),
    )
    if piece == LAST:
        rows = rows[:2]
    return tuple(
        Weighing.model_validate(
            {
                "id": f"{piece}-{name}",
                "cook": piece.partition("-")[0],
                "piece": piece,
                "scale": "bench",
                "at": at,
                "reading": f"{kg:.3f} kg",
                "sum": parts,
            },
            context=FileContext(),
        )
        for name, at, kg, parts in rows
    )


def core(piece: str) -> Readings:
    """Return a reading every five minutes, from an hour before it went on to two hours after."""
    on, _, off = (epoch_ms(event.at) for event in events(piece))
    time_ms = np.arange(on - 3_600_000, off + 7_200_001, 300_000, dtype=np.int64)
    up = np.clip((time_ms - on) / (off - on), 0.0, 1.0)
    down = np.clip((time_ms - off) / 7_200_000, 0.0, 1.0)
    value = 5.0 + 89.0 * up - 25.0 * down
    raw = np.round(10.0 * value).astype(np.int64)
    return Readings(time_ms, raw, 1, "degC", np.zeros(len(raw), dtype=np.uint8))


def record() -> TrialRecord:
    tray = Weighing(id="tray", scale="bench", reading_kg=0.83, sum=("green tray",))
    left = Position(id="left", name="Left")
    return TrialRecord(
        trial(),
        cookers=(Cooker(id="barrel", name="Barrel", positions=(left,)),),
        scales=(Scale(id="bench", name="Bench", resolution_kg=0.005, repeatability_kg=0.002),),
        probes=tuple(Probe(id=f"core-{name}", name=f"Core {name}") for name in (*RAW_KG, "spare")),
        cooks=tuple(
            Cook(
                id=night,
                name=night.title(),
                time_zone="UTC",
                starts=at,
                ends=at + timedelta(hours=20),
                cookers=("barrel",),
            )
            for night, at in NIGHTS.items()
        ),
        pieces=pieces(),
        placements=tuple(
            Placement(
                id=f"in-{name}",
                cook=name.partition("-")[0],
                probe=f"core-{name}",
                since=NIGHTS[name.partition("-")[0]],
                measures="core",
                piece=name,
            )
            for name in RAW_KG
        ),
        events=tuple(event for name in RAW_KG for event in events(name)),
        weighings=(tray, *(one for name in RAW_KG for one in weighings(name))),
        plan=Plan(
            at_hand=AtHand(
                cut="pork shoulder",
                species="pork",
                pieces=tuple(PlannedPiece(id=n, mass_kg=kg) for n, kg in PLANNED_KG.items()),
            )
        ),
        readings={(name.partition("-")[0], f"core-{name}"): core(name) for name in RAW_KG},
    )
