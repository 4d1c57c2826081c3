"""The analyses behind a verdict and its interval: usual priors, a sceptic's, a doubled spread."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import scipy

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Comparison, compare
from fairsmoke.judging.priors import FloatArray, Priors, SpreadPrior
from fairsmoke.judging.rule import (
    DECIDING,
    NOT_SETTLED,
    ORDER,
    Analysis,
    DifferenceZone,
    VerdictDecision,
    decide,
    decide_many,
    probabilities,
    sure_under,
)
from fairsmoke.trial.question import VerdictRule

if TYPE_CHECKING:
    from fairsmoke.judging.many import ManyJudge

# Piece spreads looked at, in multiples of the prior's middle, for how little pieces would have to
# differ to settle it.
_SMALLEST, _LARGEST = 0.05, 4.0


def priors_of(priors: Priors) -> dict[Analysis, Priors]:
    """Return the priors of each analysis."""
    doubled = priors.with_piece_times(2.0)
    return {
        Analysis.USUAL: priors,
        Analysis.SCEPTICAL: doubled.sceptical(),
        Analysis.DOUBLED: doubled,
    }


@dataclass(frozen=True, slots=True, eq=False)
class Analyses:
    """One measure compared under each analysis.

    Attributes:
        values, layout, measurement_cov, priors, bounds: as for `model.compare`.
        compared: the answers.

    """

    values: FloatArray
    layout: ComparisonLayout
    measurement_cov: FloatArray
    priors: Priors
    compared: Mapping[Analysis, Comparison]
    bounds: FloatArray | None = None

    @classmethod
    def of(
        cls,
        values: FloatArray,
        layout: ComparisonLayout,
        priors: Priors,
        measurement_cov: FloatArray,
        bounds: FloatArray | None = None,
    ) -> "Analyses":
        """Compare under each analysis. Raises ComparisonError as `model.compare` does."""
        compared = {
            key: compare(values, layout, own, measurement_cov=measurement_cov, bounds=bounds)
            for key, own in priors_of(priors).items()
        }
        return cls(values, layout, measurement_cov, priors, compared, bounds)

    @property
    def usual(self) -> Comparison:
        """The answer under the usual priors."""
        return self.compared[Analysis.USUAL]

    def differences(self, arm: str, base: str) -> dict[Analysis, Posterior]:
        """Return the posterior of arm less base under each analysis."""
        return {key: found.difference(arm, base) for key, found in self.compared.items()}

    def interval(self, arm: str, base: str, level: float) -> tuple[float, float]:
        """Return what holds the central interval both as pieces are believed to differ and twice
        as much: its error rates are the published ones.
        """
        found = self.differences(arm, base)
        ends = [found[key].interval(level) for key in (Analysis.USUAL, Analysis.DOUBLED)]
        return min(low for low, _ in ends), max(high for _, high in ends)

    def decision(
        self, arm: str, base: str, worthwhile: float, rule: VerdictRule
    ) -> VerdictDecision:
        """Return what the rule says of arm less base; ``worthwhile`` in the model's size."""
        found = self.differences(arm, base)
        return decide({key: probabilities(one, worthwhile) for key, one in found.items()}, rule)

    def settling_spread(
        self, arm: str, base: str, worthwhile: float, rule: VerdictRule, outcome: DifferenceZone
    ) -> float | None:
        """Return the largest spread between pieces (one sd) at which the outcome is settled.

        The spread is taken as known to both, under the usual and the sceptical prior for the
        difference;
        None when it is settled at none from a twentieth to four times the believed one, or where
        values are censored, for which this is not worked out.
        """
        if bool((self.usual.used & np.isnan(self.values)).any()):
            return None
        used = ~np.isnan(self.values)
        layout = ComparisonLayout(
            self.layout.arm[used],
            self.layout.arm_names,
            {name: labels[used] for name, labels in self.layout.factors.items()},
        )
        arms = self.layout.arm_index(arm), self.layout.arm_index(base)
        cov = self.measurement_cov[np.ix_(used, used)]
        place = ORDER.index(outcome)

        # Its kernel is compiled code, whose library nobody else loads who judges a record.
        from fairsmoke.judging.many import ManyJudge

        def lacking(log_times: float) -> float:
            size = self.priors.piece.quantile(0.5) * float(np.exp(log_times))
            known = replace(self.priors, piece=SpreadPrior.log_normal(size, 1.0))
            return max(
                sure_under(key, rule.sure)
                - float(
                    ManyJudge.of(layout, own, measurement_cov=cov, arms=arms).chances(
                        self.values[None, used], worthwhile
                    )[0, place]
                )
                for key, own in zip(DECIDING, (known, known.sceptical()), strict=True)
            )

        low, high = np.log(_SMALLEST), np.log(_LARGEST)
        grid = np.linspace(low, high, 12)
        short = [lacking(float(at)) for at in grid]
        inside = [at for at, one in enumerate(short) if one <= 0.0]
        if not inside:
            return None
        last = inside[-1]
        edge = float(grid[last])
        if last + 1 < len(grid):
            edge = float(scipy.optimize.brentq(lacking, grid[last], grid[last + 1], xtol=0.01))
        return self.priors.piece.quantile(0.5) * float(np.exp(edge))


@dataclass(frozen=True, slots=True, eq=False)
class ManyAnalyses:
    """What judging one layout needs for many data sets, under each analysis."""

    judges: "Mapping[Analysis, ManyJudge]"

    @classmethod
    def of(
        cls,
        layout: ComparisonLayout,
        priors: Priors,
        *,
        measurement_cov: FloatArray | None = None,
        arms: tuple[int, int] = (0, 1),
    ) -> "ManyAnalyses":
        """Work out what judging a layout needs. Raises ComparisonError as `ManyJudge.of` does."""
        from fairsmoke.judging.many import ManyJudge

        return cls(
            {
                key: ManyJudge.of(layout, own, measurement_cov=measurement_cov, arms=arms)
                for key, own in priors_of(priors).items()
            }
        )

    @property
    def usual(self) -> "ManyJudge":
        """The judge under the usual priors."""
        return self.judges[Analysis.USUAL]

    def verdicts(self, data: FloatArray, worthwhile: float, sure: float) -> npt.NDArray[np.intp]:
        """Return the settled outcome of each data set (S, n), or `NOT_SETTLED`, (S,).

        The sceptical one is worked out only for what the usual one would settle.
        """
        found = np.full(len(data), NOT_SETTLED, dtype=np.intp)
        usual = self.usual.chances(data, worthwhile)
        sure_of = usual.max(axis=1) >= sure
        if sure_of.any():
            sceptical = self.judges[Analysis.SCEPTICAL].chances(data[sure_of], worthwhile)
            found[sure_of] = decide_many(usual[sure_of], sceptical, sure=sure)
        return found

    def interval(self, data: FloatArray, level: float) -> FloatArray:
        """Return the interval told of each data set, (S, 2), as `Analyses.interval`."""
        ends = [self.judges[k].interval(data, level) for k in (Analysis.USUAL, Analysis.DOUBLED)]
        return np.column_stack(
            [
                np.minimum(ends[0][:, 0], ends[1][:, 0]),
                np.maximum(ends[0][:, 1], ends[1][:, 1]),
            ]
        )

    def covers(self, data: FloatArray, truth: FloatArray, level: float) -> npt.NDArray[np.bool_]:
        """Return whether the interval told of each data set (S, n) holds its truth (S,)."""
        tail = 0.5 * (1.0 - level)
        below = [
            self.judges[key].cdf(data, truth[:, None])[:, 0]
            for key in (Analysis.USUAL, Analysis.DOUBLED)
        ]
        return (np.maximum(*below) >= tail) & (np.minimum(*below) <= 1.0 - tail)
