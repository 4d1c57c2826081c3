"""Small invented records to judge, and the judge that also says and writes what it found."""

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from fairsmoke.judging.finding import Finding
from fairsmoke.judging.judge import judge
from fairsmoke.telling.as_json import finding_json
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.finding import for_terminal
from fairsmoke.telling.reader import ENGLISH, Reader
from fairsmoke.trial.cook import Cook, Cooker, Piece, Position, Spot
from fairsmoke.trial.figure import Figure
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.question import Arm, Better, Draw, Measure, MeasureKind, Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, Scale, Weighing

MADE = datetime(2026, 6, 1, tzinfo=UTC)
YIELD = Measure(
    id="yield", name="Yield", kind=MeasureKind.YIELD, better=Better.HIGHER, worthwhile=0.02
)
SHEAR = Measure(
    id="shear",
    name="Shear force",
    kind=MeasureKind.MEASURED,
    better=Better.LOWER,
    worthwhile=0.5,
    unit="kgf",
)
LIKING = Measure(
    id="liking",
    name="Liking",
    kind=MeasureKind.SCORE,
    better=Better.HIGHER,
    worthwhile=1.0,
    scale_low=0.0,
    scale_high=10.0,
)
TIME = Measure(
    id="time", name="Time", kind=MeasureKind.COOK_TIME, better=Better.LOWER, worthwhile=1800.0
)


def trial(measures: Sequence[Measure], arms: int = 2, draw: Draw | None = None) -> Trial:
    names = ("bare", "paper", "foil")[:arms]
    stage = Stage(id="smoke", name="Smoke", ends=(EndCondition(core_c=94.0),))
    return Trial(
        id="t",
        title="Paper or bare",
        question="Does paper keep more?",
        differs="wrap",
        protocol=Protocol(stages=(stage,)),
        arms=tuple(Arm(id=name, name=name.title()) for name in names),
        measures=tuple(measures),
        draw=draw or Draw(how="drawn", within="pair"),
    )


def weighed(piece: str, state: str, kg: float) -> Weighing:
    return Weighing(
        id=f"{piece}-{state}",
        piece=piece,
        scale="s",
        reading_kg=kg,
        sum=(Part.parse(f"{state} meat"),),
    )


def record_of(
    yields: Sequence[tuple[float, ...]],
    measures: Sequence[Measure] = (YIELD,),
    draw: Draw | None = None,
    figures: Sequence[Figure] = (),
) -> TrialRecord:
    """A cook a row, with one piece of each arm whose yield stands in the row (NaN: not weighed)."""
    arms = ("bare", "paper", "foil")[: len(yields[0])]
    cooks, pieces, weighings = [], [], []
    for number, row in enumerate(yields):
        cook = f"c{number}"
        start = datetime(2026, 5, 1 + number, 18, tzinfo=UTC)
        cooks.append(Cook(id=cook, name=cook, time_zone="UTC", starts=start, cookers=("barrel",)))
        for place, (arm, share) in enumerate(zip(arms, row, strict=True)):
            handle = f"{cook}-{arm}"
            spot = Spot(cooker="barrel", position=("left", "right", "top")[(place + number) % 3])
            pieces.append(
                Piece(
                    id=handle,
                    name=handle,
                    cut="shoulder",
                    species="pork",
                    cook=cook,
                    arm=arm,
                    pair=f"p{number}",
                    spot=spot,
                )
            )
            weighings.append(weighed(handle, "trimmed", 4.0))
            if not np.isnan(share):
                weighings.append(weighed(handle, "cooked", round(4.0 * share, 3)))
    positions = tuple(Position(id=p, name=p) for p in ("left", "right", "top"))
    return TrialRecord(
        trial=trial(measures, len(arms), draw),
        cookers=(Cooker(id="barrel", name="Barrel", positions=positions),),
        scales=(Scale(id="s", name="S", resolution_kg=0.005, repeatability_kg=0.002),),
        cooks=tuple(cooks),
        pieces=tuple(pieces),
        weighings=tuple(weighings),
        figures=tuple(figures),
    )


def finding_text(finding: Finding, reader: Reader = ENGLISH) -> str:
    """Return a finding as a terminal shows it."""
    return document_text(for_terminal(finding), reader)


def found(record: TrialRecord) -> Finding:
    finding = judge(record, made=MADE)
    # Whatever was found can be said and written down.
    assert finding_text(finding)
    assert finding_json(finding)["trial"] == "t"
    return finding
