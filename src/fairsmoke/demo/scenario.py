"""The invented trial: the question, the kitchen's things, and the six shoulders.

The village hall, its cooks, its tasters and every number are invented. Common practice, no source:
the weights of bone-in shoulders, the hours that they take, and what a stall looks like.
"""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from fairsmoke.trial.clock import parse_instant, time_zone
from fairsmoke.trial.cook import Cook, Cooker, Piece, Position, Spot
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.protocol import (
    Cover,
    EndCondition,
    Humidity,
    Place,
    Protocol,
    Stage,
    StageChange,
    Wrap,
)
from fairsmoke.trial.question import Arm, Better, Draw, Measure, MeasureKind, Trial
from fairsmoke.trial.registration import frozen
from fairsmoke.trial.tasting import Taster
from fairsmoke.trial.weighing import Scale

ZONE_NAME = "Europe/London"
ZONE: ZoneInfo = time_zone(ZONE_NAME)

BARE, PAPER = "bare", "paper"
LEFT, RIGHT = "left", "right"
BARREL = "barrel"
CABINET = "cabinet"


@dataclass(frozen=True)
class Shoulder:
    """One row of the table below; kg and cm as the cook wrote them down."""

    number: int
    cook: str
    arm: str
    side: str
    tray: str
    bought_kg: float
    trim_kg: float
    rub_kg: float
    long_cm: float
    wide_cm: float
    thick_cm: float
    cap_mm: float

    @property
    def name(self) -> str:
        """What the cook calls it."""
        return f"Shoulder {self.number}"

    @property
    def trimmed_kg(self) -> float:
        """Mass as put on, without the rub."""
        return self.bought_kg - self.trim_kg

    @property
    def handle(self) -> str:
        """The id of the piece in the record."""
        return f"shoulder-{self.number}"


# Arms and sides are what DRAW_SEED gave; see the note of the draw in `TRIAL`.
SHOULDERS = (
    #        no. cook       arm    side   tray     bought trim   rub    long  wide  thick cap
    Shoulder(1, "may",     BARE,  LEFT,  "green", 4.548, 0.436, 0.052, 26.5, 19.0, 12.5, 6),
    Shoulder(2, "may",     PAPER, RIGHT, "blue",  4.617, 0.471, 0.055, 27.0, 19.5, 12.0, 6),
    Shoulder(3, "july",    PAPER, RIGHT, "green", 4.302, 0.389, 0.049, 25.5, 18.5, 12.0, 5),
    Shoulder(4, "july",    BARE,  LEFT,  "blue",  4.266, 0.352, 0.047, 25.5, 18.0, 12.5, 5),
    Shoulder(5, "october", PAPER, LEFT,  "green", 4.471, 0.462, 0.051, 26.0, 19.0, 12.0, 6),
    Shoulder(6, "october", BARE,  RIGHT, "blue",  4.509, 0.447, 0.054, 26.5, 18.5, 12.5, 6),
)  # fmt: skip
DRAW_SEED = 20260425


@dataclass(frozen=True)
class Night:
    """One cook: when the fire was lit, and how the air outside was."""

    handle: str
    name: str
    lit: str
    outside_c: float
    weather: str
    note: str = ""

    @property
    def starts(self) -> datetime:
        """The instant (UTC) at which the fire was lit."""
        return parse_instant(self.lit, ZONE)


MAY, JULY, OCTOBER = NIGHTS = (
    Night("may", "Bank holiday lunch", "2026-05-02 18:00", 10.0, "Dry, light wind, 10 °C"),
    Night("july", "Summer fair", "2026-07-11 18:20", 17.0, "Still and mild, 17 °C"),
    Night(
        "october",
        "Harvest lunch",
        "2026-10-24 18:40",
        7.0,
        "Showers, gusts before midnight, 7 °C",
        "The clocks went back during this cook.",
    ),
)

KITCHEN = Kitchen(
    name="Village hall fundraiser kitchen (invented)",
    time_zone=ZONE_NAME,
    units="metric",
    invented=True,
    note="An invented kitchen for the demo. No such hall, cooks or tasters exist.",
)

COOKERS = (
    Cooker(
        id=BARREL,
        name="The barrel",
        fuel="charcoal with chunks of oak",
        positions=(
            Position(id=LEFT, name="Left, away from the firebox"),
            Position(id=RIGHT, name="Right, by the firebox", note="Known to run hotter."),
        ),
    ),
    Cooker(
        id=CABINET,
        name="Holding cabinet",
        fuel="electric",
        positions=(Position(id="shelf", name="Middle shelf"),),
    ),
)

KITCHEN_SCALE = Scale(
    id="kitchen-scale",
    name="Kitchen scale",
    resolution_kg=0.005,
    repeatability_kg=0.002,
    max_error_kg=0.005,
)
POCKET_SCALE = Scale(
    id="pocket-scale",
    name="Pocket scale",
    resolution_kg=0.001,
    repeatability_kg=0.0005,
    max_error_kg=0.001,
    note="Up to 500 g.",
)
OUNCE_KG = 0.028349523125
"""The international avoirdupois ounce, exact (1/16 of 0.45359237 kg)."""
SPRING_SCALE = Scale(
    id="spring-scale",
    name="The hall's spring scale",
    resolution_kg=OUNCE_KG,
    repeatability_kg=0.008,
    max_error_kg=0.014,
    note="Pounds and ounces.",
)
SCALES = (KITCHEN_SCALE, POCKET_SCALE, SPRING_SCALE)

PROBES = (
    Probe(id="core-1", name="Needle 1", accuracy_k=0.5),
    Probe(
        id="core-2",
        name="Needle 2",
        accuracy_k=0.5,
        offset_k=0.4,
        note="Read 0.4 °C in melting ice.",
    ),
    Probe(id="pit-left", name="Air clip, left", accuracy_k=1.0),
    Probe(id="pit-right", name="Air clip, right", accuracy_k=1.0),
    Probe(id="cabinet", name="Air clip, cabinet", accuracy_k=1.0),
)

TASTERS = tuple(
    Taster(id=f"taster-{number}", name=f"Taster {number} (invented)") for number in range(1, 5)
)

SMOKE_LIMIT_S = 9 * 3600.0
STALL_MARK_C = 71.0
PULL_MARK_C = 94.0
HOLD_S = 3 * 3600.0

_PROTOCOL = Protocol(
    stages=(
        Stage(
            id="smoke",
            name="Smoke until the stall",
            surround_c=121.0,
            humidity=Humidity.WATER_PAN,
            ends=(EndCondition(core_c=STALL_MARK_C), EndCondition(elapsed_s=SMOKE_LIMIT_S)),
        ),
        Stage(
            id="finish",
            name="Finish",
            surround_c=121.0,
            humidity=Humidity.WATER_PAN,
            ends=(
                EndCondition(core_c=PULL_MARK_C),
                EndCondition(feel="probe tender everywhere"),
            ),
        ),
        Stage(
            id="hold",
            name="Hold in a lidded tray",
            place=Place.CABINET,
            surround_c=66.0,
            wrap=Wrap(above=Cover.TRAY, below=Cover.TRAY),
            ends=(EndCondition(elapsed_s=HOLD_S),),
            note="Unwrapped and weighed before; every piece in the same kind of tray, lid on.",
        ),
    )
)

TENDERNESS, BARK = "tenderness", "bark"

_MEASURES = (
    Measure(
        id="yield",
        name="Yield of cooked meat",
        kind=MeasureKind.YIELD,
        better=Better.HIGHER,
        worthwhile=0.02,
        main=True,
    ),
    Measure(
        id="cook-time",
        name="Time on the cooker",
        kind=MeasureKind.COOK_TIME,
        better=Better.LOWER,
        worthwhile=45 * 60.0,
    ),
    Measure(
        id=TENDERNESS,
        name="Tenderness, 0 tough to 10 tender",
        kind=MeasureKind.SCORE,
        better=Better.HIGHER,
        worthwhile=1.0,
        scale_low=0.0,
        scale_high=10.0,
    ),
    Measure(
        id=BARK,
        name="Bark, 0 none to 10 superb",
        kind=MeasureKind.SCORE,
        better=Better.HIGHER,
        worthwhile=1.0,
        scale_low=0.0,
        scale_high=10.0,
    ),
)

TRIAL = Trial(
    id="paper-or-bare",
    title="Paper at the stall, or bare to the end?",
    question="Do pork shoulders wrapped in paper at the stall keep more than shoulders left bare?",
    invented=True,
    differs="Paper around the piece from the stall to the pull",
    protocol=_PROTOCOL,
    arms=(
        Arm(id=BARE, name="Left bare"),
        Arm(
            id=PAPER,
            name="Wrapped in paper at the stall",
            changes=(StageChange(stage="finish", wrap=Wrap(above=Cover.PAPER, below=Cover.PAPER)),),
        ),
    ),
    measures=_MEASURES,
    draw=Draw(
        how="drawn",
        within="pair",
        seed=DRAW_SEED,
        note=(
            "Drawn on 25 April 2026 with NumPy's default_rng(seed).integers(2, size=(3, 2)); one "
            "row a pair: which of the two shoulders (0 or 1) gets the paper, and which stands on "
            "the right."
        ),
    ),
    altitude_m=60.0,
    note=(
        "An invented trial: no meat was cooked. A seeded generator drew every time, temperature, "
        "weight and score."
    ),
)


REGISTRATION = frozen(TRIAL, None, parse_instant("2026-04-25 18:30", ZONE))


def piece_of(shoulder: Shoulder) -> Piece:
    """Return the record of one shoulder."""
    return Piece(
        id=shoulder.handle,
        name=shoulder.name,
        cut="pork shoulder, bone in",
        species="pork",
        cook=shoulder.cook,
        arm=shoulder.arm,
        pair=f"{shoulder.cook}-pair",
        spot=Spot(cooker=BARREL, position=shoulder.side),
        length_m=round(shoulder.long_cm / 100, 4),
        width_m=round(shoulder.wide_cm / 100, 4),
        thick_m=round(shoulder.thick_cm / 100, 4),
        fat_cap_m=round(shoulder.cap_mm / 1000, 4),
        note="Invented. Matched with the other of its pair by weight and fat cap.",
    )


def cook_of(night: Night, ends: datetime) -> Cook:
    """Return the record of one cook that ended then."""
    return Cook(
        id=night.handle,
        name=night.name,
        time_zone=ZONE_NAME,
        starts=night.starts,
        ends=ends,
        cookers=(BARREL, CABINET),
        weather=night.weather,
        note=f"Invented. {night.note}".strip(),
    )


def shoulders_of(night: Night) -> tuple[Shoulder, Shoulder]:
    """Return the pair cooked that night, in the order of the table."""
    first, second = (row for row in SHOULDERS if row.cook == night.handle)
    return first, second
