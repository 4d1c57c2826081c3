"""Published cooking experiments on beef and pork, to fit the simulator to and to test it on.

``library`` reads them, ``model`` says what a source, a case and an outcome hold, and
``docs/experiments.md`` lists them with what is assumed and how each was seen.
"""

from fairsmoke.cooking.experiments.library import (
    ExperimentError,
    assigned_use,
    check_use,
    library,
    measured,
)
from fairsmoke.cooking.experiments.model import (
    Alike,
    Assumption,
    Case,
    End,
    ExperimentPiece,
    Heating,
    HeatingStage,
    MeasuredOutcome,
    Ordering,
    Pooled,
    Publication,
)

__all__ = [
    "Alike",
    "Assumption",
    "Case",
    "End",
    "ExperimentError",
    "ExperimentPiece",
    "Heating",
    "HeatingStage",
    "MeasuredOutcome",
    "Ordering",
    "Pooled",
    "Publication",
    "assigned_use",
    "check_use",
    "library",
    "measured",
]
