"""Re-fits the constants that are marked as fitted, and prints how far the model is from what was
measured: `python -m fairsmoke.cooking.calibrate`.

Only sources of use "fit" are looked at while fitting, and the two numbers that common practice
gives for one brisket (fairsmoke.cooking.practice), each as wide as practice says it. Least squares
on the logarithm of times and on points of loss, each number weighted by what its source leaves
open; robust (soft L1), bounded, and held near the starting values by what is known of each constant
from elsewhere.
"""

import math
import os
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from fairsmoke.cooking import practice
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.experiments import Case, Publication, library
from fairsmoke.cooking.rerun import run_experiment
from fairsmoke.cooking.run import ProtocolError
from fairsmoke.cooking.validate import DRAWS, Check, Trend, answers, checks, draws_of, trends
from fairsmoke.physics.ranges import FloatArray

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Fitted:
    """A constant to be fitted: where it starts, how far from there is believable (standard
    deviation, of the logarithm if `logarithmic`), the range it must keep to, and why.
    """

    name: str
    start: float
    spread: float
    low: float
    high: float
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
        1.0,
        5e-11,
        2e-9,
        True,
        "lean beef 2.3e-10 to 5.8e-10 m²/s at 6.6 to 40 °C (from memory); drying meat to 1.4e-9",
    ),
    Fitted(
        "drain_per_s",
        1.0 / 1500.0,
        0.5,
        1.0 / 100_000.0,
        1.0 / 60.0,
        True,
        "what drips off roasts follows temperature more than time (Bengtsson et al. 1976): meat of "
        "40 mm drains within the half hour, give or take",
    ),
    Fitted(
        "crust_blocks_per_m",
        3000.0,
        1.0,
        10.0,
        1e5,
        True,
        "a millimetre of dried crust slows juice by a few times all the meat below it; a guess",
    ),
    Fitted("juice_falls", 0.3, 0.4, 0.0, 1.0, False, "a share; nothing is known of it"),
    Fitted(
        "lost_by_myosin",
        0.18,
        0.05,
        0.02,
        0.35,
        False,
        "a share; meat met in passing at 60 °C holds 0.82 of its water (physics.water.SLOW_POINTS)",
    ),
    Fitted(
        "lost_by_actin",
        0.12,
        0.05,
        0.0,
        0.30,
        False,
        "a share; together with the other two 0.45 are lost (braised brisket, USDA)",
    ),
    Fitted("lost_by_firming", 0.15, 0.05, 0.0, 0.30, False, "a share; as above"),
)

# How well the fit holds each (standard deviation, of the logarithm where it is one).
HELD_TO = {
    "diffusivity_40c_m2_s": 0.63,
    "drain_per_s": 0.48,
    "crust_blocks_per_m": 0.92,
    "juice_falls": 0.28,
    "lost_by_myosin": 0.022,
    "lost_by_actin": 0.029,
    "lost_by_firming": 0.056,
}

# A time is believed to 10 %, a share to 2 points, besides what the source leaves open.
_TIME_SPREAD, _SHARE_SPREAD = 0.10, 0.02
# The 5 to 95 % interval is this many standard deviations wide, if what is open is normal.
_INTERVAL_WIDE = 2.0 * 1.645
# A case that cannot be cooked counts as this many standard deviations off.
_LOST = 6.0
_MOST_TURNS, _STEP, _CLOSE = 20, 2e-2, 1e-3
# Fields of which the low end makes a cook faster; of all others it is the high end.
_FAST_WHEN_LOW = ("core_c", "fat_cap_m", "mass_kg", "thick_m", "water_fraction", "width_m")
_NOT_FITTED = ("stall_core_c",)


@dataclass(frozen=True)
class Calibration:
    """What a fit found: the constants, how well each is held by the data, and what was used.

    `spread`: standard deviation of each fitted constant (of its logarithm where Fitted says so),
    data and prior together. `refuted`: sources whose conditions cannot be as they are read.
    """

    constants: Constants
    spread: dict[str, float]
    cost: float
    numbers: int
    refuted: tuple[str, ...]
    turns: int

    @property
    def text(self) -> str:
        """The fitted constants in lines."""
        lines = [f"{self.numbers} numbers for fitting, {self.turns} turns, cost {self.cost:.3f}."]
        if self.refuted:
            lines.append("Shown, not fitted, conditions refuted: " + ", ".join(self.refuted) + ".")
        lines.append(f"{'constant':<24}{'start':>12}{'fitted':>12}  give or take")
        for one in FITTED:
            value, spread = getattr(self.constants, one.name), self.spread[one.name]
            about = f"factor {math.exp(spread):.2f}" if one.logarithmic else f"{spread:.3g}"
            lines.append(f"{one.name:<24}{one.start:>12.4g}{value:>12.4g}  {about}")
        return "\n".join(lines)


def starting(constants: Constants = DEFAULT) -> Constants:
    """Return the constants with every fitted one at its starting value."""
    return replace(constants, **{one.name: one.start for one in FITTED})


def calibrate(progress: Progress | None = None, moved_from: Constants | None = None) -> Calibration:
    """Fit the constants to the sources of use "fit" and return what was found.

    `moved_from` starts the search elsewhere than at the starting values; what is believed and how
    numbers are weighted stays the same, so the answer should too. Deterministic.
    """
    say = progress or (lambda line: None)
    begin = starting()
    refuted = refuted_sources(begin)
    sources = [s for s in library() if s.use == "fit" and s.key not in refuted]
    say(f"weighing {len(sources)} sources by what they leave open")
    first = [c for c in checks(begin, sources, 2 * DRAWS, whole_body=False) if _counts(c)]
    spreads = np.array([_spread(check) for check in first])
    centre = np.array([one.inward(one.start) for one in FITTED])
    belief = np.array([one.spread for one in FITTED])
    tried = [0]

    def off(moved: FloatArray) -> FloatArray:
        tried[0] += 1
        found = _found(_outward(moved, begin), sources)
        say(
            f"try {tried[0]}: {float(np.sum(np.abs(found / spreads) < 1)):.0f} of {found.size} near"
        )
        lost = ~np.isfinite(found)
        scaled = np.where(lost, _LOST, np.where(lost, 0.0, found) / spreads)
        practised = practice.off(_outward(moved, begin))
        return np.concatenate([scaled, practised, (moved - centre) / belief])

    origin = begin if moved_from is None else moved_from
    low, high = (np.array([one.inward(_edge(one, k)) for one in FITTED]) for k in (0, 1))
    answer = least_squares(
        off,
        np.clip([one.inward(getattr(origin, one.name)) for one in FITTED], low, high),
        bounds=(low, high),
        loss="soft_l1",
        x_scale=belief,
        diff_step=[_STEP] * len(FITTED),
        max_nfev=_MOST_TURNS,
        ftol=_CLOSE,
        xtol=_CLOSE,
    )
    slopes = np.asarray(answer.jac)
    covariance = np.linalg.inv(slopes.T @ slopes)
    held = np.sqrt(np.diag(covariance))
    return Calibration(
        _outward(answer.x, begin),
        {one.name: float(s) for one, s in zip(FITTED, held, strict=True)},
        float(answer.cost),
        len(first),
        tuple(sorted(refuted)),
        int(answer.nfev),
    )


def _edge(one: Fitted, which: int) -> float:
    return one.high if which else one.low


def _outward(moved: FloatArray, begin: Constants) -> Constants:
    values = {one.name: one.outward(float(v)) for one, v in zip(FITTED, moved, strict=True)}
    return replace(begin, **values)


def _counts(check: Check) -> bool:
    return check.measure not in _NOT_FITTED


def _found(constants: Constants, sources: Iterable[Publication]) -> FloatArray:
    return np.array([_off(c) for c in checks(constants, sources) if _counts(c)])


def _off(check: Check) -> float:
    if check.timed:
        return math.log(check.model / check.measured) if check.model > 0 else float("nan")
    return check.model - check.measured


def _spread(check: Check) -> float:
    """Return by how much a number may be off through no fault of the model (1 sigma)."""
    known = np.isfinite(check.low) and np.isfinite(check.high) and check.low > 0
    if check.timed:
        left_open = math.log(check.high / check.low) / _INTERVAL_WIDE if known else 1.0
        return math.hypot(_TIME_SPREAD, left_open)
    left_open = (check.high - check.low) / _INTERVAL_WIDE if known else 0.1
    return math.hypot(_SHARE_SPREAD, left_open)


def refuted_sources(constants: Constants) -> frozenset[str]:
    """Return sources for fitting in which a core warmed faster than it can without evaporation.

    Even with all that is open at the fast end (thinnest, warmest, most draught). Evaporating only
    slows a cook, so the oven cannot have been as we read it, nor that of the source's other cases.
    """
    dry = replace(constants, diffusivity_40c_m2_s=1e-13, drain_per_s=1e-9, squeeze_ratio=0.0)
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
    try:
        return run_experiment(dry, case, drawn).end_s
    except ProtocolError:
        return 0.0


@dataclass(frozen=True)
class ErrorTable:
    """Every measured number beside the model's, every printed order, and medians of the errors."""

    checks: tuple[Check, ...]
    trends: tuple[Trend, ...]
    refuted: tuple[str, ...]

    def used(self, use: str, *, studies: bool = False) -> list[Check]:
        """Return the checks of one use, without sources whose conditions are refuted.

        `studies` leaves out cooks' own tests and logs: one piece a number, conditions as set.
        """
        logs = {source.key for source in library() if source.kitchen} if studies else set()
        out = logs | set(self.refuted)
        return [c for c in self.checks if c.use == use and c.source not in out]

    def median(self, use: str, kind: str, *, studies: bool = False) -> float:
        """Return the median absolute error: of "times" as a share, of "loss" as a share of mass."""
        chosen = [abs(c.error) for c in self.used(use, studies=studies) if _kind(c) == kind]
        return float(np.nanmedian(chosen)) if chosen else float("nan")

    def median_by_source(self, use: str, kind: str) -> float:
        """Return the median over sources of each source's median absolute error."""
        each: dict[str, list[float]] = {}
        for c in self.used(use):
            if _kind(c) == kind:
                each.setdefault(c.source, []).append(abs(c.error))
        medians = [np.nanmedian(v) for v in each.values()]
        return float(np.nanmedian(medians)) if medians else float("nan")

    @property
    def text(self) -> str:
        """The table for people: by use and source, then medians and trends."""
        return "\n".join([*_rows(self), "", *_medians(self), "", *_trend_lines(self.trends)])


def error_table(constants: Constants = DEFAULT, draws: int = DRAWS) -> ErrorTable:
    """Return the table of errors of a set of constants, sources for fitting and testing apart."""
    every = checks(constants, draws=draws)
    refuted = tuple(sorted(refuted_sources(starting())))
    return ErrorTable(tuple(every), tuple(trends(constants)), refuted)


def predicted(case: Case, draws: int = 40, seed: int = 1) -> list[dict[str, float]]:
    """Return the answers over what a case leaves open and over how well the constants are known."""
    normal = np.random.default_rng(seed).standard_normal((draws, len(FITTED)))
    sets = [
        replace(
            DEFAULT,
            **{one.name: _drawn(one, float(z)) for one, z in zip(FITTED, row, strict=True)},
        )
        for row in normal
    ]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(lambda c, d: answers(c, case, d), sets, draws_of(case, draws)))


def _drawn(one: Fitted, z: float) -> float:
    moved = one.inward(getattr(DEFAULT, one.name)) + HELD_TO[one.name] * z
    return min(max(one.outward(moved), one.low), one.high)


def _kind(check: Check) -> str:
    if check.measure in ("time_s", "time_to_wrap_s"):
        return "times"
    if check.measure in ("loss_fraction", "yield_fraction"):
        return "loss"
    return "water" if check.measure.startswith("water") else "other"


def _rows(table: ErrorTable) -> list[str]:
    head = f"{'source':<22}{'case':<32}{'measure':<28}{'measured':>9}{'model':>9}"
    lines = [f"{head}{'error':>9}  interval"]
    for use in ("fit", "test"):
        lines.append("for fitting" if use == "fit" else "held apart")
        for c in table.checks:
            if c.use == use:
                mark = " (refuted)" if c.source in table.refuted else ""
                lines.append(_row(c) + mark)
    return lines


def _row(c: Check) -> str:
    scale, digits = (3600.0, 2) if c.timed else (0.01, 1)
    if c.measure.endswith(("_c", "_ratio")):
        scale, digits = 1.0, 2 if c.measure.endswith("_ratio") else 1
    measured, model, low, high = (v / scale for v in (c.measured, c.model, c.low, c.high))
    error = f"{100 * c.error:+.0f} %" if c.timed else f"{c.error / scale:+.1f}"
    line = (
        f"{c.source:<22}{c.case[:31]:<32}{c.measure:<28}{measured:>9.{digits}f}"
        f"{model:>9.{digits}f}{error:>9}"
    )
    if math.isnan(low):
        return line
    return f"{line}  {low:.{digits}f} to {high:.{digits}f} {'inside' if c.inside else 'outside'}"


def _medians(table: ErrorTable) -> list[str]:
    lines = []
    for use, words in (("fit", "for fitting"), ("test", "held apart")):
        for kind, unit in (("times", "%"), ("loss", "points")):
            chosen = [c for c in table.used(use) if _kind(c) == kind]
            if not chosen:
                continue
            line = (
                f"{words}, {kind}: median error {100 * table.median(use, kind):.1f} {unit} "
                f"({100 * table.median_by_source(use, kind):.1f} by source) over {len(chosen)} "
                "numbers"
            )
            if any(np.isfinite(c.low) for c in chosen):
                inside = sum(c.inside for c in chosen)
                line += f"; {inside} measured inside the interval of what is open"
            lines.append(line)
            count = sum(_kind(c) == kind for c in table.used(use, studies=True))
            median = 100 * table.median(use, kind, studies=True)
            lines.append(
                f"    in studies, without cooks' own logs: {median:.1f} {unit} over {count}"
            )
    return lines


def _trend_lines(found: Iterable[Trend]) -> list[str]:
    lines = []
    every = list(found)
    for measure in sorted({trend.measure for trend in every}):
        own = [trend for trend in every if trend.measure == measure and trend.told]
        wrong = [f"{t.source}: {t.more} > {t.less}" for t in own if not t.right]
        right = len(own) - len(wrong)
        lines.append(
            f"order of {measure}: {right} of {len(own)} right"
            + "".join(f"\n    wrong: {one}" for one in wrong)
        )
    untold = [f"{t.source} {t.more}/{t.less}" for t in every if not t.told]
    if untold:
        lines.append("cannot be cooked here: " + ", ".join(untold))
    return lines


def main() -> int:
    """Fit, print what was found and the table of errors."""
    found = calibrate(lambda line: print(line, file=sys.stderr))
    print(found.text)
    print()
    print(error_table(found.constants).text)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
