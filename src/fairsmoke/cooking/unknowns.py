"""What is not known about a cook, how widely it lies and why, and how members are drawn."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.cells import MARBLED
from fairsmoke.cooking.constants import PAR
from fairsmoke.cooking.stages import ROW
from fairsmoke.cooking.stepping import FAT, HEAT, WATER
from fairsmoke.physics.ranges import FloatArray


@dataclass(frozen=True)
class Unknown:
    """One thing not known: its standard deviation, whether that is of the logarithm, and why."""

    name: str
    standard_deviation: float
    logarithmic: bool
    why: str


@dataclass(frozen=True)
class LearntUnknown:
    """What is known of an unknown from elsewhere, a pit's past cooks for one: the middle and the
    standard deviation of its factor's logarithm, or of its difference, as UNKNOWNS has it.
    """

    middle: float
    standard_deviation: float


UNKNOWNS: tuple[Unknown, ...] = (
    Unknown("thickness", 0.06, True, "a piece is measured to 3 mm at a place that varies; assumed"),
    Unknown(
        "fat",
        0.25,
        True,
        "fat of brisket 11 to 27 % from Select to Prime and cut to cut (USDA Standard Reference)",
    ),
    Unknown("water", 0.015, True, "raw lean 70.3 to 74.3 % (USDA Standard Reference)"),
    Unknown("convection", 0.45, True, "pit to pit and place to place; fitted to logged cooks"),
    Unknown("pit", 3.0, False, "thermometer and place in the pit, K; assumed, logs lie wider"),
    Unknown(
        "wall below", 12.0, False, "plate over the fire against air, K; assumed, logs lie wider"
    ),
    Unknown("wall above", 6.0, False, "wall above against air, K; assumed"),
    Unknown("humidity", 0.7, True, "air drawn through, fuel, pan; no pit was ever measured"),
    Unknown("wrap", 0.5, True, "no permeance of hot soaked paper is published; seams of foil"),
    Unknown("diffusivity", 0.4, True, "meat to meat 0.25, the rest what the fit leaves open"),
    Unknown("skin", 0.45, True, "piece to piece 0.4, the rest what the fit leaves open"),
    Unknown("holding", 0.08, True, "animals differ by ±0.15 of 1.85 kg/kg (braised brisket, USDA)"),
    Unknown("draining", 0.4, True, "what the fit leaves open"),
    Unknown(
        "rendering",
        0.7,
        True,
        "no rate is published; braised flat and point of like fat lose 10 and 1 % of their mass "
        "as fat, chuck and short ribs between (USDA), the model a quarter to twice as much",
    ),
    Unknown("collagen", 0.4, True, "rate within a factor of 2 either way (physics.kinetics)"),
    Unknown(
        "collagen opening",
        0.7,
        True,
        "30 sides of beef shrink at 68.9 ± 1.3 °C (shared stats.md): 1.3 K is a factor of 2",
    ),
)
NAMES = tuple(unknown.name for unknown in UNKNOWNS)


def draw(members: int, seed: int, piece: int = 0) -> FloatArray:
    """Return standard normal numbers, shape (members, unknowns), the same for every arm.

    Member 0 is the middle of everything. A piece's numbers depend on `seed` and `piece` alone.
    Raises ValueError for fewer than one member.
    """
    if members < 1:
        raise ValueError(f"{members} members: give at least 1.")
    normal = np.random.default_rng([seed, piece]).standard_normal((members, len(UNKNOWNS)))
    normal[0] = 0.0
    return normal


@dataclass(frozen=True, eq=False)
class Members:
    """The arrays of an ensemble, one slice a member: parameters, body, state and stages."""

    pars: FloatArray
    fixed: FloatArray
    plan_m2: FloatArray
    lateral_m: FloatArray
    states: FloatArray
    stages: FloatArray


def with_known(normal: FloatArray, known: Mapping[str, LearntUnknown]) -> FloatArray:
    """Return draws that lie as what is known has them, instead of as UNKNOWNS has them.

    Raises ValueError for a name that is no unknown.
    """
    moved = normal.copy()
    for name, told in known.items():
        if name not in NAMES:
            raise ValueError(f'nothing unknown is called "{name}". There are: {", ".join(NAMES)}.')
        at = NAMES.index(name)
        usual = UNKNOWNS[at].standard_deviation
        moved[:, at] = (told.middle + told.standard_deviation * normal[:, at]) / usual
    return moved


def members_of(
    normal: FloatArray,
    par: FloatArray,
    fixed: FloatArray,
    plan_m2: FloatArray,
    lateral_m: FloatArray,
    state: FloatArray,
    stages: FloatArray,
    in_cooker: FloatArray,
) -> Members:
    """Return the members that standard normal numbers make of one body and its stages.

    `in_cooker` marks the stages to which pit, convection, wall and humidity belong. The mass of
    the piece is known and kept: what is thicker has less surface.
    """
    count = normal.shape[0]
    factor = {
        u.name: np.exp(u.standard_deviation * normal[:, k])
        if u.logarithmic
        else u.standard_deviation * normal[:, k]
        for k, u in enumerate(UNKNOWNS)
    }
    pars = np.repeat(par[None], count, axis=0)
    pars[:, PAR.diffusivity_scale] *= factor["diffusivity"]
    for part in (PAR.lost_myosin, PAR.lost_actin, PAR.lost_firming):
        pars[:, part] *= factor["holding"]
    pars[:, PAR.skin_resistance] *= factor["skin"]
    pars[:, PAR.crust_permeability] /= factor["skin"]
    pars[:, PAR.drain] *= factor["draining"]
    pars[:, PAR.render_scale] *= factor["rendering"]
    pars[:, PAR.dissolve_scale] *= factor["collagen"]
    pars[:, PAR.open_scale] *= factor["collagen opening"]
    thick = factor["thickness"]
    bodies = np.repeat(fixed[None], count, axis=0)
    bodies[:, :, 0] *= thick[:, None, None]
    bodies[:, :, 1] *= (thick * factor["water"])[:, None, None]
    bodies[:, :, MARBLED] *= (thick * factor["fat"])[:, None, None]
    states = np.repeat(state[None], count, axis=0)
    states[:, WATER] = bodies[:, :, 1]
    states[:, FAT] *= (thick * factor["fat"])[:, None, None]
    heat_per_kg = state[HEAT] / (fixed[:, 0] + state[WATER] + state[FAT])
    mass = bodies[:, :, 0] + states[:, WATER] + states[:, FAT]
    states[:, HEAT] = heat_per_kg * mass
    plans = np.repeat(plan_m2[None], count, axis=0)
    start_kg = np.sum(plan_m2[:, None] * (fixed[:, 0] + state[WATER] + state[FAT]))
    plans *= (start_kg / np.einsum("mc,mci->m", plans, mass))[:, None]
    laterals = np.repeat(lateral_m[None], count, axis=0)
    rows = _stages(stages, in_cooker, factor, count)
    return Members(pars, bodies, plans, laterals, states, rows)


def _stages(
    stages: FloatArray, in_cooker: FloatArray, factor: dict[str, FloatArray], count: int
) -> FloatArray:
    rows = np.repeat(stages[None], count, axis=0)
    cooker = in_cooker[None, :]

    def scaled(name: str) -> FloatArray:
        return np.asarray(1.0 + cooker * (factor[name][:, None] - 1.0))

    for side in range(2):
        rows[:, :, ROW.convection_above + side] *= scaled("convection")
        rows[:, :, ROW.resistance_above + side] /= factor["wrap"][:, None]
    rows[:, :, ROW.bias_k] += cooker * factor["pit"][:, None]
    rows[:, :, ROW.wall_below_k] += cooker * factor["wall below"][:, None]
    rows[:, :, ROW.wall_above_k] += cooker * factor["wall above"][:, None]
    rows[:, :, ROW.ratio] *= scaled("humidity")
    rows[:, :, ROW.exchange_kg_s] /= scaled("humidity")
    return rows
