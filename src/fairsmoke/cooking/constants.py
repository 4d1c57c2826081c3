"""The constants of the cooking model, each once, with its source or "fitted, see table"."""

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from fairsmoke.physics import fat
from fairsmoke.physics.ranges import FloatArray


@dataclass(frozen=True)
class Constants:
    """What the model takes as the same for every piece; SOURCES says where each comes from."""

    diffusivity_40c_m2_s: float = 4.19e-10
    diffusivity_j_mol: float = 20.5e3
    dry_slows_kg_kg: float = 0.5
    squeeze_ratio: float = 0.5
    drain_per_s: float = 0.000503
    crust_blocks_per_m: float = 3940.0
    drain_down: float = 0.5
    juice_falls: float = 0.415
    soak_factor: float = 0.1
    lost_by_myosin: float = 0.133
    lost_by_actin: float = 0.16
    lost_by_firming: float = 0.145
    boil_per_s: float = 0.003
    skin_resistance_pa_m2_s_kg: float = 4.82e06
    crust_permeability_kg_m_s_pa: float = 1.45e-11
    crust_moisture_kg_kg: float = 0.8
    fat_detour: float = 1.0
    along_share: float = 0.15
    lewis_factor: float = 1.0
    cap_render_90c_per_s: float = fat.CAP_RATE_REF_PER_S
    cap_render_j_mol: float = fat.CAP_ACTIVATION_J_MOL
    burst_per_water: float = fat.BURST_PER_WATER
    seam_render_factor: float = 1.0
    lean_render_factor: float = 0.04
    collagen_of_protein: float = 0.14
    ash_of_protein: float = 0.047
    dissolve_scale: float = 1.0
    open_scale: float = 1.0


DEFAULT = Constants()

SOURCES: dict[str, str] = {
    "diffusivity_40c_m2_s": "lean beef, 2.3e-10 to 5.8e-10 m²/s at 6.6 to 40 °C (Trujillo, "
    "Wiangkaew & Pham 2007, J. Food Eng. 78:74, from memory), 4e-10 in the roast model "
    "(start); fitted, see docs/validation.md",
    "diffusivity_j_mol": "20e3 from 2.3e-10 at 6.6 °C to 5.8e-10 at 40 °C, same paper (derived), "
    "28e3 in Pham 2007 (read), 24e3 to 43e3 in dried meat; what moves as vapour has the latent "
    "heat's 42e3 by itself, so the low end; fitted, see docs/validation.md",
    "dry_slows_kg_kg": "moisture at which water spreads half as fast as far above it; assumed "
    "(physics.water.DRYING_SOURCE)",
    "squeeze_ratio": "K·E/μ with K = 1e-17 m² (Datta 2006: 1e-19 to 1e-17) is 0.2 to 2 times the "
    "diffusivity at 70 °C; the experiments do not tell it from the diffusivity",
    "drain_per_s": "how fast juice beyond what the fibres hold runs off out of meat 40 mm thick, "
    "slower in proportion to the thickness (between Darcy's square and the first-order kinetics "
    "without a size of Kondjoyan et al. 2013, Meat Sci. 95:336, abstract read; left free, the fit "
    "puts the power at 1.4, give or take 0.6); fitted, see docs/validation.md",
    "crust_blocks_per_m": "by how much a metre of fully dried crust slows juice, against none; "
    "fitted, see docs/validation.md",
    "drain_down": "share of the juice that comes out below; assumed half",
    "juice_falls": "share of the juice reaching a bare surface that drops off before it can "
    "evaporate; fitted, see docs/validation.md",
    "soak_factor": "how much more slowly a dried surface takes up liquid than it gave it; assumed",
    "lost_by_myosin": "share of the raw water that goes once all myosin has denatured; fitted, see "
    "docs/validation.md",
    "lost_by_actin": "the same for actin; fitted, see docs/validation.md",
    "lost_by_firming": "the same for the tightening at 60 to 80 °C; fitted, see docs/validation.md",
    "boil_per_s": "numerical: strong enough to cap a wet cell within about 1 K of boiling",
    "skin_resistance_pa_m2_s_kg": "vapour resistance of the outermost skin, besides the air film "
    "and the dried cells: membrane, fat smeared over it, rub. No source has one; lean slabs in a "
    "chill store give off 35 % of what a wet surface would, about 1.8e7 (Lovett 1978, abstract, "
    "derived); fitted, see docs/validation.md",
    "crust_permeability_kg_m_s_pa": "vapour permeability of fully dried meat: below still air's "
    "2.3e-10 kg/(m·s·Pa) at 80 °C (building library, read), pores are part of the volume and not "
    "straight; fitted, see docs/validation.md",
    "crust_moisture_kg_kg": "kg of water per kg of fat-free dry matter below which pores open to "
    "vapour (water activity 0.95), wider with the square of what is missing; assumed",
    "fat_detour": "1: water and vapour go round the fat as Bruggeman has it; 0: straight on "
    "between it; see docs/validation.md",
    "along_share": "share of heat that goes as if along the layers (parallel rule) rather than "
    "across; measured lean meat has 0.48–0.50 W/(m·K), between the two",
    "lewis_factor": "1: wet surfaces end at the thermodynamic wet bulb (physics.surface)",
    "cap_render_90c_per_s": "how fast walls of wet fat cells give way: as opened collagen "
    "dissolves, physics.kinetics.COLLAGEN_DISSOLVES; assumed, see physics.fat.CAP_SOURCE",
    "cap_render_j_mol": "that of dissolving collagen, physics.kinetics.COLLAGEN_DISSOLVES",
    "burst_per_water": "how much of the fat steam sets free when it drives off all of the raw "
    "water from the tissue (logarithm of what is left); assumed, so that caps render well only in "
    "air above 135 °C (common practice, no source)",
    "seam_render_factor": "seam fat against a cap at the same temperature, water and steam: the "
    "same tissue, 1. Loss of fat by balance of composition, braised or roasted, in % of raw mass, "
    "found (model): brisket flat 10.2 (1.0), point 1.3 (2.1), whole 1.6 (2.0), chuck blade 3.3 "
    "(1.4), short ribs 8.2 (2.1), pork butt 0.1 (1.8), shoulder 2.2 (4.0) (USDA, read). Flat and "
    "point contradict each other; the model goes with the middle of the seven",
    "lean_render_factor": "marbling against cap: separable lean keeps 88 to 109 % of its fat when "
    "braised (brisket, USDA Standard Reference, read); assumed",
    "collagen_of_protein": "2.7 to 4.8 % of wet fat-free tissue over 22 % protein, brisket taken "
    "near the low middle (Meat Sci. 12:189, read)",
    "ash_of_protein": "lean brisket flat, 1.01 of 21.57 g (USDA Standard Reference, read)",
    "dissolve_scale": "multiplies physics.kinetics.COLLAGEN_DISSOLVES; 1 is its rate",
    "open_scale": "multiplies physics.kinetics.COLLAGEN_OPENS for all classes; 1 is its rate",
}


class Par(NamedTuple):
    """Places in the vector of numbers that may differ from piece to piece in an ensemble."""

    diffusivity_scale: int = 0
    squeeze: int = 1
    drain: int = 2
    drain_down: int = 3
    lost_myosin: int = 4
    lost_actin: int = 5
    boil: int = 6
    skin_resistance: int = 7
    crust_moisture: int = 8
    along: int = 9
    lewis: int = 10
    dissolve_scale: int = 11
    render_scale: int = 12
    collagen: int = 13
    juice_falls: int = 14
    soak: int = 15
    lost_firming: int = 16
    dry_slows: int = 17
    open_scale: int = 18
    burst: int = 19
    lean_render: int = 20
    crust_blocks: int = 21
    crust_permeability: int = 22
    detour: int = 23


PAR = Par()


def parameters(constants: Constants) -> FloatArray:
    """Return the vector that the kernels read, in the order of Par."""
    c = constants
    return np.array(
        [
            1.0,
            c.squeeze_ratio,
            c.drain_per_s,
            c.drain_down,
            c.lost_by_myosin,
            c.lost_by_actin,
            c.boil_per_s,
            c.skin_resistance_pa_m2_s_kg,
            c.crust_moisture_kg_kg,
            c.along_share,
            c.lewis_factor,
            c.dissolve_scale,
            1.0,
            c.collagen_of_protein,
            c.juice_falls,
            c.soak_factor,
            c.lost_by_firming,
            c.dry_slows_kg_kg,
            c.open_scale,
            c.burst_per_water,
            c.lean_render_factor,
            c.crust_blocks_per_m,
            c.crust_permeability_kg_m_s_pa,
            c.fat_detour,
        ]
    )


def names() -> tuple[str, ...]:
    """Return the names of all constants, in order."""
    return tuple(field.name for field in fields(Constants))
