"""Hypothesis strategies for whole invented trials whose records fit together."""

from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar

import numpy as np
from hypothesis import strategies as st

from fairsmoke.trial import question, tasting
from fairsmoke.trial import weighing as scales
from fairsmoke.trial.canonical import canonical_form, digest_of
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece, Position, Spot
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.kitchen import Kitchen, KnownLayout
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, Plan, PlannedPiece, Slot
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.protocol import (
    Addition,
    Cover,
    EndCondition,
    Humidity,
    Place,
    Protocol,
    Stage,
    StageChange,
    Wrap,
)
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import Amendment, PlanChange, Registration
from fairsmoke.trial.source import BadRow, Source

T = TypeVar("T")
Draw = st.DrawFn

# Any text at all, and what a record's own texts may be: no control characters.
WILD = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t"), max_size=30
) | st.sampled_from(
    [
        "no",
        "~",
        "null",
        "22:40",
        "012",
        "1e5",
        "- a: b # c",
        "one\n  two\n\nthree",
        "'\"",
        "<<",
        "?a",
        "🍖 épaule",
        "\u2028\ufeff",
    ]
)
NAMES = TEXTS.map(lambda text: f"n{text}")
ZONES = st.sampled_from(
    # Monrovia was 44 min 30 s behind UTC until 1972.
    ["Europe/London", "America/Chicago", "Australia/Lord_Howe", "Africa/Monrovia", "UTC"]
)
KELVINS = st.floats(-50, 400)
MASSES = st.floats(0, 50)
LENGTHS = st.floats(0, 2)
SECONDS = st.floats(0, 400_000)
MEASURED = st.floats(-1e6, 1e6)

# The night in which London's clocks go back: 01:30 happens twice on 2026-10-25.
_CHANGE = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
INSTANTS = st.one_of(
    st.sampled_from([_CHANGE, _CHANGE + timedelta(hours=1)]),
    st.datetimes(datetime(2000, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC)),
)


def ids(what: str, most: int, least: int = 0) -> st.SearchStrategy[list[str]]:
    """Some handles of one kind."""
    return st.integers(least, most).map(lambda n: [f"{what}-{i}" for i in range(n)])


def maybe(values: st.SearchStrategy[T]) -> st.SearchStrategy[T | None]:
    return st.none() | values


def pick(values: list[str]) -> st.SearchStrategy[str | None]:
    return maybe(st.sampled_from(values)) if values else st.none()


@st.composite
def end_conditions(draw: Draw) -> EndCondition:
    which: list[st.SearchStrategy[dict[str, Any]]] = [
        st.fixed_dictionaries({"core_c": KELVINS}),
        st.fixed_dictionaries({"elapsed_s": SECONDS}),
        st.fixed_dictionaries({"clock": st.sampled_from(["06:30", "23:59"])}),
        st.fixed_dictionaries({"feel": NAMES}),
    ]
    return EndCondition(**draw(st.one_of(which)))


WRAPS = st.builds(Wrap, above=st.sampled_from(Cover), below=st.sampled_from(Cover))
ADDITIONS = st.builds(
    Addition,
    what=st.sampled_from(["fat", "liquid", "rub", "slather"]),
    name=NAMES,
    mass_kg=maybe(MASSES),
)
ENDS = st.lists(end_conditions(), min_size=1, max_size=2).map(tuple)


def stages(handle: str) -> st.SearchStrategy[Stage]:
    return st.builds(
        Stage,
        id=st.just(handle),
        name=NAMES,
        place=st.sampled_from(Place),
        surround_c=maybe(KELVINS),
        humidity=st.sampled_from(Humidity),
        wrap=WRAPS,
        adds=st.lists(ADDITIONS, max_size=2).map(tuple),
        ends=ENDS,
        note=TEXTS,
    )


def changes(handles: list[str]) -> st.SearchStrategy[StageChange]:
    stage = st.sampled_from(handles)
    return st.one_of(
        st.builds(
            StageChange, stage=stage, surround_c=KELVINS, wrap=maybe(WRAPS), ends=maybe(ENDS)
        ),
        st.builds(StageChange, stage=stage, adds=st.lists(ADDITIONS, max_size=1).map(tuple)),
        st.builds(StageChange, stage=stage, put_after=stages("extra")),
        st.builds(StageChange, stage=stage, note=TEXTS),
        *([st.builds(StageChange, stage=stage, leave_out=st.just(True))] if handles[1:] else []),
    )


MEASURES = (
    question.Measure(
        id="yield", name="Yield", kind="yield", better="higher", worthwhile=0.02, main=True
    ),
    question.Measure(
        id="bark",
        name="Bark",
        kind="score",
        better="higher",
        worthwhile=0.1 + 0.2,
        scale_low=0,
        scale_high=10,
    ),
    question.Measure(
        id="shear", name="Shear force", kind="measured", better="lower", worthwhile=3.3, unit="N"
    ),
    question.Measure(
        id="time", name="Time", kind="time to core", better="lower", worthwhile=1801.5, core_c=93
    ),
)


@st.composite
def trials(draw: Draw, handle: str) -> question.Trial:
    names = draw(ids("stage", 3, 1))
    one_change = st.lists(changes(names), max_size=1).map(tuple)
    return question.Trial(
        id=handle,
        title=draw(NAMES),
        question=draw(NAMES),
        invented=draw(st.booleans()),
        differs=draw(NAMES),
        protocol=Protocol(stages=tuple(draw(stages(name)) for name in names)),
        arms=(
            question.Arm(id="bare", name=draw(NAMES)),
            question.Arm(id="paper", name=draw(NAMES), changes=draw(one_change), note=draw(TEXTS)),
        ),
        measures=MEASURES,
        draw=question.Draw(
            how="drawn", within="cook", seed=draw(maybe(st.integers(0, 2**70))), note=draw(TEXTS)
        ),
        verdict=question.VerdictRule(sure=draw(st.floats(0.51, 0.999))),
        altitude_m=draw(st.floats(0, 4000)),
        note=draw(TEXTS),
    )


def readings(size: int, largest: int = 2**63 - 1, decimals: int = 9) -> st.SearchStrategy[Readings]:
    """Readings with repeated times, values up to the largest either way and any flags."""
    times = st.integers(-2_000_000_000_000, 4_000_000_000_000)
    near = st.integers(1_792_800_000_000, 1_792_800_010_000)
    values = st.integers(-largest - 1, largest) | st.integers(-999, 9999)
    row = st.tuples(times | near, values, st.integers(0, 255))
    return st.builds(
        _readings,
        st.lists(row, min_size=1, max_size=size),
        st.integers(0, decimals),
        st.sampled_from(["degC", "degF", "K"]),
    )


def _readings(rows: list[tuple[int, int, int]], decimals: int, unit: Any) -> Readings:
    ordered = sorted(rows, key=lambda row: row[0])
    return Readings(
        np.array([row[0] for row in ordered], dtype=np.int64),
        np.array([row[1] for row in ordered], dtype=np.int64),
        decimals,
        unit,
        np.array([row[2] for row in ordered], dtype=np.uint8),
    )


@st.composite
def sources(draw: Draw, handle: str, cook: str, sha256: str) -> Source:
    rows = draw(
        st.lists(st.builds(BadRow, line=st.integers(1, 99), text=WILD, why=TEXTS), max_size=2)
    )
    return Source(
        id=handle,
        cook=cook,
        file_name=draw(NAMES),
        sha256=sha256,
        taken_in=draw(INSTANTS),
        layout=draw(TEXTS),
        mapping=draw(TEXTS),
        rows_read=3,
        rows_good=1,
        rows_bad=2,
        bad_rows=tuple(rows),
    )


KITCHENS = st.builds(
    Kitchen,
    name=NAMES,
    time_zone=ZONES,
    units=st.sampled_from(["metric", "us"]),
    invented=st.booleans(),
    note=TEXTS,
)
LAYOUTS = st.builds(
    KnownLayout, id=st.just("ab12"), name=NAMES, mapping=NAMES, confirmed=INSTANTS, by=TEXTS
)


class _Maker:
    """Draws one trial's records, each fitting to those before it."""

    def __init__(self, draw: Draw, handle: str) -> None:
        self.draw = draw
        self.trial = draw(trials(handle))
        self.cookers = tuple(
            Cooker(
                id=name,
                name=draw(NAMES),
                fuel=draw(TEXTS),
                positions=tuple(Position(id=p, name=draw(NAMES)) for p in ("left", "right")),
            )
            for name in ("barrel", "box")
        )
        self.scales = (
            scales.Scale(
                id="bench", name=draw(NAMES), resolution_kg=0.005, repeatability_kg=draw(MASSES)
            ),
        )
        self.probes = tuple(
            Probe(
                id=name, name=draw(NAMES), accuracy_k=draw(st.floats(0, 5)), offset_k=draw(KELVINS)
            )
            for name in ("core-1", "pit-1")
        )
        self.tasters = (tasting.Taster(id="t-1", name=draw(NAMES), note=draw(TEXTS)),)
        self.cooks = tuple(self.cook(name) for name in draw(ids("cook", 3, 1)))
        self.pieces = self.some_pieces()

    def cook(self, name: str) -> Cook:
        starts = self.draw(INSTANTS)
        length = self.draw(maybe(st.timedeltas(timedelta(hours=1), timedelta(days=2))))
        return Cook(
            id=name,
            name=self.draw(NAMES),
            time_zone=self.draw(ZONES),
            starts=starts,
            ends=None if length is None else starts + length,
            cookers=("box", "barrel") if self.draw(st.booleans()) else ("barrel",),
            weather=self.draw(TEXTS),
            note=self.draw(TEXTS),
        )

    def some_pieces(self) -> tuple[Piece, ...]:
        draw, cook_ids = self.draw, [cook.id for cook in self.cooks]
        whole = Piece(id="whole", name=draw(NAMES), cut="shoulder", species="pork", animal="pig-1")
        others = [
            Piece(
                id=name,
                name=draw(NAMES),
                cut=draw(NAMES),
                species="pork",
                grade=draw(TEXTS),
                cook=draw(st.sampled_from(cook_ids)),
                arm=draw(maybe(st.sampled_from(["bare", "paper"]))),
                pair=draw(pick(["pair-1"])),
                half_of=draw(pick(["whole"])),
                spot=draw(maybe(st.just(Spot(cooker="barrel", position="left")))),
                thick_m=draw(maybe(LENGTHS)),
                fat_cap_m=draw(maybe(LENGTHS)),
                injected=draw(st.booleans()),
                note=draw(TEXTS),
            )
            for name in draw(ids("piece", 3))
        ]
        return (whole, *others)

    def in_cook(self, cook: Cook) -> list[str]:
        return [piece.id for piece in self.pieces if piece.cook == cook.id]

    def event(self, name: str) -> Event:
        draw = self.draw
        cook = draw(st.sampled_from(self.cooks))
        here = self.in_cook(cook)
        kinds = [EventKind.NOTE, EventKind.RAISE, EventKind.FUEL, EventKind.SPRITZ]
        kind = draw(st.sampled_from(kinds + ([EventKind.MOVED, EventKind.WRAP] if here else [])))
        return Event(
            id=name,
            cook=cook.id,
            at=cook.starts + draw(st.timedeltas(timedelta(0), timedelta(minutes=59))),
            kind=kind,
            pieces=tuple(here) if kind in (EventKind.MOVED, EventKind.WRAP) else (),
            cooker=draw(pick(["barrel"])),
            probe=draw(pick(["core-1"])),
            to=Spot(cooker="box", position="right") if kind is EventKind.MOVED else None,
            set_c=draw(KELVINS) if kind is EventKind.RAISE else None,
            amount_kg=draw(maybe(MASSES)),
            by=draw(TEXTS),
            note=draw(TEXTS),
        )

    def placements(self) -> tuple[Placement, ...]:
        draw, found = self.draw, []
        for number, cook in enumerate(self.cooks):
            pit = draw(st.booleans())
            if pit or not self.in_cook(cook):
                spot = Spot(cooker="barrel", position="right")
                where: dict[str, Any] = {"measures": "pit", "spot": spot}
            else:
                where = {"measures": "core", "piece": self.in_cook(cook)[0]}
            found.append(
                Placement(
                    id=f"place-{number}",
                    cook=cook.id,
                    probe="pit-1",
                    since=cook.starts,
                    where=draw(TEXTS),
                    depth_m=draw(maybe(LENGTHS)),
                    **where,
                )
            )
        return tuple(found)

    def weighing(self, name: str) -> scales.Weighing:
        draw = self.draw
        sums = [("trimmed meat",), ("cooked meat", "used wrap", "clinging fat"), ("green tray",)]
        return scales.Weighing(
            id=name,
            cook=draw(pick([cook.id for cook in self.cooks])),
            piece=draw(st.sampled_from([piece.id for piece in self.pieces])),
            at=draw(maybe(INSTANTS)),
            scale="bench",
            reading_kg=draw(MASSES),
            written=draw(TEXTS),
            sum=draw(st.sampled_from(sums)),
            note=draw(TEXTS),
        )

    def estimate(self, name: str) -> scales.PartEstimate:
        low = self.draw(st.floats(0, 0.5))
        return scales.PartEstimate(
            id=name,
            piece=self.draw(st.sampled_from([piece.id for piece in self.pieces])),
            part="clinging fat",
            low_kg=low,
            high_kg=low + self.draw(st.floats(0.001, 1)),
            why=self.draw(NAMES),
        )

    def samples(self) -> tuple[tasting.Sample, ...]:
        codes = self.draw(st.permutations([100, 101, 417, 998, 999]))
        return tuple(
            tasting.Sample(
                id=f"s-{piece.id}",
                piece=piece.id,
                code=self.draw(maybe(st.just(code))),
                at=self.draw(maybe(INSTANTS)),
                note=self.draw(TEXTS),
            )
            for code, piece in zip(codes, self.pieces, strict=False)
        )

    def ballot(self, name: str) -> tasting.Ballot:
        presented = tuple(f"s-{piece.id}" for piece in self.pieces)
        score = tasting.Score(sample=presented[0], value=self.draw(st.floats(0, 10)))
        return tasting.Ballot(
            id=name,
            taster="t-1",
            cook=self.cooks[0].id,
            measure="bark",
            at=self.draw(maybe(INSTANTS)),
            presented=presented,
            scores=(score,) if self.draw(st.booleans()) else (),
            chosen=presented[-1],
            comment=self.draw(TEXTS),
        )

    def figure(self, name: str) -> Figure:
        return Figure(
            id=name,
            piece=self.draw(st.sampled_from([piece.id for piece in self.pieces])),
            measure="shear",
            value=self.draw(MEASURED),
            uncertainty=self.draw(st.floats(0, 10)),
            note=self.draw(TEXTS),
        )

    def exclusions(self) -> tuple[Exclusion, ...]:
        cook = self.cooks[0]
        stretch = Exclusion(
            id="out-1",
            why=self.draw(NAMES),
            probe="core-1",
            cook=cook.id,
            since=cook.starts,
            until=cook.starts + timedelta(microseconds=1),
        )
        return (stretch, Exclusion(id="out-2", why="dropped", piece="whole", measure="yield"))

    def plan(self) -> Plan | None:
        draw = self.draw
        spot = Spot(cooker="barrel", position="left")
        pieces = tuple(
            PlannedPiece(
                id=name,
                name=draw(maybe(NAMES)),
                mass_kg=draw(maybe(st.floats(0.1, 30))),
                thick_m=draw(maybe(st.floats(0.01, 1))),
                grade=draw(TEXTS),
                half_of=draw(pick(["whole"])),
            )
            for name in ("piece-1", "piece-2")
        )
        at_hand = AtHand(
            cut=draw(NAMES),
            species="pork",
            pieces=pieces,
            spots=(spot,),
            cooks=draw(st.integers(1, 9)),
            tasters=draw(st.integers(0, 9)),
            blind=draw(maybe(st.booleans())),
            price_piece=draw(maybe(st.floats(0, 1e6))),
            currency="£",
        )
        then = (Spot(cooker="box", position="right"),) if draw(st.booleans()) else ()
        slot = Slot(piece="piece-1", arm="paper", cook=1, block="pair-1", spot=spot, then=then)
        layout = Layout(
            kind=draw(st.sampled_from(LayoutKind)),
            seed=draw(st.integers(0, 2**53 - 1)),
            algorithm=draw(NAMES),
            swap=draw(st.booleans()),
            slots=(slot,),
            spare=("piece-2",),
            free=draw(TEXTS),
        )
        found = Plan(at_hand=at_hand, layout=draw(maybe(st.just(layout))), leave_out=(draw(NAMES),))
        return draw(maybe(st.just(found)))

    def registration(self) -> Registration | None:
        plan = canonical_form({"trial": self.trial.id, "note": self.draw(TEXTS), "n": 0.1})
        at = self.draw(INSTANTS)
        change = PlanChange(place=self.draw(NAMES), was=self.draw(TEXTS), now="0.8")
        amendments = (
            Amendment(at=at, what=self.draw(NAMES), why=self.draw(NAMES), changes=(change,)),
        )
        found = Registration(at=at, plan=plan, digest=digest_of(plan), amendments=amendments)
        return found if self.draw(st.booleans()) else None


@st.composite
def trial_records(draw: Draw, handle: str = "paper-or-bare") -> TrialRecord:
    """A whole trial without readings; ``problems()`` finds nothing in it."""
    maker = _Maker(draw, handle)
    return TrialRecord(
        trial=maker.trial,
        cookers=maker.cookers,
        scales=maker.scales,
        probes=maker.probes,
        tasters=maker.tasters,
        cooks=maker.cooks,
        pieces=maker.pieces,
        placements=maker.placements(),
        events=tuple(maker.event(name) for name in draw(ids("event", 4))),
        weighings=tuple(maker.weighing(name) for name in draw(ids("weighing", 3))),
        estimates=tuple(maker.estimate(name) for name in draw(ids("estimate", 2))),
        samples=maker.samples(),
        ballots=tuple(maker.ballot(name) for name in draw(ids("ballot", 2))),
        figures=tuple(maker.figure(name) for name in draw(ids("figure", 2))),
        exclusions=maker.exclusions(),
        plan=maker.plan(),
        registration=maker.registration(),
    )
