"""Records and findings to tell of: the invented demo with its readings, and small odd trials."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from fairsmoke.demo import demo_trial
from fairsmoke.demo.logger_files import NightProbes
from fairsmoke.demo.temperatures import surroundings_of
from fairsmoke.demo.timeline import draw_courses, stays_of
from fairsmoke.demo.truth import draw_truth
from fairsmoke.judging.finding import Finding
from fairsmoke.judging.judge import judge
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece, Position, Spot
from fairsmoke.trial.figure import Figure
from fairsmoke.trial.protocol import EndCondition, Protocol, Stage
from fairsmoke.trial.question import Arm, Better, Draw, Measure, MeasureKind, Trial
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, Scale, Weighing

MADE = datetime(2026, 11, 2, 9, 30, tzinfo=UTC)
SEED = 2026

RecordMaker = Callable[..., TrialRecord]


@pytest.fixture(scope="session")
def demo_record() -> TrialRecord:
    """Return the demo as recorded, with what its loggers read (not through their files)."""
    truth = draw_truth(SEED)
    readings: dict[tuple[str, str], Readings] = {}
    for number, course in enumerate(draw_courses(SEED, truth)):
        rng = np.random.default_rng([SEED, 6, number])
        finals = {row.handle: truth[row.handle].final_c for row in course.pair}
        grid_s, surroundings = surroundings_of(course, finals, rng)
        watch = NightProbes(course, stays_of(course), grid_s, surroundings, rng)
        time_s = np.arange(course.logger_on, course.serve, 30.0)
        if course.gap is not None:
            time_s = time_s[(time_s < course.gap[0]) | (time_s > course.gap[1])]
        for probe in watch.stays:
            shown = watch.shown_c(probe, time_s)
            plugged = ~np.isnan(shown)
            readings[course.night.handle, probe] = Readings(
                time_ms=(epoch_ms(course.night.starts) + time_s[plugged] * 1000).astype(np.int64),
                raw=np.round(shown[plugged] * 10).astype(np.int64),
                decimals=1,
                unit="degC",
                flags=np.zeros(int(plugged.sum()), dtype=np.uint8),
            )
    return replace(demo_trial(SEED).record, readings=readings)


@pytest.fixture(scope="session")
def demo_finding(demo_record: TrialRecord) -> Finding:
    """Return the finding of the demo."""
    return judge(demo_record, made=MADE)


def make_record(
    *,
    arms: int = 2,
    pairs: int = 3,
    missing: tuple[int, ...] = (),
    long_names: bool = False,
    markup: str = "",
) -> TrialRecord:
    """Return a small invented trial: a yield from two weighings a piece, and a shear force.

    ``missing`` are the numbers of pieces without any value; with ``long_names`` every name has 60
    letters; ``markup`` is put into every name.
    """

    def named(words: str) -> str:
        words = f"{words} {markup}".strip()
        return (
            (words + " and so on with a name that goes on and on and on")[:60]
            if long_names
            else words
        )

    handles = ["bare", "paper", "foil", "film"][:arms]
    start = datetime(2026, 3, 28, 20, 0, tzinfo=UTC)
    cooks = tuple(
        Cook(
            id=f"cook-{c}",
            name=named(f"Night {c}"),
            time_zone="Europe/London",
            starts=start + timedelta(days=7 * c),
            cookers=("barrel",),
        )
        for c in range(pairs)
    )
    positions = tuple(Position(id=h, name=named(f"Place {h}")) for h in handles)
    pieces = tuple(
        Piece(
            id=f"piece-{c}-{arm}",
            name=named(f"Shoulder {c * arms + a + 1}"),
            cut="pork shoulder",
            species="pork",
            cook=cook.id,
            arm=arm,
            pair=f"pair-{c}",
            spot=Spot(cooker="barrel", position=handles[(a + c) % arms]),
        )
        for c, cook in enumerate(cooks)
        for a, arm in enumerate(handles)
    )
    rng = np.random.default_rng(SEED)
    kept = [piece for number, piece in enumerate(pieces) if number not in missing]
    shares = {p.id: 0.58 + 0.02 * handles.index(p.arm or "") + rng.normal(0, 0.01) for p in kept}
    return TrialRecord(
        trial=_trial(handles, named),
        cookers=(Cooker(id="barrel", name=named("The barrel"), positions=positions),),
        scales=(Scale(id="scale", name="Scale", resolution_kg=0.005, repeatability_kg=0.002),),
        cooks=cooks,
        pieces=pieces,
        events=tuple(_events(cooks, pieces, start)),
        weighings=tuple(
            Weighing(
                id=f"{state}-{piece.id}",
                piece=piece.id,
                scale="scale",
                reading_kg=round(4.0 * (1.0 if state == "trimmed" else shares[piece.id]), 3),
                sum=(Part.parse(f"{state} meat"),),
            )
            for piece in kept
            for state in ("trimmed", "cooked")
        ),
        figures=tuple(
            Figure(
                id=f"shear-{piece.id}",
                piece=piece.id,
                measure="shear",
                value=round(3.0 + float(rng.normal(0, 0.4)), 2),
                uncertainty=0.1,
            )
            for piece in kept
        ),
    )


def _trial(handles: list[str], named: Callable[[str], str]) -> Trial:
    stage = Stage(
        id="smoke", name=named("Smoke"), surround_c=121.0, ends=(EndCondition(core_c=93.0),)
    )
    return Trial(
        id="small-trial",
        title=named("Small trial"),
        question=named("Which keeps more?"),
        invented=True,
        differs=named("The wrap"),
        protocol=Protocol(stages=(stage,)),
        arms=tuple(Arm(id=handle, name=named(handle.title())) for handle in handles),
        measures=(
            Measure(
                id="yield",
                name=named("Yield"),
                kind=MeasureKind.YIELD,
                better=Better.HIGHER,
                worthwhile=0.02,
                main=True,
            ),
            Measure(
                id="shear",
                name=named("Shear force"),
                kind=MeasureKind.MEASURED,
                better=Better.NEITHER,
                worthwhile=0.5,
                unit="kg",
            ),
        ),
        draw=Draw(how="drawn", within="pair"),
    )


def _events(cooks: tuple[Cook, ...], pieces: tuple[Piece, ...], start: datetime) -> list[Event]:
    found = []
    for cook in cooks:
        own = tuple(piece.id for piece in pieces if piece.cook == cook.id)
        for number, (kind, hours) in enumerate(((EventKind.ON, 1.0), (EventKind.PULL, 13.5))):
            found.append(
                Event(
                    id=f"{cook.id}-event-{number}",
                    cook=cook.id,
                    at=cook.starts + timedelta(hours=hours),
                    kind=kind,
                    pieces=own,
                )
            )
    return found


@pytest.fixture(scope="session")
def record_maker() -> RecordMaker:
    """Return the maker of small trials."""
    return make_record


@pytest.fixture(scope="session")
def finding_of() -> Callable[[TrialRecord], Finding]:
    """Return what judges a record at the moment that all tests share."""
    return lambda record: judge(record, made=MADE)


@pytest.fixture
def flagged() -> Callable[[Readings, slice, Flag], Readings]:
    """Return what puts a flag on some readings."""

    def put(readings: Readings, which: slice, flag: Flag) -> Readings:
        flags = np.zeros(len(readings), dtype=np.uint8)
        flags[which] = int(flag)
        return readings.with_flags(flags)

    return put
