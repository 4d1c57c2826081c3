"""The cooking simulator: a piece of meat through a protocol, and what comes of it.

`simulate` cooks one piece once; `run_ensemble` many times over what is not known;
`run_side_by_side` every arm of a comparison on the same pieces and the same draws. The physics
and its limits stand in docs/simulator.md and docs/limits.md. Numba compiles the kernels on first
use, once per machine: `python -m fairsmoke.cooking.warm` does it ahead.
"""

from fairsmoke.cooking.body import BodyError, MeasuredPiece
from fairsmoke.cooking.constants import DEFAULT, SOURCES, Constants
from fairsmoke.cooking.cooker import CookerError, CookerModel, LidOpening, Site
from fairsmoke.cooking.cuts import CUTS, Cut, Flesh
from fairsmoke.cooking.ensemble import (
    Ensemble,
    EnsembleDifference,
    difference,
    run_arms,
    run_ensemble,
)
from fairsmoke.cooking.outcomes import Outcome, SimulatedTrace, TissueRegion
from fairsmoke.cooking.run import Conditions, Control, ProtocolError, simulate
from fairsmoke.cooking.side_by_side import (
    ArmToCook,
    PieceToCook,
    SideBySide,
    SideBySideError,
    Simulated,
    prepare,
    run_side_by_side,
)
from fairsmoke.cooking.unknowns import UNKNOWNS, LearntUnknown, Unknown

__all__ = [
    "CUTS",
    "DEFAULT",
    "SOURCES",
    "UNKNOWNS",
    "ArmToCook",
    "BodyError",
    "Conditions",
    "Constants",
    "Control",
    "CookerError",
    "CookerModel",
    "Cut",
    "Ensemble",
    "EnsembleDifference",
    "Flesh",
    "LearntUnknown",
    "LidOpening",
    "MeasuredPiece",
    "Outcome",
    "PieceToCook",
    "ProtocolError",
    "SideBySide",
    "SideBySideError",
    "Simulated",
    "SimulatedTrace",
    "Site",
    "TissueRegion",
    "Unknown",
    "difference",
    "prepare",
    "run_arms",
    "run_ensemble",
    "run_side_by_side",
    "simulate",
]
