"""Where the uncertainty of a ledger comes from, and which weighings contradict each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.message import N_, Listed, Message, Words
from fairsmoke.quantity.values import Digits, Mass
from fairsmoke.trial.weighing import PartKind
from fairsmoke.weighing.solve import Group, SolvedEquations
from fairsmoke.weighing.system import BalanceEquations, Observation, PartOf

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_OF_SCALES = {
    "resolution": N_("scale resolution"),
    "repeatability": N_("scale repeatability"),
    "scale": N_("scale error"),
    "disagree": N_("weighings that disagree"),
}
# Suspects whose standardised disagreement is within this share of the worst cannot be told apart.
_AS_SUSPECT = 0.99


@dataclass(frozen=True)
class UncertaintySource:
    """A source of uncertainty and its share of the variance.

    ``kind``       "resolution", "repeatability", "scale", "disagree", "estimate" or "open"
    ``unweighed``  the parts that were estimated or not weighed; none for what the scales do
    """

    kind: str
    share: float
    unweighed: tuple[PartOf, ...] = ()

    @property
    def name(self) -> str:
        """The source in English, with the piece of each part."""
        return str(self.words())

    def words(self, piece: str | None = None) -> Message:
        """Return the source for people; beside a piece its own parts do not name it."""
        if self.kind in _OF_SCALES:
            return _OF_SCALES[self.kind]
        parts = [p.part.words if p.piece == piece else p.words for p in self.unweighed]
        if self.kind == "estimate":
            return N_("estimate of %(part)s", part=parts[0])
        return N_("not weighed: %(parts)s", parts=Listed(parts, "and"))


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


@dataclass(frozen=True)
class _CommonSlope:
    """How far one standard deviation of a shared error moves a result, plain and as widened."""

    kind: str
    parts: tuple[PartOf, ...]
    moved: float = 0.0
    widened: float = 0.0

    def plus(self, moved: float, factor: float, parts: tuple[PartOf, ...]) -> "_CommonSlope":
        return replace(
            self,
            parts=parts if not self.moved and moved else self.parts,
            moved=self.moved + moved,
            widened=self.widened + factor * moved,
        )


def variances_by_source(
    sensitivity: FloatArray,
    observations: Sequence[Observation],
    widen: FloatArray,
    gradient: FloatArray,
    together: Sequence[OpenTogether],
) -> dict[tuple[str, tuple[PartOf, ...]], float]:
    """Return the variance that each source gives a result, to first order.

    ``sensitivity`` (m,) to the error of each observation, ``gradient`` (p,) to each part. What
    observations have in common adds up before it is squared: JCGM 100 F.1.2.3.
    """
    found: dict[tuple[str, tuple[PartOf, ...]], float] = {}

    def add(kind: str, parts: tuple[PartOf, ...], variance: float) -> None:
        found[kind, parts] = found.get((kind, parts), 0.0) + variance

    common: dict[str, _CommonSlope] = {}
    for slope, seen, factor in zip(sensitivity, observations, widen, strict=True):
        for kind, variance in seen.variance_kg2.items():
            parts = () if kind in _OF_SCALES else seen.parts
            if kind in seen.common:
                name = seen.common[kind]
                before = common.get(name, _CommonSlope(kind, parts))
                common[name] = before.plus(slope * float(np.sqrt(variance)), factor, parts)
            else:
                add(kind, parts, slope**2 * variance)
                add("disagree", (), slope**2 * variance * (factor**2 - 1))
    for shared in common.values():
        add(shared.kind, shared.parts, shared.moved**2)
        add("disagree", (), shared.widened**2 - shared.moved**2)
    for one in together:
        slope_at = gradient[one.at]
        add("open", one.culprits, float(slope_at @ one.covariance_kg2 @ slope_at))
    return found


def shares_of(
    variances: Mapping[tuple[str, tuple[PartOf, ...]], float],
) -> tuple[float, tuple[UncertaintySource, ...]]:
    """Return the standard uncertainty and the share of each source, largest first.

    Sources that give nothing are left out; the shares add to 1.
    """
    total = sum(variances.values())
    sources = [
        UncertaintySource(kind, float(variance / total), parts)
        for (kind, parts), variance in variances.items()
        if variance > 0
    ]
    sources.sort(key=lambda source: (-source.share, source.name))
    return float(np.sqrt(total)), tuple(sources)


@dataclass(frozen=True)
class Suspect:
    """A weighing or estimate which, if it alone is wrong, is ``off_kg`` too high (or too low)."""

    observation: Observation
    off_kg: float

    @property
    def words(self) -> Message:
        """The suspect and what would be wrong with it."""
        what, off = self.observation.words, Mass(abs(self.off_kg), small=True)
        if self.off_kg > 0:
            return N_("%(what)s is %(off)s too much", what=what, off=off)
        return N_("%(what)s is %(off)s too little", what=what, off=off)


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

    @property
    def words(self) -> Message:
        """Say which to look at and by how much it would be off."""
        one = self.suspects[0]
        off = Mass(abs(one.off_kg), small=True)
        look: Words
        if len(self.suspects) > 1:
            texts = Listed([suspect.words for suspect in self.suspects], "or")
            look = N_("if one alone is wrong, %(suspects)s", suspects=texts)
        elif one.off_kg > 0:
            look = N_(
                "look at %(what)s, which reads %(off)s too much",
                what=one.observation.words,
                off=off,
            )
        else:
            look = N_(
                "look at %(what)s, which reads %(off)s too little",
                what=one.observation.words,
                off=off,
            )
        return N_(
            "%(all)s disagree by %(off)s, more than they can err (chi-square %(chi2)s on %(dof)s): "
            "%(look)s. Until it is put right, what rests on them counts as less sure.",
            all=Listed(self.ids, "and"),
            off=off,
            chi2=Digits(f"{self.chi2:.3g}"),
            dof=self.dof,
            look=look,
        )


def disagreements_of(
    system: BalanceEquations, split: Sequence[Group], solved: Sequence[SolvedEquations]
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
