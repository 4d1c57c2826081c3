"""Logged cooks cooked again: the core curve that the model gives for what is not known of a cook.

What a log leaves open (how thick, how much draught, how hot the plate, where the probe sat) is a
vector of numbers, one for each of OPEN: 0 is the middle and 1 one standard deviation.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.body import MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.constants import PAR, Constants, parameters
from fairsmoke.cooking.cooker import CookerModel, Site
from fairsmoke.cooking.cuts import CUTS
from fairsmoke.cooking.experiments.curves import LoggedCurve
from fairsmoke.cooking.run import Conditions, run_body, stage_rows, usual_control
from fairsmoke.cooking.stages import ROW
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Cover, EndCondition, Humidity, Protocol, Stage, Wrap

RHO_KG_M3, FILLS, BONE_SHARE = 1050.0, 0.8, 0.12
# Wider than thick and longer than wide, as in fairsmoke.cooking.rerun; common practice, no source.
_SHAPES = {"brisket": (3.5, 1.8), "brisket flat": (3.5, 1.8), "chuck roast": (2.5, 1.4)}
_USUAL_SHAPE = (1.4, 1.6)
# A flat against the mean of its packer, a point against it; common practice, no source.
_PLACES = {"any": 1.0, "flat": 0.85, "point": 1.15}
FAN_W_M2K = 27.0
"""Convection in a fan oven: 15 to 40 (textbook, from memory), 33.4 measured at 175 °C (Feyissa
2009, read); the geometric middle of 20 to 35."""
_USUAL_START_C = 6.0


@dataclass(frozen=True)
class Open:
    """One thing that a log leaves open: middle and standard deviation (of the logarithm or not)
    between cooks, and why.
    """

    name: str
    middle: float
    standard_deviation: float
    logarithmic: bool
    why: str


OPEN: tuple[Open, ...] = (
    Open("thickness", -0.0787, 0.207, True, "from the mass and the cut's usual shape"),
    Open(
        "convection",
        0.0564,
        0.568,
        True,
        "still 3–8, draught 5–12, fan 15–40 W/(m²·K) (from memory)",
    ),
    Open("plate", -11.9, 26.8, False, "plate over the fire against air, K: outside check, ± 20"),
    Open("pit", -6.12, 8.81, False, "dial or thermostat against the air at the piece, K; assumed"),
    Open("moisture", 0.0336, 0.713, True, "air drawn through, fuel, pan: nobody measured one"),
    Open(
        "probe",
        0.392,
        0.551,
        False,
        "where the tip sat: share of the way from the core to a quarter deep",
    ),
    Open("start", 0.541, 4.12, False, "out of the refrigerator for up to an hour, K"),
    Open("diffusivity", 0.00352, 0.249, True, "meat to meat: 2.3e-10 to 5.8e-10 m²/s in lean beef"),
    Open("skin", -0.102, 0.432, True, "membrane, rub, fat smeared on; assumed"),
)
NAMES = tuple(one.name for one in OPEN)


class Between(NamedTuple):
    """How what logs leave open lies between cooks: middles and standard deviations, as in OPEN."""

    middles: FloatArray
    deviations: FloatArray


def between_cooks() -> Between:
    """Return the middles and standard deviations of OPEN."""
    return Between(
        np.array([one.middle for one in OPEN]), np.array([one.standard_deviation for one in OPEN])
    )


def piece_of(curve: LoggedCurve, thicker: float = 1.0) -> MeasuredPiece:
    """Return the piece of a logged cook at the middle of its mass; `thicker` scales it."""
    mass = 0.5 * (curve.mass_kg[0] + curve.mass_kg[1]) * (1.0 - BONE_SHARE * curve.bone)
    wider, longer = _SHAPES.get(curve.cut, _USUAL_SHAPE)
    mean = 0.5 * (1.0 + CUTS[curve.cut].thin_share)
    filled = mass / RHO_KG_M3 / FILLS / mean
    usual = (filled / (wider * wider * longer)) ** (1 / 3)
    thick = usual * _PLACES[curve.place] * thicker
    width = wider * usual * (usual / thick) ** 0.5
    return MeasuredPiece(curve.cut, mass, filled / thick / width, width, thick)


def protocol_of(curve: LoggedCurve) -> Protocol:
    """Return the stages of a logged cook: one from each change of pit or wrap to the next."""
    ends = sorted({at for at, _ in curve.pit} | {at for at, _ in curve.wraps})
    last = curve.seconds[-1]
    starts = [at for at in ends if at < last]
    stages = []
    for number, start in enumerate(starts):
        until = starts[number + 1] if number + 1 < len(starts) else last + 60.0
        pit = [c for at, c in curve.pit if at <= start][-1]
        held = [cover for at, cover in curve.wraps if at <= start]
        cover = Cover(held[-1]) if held else Cover.BARE
        stages.append(
            Stage(
                id=f"stage-{number}",
                name="logged",
                surround_c=pit,
                humidity=Humidity.WATER_PAN if curve.pan else Humidity.NONE,
                wrap=Wrap(above=cover, below=cover),
                ends=(EndCondition(elapsed_s=until - start),),
            )
        )
    return Protocol(stages=tuple(stages))


def open_values(scaled: FloatArray, between: Between) -> dict[str, float]:
    """Return factor or difference of each of OPEN for numbers in standard deviations."""
    moved = between.middles + scaled * between.deviations
    return {
        one.name: float(np.exp(m)) if one.logarithmic else float(m)
        for one, m in zip(OPEN, moved, strict=True)
    }


def core_curve(
    constants: Constants,
    curve: LoggedCurve,
    scaled: FloatArray,
    between: Between | None = None,
    *,
    seconds: tuple[float, ...] | None = None,
    whole_body: bool = False,
) -> FloatArray:
    """Return what the probe reads (°C) at the curve's times, or at `seconds`.

    Raises ProtocolError or BodyError where it cannot be cooked.
    """
    value = open_values(scaled, between_cooks() if between is None else between)
    times = curve.seconds if seconds is None else seconds
    start = curve.start_c
    start_c = start if start is not None else max(0.0, _USUAL_START_C + value["start"])
    piece = replace(piece_of(curve, value["thickness"]), start_c=start_c)
    usual = CookerModel()
    h = FAN_W_M2K if curve.fan else usual.convection_w_m2k
    cooker = replace(
        usual,
        convection_w_m2k=min(max(h * value["convection"], 1.0), 80.0),
        wall_below_k=usual.wall_below_k + value["plate"],
        position_k=value["pit"],
    )
    conditions = Conditions(cooker=cooker, site=Site())
    body = (two_dimensional if whole_body else one_column)(piece, constants)
    protocol = protocol_of(replace(curve, seconds=tuple(times)))
    rows = stage_rows(protocol, conditions, 2.0 * float(np.sum(body.shape.plan_m2)))
    rows[:, ROW.ratio] *= value["moisture"]
    rows[:, ROW.exchange_kg_s] /= value["moisture"]
    par = parameters(constants)
    par[PAR.diffusivity_scale] *= value["diffusivity"]
    par[PAR.skin_resistance] *= value["skin"]
    par[PAR.crust_permeability] /= value["skin"]
    control = usual_control(whole_body)
    outcome = run_body(
        body, piece, protocol, rows, conditions, constants, np.asarray(times), control, par
    )
    core, quarter = outcome.trace.probe_c["thick"], outcome.trace.probe_c["quarter"]
    place = min(max(value["probe"], 0.0), 2.0)
    return np.asarray(core + place * (quarter - core))


__all__ = [
    "NAMES",
    "OPEN",
    "Between",
    "Open",
    "between_cooks",
    "core_curve",
    "open_values",
    "piece_of",
]
