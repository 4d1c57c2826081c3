"""Fits the constants again from the sources and logged cooks of use "fit":
`python -m fairsmoke.cooking.calibrate`.

The fit is hierarchical (fairsmoke.cooking.hierarchy): constants and what each cook leaves open are
found together, and how cooks lie among each other (logged_cooks.OPEN) was found by repeating it
with middles and standard deviations re-estimated from the cooks (empirical Bayes, four cooks' worth
of belief in the values before). What common practice says of whole cooks (practice) counts too, as
wide as practice says it: most logs are posted because a cook took long, and by themselves they
would make every bare cook endless. What was found is kept in posterior.json; the shipped constants
(fairsmoke.cooking.constants) are its most probable values.
"""

import json
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from fairsmoke.cooking import practice
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.error_table import ErrorTable, error_table
from fairsmoke.cooking.experiments import Case, library
from fairsmoke.cooking.experiments.curves import scored
from fairsmoke.cooking.hierarchy import Datum, FittedPosterior, case_datum, curve_datum, fit
from fairsmoke.cooking.logged_cooks import between_cooks
from fairsmoke.cooking.rerun import CONVECTION, run_experiment
from fairsmoke.cooking.run import ProtocolError
from fairsmoke.physics.ranges import FloatArray

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Fitted:
    """A constant to be fitted: where it starts, how far from there is believable (standard
    deviation, of the logarithm if `logarithmic`), and why.
    """

    name: str
    start: float
    standard_deviation: float
    logarithmic: bool
    why: str

    def inward(self, value: float) -> float:
        """Return the number that the search moves for a value of the constant."""
        return math.log(value) if self.logarithmic else value

    def outward(self, moved: float) -> float:
        """Return the value of the constant for a number of the search."""
        return math.exp(moved) if self.logarithmic else moved


FITTED = (
    Fitted(
        "diffusivity_40c_m2_s",
        4e-10,
        0.7,
        True,
        "lean beef 2.3e-10 to 5.8e-10 m²/s at 6.6 to 40 °C (from memory); drying meat to 1.4e-9",
    ),
    Fitted("diffusivity_j_mol", 24e3, 6e3, False, "20e3 to 28e3 without what moves as vapour"),
    Fitted(
        "skin_resistance_pa_m2_s_kg",
        1.8e7,
        0.8,
        True,
        "lean slabs give off 35 % of a wet surface's (Lovett 1978, abstract, derived)",
    ),
    Fitted(
        "crust_permeability_kg_m_s_pa",
        2e-11,
        0.45,
        True,
        "porosity over tortuosity times still air's 2.3e-10 at 80 °C (read): a tenth, for meat "
        "shrinks as it dries and keeps few pores; leather about 3e-11, gelatin films far below "
        "(from memory); the middle was chosen after earlier fits, see docs/validation.md",
    ),
    Fitted(
        "drain_per_s",
        1.0 / 1500.0,
        0.7,
        True,
        "what drips off roasts follows temperature more than time (Bengtsson et al. 1976)",
    ),
    Fitted("crust_blocks_per_m", 3000.0, 1.0, True, "a guess"),
    Fitted("juice_falls", 0.3, 0.2, False, "a share; nothing is known of it"),
    Fitted(
        "lost_by_myosin",
        0.18,
        0.05,
        False,
        "a share; meat met in passing at 60 °C holds 0.82 of its water (physics.water.SLOW_POINTS)",
    ),
    Fitted(
        "lost_by_actin",
        0.12,
        0.05,
        False,
        "a share; together with the other two 0.45 are lost (braised brisket, USDA)",
    ),
    Fitted("lost_by_firming", 0.15, 0.05, False, "a share; as above"),
)
_SHARES = ("juice_falls", "lost_by_myosin", "lost_by_actin", "lost_by_firming")
_MEASURES = ("time_s", "time_to_wrap_s", "loss_fraction", "yield_fraction")
_MOST_TURNS, _LOST = 16, 5.0
# Fields of which the low end makes a cook faster; of all others it is the high end.
_FAST_WHEN_LOW = ("core_c", "fat_cap_m", "mass_kg", "thick_m", "water_fraction", "width_m")
_FAST_CONVECTION = 2.0


@dataclass(frozen=True, eq=False)
class Calibration:
    """What a fit found: the constants, how well each is held, and what was used.

    `standard_deviation` of each fitted constant (of its logarithm where Fitted says so), with every
    cook's unknowns integrated out. `refuted`: sources whose conditions cannot be as they are read.
    """

    constants: Constants
    standard_deviation: dict[str, float]
    negative_log_posterior: float
    log_evidence: float
    numbers: int
    refuted: tuple[str, ...]
    turns: int

    @property
    def text(self) -> str:
        """The fitted constants in lines."""
        lines = [
            f"{self.numbers} numbers for fitting, {self.turns} turns, negative log posterior "
            f"{self.negative_log_posterior:.1f}, log evidence {self.log_evidence:.1f}."
        ]
        if self.refuted:
            lines.append("Shown, not fitted, conditions refuted: " + ", ".join(self.refuted) + ".")
        lines.append(f"{'constant':<32}{'start':>12}{'fitted':>12}  give or take")
        for one in FITTED:
            value, sd = getattr(self.constants, one.name), self.standard_deviation[one.name]
            about = f"factor {math.exp(sd):.2f}" if one.logarithmic else f"{sd:.3g}"
            lines.append(f"{one.name:<32}{one.start:>12.4g}{value:>12.4g}  {about}")
        return "\n".join(lines)


def prior() -> tuple[FloatArray, FloatArray]:
    """Return the search's numbers at the start and their standard deviations."""
    return (
        np.array([one.inward(one.start) for one in FITTED]),
        np.array([one.standard_deviation for one in FITTED]),
    )


def constants_at(moved: FloatArray) -> Constants:
    """Return the constants for the search's numbers; shares stay between nothing and all."""
    values = {one.name: one.outward(float(v)) for one, v in zip(FITTED, moved, strict=True)}
    for name in _SHARES:
        values[name] = min(max(values[name], 0.0 if name == "juice_falls" else 0.01), 1.0)
    return replace(DEFAULT, **values)


def starting() -> Constants:
    """Return the constants with every fitted one at its starting value."""
    return constants_at(prior()[0])


def fitting_data(refuted: frozenset[str]) -> list[Datum]:
    """Return every number of use "fit" that the model gives, but for refuted sources."""
    between = between_cooks()
    data = [curve_datum(curve, between) for curve in scored("fit")]
    for source in library():
        if source.use != "fit" or source.key in refuted:
            continue
        data += [
            case_datum(source.key, case, outcome)
            for case in source.cases
            if not case.apart
            for outcome in case.outcomes
            if outcome.measure in _MEASURES and not outcome.apart
        ]
    return data


def practised(constants: Constants) -> FloatArray:
    """Return by how much each number of common practice is missed, in standard deviations."""
    off = np.array(practice.off(constants))
    return np.where(np.isfinite(off), off, _LOST)


@cache
def stored() -> dict[str, Any]:
    """Return what the last fit found: constants, covariance, every cook's unknowns."""
    text = files("fairsmoke.cooking").joinpath("posterior.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def stored_constants() -> tuple[FloatArray, FloatArray]:
    """Return the most probable search numbers of the last fit and their covariance."""
    told = stored()
    return (
        np.array([told["constants"][one.name] for one in FITTED]),
        np.array(told["covariance"]),
    )


def calibrate(progress: Progress | None = None, *, afresh: bool = True) -> Calibration:
    """Fit the constants to everything of use "fit" and return what was found.

    From the starting values, or from what is stored if not `afresh`: the answer is the same.
    Deterministic. Five to ten minutes on two cores.
    """
    say = progress or (lambda line: None)
    refuted = refuted_sources(starting())
    data = fitting_data(refuted)
    mean, deviation = prior()
    start = None if afresh else _start(data, mean, deviation)
    found = fit(
        data,
        constants_at,
        mean,
        deviation,
        start,
        beside=practised,
        most_turns=_MOST_TURNS,
        say=say,
    )
    return _told(found, data, refuted)


def _start(data: list[Datum], mean: FloatArray, deviation: FloatArray) -> FloatArray:
    unknowns = stored()["unknowns"]
    parts = [(stored_constants()[0] - mean) / deviation]
    parts += [np.array(unknowns[datum.key]) for datum in data]
    return np.concatenate(parts)


def _told(found: FittedPosterior, data: list[Datum], refuted: frozenset[str]) -> Calibration:
    held = np.sqrt(np.diag(found.covariance))
    return Calibration(
        constants_at(found.shared),
        {one.name: float(sd) for one, sd in zip(FITTED, held, strict=True)},
        found.negative_log_posterior,
        found.log_evidence,
        sum(datum.count for datum in data),
        tuple(sorted(refuted)),
        found.turns,
    )


def refuted_sources(constants: Constants) -> frozenset[str]:
    """Return sources for fitting in which a core warmed faster than it can without evaporation.

    Even with all that is open at the fast end (thinnest, warmest, most draught, twice the usual
    convection). Evaporating only slows a cook, so the oven cannot have been as we read it, nor that
    of the source's other cases.
    """
    dry = replace(
        constants,
        diffusivity_40c_m2_s=1e-13,
        drain_per_s=1e-9,
        squeeze_ratio=0.0,
        crust_permeability_kg_m_s_pa=1e-16,
        skin_resistance_pa_m2_s_kg=1e12,
    )
    return frozenset(
        source.key
        for source in library()
        if source.use == "fit"
        for case in source.cases
        for one in case.outcomes
        if one.measure == "time_s" and _fastest_s(dry, case) > one.value
    )


def _fastest_s(dry: Constants, case: Case) -> float:
    drawn = {
        gap.field: gap.low if gap.field in _FAST_WHEN_LOW else gap.high for gap in case.assumed
    }
    drawn[CONVECTION] = _FAST_CONVECTION
    try:
        return run_experiment(dry, case, drawn, whole_body=False).end_s
    except ProtocolError:
        return 0.0


def main() -> int:
    """Fit, print what was found and the table of errors."""
    found = calibrate(lambda line: print(line, file=sys.stderr))
    print(found.text)
    print()
    print(error_table(found.constants).text)
    return 0


__all__ = ["FITTED", "Calibration", "ErrorTable", "Fitted", "calibrate", "error_table", "main"]

if __name__ == "__main__":
    raise SystemExit(main())
