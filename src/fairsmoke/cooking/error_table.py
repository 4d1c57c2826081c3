"""Every measured number beside the model's, every printed order, and medians of the errors."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.experiments import library
from fairsmoke.cooking.validate import DRAWS, Check, Trend, checks, trends

REFUTED = ("lowe_1932", "shoulder_kitchen_2015")
"""Sources for fitting whose conditions cannot be as they are read: there a core warmed faster than
it can without evaporation (calibrate.refuted_sources, which a test holds this to)."""


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
    return ErrorTable(tuple(every), tuple(trends(constants)), REFUTED)


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


__all__ = ["REFUTED", "ErrorTable", "error_table"]
