"""Where the uncertainty of a ledger comes from, and which weighings contradict each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.quantity import METRIC, Units, show_mass_small
from fairsmoke.trial.weighing import PartKind
from fairsmoke.weighing.rows import listed
from fairsmoke.weighing.solve import Answer, Group
from fairsmoke.weighing.system import Observation, PartOf, System

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SCALE_WORDS = {
    "resolution": "scale resolution",
    "repeatability": "scale repeatability",
    "scale": "scale error",
}
# Suspects whose standardised disagreement is within this share of the worst cannot be told apart.
_AS_SUSPECT = 0.99


@dataclass(frozen=True)
class Source:
    """A source of uncertainty and its share of the variance.

    ``unweighed``  the parts that were estimated or not weighed; none for what the scales do
    """

    name: str
    share: float
    unweighed: tuple[PartOf, ...] = ()


@dataclass(frozen=True, eq=False)
class OpenTogether:
    """Parts that weighings do not tell apart, where they stand, and their covariance, kg²."""

    parts: tuple[PartOf, ...]
    at: IntArray
    covariance_kg2: FloatArray

    @property
    def culprits(self) -> tuple[PartOf, ...]:
        """The parts to weigh: those that are not meat, where there are any."""
        others = tuple(part for part in self.parts if part.part.kind is not PartKind.MEAT)
        return others or self.parts


def variances_by_source(
    sensitivity: FloatArray,
    observations: Sequence[Observation],
    widen: FloatArray,
    gradient: FloatArray,
    together: Sequence[OpenTogether],
) -> dict[tuple[str, tuple[PartOf, ...]], float]:
    """Return the variance that each source gives a result, to first order.

    ``sensitivity`` (m,) to the error of each observation, ``gradient`` (p,) to each part.
    """
    found: dict[tuple[str, tuple[PartOf, ...]], float] = {}

    def add(name: str, parts: tuple[PartOf, ...], variance: float) -> None:
        found[name, parts] = found.get((name, parts), 0.0) + variance

    for slope, seen, factor in zip(sensitivity, observations, widen, strict=True):
        for word, variance in seen.variance_kg2.items():
            if word in SCALE_WORDS:
                add(SCALE_WORDS[word], (), slope**2 * variance)
            else:
                add(f"estimate of {seen.parts[0].text}", seen.parts, slope**2 * variance)
        total = sum(seen.variance_kg2.values())
        add("weighings that disagree", (), slope**2 * total * (factor**2 - 1))
    for one in together:
        slope_at = gradient[one.at]
        names = listed([part.text for part in one.culprits])
        add(f"not weighed: {names}", one.culprits, float(slope_at @ one.covariance_kg2 @ slope_at))
    return found


def shares_of(
    variances: Mapping[tuple[str, tuple[PartOf, ...]], float],
) -> tuple[float, tuple[Source, ...]]:
    """Return the standard uncertainty and the share of each source, largest first.

    Sources that give nothing are left out; the shares add to 1.
    """
    total = sum(variances.values())
    sources = [
        Source(name, float(variance / total), parts)
        for (name, parts), variance in variances.items()
        if variance > 0
    ]
    sources.sort(key=lambda source: (-source.share, source.name))
    return float(np.sqrt(total)), tuple(sources)


@dataclass(frozen=True)
class Suspect:
    """A weighing or estimate which, if it alone is wrong, is ``off_kg`` too high (or too low)."""

    observation: Observation
    off_kg: float

    def text(self, units: Units) -> str:
        """The suspect and what would be wrong with it."""
        word = "much" if self.off_kg > 0 else "little"
        off = show_mass_small(abs(self.off_kg), units)
        return f"{self.observation.text(units)} is {off} too {word}"


@dataclass(frozen=True)
class Disagreement:
    """Weighings and estimates that contradict each other by more than they can err.

    ``suspects``     those that would explain it alone, as well as any other
    ``chi2``, ``dof``, ``p``  chi-square of the disagreement and how often chance does as badly
    """

    observations: tuple[Observation, ...]
    suspects: tuple[Suspect, ...]
    chi2: float
    dof: int
    p: float

    @property
    def ids(self) -> tuple[str, ...]:
        """All weighings and estimates that take part."""
        return tuple(seen.id for seen in self.observations)

    def text(self, units: Units = METRIC) -> str:
        """Say which to look at and by how much it would be off."""
        one = self.suspects[0]
        off = show_mass_small(abs(one.off_kg), units)
        if len(self.suspects) == 1:
            direction = "too much" if one.off_kg > 0 else "too little"
            look = f"look at {one.observation.text(units)}, which reads {off} {direction}"
        else:
            texts = listed([suspect.text(units) for suspect in self.suspects], last="or")
            look = f"if one alone is wrong, {texts}"
        return (
            f"{listed(self.ids)} disagree by {off}, more than they can err "
            f"(chi-square {self.chi2:.3g} on {self.dof}): {look}. "
            "Until it is put right, what rests on them counts as less sure."
        )


def disagreements_of(
    system: System, split: Sequence[Group], solved: Sequence[Answer]
) -> tuple[Disagreement, ...]:
    """Name the observations in every contradiction, the worst first."""
    found = []
    for group, answer in zip(split, solved, strict=True):
        for conflict in answer.conflicts:
            seen = [system.observations[group.observations[at]] for at in conflict.at]
            worst = float(np.max(conflict.suspicion))
            suspects = [
                Suspect(seen[at], float(conflict.off[at]))
                for at in np.argsort(-conflict.suspicion, kind="stable")
                if conflict.suspicion[at] >= _AS_SUSPECT * worst
            ]
            found.append(
                Disagreement(tuple(seen), tuple(suspects), conflict.chi2, conflict.dof, conflict.p)
            )
    return tuple(sorted(found, key=lambda one: one.p))
